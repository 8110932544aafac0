"""Faults of a wired board, and the search for them.

A fault changes a network, a device or a channel; it is put into a bench and taken out again without trace. The
dictionary says what each fault shows in each situation, the search says which test to make next, the marking says
how well somebody searched. Must not know: notebooks, lessons, drawing.

What a reader wants first: :func:`every_single_fault` (what can be wrong with a board), :func:`put_in` (make it so),
and :func:`build_dictionary` with :func:`from_dictionary` (what it shows, and how it is found).
"""

from labkit.faults.cards import FaultCard, Measured, SymptomCard, complaints
from labkit.faults.catalogue import Fault, combined, every_single_fault, fault, joint, short, wire_open
from labkit.faults.changes import (
    Armature,
    Burnt,
    Change,
    CoilOhm,
    ContactFault,
    InputDead,
    Joined,
    Joint,
    Moved,
    NpnStage,
    Opened,
    Supply,
    Suppressor,
    apply,
)
from labkit.faults.diagnosis import EXACT, Search, Tree, chain, entropy_bits, from_dictionary
from labkit.faults.dictionary import FaultDictionary, build_dictionary, ohm_band, volt_band
from labkit.faults.drawing import Deck, DrawnHunt, deck, draw_hunt, draw_hunts
from labkit.faults.earth import SLIDER_OHM, EarthRow, EarthThreshold, earth_sweep, earth_table, earth_thresholds
from labkit.faults.errors import FaultError
from labkit.faults.explain import Explained, ExplainItem, could_explain, explain_item
from labkit.faults.inject import faults_in, faulty, put_in, take_out
from labkit.faults.judging import mark_hunt
from labkit.faults.live import LiveHunt, Verdict, at_rest, band_of, strike
from labkit.faults.live_students import guess_live, halve_live, wander_live
from labkit.faults.notes import Alike, Note, Notes, load_notes, loads_notes
from labkit.faults.quick import quick_dictionary
from labkit.faults.repair import places, repair
from labkit.faults.scoring import Entry, Hunt, Line, Marking, equally_hard, hunts, mark
from labkit.faults.situations import PROGRAM, Situation, Test, situations, tests_of
from labkit.faults.students import guessing, half_splitting, wandering

__all__ = [
    # catalogue
    "Fault",
    "combined",
    "every_single_fault",
    "fault",
    "joint",
    "short",
    "wire_open",
    # changes
    "Armature",
    "Burnt",
    "Change",
    "CoilOhm",
    "ContactFault",
    "InputDead",
    "Joined",
    "Joint",
    "Moved",
    "NpnStage",
    "Opened",
    "Supply",
    "Suppressor",
    "apply",
    # putting in and taking out
    "faults_in",
    "faulty",
    "put_in",
    "take_out",
    # mending
    "places",
    "repair",
    # situations and tests
    "PROGRAM",
    "Situation",
    "Test",
    "situations",
    "tests_of",
    # dictionary
    "FaultDictionary",
    "build_dictionary",
    "ohm_band",
    "quick_dictionary",
    "volt_band",
    # search
    "EXACT",
    "Search",
    "Tree",
    "chain",
    "entropy_bits",
    "from_dictionary",
    # marking
    "Entry",
    "Hunt",
    "Line",
    "Marking",
    "equally_hard",
    "hunts",
    "mark",
    # hunts on a live bench
    "LiveHunt",
    "Verdict",
    "at_rest",
    "band_of",
    "mark_hunt",
    "strike",
    # drawn hunts and their cards
    "Deck",
    "DrawnHunt",
    "FaultCard",
    "Measured",
    "SymptomCard",
    "complaints",
    "deck",
    "draw_hunt",
    "draw_hunts",
    # could it alone explain this
    "Explained",
    "ExplainItem",
    "could_explain",
    "explain_item",
    # scripted students
    "guess_live",
    "halve_live",
    "wander_live",
    "guessing",
    "half_splitting",
    "wandering",
    # the earth-fault table
    "SLIDER_OHM",
    "EarthRow",
    "EarthThreshold",
    "earth_sweep",
    "earth_table",
    "earth_thresholds",
    # the catalogue in words
    "Alike",
    "Note",
    "Notes",
    "load_notes",
    "loads_notes",
    # errors
    "FaultError",
]

"""What proof says of the seal-in on the orchard board, against our own earlier scan-level simulation and by hand."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from labkit.base import ms
from labkit.bench import Bench, Stimulus
from labkit.verify import ProofError, no_self_start, prove, stop_wins, wire_off_stops

# tests/truth/holding_outcomes.csv: written before any of this code, see SOURCES.md
_PATH = Path(__file__).parents[1] / "truth" / "holding_outcomes.csv"
with _PATH.open(encoding="utf-8", newline="") as _file:
    OUTCOMES = {row["event"]: row for row in csv.DictReader(_file)}

PROGRAMS = {
    "O": "K1 := S1 AND (S2 OR K1);",
    "A": "K1 := S1 AND (S2 OR K1_A);",
    "OA": "K1 := S1 AND (S2 OR (K1 AND K1_A));",
    "L": "VAR RETAIN M : BOOL; END_VAR M := S1 AND (S2 OR M); K1 := M;",
}
AUX_STUCK = ("X1:24I", "A1:I10")

# event of the table -> what may happen, the requirement, and the words that say it is met
CASES = {
    "auxiliary block removed while running": (
        ["S1", "S2", "K1.aux"],
        "whenever pos:K1.aux then not K1 or pos:S2 or not pos:K1.aux within 2 scans",
        {"drops in 1 scan"},
    ),
    "auxiliary input stuck at 1, nobody presses": (["S1", "S2"], "pole:K1 only after pos:S2", {"nothing"}),
    "contactor welded, stop pressed and released": (
        ["S1", "S2", "weld:K1"],
        "K1 only after pos:S2 since pos:S1",
        {"output stays off"},
    ),
    "output group supply lost 0.3 s": (["S1", "S2", "F4"], no_self_start(lost="not pos:F4"), {"stays off"}),
    "output group dip 40 ms": (["S1", "S2", "F4"], no_self_start(lost="not pos:F4"), {"off"}),
    "coil open, repaired 0.8 s later": (
        ["S1", "S2", "wire:221"],
        "pole:K1 only after pos:S2 since wire:221=lifted and not pole:K1",
        {"off"},
    ),
    "controller power cycle": (["S1", "S2", "power"], no_self_start(), {"off"}),
}


@pytest.fixture(scope="module")
def bench():
    return Bench("orchard")


@pytest.mark.parametrize("program", PROGRAMS)
@pytest.mark.parametrize("event", CASES)
def test_the_ways_to_hold(event, program):
    may, asked, met = CASES[event]
    bench = Bench("orchard")
    bench.load(PROGRAMS[program])
    if "stuck" in event:
        bench.join(*AUX_STUCK)
    verdict = prove(bench, asked, may=may)
    expected = "holds" if OUTCOMES[event][program] in met else "fails"
    assert verdict.outcome == expected
    assert not verdict.empty
    if expected == "fails":
        assert verdict.story.replayed


def test_a_short_tap_drops_the_seal_through_the_auxiliary(bench):
    """Pull-in 25 ms and filter 4 ms need three scans of 10 ms: a press of two is lost (press_lengths.csv: 30 ms)."""
    bench.load(PROGRAMS["A"])
    held = prove(bench, "K1 stays until not S1", may=["S1", "S2"])
    assert (held.outcome, held.depth) == ("fails", 2)
    bench.load(PROGRAMS["O"])
    assert prove(bench, "K1 stays until not S1", may=["S1", "S2"])


def test_release_takes_the_time_of_the_data(bench):
    """Release 15 ms from the emergency stop: open within the second scan of 10 ms, not yet in the first."""
    bench.load(PROGRAMS["O"])
    form = "whenever pos:S0 then not pole:K1 or not pos:S0 within {} scans"
    may = ["S1", "S2", "S0"]
    assert prove(bench, form.format(1), may=may)
    assert prove(bench, form.format(0), may=may).outcome == "fails"


def test_the_map_is_solved_and_not_read(bench):
    """A hard-wired emergency stop stops whatever the program does; bridged out it does not, with the same wires."""
    bench.load("K1 := TRUE;")
    form = "whenever pos:S0 then not pole:K1 or not pos:S0 within 1 scans"
    assert prove(bench, form, may=["S0"])
    other = Bench("orchard")
    other.load("K1 := TRUE;")
    other.join("S0:11", "S0:12")
    assert prove(other, form, may=["S0"]).outcome == "fails"


def test_a_missing_common_counts():
    """Without IC1 no input of its group reads 1: stop reads as pressed, and nothing starts."""
    bench = Bench("orchard")
    bench.load(PROGRAMS["O"])
    assert prove(bench, "never pole:K1", may=["S1", "S2"]).outcome == "fails"
    bench.lift("14")
    assert prove(bench, "never pole:K1", may=["S1", "S2"])


def test_wire_off_means_stop(bench):
    bench.load(PROGRAMS["O"])
    assert prove(bench, wire_off_stops("101"), may=["S1", "S2", "wire:101"])
    bench.load("K1 := S2 OR (S1 AND K1);")
    assert prove(bench, wire_off_stops("101"), may=["S1", "S2", "wire:101"]).outcome == "fails"


def test_contactor_times_may_be_any(bench):
    """With a contactor that is quicker than its data a tap of one scan can hold; with its data it cannot."""
    bench.load(PROGRAMS["A"])
    form = "pole:K1 only after K1_A since not pos:S2"
    slow = prove(bench, "whenever K1 and not pole:K1 then pole:K1 or not K1 within 1 scans", may=["S1", "S2"])
    assert slow.outcome == "fails"
    exact = prove(bench, "never K1_A and back:A1", may=["S1", "S2", "contactor times"])
    assert exact
    quick = prove(bench, form, may=["S1", "S2", "contactor times"])
    assert any("any number of scans" in said for said in quick.assumptions)


def test_a_story_is_a_stimulus(bench):
    bench.load("K1 := S2 OR (S1 AND K1);")
    verdict = prove(bench, stop_wins())
    story = verdict.story
    assert repr(verdict) == "fails: in 1 scans"
    assert story.text == "scan 1: power up, S1 pressed, S2 pressed; then S1 = 0, K1 = 1"
    again = Bench("orchard")
    again.load("K1 := S2 OR (S1 AND K1);")
    again.play(Stimulus.loads(story.stimulus.dumps()))
    again.wait_until(story.broken_us)
    assert (again.bit("S1"), again.bit("K1")) == (False, True)


def test_verdicts_say_how_far(bench):
    bench.load(PROGRAMS["O"])
    assert repr(prove(bench, stop_wins())) == "holds: 11 states, all visited"
    assert repr(prove(bench, stop_wins(), most_states=5)).startswith("undecided: stopped at 5 states")
    assert repr(prove(bench, stop_wins(), most_scans=2)) == "undecided: stopped at 2 scans, 5 states met, 2 scans deep"
    assert prove(bench, "whenever K1 and not K1 then S1").empty
    assert not bool(prove(bench, stop_wins(), most_scans=2))


def test_too_many_things_are_undecided():
    text = "M := " + " AND ".join(f"I{n}" for n in range(21)) + ";"
    verdict = prove(text, "never M")
    assert verdict.outcome == "undecided"
    assert "2097152 combinations" in verdict.bound
    text = "M := " + " AND ".join(f"I{n}" for n in range(20)) + ";"
    assert prove(text, "never M").depth == 1


def test_a_timer_is_abstracted_first(bench):
    bench.load("VAR T1 : TON; END_VAR T1(IN := S2, PT := T#5s); K1 := S1 AND T1.Q;")
    verdict = prove(bench, stop_wins())
    assert verdict
    assert "true whatever the timers' presets" in verdict.assumptions
    soon = prove(bench, "never K1", may=["S1", "S2"])
    assert soon.depth == 501  # 5 s in scans of 10 ms, and the one that starts it


@pytest.mark.parametrize(
    ("asked", "may", "words"),
    [
        ("never K9", None, "Known here: K1, K1_A."),
        ("never pole:K2", None, "Did you mean pole:K1?"),
        ("never pos:S0", None, "let it happen"),
        ("never K1", ["S22"], "Did you mean S2?"),
        ("never K1", ["panel:S1"], ""),
        ("always K1", None, "never P"),
        ("never K1 and", None, "name a tag"),
        ("never (K1", None, "add )"),
        ("never K1 K2", None, "and, or"),
        ("never K1 && S1", None, "use and"),
        ("whenever K1 then S1 within two scans", None, "within 3 scans"),
    ],
)
def test_slips_are_sentences(bench, asked, may, words):
    bench.load(PROGRAMS["O"])
    with pytest.raises(ProofError) as caught:
        prove(bench, asked, may=may)
    assert words in caught.value.try_this
    assert caught.value.what


def test_a_setup_outside_the_model_is_refused():
    slow = Bench("orchard", scan=ms(10), filter=ms(20))
    slow.load(PROGRAMS["O"])
    with pytest.raises(ProofError, match="to come through"):
        prove(slow, stop_wins())
    with pytest.raises(ProofError, match="no program"):
        prove(Bench("orchard"), stop_wins())
    with pytest.raises(ProofError, match="only inputs"):
        prove(PROGRAMS["O"], stop_wins(), may=["S1"])

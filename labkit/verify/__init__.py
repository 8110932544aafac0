"""Proof: everything that a wired board, its program and a person can do is visited, and a requirement holds or fails.

Must not know: lessons, marks, drawing, files. What a reader wants first: :func:`prove` (a bench or a program, and a
requirement), :func:`requirement` (the readable form), and :class:`Verdict` with its :class:`Story`.
``docs/explanation/proof.md`` tells what is explored and what is assumed.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from labkit.verify.equivalence import same_behaviour
from labkit.verify.errors import ProofError, RequirementError
from labkit.verify.expressions import And, Condition, Not, Or, Sign, condition
from labkit.verify.library import (
    LIBRARY,
    can_start,
    dwell,
    emergency_stop_opens,
    follows,
    held_start_does_not_restart,
    held_start_waits_at_power_up,
    lamp_tells_the_truth,
    never_both,
    no_self_start,
    proves_itself,
    reset_is_no_start,
    seal_drops_with_auxiliary,
    starts_only_when_asked,
    stays_on,
    stop_opens,
    stop_wins,
    trip_opens,
    trip_stops,
    warned,
    weld_is_told,
    wire_off_stops,
)
from labkit.verify.prove import MOST_STATES, prove
from labkit.verify.requirements import (
    CanReach,
    Keeps,
    Never,
    OnlyAfter,
    Requirement,
    StaysUntil,
    Whenever,
    requirement,
)
from labkit.verify.verdict import Moment, Story, Verdict

if TYPE_CHECKING:
    from labkit.verify._coverage import Coverage, Tally, coverage
    from labkit.verify._export import export
    from labkit.verify.earthing import STOP_START, earth_faults, stop_start_bench
    from labkit.verify.effects import Bridge, Effects, Fault, Off, Pulled, failure_effects, fault_pairs, wires_off
    from labkit.verify.families import Difference, FamilyComparison, compare_families
    from labkit.verify.surroundings import Thing, things

# What brings in a board, or is seldom wanted, is loaded on first use: a program alone is proved without.
_LATER = {
    "_export": ("export",),
    "_coverage": ("Coverage", "Tally", "coverage"),
    "earthing": ("STOP_START", "earth_faults", "stop_start_bench"),
    "effects": ("Bridge", "Effects", "Fault", "Off", "Pulled", "failure_effects", "fault_pairs", "wires_off"),
    "families": ("Difference", "FamilyComparison", "compare_families"),
    "surroundings": ("Thing", "things"),
}

__all__ = [
    # proving
    "MOST_STATES",
    "export",
    "prove",
    "same_behaviour",
    # what tests have visited
    "Coverage",
    "Tally",
    "coverage",
    # failure effects
    "Bridge",
    "Effects",
    "Fault",
    "Off",
    "Pulled",
    "STOP_START",
    "earth_faults",
    "failure_effects",
    "fault_pairs",
    "stop_start_bench",
    "wires_off",
    # two families
    "Difference",
    "FamilyComparison",
    "compare_families",
    # requirements
    "CanReach",
    "Keeps",
    "Never",
    "OnlyAfter",
    "Requirement",
    "StaysUntil",
    "Whenever",
    "requirement",
    # requirements that motor control always has
    "LIBRARY",
    "can_start",
    "dwell",
    "emergency_stop_opens",
    "follows",
    "held_start_does_not_restart",
    "held_start_waits_at_power_up",
    "lamp_tells_the_truth",
    "never_both",
    "no_self_start",
    "proves_itself",
    "reset_is_no_start",
    "seal_drops_with_auxiliary",
    "starts_only_when_asked",
    "stays_on",
    "stop_opens",
    "stop_wins",
    "trip_opens",
    "trip_stops",
    "warned",
    "weld_is_told",
    "wire_off_stops",
    # conditions
    "And",
    "Condition",
    "Not",
    "Or",
    "Sign",
    "condition",
    # what may happen
    "Thing",
    "things",
    # answers
    "Moment",
    "Story",
    "Verdict",
    # errors
    "ProofError",
    "RequirementError",
]


def __getattr__(name: str) -> Any:
    for module, names in _LATER.items():
        if name in names:
            value = getattr(importlib.import_module(f"labkit.verify.{module}"), name)
            globals()[name] = value
            return value
    raise AttributeError(f"labkit.verify has no name {name!r}")

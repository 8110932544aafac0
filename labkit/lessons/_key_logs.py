"""Model work at a bench: a wiring begun on a board that was proved dead, and a hunt by halving."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping
from typing import Any

from labkit.board import load_board
from labkit.faults import halve_live, mark_hunt, quick_dictionary, tests_of
from labkit.lessons._document import HuntTask, WrongAnswer
from labkit.lessons._forms import log_of
from labkit.lessons._lab import Lab
from labkit.lessons._mark_hunt import ABOUT, live_hunt, suspects_of

__all__ = ["dead_first_log", "model_hunt", "wrong_hunt"]


def dead_first_log() -> list[dict[str, Any]]:
    """Proved, measured dead, proved; then the first wire: the least that the line about it wants to see."""
    proof = {"mode": "volts", "red": "unit+", "black": "unit-", "shown": "24.00 V", "value": 24.0, "live": False}
    dead = {"mode": "volts", "red": "X1:24V", "black": "X1:0V", "shown": "0.0 mV", "value": 0.0, "live": False}
    reads = [{"at_ms": 1000 * i, "do": "read", **what} for i, what in enumerate((proof, dead, proof), 1)]
    return [*reads, {"at_ms": 20_000, "do": "lift", "wire": "1"}]


# Where most is told for the least time; every situation is tried only if these do not do.
_FIRST = frozenset({"rest", "start held", "running", "stop held", "S0 pressed"})


def model_hunt(lab: Lab, task: HuntTask) -> dict[str, Any]:
    """A search that halves the suspects with each reading, mends, and tries again; the better one of two."""
    hunt = live_hunt(lab, task)
    board = load_board(lab.lesson.file.board)
    every = tests_of(board)
    wanted = {ABOUT[line.kind] for line in task.rubric}
    best, least = None, math.inf
    for tests in ([test for test in every if test.situation in _FIRST], every):
        dictionary = quick_dictionary(board, suspects_of(lab, task), tests)
        bench = hunt.bench()
        named = halve_live(hunt, dictionary, bench, random.Random(0))
        marks = mark_hunt(hunt, bench.log, named).lines
        lost = sum(line.most - line.points for line in marks if line.about in wanted)
        if lost < least:
            best, least = {"location": named[0], "cause": named[1], "log": log_of(bench.log)}, lost
        if not least:
            break
    assert best is not None
    return best


def wrong_hunt(lab: Lab, task: HuntTask, wrong: WrongAnswer, good: Callable[[], Mapping[str, Any]]) -> dict[str, Any]:
    """A listed wrong answer to a hunt; `good` gives the good search that some begin with.

    The word ``guess`` names what is in without any reading, ``other`` names another suspect after a good search,
    ``live`` asks ohms of the live board before a good search.
    """
    truth = lab.benches.hunted(task)[0]
    if wrong.word == "guess":
        return {"location": truth.location, "cause": truth.cause, "log": []}
    model = dict(good())
    if wrong.word == "live":
        hunt = live_hunt(lab, task)
        bench = hunt.bench()
        bench.meter.ohms("X1:24V", "X1:0V")
        log = log_of(bench.log)
        return model | {"log": log + [row for row in model["log"] if row["at_ms"] >= log[-1]["at_ms"]]}
    other = next(fault for fault in suspects_of(lab, task) if fault.location != truth.location)
    return model | {"location": other.location, "cause": other.cause}

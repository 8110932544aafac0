"""The gates explored, with only those timers counted that the answer depends on.

Timers that are not counted are over at any scan after their start: more can happen than really does. What holds then
holds whatever their presets. A shortest way to a violation is no longer than the real one; if the counted timers agree
with it, it is real, and so a shortest real one. If not, the timers that differ first are counted from then on
(E. Clarke et al., "Counterexample-guided abstraction refinement", 2000).
"""

from __future__ import annotations

from typing import Any

from labkit.verify._lanes import Result, explore
from labkit.verify._model import Model, model
from labkit.verify._search import Found
from labkit.verify.requirements import Requirement

__all__ = ["search_gates"]


def search_gates(
    system: Any, asked: Requirement, *, most_states: int, most_scans: int | None
) -> tuple[Found, frozenset[str]]:
    """What was found, and the timers that had to be counted for it.

    Raises
    ------
    ProofError
        If the system cannot be made into gates beforehand.
    """
    every = frozenset(t.instance for t in system.steps.timers)
    counted: Model | None = None
    exact: frozenset[str] = frozenset()
    while True:
        gates = model(system, asked, exact)
        flat = gates.flat()
        result = explore(flat, most_states=most_states, most_scans=most_scans)
        steps = [dict(zip(flat.inputs, bits, strict=True)) for bits in result.path]
        if exact == every or result.outcome == "holds":
            return _found(gates, result, steps), exact
        if result.outcome == "undecided":
            exact = every
            continue
        counted = counted or model(system, asked, every)
        wrong = _wrong(gates, counted, steps)
        if not wrong:
            return _found(gates, result, steps), every
        exact |= wrong


def _found(gates: Model, result: Result, steps: list[dict[str, int]]) -> Found:
    path = tuple(gates.choice(step) for step in steps)
    return Found(result.outcome, result.states, result.depth, path, result.triggered, result.bound)  # type: ignore[arg-type]


def _wrong(gates: Model, counted: Model, steps: list[dict[str, int]]) -> frozenset[str]:
    """The timers that a path takes otherwise than they go, at the first scan where one does; none for a real path."""
    timers = [t for t in gates.gates.lowered.timers if t.instance in gates.abstract]
    names = [f"{gates.gates.name(t.mode)}.{part}" for t in timers for part in ("running", "done")]
    told, true = list(gates.run(steps, names)), list(counted.run(steps, names))
    if true[-1][1]:
        return frozenset()
    for (ours, _), (real, _) in zip(told, true, strict=True):
        differs = {timers[i // 2].instance for i, pair in enumerate(zip(ours, real, strict=True)) if pair[0] != pair[1]}
        if differs:
            return frozenset(differs)
    raise AssertionError("a path that the counted timers take as well, to another end")

"""A counterexample of a program alone, told."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

from labkit.verify._bare import Choice, System
from labkit.verify.verdict import Moment, Story

__all__ = ["bare_story", "follow"]


class _WithInputs(System, Protocol):
    inputs: tuple[str, ...]


def follow(system: System, state: Any, choice: Choice) -> tuple[Any, tuple[int, ...]]:
    """``(next state, view)`` after one choice, be it one that stands for its like or not."""
    known = getattr(system, "follow", None)
    if known is not None:
        return known(state, choice)  # type: ignore[no-any-return]
    return next((new, view) for new, view, chosen in system.after(state) if chosen == choice)


def bare_story(system: _WithInputs, path: Sequence[Choice], order: dict[str, int]) -> Story:
    """The story of a program alone."""
    moments = []
    state, before = system.first(), tuple(0 for _ in system.inputs)
    for scan, choice in enumerate(path, 1):
        state, view = follow(system, state, choice)
        done = tuple(f"{n} = {new}" for n, old, new in zip(system.inputs, before, choice, strict=True) if old != new)
        moments.append(Moment(scan, done, {n: view[i] for n, i in order.items()}))
        before = choice
    inputs = tuple(dict(zip(system.inputs, choice, strict=True)) for choice in path)
    return Story(tuple(moments), inputs=inputs, scan_us=system.scan_us)

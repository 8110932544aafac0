"""A path with fewer moves: what leads to the same end needs not be touched.

A search keeps one choice for all that lead to the same, and one path of all that are as short; which one does not
matter to it, but a person reads it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from labkit.verify._bare import Choice
from labkit.verify._told import follow
from labkit.verify.requirements import CanReach, Requirement

__all__ = ["quiet"]

MOST_STEPS = 4_000
"""Steps of the model spent on a quieter story."""


def quiet(
    system: Any, path: Sequence[Choice], things: int, asked: Requirement, order: Mapping[str, int]
) -> tuple[Choice, ...]:
    """A path of the same length to the same end, with the first `things` numbers of its choices moved less often."""
    calm = _same_states(system, path, things)
    return calm if isinstance(asked, CanReach) else _fewer_moves(system, calm, things, asked, order)


def _same_states(system: Any, path: Sequence[Choice], things: int) -> tuple[Choice, ...]:
    """Each thing left where it was wherever the next state and the view stay the same."""
    calm: list[Choice] = []
    state, before = system.first(), (0,) * things
    for choice in path:
        wanted = follow(system, state, choice)
        best = choice
        for i in range(things):
            if best[i] != before[i]:
                other = (*best[:i], before[i], *best[i + 1 :])
                if follow(system, state, other) == wanted:
                    best = other
        calm.append(best)
        state, before = wanted[0], best[:things]
    return tuple(calm)


def _fewer_moves(
    system: Any, path: Sequence[Choice], things: int, asked: Any, order: Mapping[str, int]
) -> tuple[Choice, ...]:
    """A whole stay of a thing somewhere is left out, if the requirement is still broken in the last scan."""
    watch, spent = asked.watch(order, system.scan_us), 0

    def breaks(tried: Sequence[Choice]) -> bool:
        state, memory, broken_at = system.first(), 0, 0
        for scan, choice in enumerate(tried, 1):
            state, view = follow(system, state, choice)
            memory, broken = watch(memory, view)
            if broken:
                broken_at = scan
                break
        return broken_at == len(tried)

    best, again = list(path), True
    while again:
        again = False
        for i in range(things):
            at = 0
            while at < len(best):
                before = best[at - 1][i] if at else 0
                end = at + 1
                while end < len(best) and best[end][i] == best[at][i]:
                    end += 1
                if best[at][i] != before and spent + len(best) <= MOST_STEPS:
                    spent += len(best)
                    tried = [(*c[:i], before, *c[i + 1 :]) if at <= n < end else c for n, c in enumerate(best)]
                    if breaks(tried):
                        best, again = tried, True
                at = end
    return tuple(best)

"""From joined elements to series and parallel: the classical reduction of a two-terminal network."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from labkit.logic.nodes import Power, parallel, series

__all__ = ["Branch", "reduce_network"]


@dataclass(frozen=True, slots=True, eq=False)
class Branch:
    """A part of a network between two nets; `order` (row, column) sorts parallel parts from top to bottom."""

    start: Hashable
    end: Hashable
    network: Power
    order: tuple[int, int]


def reduce_network(branches: list[Branch], start: Hashable, end: Hashable) -> Power | list[Branch]:
    """One network from `start` to `end`, or the branches that are left if it is not series and parallel only."""
    between: dict[tuple[Hashable, Hashable], list[Branch]] = {}
    into: dict[Hashable, set[Hashable]] = {}
    out: dict[Hashable, set[Hashable]] = {}
    for b in branches:
        between.setdefault((b.start, b.end), []).append(b)
        out.setdefault(b.start, set()).add(b.end)
        into.setdefault(b.end, set()).add(b.start)
    todo = [net for net in dict.fromkeys(n for b in branches for n in (b.start, b.end)) if net not in (start, end)]
    while todo:
        net = todo.pop()
        if len(into.get(net, ())) != 1 or len(out.get(net, ())) != 1:
            continue
        before, after = next(iter(into[net])), next(iter(out[net]))
        left, right = _merged(between.pop((before, net))), _merged(between.pop((net, after)))
        del into[net], out[net]
        out[before].discard(net)
        into[after].discard(net)
        between.setdefault((before, after), []).append(
            Branch(before, after, series(left.network, right.network), left.order)
        )
        out[before].add(after)
        into[after].add(before)
        todo += [n for n in (before, after) if n not in (start, end)]
    rest = [_merged(found) for found in between.values()]
    if len(rest) == 1 and (rest[0].start, rest[0].end) == (start, end):
        return rest[0].network
    return rest


def _merged(found: list[Branch]) -> Branch:
    """Branches between the same two nets as one, from top to bottom."""
    if len(found) == 1:
        return found[0]
    ordered = sorted(found, key=lambda b: b.order)
    return Branch(ordered[0].start, ordered[0].end, parallel(*(b.network for b in ordered)), ordered[0].order)

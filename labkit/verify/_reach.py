"""Whether something can still be reached from everywhere: all states first, then backwards from where it is true."""

from __future__ import annotations

from typing import Any

from labkit.verify._bare import MOST_SETS, Choice, System
from labkit.verify._search import MOST_TRANSITIONS, Found
from labkit.verify.expressions import holds_in
from labkit.verify.requirements import CanReach

__all__ = ["search_reach"]


def search_reach(
    system: System, asked: CanReach, order: dict[str, int], *, most_states: int, most_scans: int | None
) -> Found:
    """Visit every state, then mark backwards those from which the goal can be reached; the rest is a dead end.

    A dead end is nearest in the order of the visit, so its path is a shortest one. Where a bound is hit the answer
    is ``undecided``: behind it the goal may be reachable from anywhere.
    """
    goal = holds_in(asked.goal, order)
    nodes: list[Any] = [system.first()]
    number: dict[Any, int] = {nodes[0]: 0}
    parent, chosen, level = [-1], [()], [0]  # type: tuple[list[int], list[Choice], list[int]]
    before: list[list[int]] = [[]]
    good: list[int] = []
    transitions = 0

    def stopped(bound: str) -> Found:
        return Found("undecided", len(nodes), level[-1], (), True, bound)

    if system.combinations > MOST_SETS:
        return stopped(f"{system.combinations} combinations of what may happen")
    at = 0
    while at < len(nodes):
        if most_scans is not None and level[at] >= most_scans:
            return stopped(f"{most_scans} scans")
        reaches = False
        transitions += system.effort
        for new, view, choice in system.after(nodes[at]):
            transitions += 1
            reaches = reaches or goal(view)
            there = number.get(new)
            if there is None:
                there = number[new] = len(nodes)
                nodes.append(new)
                parent.append(at)
                chosen.append(choice)
                level.append(level[at] + 1)
                before.append([])
            before[there].append(at)
        if reaches:
            good.append(at)
        if transitions > MOST_TRANSITIONS:
            return stopped(f"{MOST_TRANSITIONS} transitions")
        if len(nodes) > most_states:
            return stopped(f"{most_states} states")
        at += 1
    fine = set(good)
    while good:
        for earlier in before[good.pop()]:
            if earlier not in fine:
                fine.add(earlier)
                good.append(earlier)
    stuck = next((i for i in range(len(nodes)) if i not in fine), None)
    if stuck is None:
        return Found("holds", len(nodes), level[-1])
    path: list[Choice] = []
    at = stuck
    while at:
        path.append(chosen[at])
        at = parent[at]
    return Found("fails", len(nodes), level[stuck], tuple(reversed(path)))

"""Breadth first through everything reachable, so that the first broken state is at the end of a shortest story."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from labkit.verify._bare import MOST_SETS, Choice, System
from labkit.verify.expressions import holds_in
from labkit.verify.requirements import Monitored

__all__ = ["Found", "search"]


MOST_TRANSITIONS = 5_000_000
"""Steps from one state to the next at which a proof gives up: some ten seconds."""


@dataclass(frozen=True, slots=True)
class Found:
    """What a search came to.

    Parameters
    ----------
    outcome
        The verdict's word.
    states
        Distinct states of model and monitor that were met.
    depth
        Scans from the start to the deepest of them, or to the violation.
    path
        The choices of a shortest way to the violation.
    triggered
        Whether the requirement's cause ever came true.
    bound
        What stopped the search, for ``undecided``.
    """

    outcome: Literal["holds", "fails", "undecided"]
    states: int
    depth: int
    path: tuple[Choice, ...] = ()
    triggered: bool = True
    bound: str = ""


def search(
    system: System,
    asked: Monitored,
    order: dict[str, int],
    *,
    most_states: int,
    most_scans: int | None,
    most_transitions: int | None = None,
) -> Found:
    """Visit every state of the model together with the requirement's monitor."""
    if most_transitions is None:
        most_transitions = MOST_TRANSITIONS
    watch = asked.watch(order, system.scan_us)
    trigger = None if asked.trigger is None else holds_in(asked.trigger, order)
    triggered = trigger is None
    nodes: list[tuple[Any, int]] = [(system.first(), 0)]
    number: dict[tuple[Any, int], int] = {nodes[0]: 0}
    parent: list[int] = [-1]
    chosen: list[Choice] = [()]
    known: dict[Any, list[tuple[Any, tuple[int, ...], Choice]]] = {}
    depth, start, end, transitions = 0, 0, 1, 0
    if system.combinations > MOST_SETS:
        return Found("undecided", 1, 0, (), triggered, f"{system.combinations} combinations of what may happen")
    while start < end:
        if most_scans is not None and depth >= most_scans:
            return Found("undecided", len(nodes), depth, (), triggered, f"{most_scans} scans")
        for at in range(start, end):
            state, memory = nodes[at]
            following = known.get(state)
            if following is None:
                following = known[state] = list(system.after(state))
                transitions += system.effort
            transitions += len(following)
            for new, view, choice in following:
                if not triggered and trigger is not None:
                    triggered = trigger(view)
                after, broken = watch(memory, view)
                if broken:
                    return Found("fails", len(nodes), depth + 1, _path(at, choice, parent, chosen), True)
                node = (new, after)
                if node not in number:
                    number[node] = len(nodes)
                    nodes.append(node)
                    parent.append(at)
                    chosen.append(choice)
            if transitions > most_transitions:
                return Found("undecided", len(nodes), depth, (), triggered, f"{most_transitions} transitions")
            if len(nodes) > most_states:
                return Found("undecided", len(nodes), depth, (), triggered, f"{most_states} states")
        start, end, depth = end, len(nodes), depth + 1
    return Found("holds", len(nodes), depth - 1, (), triggered)


def _path(at: int, last: Choice, parent: list[int], chosen: list[Choice]) -> tuple[Choice, ...]:
    path = [last]
    while parent[at] >= 0:
        path.append(chosen[at])
        at = parent[at]
    return tuple(reversed(path))

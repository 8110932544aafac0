"""Which rung decided, and where its power stopped: the program walked again over what was recorded."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

from labkit.bench import Trace
from labkit.logic import (
    Block,
    Coil,
    Constant,
    Contact,
    Flow,
    Not,
    Parallel,
    Program,
    Rung,
    Series,
    Xor,
    elements,
    walker,
)

__all__ = ["Decision", "Element", "blocked", "carriers", "decision", "writers"]

Element = Contact | Constant | Coil | Block | Not | Xor
Power = Element | Series | Parallel


@dataclass(frozen=True, slots=True)
class Decision:
    """One scan as the program saw it.

    Parameters
    ----------
    read_us, solved_us
        When the inputs were read, and when the result stood.
    values
        Every bit after the scan.
    before
        The same bits as the scan found them.
    flow
        Power at each element.
    """

    read_us: int
    solved_us: int
    values: dict[str, bool]
    before: dict[str, bool]
    flow: Flow


def decision(program: Program, trace: Trace, until_us: int) -> Decision | None:
    """The last scan that was solved at or before a time, by walking every scan from the start."""
    last: Decision | None = None
    walk = walker(program)
    local: dict[str, bool] = {}
    mode = trace.signals.get("mode:A1")
    started = None
    bits = {name[4:]: signal.changes for name, signal in trace.signals.items() if name.startswith("bit:")}
    now = {name: bool(changes[0][1]) for name, changes in bits.items()}
    later = sorted(((t, name, bool(v)) for name, changes in bits.items() for t, v in changes[1:]), key=lambda c: c[0])
    coming = deque(later)
    for read_us, solve_us, solved_us in _scans(trace):
        if solved_us > until_us:
            break
        begun = max((t for t, _ in mode.changes if t <= read_us), default=0) if mode else 0
        if begun != started:  # a start: edges and timers begin anew, as after power-up
            walk, local, started = walker(program), {}, begun
        while coming and coming[0][0] <= solve_us:
            _, name, value = coming.popleft()
            now[name] = value
        values = {**local, **now}
        before = dict(values)
        flow = walk.scan(values, solve_us)
        local = dict(values)
        last = Decision(read_us, solved_us, values, before, flow)
    return last


def _scans(trace: Trace) -> Iterator[tuple[int, int, int]]:
    read_us = 0
    for phase in trace.phases():
        if phase.kind == "read":
            read_us = phase.start_us
        elif phase.kind == "solve":
            yield read_us, phase.start_us, phase.end_us


def writers(program: Program, tag: str) -> list[tuple[int, Rung, Coil | Block]]:
    """The rungs that write a tag: number from 1, rung, and the coil or block that does it."""
    found: list[tuple[int, Rung, Coil | Block]] = []
    for number, rung in enumerate(program.rungs, start=1):
        for element in elements(rung.network):
            if (isinstance(element, Coil) and element.name.upper() == tag.upper()) or (
                isinstance(element, Block) and any(name.upper() == tag.upper() for _, name in element.outputs)
            ):
                found.append((number, rung, element))
    return found


def blocked(rung: Rung, flow: Flow) -> list[Element]:
    """Where power stops: elements that have power on their left and let none through.

    A NOT or an XOR is one such place: power inside it does not flow on, it is only looked at.
    """
    return _stops(rung.network, True, flow)


def _stops(node: Power, left: bool, flow: Flow) -> list[Element]:
    if not left:
        return []
    if isinstance(node, Series):
        found: list[Element] = []
        for item in node.items:
            found += _stops(item, left, flow)
            left = left and _through(item, flow)
        return found
    if isinstance(node, Parallel):
        return [stop for item in node.items for stop in _stops(item, left, flow)]
    if isinstance(node, Coil) or _through(node, flow):
        return []
    return [node]


def carriers(node: Power, flow: Flow) -> list[Element]:
    """The elements of every path on which power gets through `node`, left to right."""
    if isinstance(node, Series):
        return [element for item in node.items for element in carriers(item, flow)]
    if isinstance(node, Parallel):
        return [element for item in node.items if _through(item, flow) for element in carriers(item, flow)]
    return [node]


def _through(node: Power, flow: Flow) -> bool:
    if isinstance(node, Series):
        return all(_through(item, flow) for item in node.items)
    if isinstance(node, Parallel):
        return any(_through(item, flow) for item in node.items)
    if isinstance(node, Xor):
        return sum(_through(item, flow) for item in node.items) % 2 == 1
    if isinstance(node, Not):
        return not _through(node.of, flow)
    return flow[node.element].power_out

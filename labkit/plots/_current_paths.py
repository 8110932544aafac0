"""Current paths of a wired board, found in the wiring and drawn from the plus rail down to 0 V."""

from __future__ import annotations

import textwrap
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labkit.base import nearest
from labkit.plots._circuit_symbols import STEP, Symbol, symbol_shapes
from labkit.plots._given import board_to_draw
from labkit.plots.errors import DrawingError
from labkit.plots.shapes import Arc, Line, Shape, Text

if TYPE_CHECKING:
    from labkit.board import Board, Wiring

__all__ = ["APART", "CAPTION", "LOADS", "NARROW", "TOP", "WIRE", "Edge", "Net", "Wired", "column", "said"]

APART = 168.0  # between two current paths
WIRE = 30.0  # what a conductor takes of a path
TOP = 84.0
CAPTION = 13.0  # between lines of a column's words
NARROW = 26  # characters of such a line
_MOST_LOOSE = 6  # edges that a loose end is followed
LOADS = frozenset({"coil", "input", "lamp", "horn", "load"})


@dataclass(frozen=True, slots=True)
class Edge:
    """One way on from a terminal: along a wire, or through a part."""

    a: str
    b: str
    wire: str = ""
    symbol: Symbol | None = None

    def turned(self) -> Edge:
        """The same way, backwards."""
        return Edge(self.b, self.a, self.wire, self.symbol)


@dataclass(frozen=True, slots=True)
class Wired:
    """What of a current path is wired, from above to below.

    Parameters
    ----------
    edges
        The target, and what leads to it and on from it as far as wires go.
    target
        Its number among them.
    gap
        Empty for a whole path, else the sentence that says where the way ends.
    above, below
        Whether it reaches the plus rail and the 0 V rail.
    """

    edges: tuple[Edge, ...]
    target: int
    gap: str = ""
    above: bool = True
    below: bool = True

    @property
    def lines(self) -> list[str]:
        """The sentence of the gap, broken to the width of a column."""
        return textwrap.wrap(f"not wired: {self.gap}", NARROW) if self.gap else []

    @property
    def high(self) -> float:
        """What it takes of the sheet's height, with its words."""
        words = len(self.lines) * CAPTION + 40 if self.gap else 0
        return sum(STEP if e.symbol else WIRE for e in self.edges) + words


class Net:
    """The board as a graph of terminals: wires, and parts that can carry current from one to another."""

    def __init__(self, board: Board, wiring: Wiring | None) -> None:
        board, wiring = board_to_draw(board, wiring)
        self.board, self.wiring = board, wiring
        if not board.supplies:
            raise DrawingError(
                "this board has no supply",
                where="the board",
                try_this="draw the board itself, or one that has a supply",
                code="drawing-circuit",
            )
        part, entry = board.supplies[0]
        self.plus, self.minus, self.volts = part.terminal(entry.plus), part.terminal(entry.minus), entry.volts
        self.ways: dict[str, list[Edge]] = {}
        for wire in wiring:
            self._add(Edge(wire.a, wire.b, wire=wire.no))
        for edge in self._through_parts():
            self._add(edge)

    def _add(self, edge: Edge) -> None:
        self.ways.setdefault(edge.a, []).append(edge)
        self.ways.setdefault(edge.b, []).append(edge.turned())

    def _through_parts(self) -> Iterator[Edge]:
        for part in self.board.parts.values():
            entry: Any = part.entry
            for e in (entry, *(b.entry for b in part.blocks)):
                for c in e.contact_list():
                    yield self._edge(part, "contact", c.a, c.b, closed=_normally_closed(entry, c), drive=_drive(entry))
            if entry.kind in {"breaker", "fuse"} and not entry.contact_list():
                yield self._edge(part, entry.kind, *entry.terminals[:2])
            if entry.kind == "sensor" and entry.output != "2-wire":
                ends = (entry.plus, entry.out) if entry.output == "PNP" else (entry.out, entry.minus)
                yield self._edge(part, "sensor", *ends, drive=entry.senses)
            elif entry.kind == "sensor":
                yield self._edge(part, "sensor", entry.plus, entry.minus, drive=entry.senses)
            if entry.kind == "controller":
                for group in entry.output_groups:
                    for point in group.points:
                        yield self._edge(part, "output", group.plus, point)

    def _edge(self, part: Any, kind: str, a: str, b: str, *, closed: bool = False, drive: str = "") -> Edge:
        kind = part.kind if kind == "contact" and part.kind in {"breaker", "fuse"} else kind
        symbol = Symbol(kind, part.designation, a, b, closed, drive)
        return Edge(part.terminal(a), part.terminal(b), symbol=symbol)

    def coil(self, name: str) -> Edge:
        """The way through a coil."""
        coils = {p.designation: p for p in self.board.parts.values() if p.kind == "contactor"}
        if not isinstance(name, str) or name not in coils:
            raise DrawingError(
                f"this board has no contactor called {name!r}",
                where=str(name),
                try_this=nearest(name, coils) or "the board has no contactor at all",
                code="drawing-circuit",
            )
        part, entry = coils[name], coils[name].entry
        return self._edge(part, "coil", entry.coil.a, entry.coil.b)  # type: ignore[attr-defined]

    def input(self, point: str) -> Edge:
        """The way through an input channel."""
        known: list[str] = []
        for part, entry in self.board.controllers:
            for group in entry.input_groups:
                known += group.points
                if point in group.points:
                    return self._edge(part, "input", point, group.common)
        raise DrawingError(
            f"this board has no input called {point!r}",
            where=str(point),
            try_this=nearest(point, known),
            code="drawing-circuit",
        )

    def load(self, name: str) -> Edge:
        """The way through what an output drives: a coil, a lamp or a horn."""
        part = self.board.part(name)
        if part.kind == "contactor":
            return self.coil(name)
        entry: Any = part.entry
        return self._edge(part, part.kind, entry.a, entry.b)

    def consumers(self) -> Iterator[Edge]:
        """The ways through what lives on the supply: the controller, its output groups, the sensors."""
        for part, entry in self.board.controllers:
            yield self._edge(part, "load", entry.plus, entry.minus)
            for group in entry.output_groups:
                edge = self._edge(part, "load", group.plus, group.minus)
                used = any((p := self.board.points.get(name)) is not None and p.device for name in group.points)
                if used or self.lands(edge):  # a group that nobody uses is no part of the circuit
                    yield edge
        for part in self.board.of_kind("sensor"):
            sensor: Any = part.entry
            if sensor.output != "2-wire":
                yield self._edge(part, "load", sensor.plus, sensor.minus, drive=sensor.senses)

    def lands(self, edge: Edge) -> bool:
        """Whether a wire is landed on either end."""
        return bool(self.wiring.at(edge.a) or self.wiring.at(edge.b))

    def path_or_gap(self, target: Edge) -> tuple[list[Edge], str]:
        """The path through a target, whichever way round it is fed; or none, and the sentence that says why."""
        gap = ""
        for way_round in (target, target.turned()):
            try:
                return self.path(way_round), ""
            except DrawingError as wrong:
                gap = gap or wrong.what
        turned = target.turned()
        try:  # a sensor that switches to minus: its channel hangs on plus
            back = self._way(turned.b, self.minus, through_parts=True)
            return [*self._way(self.plus, turned.a), turned, *back], ""
        except DrawingError:
            return [], gap

    def as_wired(self, target: Edge) -> Wired:
        """The path through a target as it is wired: whole, or as far as it leads from either end."""
        path, gap = self.path_or_gap(target)
        if path:
            return Wired(tuple(path), next(i for i, e in enumerate(path) if e.symbol and e.symbol.kind in LOADS))
        halves = [(way, self._half(self.plus, way.a), self._half(way.b, self.minus)) for way in self._turns(target)]
        way, head, tail = max(halves, key=lambda it: bool(it[1]) + bool(it[2]))
        if head and tail:  # each half leads somewhere, but not without crossing the other
            tail = []
        above = head or [e.turned() for e in self._loose(way.a, {way.b})][::-1]
        below = tail or self._loose(way.b, {way.a, *(t for e in above for t in (e.a, e.b))})
        if head and not tail:
            gap = f"in this wiring there is no way between the 0 V and {way.b}"
        return Wired((*above, way, *below), len(above), gap, bool(head), bool(tail))

    @staticmethod
    def _turns(target: Edge) -> tuple[Edge, Edge]:
        return target, target.turned()

    def _half(self, start: str, end: str) -> list[Edge]:
        try:
            return self._way(start, end)
        except DrawingError:
            return []

    def _loose(self, start: str, seen: set[str]) -> list[Edge]:
        """Where a loose end leads, up to where it stops or parts."""
        aside = {part.terminal(t) for part in self.board.of_kind("suppressor") for t in part.entry.terminals}
        seen = {start, *seen, *aside}
        way: list[Edge] = []
        here = start
        while len(way) < _MOST_LOOSE and here not in (self.plus, self.minus):
            on = [edge for edge in self.ways.get(here, []) if edge.b not in seen]
            if len(on) != 1:
                break
            way.append(on[0])
            here = on[0].b
            seen.add(here)
        return way

    def besides(self, wired: Wired) -> list[tuple[str, str]]:
        """Wires that are landed on the way but are no part of it, each with its terminal: a path in parallel, say."""
        drawn = {e.wire for e in wired.edges if e.wire}
        found: list[tuple[str, str]] = []
        for terminal in dict.fromkeys(t for e in wired.edges for t in (e.a, e.b)):
            if self.board.part(terminal.partition(":")[0]).kind in {"terminal_strip", "supply"}:
                continue
            for wire in self.wiring.at(terminal):
                far = self.board.part((wire.b if wire.a == terminal else wire.a).partition(":")[0])
                if wire.no not in drawn and far.kind != "suppressor":
                    found.append((wire.no, terminal))
        return found

    def path(self, target: Edge) -> list[Edge]:
        """From the supply's plus through the target to its 0 V."""
        return [*self._way(self.plus, target.a), target, *self._way(target.b, self.minus)]

    def _way(self, start: str, end: str, *, through_parts: bool = False) -> list[Edge]:
        """The way with the fewest parts and wires; a return leads along wires alone unless it is allowed parts."""
        back = end == self.minus
        came: dict[str, Edge | None] = {start: None}
        queue = deque([start])
        while queue:
            here = queue.popleft()
            if here == end:
                break
            for edge in self.ways.get(here, []):
                barred = edge.b in came or (back and edge.symbol and not through_parts)
                barred = barred or edge.b == (self.plus if back else self.minus)
                if not barred:
                    came[edge.b] = edge
                    queue.append(edge.b)
        if end not in came:
            side = "the 0 V" if back else f"+{self.volts:g} V"
            raise DrawingError(
                f"in this wiring there is no way between {side} and {start if back else end}",
                where=start if back else end,
                try_this="land the wires of this path; the board's wire list names them",
                code="drawing-circuit-open",
            )
        way: list[Edge] = []
        at: Edge | None = came[end]
        while at is not None:
            way.append(at)
            at = came[at.a]
        return way[::-1]

    def beside(self, target: Edge) -> Symbol | None:
        """A suppressor across the target, if its wires lead there."""
        for part in self.board.of_kind("suppressor"):
            entry: Any = part.entry
            ends = [{w.a, w.b} for w in self.wiring]
            if {target.a, part.terminal(entry.a)} in ends and {target.b, part.terminal(entry.b)} in ends:
                return Symbol(entry.form, part.designation, entry.a, entry.b)
        return None


def _normally_closed(entry: Any, contact: Any) -> bool:
    rest = getattr(entry, "rest", "") or next(iter(entry.states()), "")
    return rest in contact.closed_when


def _drive(entry: Any) -> str:
    return {
        "push_button": "push",
        "emergency_stop": "mushroom",
        "selector": "turn",
        "key_switch": "key",
        "overload": "heat",
        "contactor": "coil",
    }.get(entry.kind, "")


def column(wired: Wired, x: float, bottom: float, beside: Symbol | None) -> list[Shape]:
    """One current path from rail to rail, or as much of it as is wired, with the words that say where it ends."""
    path = wired.edges
    out: list[Shape] = []
    rings: list[Shape] = []  # drawn last, so that no line runs through a terminal
    total = sum(STEP if e.symbol else WIRE for e in path)
    y = TOP - 10 if wired.above else bottom - total - (0 if wired.below else 30)
    spare = bottom - y - total if wired.above and wired.below else 0.0
    if wired.above:
        out.append(Arc(x, y, 2.6, "joint"))
    else:
        rings += _loose_end(path[0].a, path[0], x, y)
    for i, edge in enumerate(path):
        if edge.symbol:
            out += symbol_shapes(edge.symbol, x, y)
            if edge.symbol.kind == "coil" and beside:
                out += symbol_shapes(beside, x, y)
            y += STEP
            if i == wired.target and spare:  # what is left of the height goes between the load and the rail
                out.append(Line(x, y, x, y + spare, "link"))
                y += spare
            continue
        out.append(Line(x, y, x, y + WIRE, "link"))
        out.append(Text(x + 5, y + WIRE / 2 + 3, edge.wire, "tick", 8))
        y += WIRE
        after = path[i + 1] if i + 1 < len(path) else None
        if after and not after.symbol:  # two wires meet on a strip's terminal
            rings.append(Arc(x, y, 2.8, "terminal"))
            out.append(Text(x - 9, y + 3, edge.b, "tick", 8, "end"))
    if wired.below:
        rings.append(Arc(x, bottom, 2.6, "joint"))
    else:
        rings += _loose_end(path[-1].b, path[-1], x, y)
    words = y + 24 if wired.above else TOP + 24
    for n, line in enumerate(wired.lines):
        out.append(Text(x, words + CAPTION * n, line, "label", 8.5, "middle"))
    return [*out, *rings]


def _loose_end(terminal: str, edge: Edge, x: float, y: float) -> list[Shape]:
    """The terminal at which a way ends; a symbol already has its number."""
    ring: list[Shape] = [Arc(x, y, 2.8, "terminal")]
    return ring if edge.symbol else [*ring, Text(x - 9, y + 3, terminal, "tick", 8, "end")]


def said(path: Iterable[Edge]) -> list[str]:
    return [
        f"wire {e.wire}" if not e.symbol else f"{e.symbol.part} {e.symbol.kind} {e.symbol.a}-{e.symbol.b}" for e in path
    ]

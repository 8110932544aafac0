"""Current paths of a wired board, found in the wiring from the supply's plus down to its 0 V."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from labkit.base import nearest
from labkit.plots._circuit_symbols import Symbol
from labkit.plots._given import board_to_draw
from labkit.plots.errors import DrawingError

if TYPE_CHECKING:
    from labkit.board import Board, Wiring

__all__ = ["LOADS", "Edge", "Net", "Wired"]

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
    above, below
        Whether these reach the plus rail and the 0 V rail.
    head, tail
        Where they do not: what is wired of the path from the plus rail, and to the 0 V rail, on the far side of the
        break.
    """

    edges: tuple[Edge, ...]
    target: int
    above: bool = True
    below: bool = True
    head: tuple[Edge, ...] = ()
    tail: tuple[Edge, ...] = ()

    @property
    def on_plus(self) -> bool:
        """Whether anything of it is on the plus rail."""
        return self.above or bool(self.head)

    @property
    def on_minus(self) -> bool:
        """Whether anything of it is on the 0 V rail."""
        return self.below or bool(self.tail)

    def gap_above(self, plus: str) -> str:
        """The sentence of the break above, or none."""
        far = self.head[-1].b if self.head else plus
        return "" if self.above else f"not wired: no way between {far} and {self.edges[0].a}"

    def gap_below(self) -> str:
        """The sentence of the break below, or none."""
        far = self.tail[0].a if self.tail else "0 V"
        return "" if self.below else f"not wired: no way between {self.edges[-1].b} and {far}"

    def story(self, plus: str) -> str:
        """The path in words."""
        parts = [", ".join(_said(self.head)), self.gap_above(plus), ", ".join(_said(self.edges))]
        parts += [self.gap_below(), ", ".join(_said(self.tail))]
        return "; ".join(part for part in parts if part)


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

    @property
    def rail(self) -> str:
        """The plus rail's name."""
        return f"+{self.volts:g} V"

    def path(self, target: Edge) -> list[Edge] | None:
        """The whole path through a target, whichever way round it is fed, if there is one."""
        for way in self._turns(target):
            above, below = self._way(self.plus, way.a), self._way(way.b, self.minus)
            if above is not None and below is not None:
                return [*above, way, *below]
        turned = target.turned()  # a sensor that switches to minus: its channel hangs on plus
        above, back = self._way(self.plus, turned.a), self._way(turned.b, self.minus, through_parts=True)
        return None if above is None or back is None else [*above, turned, *back]

    def as_wired(self, target: Edge) -> Wired:
        """The path through a target as it is wired: whole, or what there is of it on both sides of each break."""
        path = self.path(target)
        if path:
            return Wired(tuple(path), _load_in(path))
        halves = [
            (way, self._way(self.plus, way.a) or [], self._way(way.b, self.minus) or []) for way in self._turns(target)
        ]
        way, head, tail = max(halves, key=lambda it: bool(it[1]) + bool(it[2]))
        if head and tail:  # each half leads somewhere, but not without crossing the other
            tail = []
        drawn = self._drawn(target, way)
        above = head or [e.turned() for e in self._hangs(way.a, {way.b}, [e.turned() for e in drawn[0]])][::-1]
        below = tail or self._hangs(way.b, {way.a, *_terminals(above)}, drawn[1])
        edges = (*above, way, *below)
        before = [] if head else self._reached([e.a for e in drawn[0]], _terminals(edges), plus=True)
        seen = _terminals([*before, *edges])
        after = [] if tail else self._reached([e.b for e in drawn[1]], seen, plus=False)
        return Wired(edges, len(above), bool(head), bool(tail), tuple(before), tuple(after))

    @cached_property
    def _as_drawn(self) -> Net:
        """The board in its own wiring."""
        return Net(self.board, None)

    def _drawn(self, target: Edge, way: Edge) -> tuple[list[Edge], list[Edge]]:
        """The board's own path through a target on either side of it, the nearest first; none if it runs otherwise."""
        path = self._as_drawn.path(target) or []
        at = _load_in(path) if path else 0
        return (path[:at][::-1], path[at + 1 :]) if path and path[at].a == way.a else ([], [])

    def _hangs(self, start: str, seen: set[str], drawn: list[Edge]) -> list[Edge]:
        """What hangs on a loose end: the board's own path as far as it is wired, or where the end leads by itself."""
        own: list[Edge] = []
        for edge in drawn:
            wires = self.wiring.between(edge.a, edge.b)
            if edge.b in seen or not (edge.symbol or wires):
                break
            own.append(edge if edge.symbol else Edge(edge.a, edge.b, wires[0].no))
        return max(own, self._loose(start, seen), key=len)

    def _reached(self, terminals: Iterable[str], seen: set[str], *, plus: bool) -> list[Edge]:
        """The way between a rail and the first of these terminals that has one, if it leads through nothing seen."""
        for terminal in terminals:
            way = self._way(self.plus, terminal) if plus else self._way(terminal, self.minus)
            if way and not _terminals(way) & seen:
                return way
        return []

    @staticmethod
    def _turns(target: Edge) -> tuple[Edge, Edge]:
        return target, target.turned()

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
        path = (*wired.head, *wired.edges, *wired.tail)
        drawn = {e.wire for e in path if e.wire}
        found: list[tuple[str, str]] = []
        for terminal in dict.fromkeys(t for e in path for t in (e.a, e.b)):
            if self.board.part(terminal.partition(":")[0]).kind in {"terminal_strip", "supply"}:
                continue
            for wire in self.wiring.at(terminal):
                far = self.board.part((wire.b if wire.a == terminal else wire.a).partition(":")[0])
                if wire.no not in drawn and far.kind != "suppressor":
                    found.append((wire.no, terminal))
        return found

    def _way(self, start: str, end: str, *, through_parts: bool = False) -> list[Edge] | None:
        """The way with the fewest parts and wires, if there is one.

        A return leads along wires alone unless it is allowed parts.
        """
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
            return None
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


def _terminals(edges: Iterable[Edge]) -> set[str]:
    return {terminal for edge in edges for terminal in (edge.a, edge.b)}


def _load_in(path: Sequence[Edge]) -> int:
    return next(i for i, edge in enumerate(path) if edge.symbol and edge.symbol.kind in LOADS)


def _said(path: Iterable[Edge]) -> list[str]:
    return [
        f"wire {e.wire}" if not e.symbol else f"{e.symbol.part} {e.symbol.kind} {e.symbol.a}-{e.symbol.b}" for e in path
    ]

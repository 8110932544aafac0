"""A sheet of the control circuit: current paths from the supply's plus down to its 0 V.

The paths are found in the wiring, not assumed: from the plus terminal through wires, breakers and contacts
to the coil or input asked for, and from there back. Symbols follow IEC 60617: contacts at rest, what moves
them on the left, designation left, terminal numbers right.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labkit.base import did_you_mean
from labkit.plots._axes import draw, need_axes
from labkit.plots._circuit_symbols import STEP, Symbol, symbol_shapes
from labkit.plots._measure import text_width
from labkit.plots._svg import to_svg
from labkit.plots.errors import DrawingError
from labkit.plots.shapes import Arc, Group, Line, Rect, Shape, Sheet, Text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from labkit.board import Board, Wiring

__all__ = ["control_circuit_sheet", "control_circuit_svg", "draw_control_circuit"]

_APART = 168.0  # between two current paths
_WIRE = 30.0  # what a conductor takes of a path
_TOP = 84.0


@dataclass(frozen=True, slots=True)
class _Edge:
    """One way on from a terminal: along a wire, or through a part."""

    a: str
    b: str
    wire: str = ""
    symbol: Symbol | None = None

    def turned(self) -> _Edge:
        """The same way, backwards."""
        return _Edge(self.b, self.a, self.wire, self.symbol)


def control_circuit_svg(
    board: Board,
    coil: str = "K1",
    *,
    inputs: Iterable[str] | None = None,
    wiring: Wiring | None = None,
    title: str = "",
) -> str:
    """The control circuit as SVG text. Parameters as in :func:`draw_control_circuit`."""
    return to_svg(control_circuit_sheet(board, coil, inputs=inputs, wiring=wiring, title=title))


def draw_control_circuit(
    board: Board,
    coil: str = "K1",
    *,
    inputs: Iterable[str] | None = None,
    wiring: Wiring | None = None,
    ax: Axes | None = None,
    title: str = "",
) -> Axes:
    """Draw the current path of a coil, and of some inputs beside it.

    Parameters
    ----------
    board
        The board.
    coil
        Designation of the contactor whose coil it is.
    inputs
        Points of the controller; left away, those of the stop, the start and the contactor's auxiliary.
    wiring
        The wires to follow instead of the board's own.
    ax
        A matplotlib Axes; the sheet keeps its proportions in it.
    title
        A heading.

    Raises
    ------
    DrawingError
        If there is no such coil or point, or no way to it in this wiring (it says how far it gets).
    """
    ax = need_axes(ax)
    return draw(control_circuit_sheet(board, coil, inputs=inputs, wiring=wiring, title=title), ax)


def control_circuit_sheet(
    board: Board,
    coil: str = "K1",
    *,
    inputs: Iterable[str] | None = None,
    wiring: Wiring | None = None,
    title: str = "",
) -> Sheet:
    """The control circuit as shapes. Parameters as in :func:`draw_control_circuit`."""
    net = _Net(board, board.wiring if wiring is None else wiring)
    targets = [net.coil(coil)]
    targets += [net.input(p) for p in (_usual_inputs(board, coil) if inputs is None else inputs)]
    paths = [net.path(t) for t in targets]
    heading = title or f"Control circuit of {coil}"
    heights = [sum(STEP if e.symbol else _WIRE for e in path) for path in paths]
    bottom = _TOP + max(heights) + 24
    shapes: list[Shape] = []
    for i, path in enumerate(paths):
        x = 118 + _APART * i
        drawn = _column(path, x, bottom, net.beside(targets[i]))
        about = f"path {i + 1}: " + ", ".join(_said(path))
        shapes += [Group(tuple(drawn), f"path:{i + 1}", about), Text(x, _TOP - 22, str(i + 1), "tick", 9, "middle")]
    shapes += _where_contacts_are(paths, coil, bottom)
    width = 118 + _APART * (len(paths) - 1) + 118
    rails: list[Shape] = []
    for y, words in ((_TOP - 10, f"+{net.volts:g} V"), (bottom, "0 V")):
        rails += [Line(70, y, width - 24, y, "rail"), Text(60, y + 4, words, "name", 10.5, "end", bold=True)]
    height = bottom + 50
    wide = max(width, text_width(heading, 14, bold=True) + 40)
    return Sheet(
        wide,
        height,
        (Rect(0, 0, wide, height, "paper"), Text(16, 28, heading, "title", 14, bold=True), *rails, *shapes),
        heading,
        " ".join(f"Path {i + 1}: {', '.join(_said(p))}." for i, p in enumerate(paths)),
    )


def _usual_inputs(board: Board, coil: str) -> list[str]:
    """The inputs of stop, start and the contactor's own auxiliary, in the order of their points."""
    found = []
    for point in board.points.values():
        if point.direction != "input" or point.device not in board.parts:
            continue
        function = getattr(board.parts[point.device].entry, "function", "")
        if function in {"stop", "start"} or point.device == coil:
            found.append(point.point)
    return found


class _Net:
    """The board as a graph of terminals: wires, and parts that can carry current from one to another."""

    def __init__(self, board: Board, wiring: Wiring) -> None:
        self.board, self.wiring = board, wiring
        if not board.supplies:
            raise DrawingError("this board has no supply", code="drawing-circuit")
        part, entry = board.supplies[0]
        self.plus, self.minus, self.volts = part.terminal(entry.plus), part.terminal(entry.minus), entry.volts
        self.ways: dict[str, list[_Edge]] = {}
        for wire in wiring:
            self._add(_Edge(wire.a, wire.b, wire=wire.no))
        for edge in self._through_parts():
            self._add(edge)

    def _add(self, edge: _Edge) -> None:
        self.ways.setdefault(edge.a, []).append(edge)
        self.ways.setdefault(edge.b, []).append(edge.turned())

    def _through_parts(self) -> Iterator[_Edge]:
        for part in self.board.parts.values():
            entry: Any = part.entry
            for e in (entry, *(b.entry for b in part.blocks)):
                for c in e.contact_list():
                    yield self._edge(part, "contact", c.a, c.b, closed=_normally_closed(entry, c), drive=_drive(entry))
            if entry.kind in {"breaker", "fuse"} and not entry.contact_list():
                yield self._edge(part, entry.kind, *entry.terminals[:2])
            if entry.kind == "controller":
                for group in entry.output_groups:
                    for point in group.points:
                        yield self._edge(part, "output", group.plus, point)

    def _edge(self, part: Any, kind: str, a: str, b: str, *, closed: bool = False, drive: str = "") -> _Edge:
        kind = part.kind if kind == "contact" and part.kind in {"breaker", "fuse"} else kind
        symbol = Symbol(kind, part.designation, a, b, closed, drive)
        return _Edge(part.terminal(a), part.terminal(b), symbol=symbol)

    def coil(self, name: str) -> _Edge:
        """The way through a coil."""
        coils = {p.designation: p for p in self.board.parts.values() if p.kind == "contactor"}
        if name not in coils:
            raise DrawingError(
                f"this board has no contactor called {name!r}",
                try_this=did_you_mean(name, coils),
                code="drawing-circuit",
            )
        part, entry = coils[name], coils[name].entry
        return self._edge(part, "coil", entry.coil.a, entry.coil.b)  # type: ignore[attr-defined]

    def input(self, point: str) -> _Edge:
        """The way through an input channel."""
        known: list[str] = []
        for part, entry in self.board.controllers:
            for group in entry.input_groups:
                known += group.points
                if point in group.points:
                    return self._edge(part, "input", point, group.common)
        raise DrawingError(
            f"this board has no input called {point!r}", try_this=did_you_mean(point, known), code="drawing-circuit"
        )

    def path(self, target: _Edge) -> list[_Edge]:
        """From the supply's plus through the target to its 0 V."""
        return [*self._way(self.plus, target.a), target, *self._way(target.b, self.minus)]

    def _way(self, start: str, end: str) -> list[_Edge]:
        """The way with the fewest parts and wires; a return leads along wires alone."""
        back = end == self.minus
        came: dict[str, _Edge | None] = {start: None}
        queue = deque([start])
        while queue:
            here = queue.popleft()
            if here == end:
                break
            for edge in self.ways.get(here, []):
                barred = edge.b in came or (back and edge.symbol) or edge.b == (self.plus if back else self.minus)
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
        way: list[_Edge] = []
        at: _Edge | None = came[end]
        while at is not None:
            way.append(at)
            at = came[at.a]
        return way[::-1]

    def beside(self, target: _Edge) -> Symbol | None:
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
        "key_switch": "turn",
        "overload": "heat",
        "contactor": "coil",
    }.get(entry.kind, "")


def _column(path: list[_Edge], x: float, bottom: float, beside: Symbol | None) -> list[Shape]:
    """One current path from rail to rail."""
    out: list[Shape] = []
    rings: list[Shape] = []  # drawn last, so that no line runs through a terminal
    y = _TOP - 10
    out.append(Arc(x, y, 2.6, "joint"))
    back = next(i for i, e in enumerate(path) if e.symbol and e.symbol.kind in {"coil", "input"})
    spare = bottom - (_TOP - 10) - sum(STEP if e.symbol else _WIRE for e in path)
    for i, edge in enumerate(path):
        if edge.symbol:
            out += symbol_shapes(edge.symbol, x, y)
            if edge.symbol.kind == "coil" and beside:
                out += symbol_shapes(beside, x, y)
            y += STEP
            if i == back:  # what is left of the height goes between the load and the rail
                out.append(Line(x, y, x, y + spare, "link"))
                y += spare
            continue
        out.append(Line(x, y, x, y + _WIRE, "link"))
        out.append(Text(x + 5, y + _WIRE / 2 + 3, edge.wire, "tick", 8))
        y += _WIRE
        after = path[i + 1] if i + 1 < len(path) else None
        if after and not after.symbol:  # two wires meet on a strip's terminal
            rings.append(Arc(x, y, 2.8, "terminal"))
            out.append(Text(x - 7, y + 3, edge.b, "tick", 8, "end"))
    return [*out, *rings, Arc(x, bottom, 2.6, "joint")]


def _where_contacts_are(paths: list[list[_Edge]], coil: str, bottom: float) -> list[Shape]:
    """Under the coil: in which paths its contacts stand, as circuit sheets have it."""
    found = [
        f"{e.symbol.a}-{e.symbol.b} in path {i + 1}"
        for i, path in enumerate(paths)
        for e in path
        if e.symbol and e.symbol.kind == "contact" and e.symbol.part == coil
    ]
    return [Text(118, bottom + 20 + 12 * i, words, "tick", 8.5, "middle") for i, words in enumerate(found[:2])]


def _said(path: list[_Edge]) -> list[str]:
    return [
        f"wire {e.wire}" if not e.symbol else f"{e.symbol.part} {e.symbol.kind} {e.symbol.a}-{e.symbol.b}" for e in path
    ]

"""A board from the front: every part at its place and to scale, its terminals, its conductors.

``board_sheet(board, ...)`` lays out, :func:`board_svg` and :func:`draw_board` paint. What is on tells
itself without colour: a lit lamp has rays, a pressed button sits deeper in a heavy ring, a closed contact
is heavy, an indicator that is on is filled, a live terminal is solid and its conductor heavy.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labkit.base import nearest
from labkit.plots._axes import draw, need_axes
from labkit.plots._board_parts import View, face
from labkit.plots._board_routes import Box, Duct, Exit, Route, ducts_of, exits_of, route
from labkit.plots._given import board_to_draw, mapping
from labkit.plots._given import names as names_of
from labkit.plots._measure import text_width, wrap
from labkit.plots._svg import to_svg
from labkit.plots.errors import DrawingError
from labkit.plots.shapes import Arc, Group, Polyline, Rect, Shape, Sheet, Text
from labkit.plots.theme import tint_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from labkit.board import Board, Wire, Wiring

__all__ = ["board_sheet", "board_svg", "draw_board"]

_SCALE = 2.0  # sheet units per millimetre
_MARGIN = 14.0
_ROW = 17.0  # what a row of terminals with their numbers takes of a part
_MOST_FOLLOWED = 24  # more conductors than this in full hide the parts' places; found by looking
_CODE_PARTS = {
    "BK": "black", "BN": "brown", "RD": "red", "OG": "orange", "YE": "yellow", "GN": "green", "BU": "blue",
    "VT": "violet", "GY": "grey", "WH": "white", "PK": "pink",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Ask:
    states: Mapping[str, str]
    wiring: Wiring
    lit: frozenset[str]
    leds: frozenset[str]
    live: frozenset[str]
    removed: frozenset[str]
    follow: frozenset[str]
    title: str


def board_svg(
    board: Board,
    *,
    states: Mapping[str, str] | None = None,
    wiring: Wiring | None = None,
    lit: Iterable[str] = (),
    leds: Iterable[str] = (),
    live: Iterable[str] = (),
    removed: Iterable[str] = (),
    follow: Iterable[str | int] | str | None = None,
    title: str = "",
) -> str:
    """The board as SVG text. Parameters as in :func:`draw_board`. Needs no matplotlib."""
    return to_svg(
        board_sheet(
            board,
            states=states,
            wiring=wiring,
            lit=lit,
            leds=leds,
            live=live,
            removed=removed,
            follow=follow,
            title=title,
        )
    )


def draw_board(
    board: Board,
    *,
    ax: Axes | None = None,
    states: Mapping[str, str] | None = None,
    wiring: Wiring | None = None,
    lit: Iterable[str] = (),
    leds: Iterable[str] = (),
    live: Iterable[str] = (),
    removed: Iterable[str] = (),
    follow: Iterable[str | int] | str | None = None,
    title: str = "",
) -> Axes:
    """Draw a board into `ax`, or into a figure of its own.

    Parameters
    ----------
    board
        The board.
    ax
        A matplotlib Axes; the board keeps its proportions in it.
    states
        Position of each actor that is not at rest, such as ``{"S2": "pressed", "K1": "closed"}``.
    wiring
        The wires to draw instead of the board's own.
    lit
        Designations of the lamps that light, horns that sound and motors that turn.
    leds
        Points of the controller whose indicator is on, such as ``"I2"``.
    live
        Terminals that carry voltage.
    removed
        Plugged-on blocks that are off, such as ``"K1.aux"``.
    follow
        Numbers of the wires to draw along their whole way through the ducts, or ``"all"``; the others show
        only their ends, as under the ducts' covers. Left away: all while they are few enough to tell apart,
        otherwise none.
    title
        A heading; left away, the board's own.

    Raises
    ------
    DrawingError
        If a name among these is not on the board, or `ax` is no Axes.
    """
    ax = need_axes(ax)
    sheet = board_sheet(
        board,
        states=states,
        wiring=wiring,
        lit=lit,
        leds=leds,
        live=live,
        removed=removed,
        follow=follow,
        title=title,
    )
    return draw(sheet, ax)


def board_sheet(
    board: Board,
    *,
    states: Mapping[str, str] | None = None,
    wiring: Wiring | None = None,
    lit: Iterable[str] = (),
    leds: Iterable[str] = (),
    live: Iterable[str] = (),
    removed: Iterable[str] = (),
    follow: Iterable[str | int] | str | None = None,
    title: str = "",
) -> Sheet:
    """The board as shapes. Parameters as in :func:`draw_board`."""
    board, wires = board_to_draw(board, wiring)
    ask = _Ask(
        mapping(states, "positions by part", "write states={'S2': 'pressed'}"),
        wires,
        frozenset(names_of(lit, "a list of lamps")),
        frozenset(names_of(leds, "a list of points")),
        frozenset(names_of(live, "a list of terminals")),
        frozenset(names_of(removed, "a list of blocks")),
        _followed(follow, wires),
        title or board.title,
    )
    _check(board, ask)
    return _Layout(board, ask).sheet()


def _followed(follow: Iterable[str | int] | str | None, wiring: Wiring) -> frozenset[str]:
    if follow is None:
        return frozenset(w.no for w in wiring) if len(wiring) <= _MOST_FOLLOWED else frozenset()
    if follow == "all":
        return frozenset(w.no for w in wiring)
    return frozenset(
        str(no) for no in ([follow] if isinstance(follow, str | int) else names_of(follow, "a list of wire numbers"))
    )


def _check(board: Board, ask: _Ask) -> None:
    """Refuse names that the board does not have."""
    blocks = {b.id for p in board.parts.values() for b in p.blocks}
    points = {t for part, entry in board.controllers for t in (*entry.input_points, *entry.output_points)}
    actors = {
        *board.parts,
        *(f"{part.designation}.{q}" for part, entry in board.controllers for q in entry.output_points),
    }
    known: Sequence[tuple[str, Iterable[str], Iterable[str]]] = (
        ("part in states", ask.states, actors),
        ("part in lit", ask.lit, board.parts),
        ("point in leds", ask.leds, points),
        ("terminal in live", ask.live, board.terminals),
        ("block in removed", ask.removed, blocks),
        ("wire in follow", ask.follow, {w.no for w in ask.wiring}),
    )
    for what, given, there in known:
        for name in sorted(given, key=str):
            if name not in there:
                raise DrawingError(
                    f"this board has no {what} called {name!r}",
                    try_this=nearest(name, sorted(there)),
                    where=str(name),
                    code="drawing-board",
                )
    for name, state in sorted(ask.states.items()):
        there = _positions(board.parts[name].entry) if name in board.parts else ("off", "on")
        if state not in there:
            raise DrawingError(
                f"{name} cannot be {state!r}: it is {' or '.join(there) or 'without positions'}",
                try_this=nearest(state, there),
                where=name,
                code="drawing-board",
            )
    for wire in ask.wiring:
        for end in (wire.a, wire.b):
            if end not in board.terminals:
                raise DrawingError(
                    f"wire {wire.no} goes to {end}, which is not on this board",
                    try_this=nearest(end, list(board.terminals)),
                    where=f"wire {wire.no}",
                    code="drawing-board",
                )


class _Layout:
    """One drawing of a board, in sheet units."""

    def __init__(self, board: Board, ask: _Ask) -> None:
        self.board, self.ask = board, ask
        self.top = _MARGIN + 24
        self.width = board.width_mm * _SCALE + 2 * _MARGIN
        self.height = board.height_mm * _SCALE
        self.landed = Counter(end for wire in ask.wiring for end in (wire.a, wire.b))
        self.boxes = [self._box(p) for p in board.parts.values()]
        self.place = {t.id: (self._x(t.x_mm), self._y(t.y_mm)) for t in board.terminals.values()}

    def _x(self, mm: float) -> float:
        return _MARGIN + mm * _SCALE

    def _y(self, mm: float) -> float:
        return self.top + mm * _SCALE

    def _box(self, part: Any) -> Box:
        wide = part.entry.width_mm + sum(b.entry.width_mm for b in part.blocks)
        return Box(
            self._x(part.x_mm),
            self._y(part.y_mm),
            self._x(part.x_mm + wide),
            self._y(part.y_mm + part.entry.height_mm),
        )

    def sheet(self) -> Sheet:
        """Everything, in painting order: plate, ducts, conductors, parts, numbers."""
        ask = self.ask
        bottom = self.top + self.height
        ducts = ducts_of([Box(b.left, b.top - self.top, b.right, b.bottom - self.top) for b in self.boxes], self.height)
        ducts = [Duct(d.top + self.top, d.bottom + self.top) for d in ducts]
        exits = self._exits(ducts)
        routes = self._routes(exits, ducts)
        wires: list[Shape] = []
        numbers: list[Shape] = []
        for wire in ask.wiring:
            lines, tags = self._wire(wire, exits, routes, ducts)
            about = f"wire {wire.no} from {wire.a} to {wire.b}, {_colour_words(wire.colour)}, {wire.mm2:g} mm2"
            wires.append(Group(tuple(lines), f"wire:{wire.no}", about))
            numbers += tags
        plate: list[Shape] = [
            Rect(_MARGIN, self.top, self.width - 2 * _MARGIN, self.height, "plate", 4),
            *(s for d in ducts for s in self._duct(d)),
        ]
        legend, height = self._legend(bottom + 8)
        shapes = (
            Rect(0, 0, self.width, height, "paper"),
            Text(_MARGIN, _MARGIN + 12, ask.title, "title", 15, bold=True),
            *plate,
            *wires,
            *(s for part in self.board.parts.values() for s in self._part(part)),
            *numbers,
            *legend,
        )
        return Sheet(self.width, height, shapes, ask.title, self._story())

    # --- conductors ---

    def _exits(self, ducts: Sequence[Duct]) -> dict[tuple[str, int], Exit]:
        ends: dict[str, list[tuple[str, int]]] = defaultdict(list)
        for wire in self.ask.wiring:
            ends[wire.a].append((wire.no, 0))
            ends[wire.b].append((wire.no, 1))
        far = {(w.no, i): self.place[e][0] for w in self.ask.wiring for i, e in ((0, w.b), (1, w.a))}
        for landed in ends.values():  # the one that goes furthest left leaves on the left
            landed.sort(key=lambda end: far[end])
        places = {}
        for t in self.board.terminals.values():
            x, y = self.place[t.id]
            places[t.id] = (x, y, t.side == "top", self._room(t))
        return exits_of(ends, places, ducts)

    def _room(self, terminal: Any) -> float:
        """How far a terminal's wires may spread: its share of the edge."""
        row = [t.x_mm for t in self.board.terminals.values() if t.part == terminal.part and t.side == terminal.side]
        row = sorted(set(row) - {terminal.x_mm})
        near = min((abs(x - terminal.x_mm) for x in row), default=12.0)
        return near * _SCALE

    def _routes(self, exits: Mapping[tuple[str, int], Exit], ducts: Sequence[Duct]) -> dict[str, Route]:
        wires = [w for w in self.ask.wiring if w.no in self.ask.follow]
        asked = [(w.no, exits[w.no, 0], exits[w.no, 1]) for w in wires]
        return {r.no: r for r in route(asked, self.boxes, ducts, self.width - _MARGIN)}

    def _wire(
        self,
        wire: Wire,
        exits: Mapping[tuple[str, int], Exit],
        routes: Mapping[str, Route],
        ducts: Sequence[Duct],
    ) -> tuple[list[Shape], list[Shape]]:
        lines: list[Shape] = []
        tags: list[Shape] = []
        live = wire.a in self.ask.live or wire.b in self.ask.live
        if wire.no in routes:
            lines += _conductor(routes[wire.no].points, wire.colour, live)
        for i in (0, 1):
            e = exits[wire.no, i]
            if wire.no not in routes:
                into = _stub_end(e, ducts[e.duct], text_width(wire.no, 7))
                lines += _conductor(((e.x, e.y), (e.x, into)), wire.colour, live)
            wide = text_width(wire.no, 7)
            away = 4 + 17 * e.level
            y = e.y - away if e.up else e.y + away + wide
            tags.append(Text(e.x + 2.5, y, wire.no, "wire-no", 7, turn=90))
        return lines, tags

    def _duct(self, duct: Duct) -> list[Shape]:
        left, right = _MARGIN + 3, self.width - _MARGIN - 3
        return [Rect(left, duct.top + 3, right - left, duct.bottom - duct.top - 6, "bay", 3)]

    # --- parts ---

    def _part(self, part: Any) -> list[Shape]:
        box_right = self._x(part.x_mm + part.entry.width_mm)
        out = [self._panel(part, part.entry, part.designation, self._x(part.x_mm), box_right)]
        left = box_right
        for block in part.blocks:
            right = left + block.entry.width_mm * _SCALE
            out.append(self._panel(part, block.entry, block.id, left, right))
            left = right
        return out

    def _panel(self, part: Any, entry: Any, of: str, left: float, right: float) -> Shape:
        top, bottom = self._y(part.y_mm), self._y(part.y_mm + entry.height_mm)
        state = self.ask.states.get(part.designation, _rest(part.entry))
        inner_top = top + (_ROW if entry.top else 2)
        inner_bottom = bottom - (_ROW if entry.bottom else 2)
        terminals = {n: self.place[part.terminal(n)] for n in entry.terminals}
        view = View(
            part,
            entry,
            left,
            inner_top,
            right,
            inner_bottom,
            state,
            part.designation in self.ask.lit,
            self.ask.leds,
            terminals,
            {n: self.landed[part.terminal(n)] for n in entry.terminals},
        )
        gone = of in self.ask.removed
        shapes: list[Shape] = [Rect(left, top, right - left, bottom - top, "part-gone" if gone else "part", 3)]
        if gone:
            shapes.append(Text((left + right) / 2 + 3, (top + bottom) / 2 + 22, "pulled off", "note", 8.5, turn=90))
        else:
            shapes += face(view)
            shapes += [s for n in entry.terminals for s in self._terminal(part.terminal(n), n, entry, top)]
        word = "pulled off" if gone else state
        about = f"{of}: {entry.text}" + (f", {part.label}" if part.label else "") + (f", {word}" if word else "")
        return Group(tuple(shapes), f"part:{of}", about)

    def _terminal(self, terminal: str, name: str, entry: Any, top: float) -> list[Shape]:
        x, y = self.place[terminal]
        upper = y <= top + 0.1
        if entry.kind == "terminal_strip":
            return []
        cy = y + 4.5 if upper else y - 4.5
        role = "terminal-live" if terminal in self.ask.live else "terminal"
        text = Text(x, cy + 11 if upper else cy - 5.5, name, "tick", 7, "middle")
        return [Arc(x, cy, 2.6, role), text]

    # --- words ---

    def _legend(self, y: float) -> tuple[list[Shape], float]:
        """Which conductor colours there are, by their code, and what the heavy ones mean."""
        codes: dict[str, None] = dict.fromkeys(w.colour for w in self.ask.wiring)
        out: list[Shape] = []
        x, y = _MARGIN, y + 8
        for code in sorted(codes):
            words = f"{code}  {_colour_words(code)}"
            wide = 38 + text_width(words, 9.5) + 20
            if x + wide > self.width and x > _MARGIN:
                x, y = _MARGIN, y + 16
            out += _conductor(((x, y), (x + 30, y)), code, False)
            out.append(Text(x + 37, y + 3.4, words, "note", 9.5))
            x += wide
        for words in self._too_many():
            y += 16
            out.append(Text(_MARGIN, y + 3.4, words, "label", 9.5, bold=True))
        return out, y + 14

    def _too_many(self) -> list[str]:
        """The terminals that hold more wires than they are made for, in lines as wide as the sheet."""
        over = [
            f"{t.id} has {self.landed[t.id]} and takes {t.clamps}"
            for t in self.board.terminals.values()
            if self.landed[t.id] > t.clamps
        ]
        return wrap("Too many wires on a terminal: " + "; ".join(over) + ".", self.width - 40, 9.5) if over else []

    def _story(self) -> str:
        ask = self.ask
        said = [f"{len(self.board.parts)} parts, {len(ask.wiring)} wires."]
        moved = [f"{k} {v}" for k, v in ask.states.items() if k in self.board.parts]
        if moved:
            said.append("Positions: " + ", ".join(moved) + ".")
        for words, names in (("Lit or running", ask.lit), ("Indicators on", ask.leds), ("Pulled off", ask.removed)):
            if names:
                said.append(f"{words}: {', '.join(sorted(names))}.")
        return " ".join([*said, *self._too_many()])


def _positions(entry: Any) -> tuple[str, ...]:
    """The positions that a part can be drawn in."""
    return ("off", "stop", "run") if entry.kind == "controller" else tuple(entry.states())


def _stub_end(e: Exit, duct: Duct, tag: float) -> float:
    """How far an end shows: into its duct, and past its number so that the colour is seen."""
    reach = 4 + 17 * e.level + tag + 8
    if e.up:
        return max(min(duct.bottom - 4, e.y - reach), duct.top + 4)
    return min(max(duct.top + 4, e.y + reach), duct.bottom - 4)


def _rest(entry: Any) -> str:
    """The position that a part has when nobody touched it."""
    states = entry.states()
    rest = getattr(entry, "rest", "")
    return rest or (states[0] if states else "")


def _conductor(points: Sequence[tuple[float, float]], code: str, live: bool) -> list[Shape]:
    """A conductor in its colour; two colours as a line with stripes, white with dark edges."""
    base, stripe = _code_parts(code)
    way = tuple(points)
    role = "wire-live" if live else "wire"
    out: list[Shape] = []
    if base in {"white", "yellow"}:
        out.append(Polyline(way, "wire-case-live" if live else "wire-case"))
    out.append(Polyline(way, role, tint=tint_of(base)))
    if stripe:
        out.append(Polyline(way, "wire-stripe", tint="#f2d600" if stripe == "yellow" else tint_of(stripe)))
    return out


def _code_parts(code: str) -> tuple[str, str]:
    """Base and stripe colour of an IEC 60757 code such as ``GNYE`` or ``WHBU``."""
    if code == "LBU":
        return "light blue", ""
    base = _CODE_PARTS.get(code[:2], code)
    return base, _CODE_PARTS.get(code[2:4], "")


def _colour_words(code: str) -> str:
    from labkit.board import COLOURS

    if code in COLOURS:  # the words of the wire list
        return COLOURS[code]
    base, stripe = _code_parts(code)
    return f"{base} and {stripe}" if stripe else base

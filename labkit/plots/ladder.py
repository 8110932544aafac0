"""Ladders with the graphic symbols of IEC 61131-3, with or without the power flow of one scan.

Power is a heavy line; where it stops, at an open contact or at its coil, it ends in a solid arrowhead.
:func:`ladder_sheet` lays out, :func:`ladder_svg` and :func:`draw_ladder` paint.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from labkit.plots._axes import draw, need_axes
from labkit.plots._ladder_symbols import Pins, Place, Power, cell_shapes, needs, say
from labkit.plots._measure import text_width, wrap
from labkit.plots._svg import to_svg
from labkit.plots.errors import DrawingError
from labkit.plots.shapes import Arc, Group, Line, Polyline, Rect, Shape, Sheet, Text, moved

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from labkit.logic import LadderLayout, Program, RungLayout

__all__ = ["draw_ladder", "ladder_sheet", "ladder_svg"]

_LEFT = 44.0  # room for rung numbers
_MARGIN = 16.0
_LEAST = 420.0  # between the rails: titles and comments want some room
_NAME = 11.0


class FlowLike(Protocol):
    """Power flow of one scan: element number -> (power in, passes, power out)."""

    def __getitem__(self, element: int) -> Any: ...


def ladder_svg(
    program: Program | LadderLayout, flow: FlowLike | Mapping[int, Any] | None = None, *, title: str = ""
) -> str:
    """The ladder as SVG text. Parameters as in :func:`draw_ladder`. Needs no matplotlib."""
    return to_svg(ladder_sheet(program, flow, title=title))


def draw_ladder(
    program: Program | LadderLayout,
    *,
    flow: FlowLike | Mapping[int, Any] | None = None,
    ax: Axes | None = None,
    title: str = "",
) -> Axes:
    """Draw a program's rungs into `ax`, or into a figure of its own.

    Parameters
    ----------
    program
        A program, or its layout.
    flow
        The power flow of one scan, as a walker gives it: live lines are heavy and end in an arrowhead.
    ax
        A matplotlib Axes; the ladder keeps its proportions in it.
    title
        A heading; left away, there is none.

    Raises
    ------
    DrawingError
        If `program` is neither, `flow` belongs to another program, or `ax` is no Axes.
    """
    ax = need_axes(ax)
    return draw(ladder_sheet(program, flow, title=title), ax)


def ladder_sheet(
    program: Program | LadderLayout, flow: FlowLike | Mapping[int, Any] | None = None, *, title: str = ""
) -> Sheet:
    """The ladder as shapes. Parameters as in :func:`draw_ladder`."""
    layout = _layout_of(program)
    columns = _columns(layout)
    xs = [_LEFT]
    for wide in columns:
        xs.append(xs[-1] + wide)
    width = max(xs[-1] + _MARGIN + 4, 240.0)
    power = _Power(flow)
    y = _MARGIN
    shapes: list[Shape] = []
    if title:
        for line in wrap(title, width - 2 * _MARGIN, 14, bold=True):
            shapes.append(Text(_MARGIN, y + 10, line, "title", 14, bold=True))
            y += 20
    for rung in layout.rungs:
        drawn = _Rung(rung, xs, y, power)
        shapes.append(Group(tuple(drawn.shapes), f"rung:{rung.number}", drawn.story))
        y = drawn.bottom
    if not layout.rungs:
        shapes.append(Text(_LEFT, y + 12, "no rungs", "note", _NAME))
        y += 24
    if flow is not None and layout.rungs:
        legend, y = _legend(y, width)
        shapes += legend
    y += 6
    name = title or f"Ladder {layout.name}"
    stories = [f"Rung {r.number}{': ' + r.title if r.title else ''}. {_story(r, power)}" for r in layout.rungs]
    return Sheet(width, y, (Rect(0, 0, width, y, "paper"), *shapes), name, " ".join(stories))


class _Power:
    """The flow, asked safely; without one nothing is live and nothing dead."""

    def __init__(self, flow: FlowLike | Mapping[int, Any] | None) -> None:
        self.flow = flow

    def of(self, element: int) -> Power | None:
        if self.flow is None:
            return None
        try:
            power_in, passes, power_out = self.flow[element]
        except (KeyError, IndexError, TypeError, ValueError):
            raise DrawingError(
                f"this power flow says nothing of element {element}",
                try_this="walk the program that is drawn, and draw the flow of that walk",
                where=f"element {element}",
                code="drawing-flow",
            ) from None
        return Power(bool(power_in), bool(passes), bool(power_out))

    def live(self, feeds: tuple[int, ...]) -> bool | None:
        """Whether a link is live: hung on the rail, or fed by any of its elements; None without a flow."""
        if self.flow is None:
            return None
        return not feeds or any(p.out for e in feeds if (p := self.of(e)))


@dataclass(frozen=True, slots=True)
class _Span:
    x1: float
    y1: float
    x2: float
    y2: float
    live: bool | None


class _Rung:
    """One rung: its words, its grid in sheet units, its lines and cells."""

    def __init__(self, rung: RungLayout, xs: list[float], top: float, power: _Power) -> None:
        self.rung, self.xs, self.power = rung, xs, power
        self.shapes: list[Shape] = []
        y = self._words(top)
        self.ys = self._rows(y)
        self.bottom = self.ys[-1] + 30
        self._rails(y)
        self._links()
        self._joints()
        for cell in rung.cells:
            place = Place(xs[cell.col], xs[cell.col + cell.width], self.ys[cell.row])
            own = power.of(cell.element)
            drawn = cell_shapes(cell, place, own, self._pins(cell) if cell.kind == "block" else None)
            self.shapes.append(Group(tuple(drawn), f"element:{cell.element}", say(cell, own)))
        self.story = f"Rung {rung.number}" + (f": {rung.title}" if rung.title else "")

    def _words(self, y: float) -> float:
        """The title and the comment over the rung."""
        rung, room = self.rung, self.xs[-1] - _LEFT - 8
        comment = rung.comment.removeprefix(rung.title).strip() if rung.title else rung.comment.strip()
        y += 14 if rung.title or comment else 4
        for line in wrap(rung.title, room, 11.5, bold=True) if rung.title else []:
            self.shapes.append(Text(_LEFT + 8, y + 10, line, "name", 11.5, bold=True))
            y += 16
        for part in comment.splitlines():
            for line in wrap(" ".join(part.split()), room, 10):
                self.shapes.append(Text(_LEFT + 8, y + 10, line, "comment", 10))
                y += 14
        return y + 4

    def _rows(self, y: float) -> list[float]:
        """Where each row's wire runs: below the tallest thing over it."""
        rung, ys = self.rung, []
        for row in range(rung.rows):
            above = max([needs(c)[1] for c in rung.cells if c.row == row], default=14.0)
            y += above + (6 if row == 0 else 22)
            ys.append(y)
        return ys

    def _rails(self, top: float) -> None:
        left, right = self.xs[0], self.xs[-1]
        live = self.power.flow is not None
        self.shapes += [
            Line(left, top, left, self.bottom, "rail-live" if live else "rail"),
            Line(right, top, right, self.bottom, "rail"),
            Text(left - 10, self.ys[0] + 4, str(self.rung.number), "name", _NAME, "end", bold=True),
        ]

    def _links(self) -> None:
        spans = [
            _Span(self.xs[k.col1], self.ys[k.row1], self.xs[k.col2], self.ys[k.row2], self.power.live(k.feeds))
            for k in self.rung.links
        ]
        for live, role in ((None, "link"), (False, "dead"), (True, "live")):
            self.shapes += [Line(s.x1, s.y1, s.x2, s.y2, role) for s in spans if s.live is live]

    def _joints(self) -> None:
        """A dot where three or more lines meet; a corner or a passing line has none."""
        arms: dict[tuple[int, int], set[str]] = {}
        hot: set[tuple[int, int]] = set()
        for k in self.rung.links:
            (r1, c1), (r2, c2) = sorted([(k.row1, k.col1), (k.row2, k.col2)])
            across = r1 == r2
            points = [(r1, c) for c in range(c1, c2 + 1)] if across else [(r, c1) for r in range(r1, r2 + 1)]
            for i, point in enumerate(points):
                ends = arms.setdefault(point, set())
                ends |= {("r" if across else "d")} if i < len(points) - 1 else set()
                ends |= {("l" if across else "u")} if i > 0 else set()
                if self.power.live(k.feeds):
                    hot.add(point)
        for cell in self.rung.cells:
            arms.setdefault((cell.row, cell.col), set()).add("r")
            arms.setdefault((cell.row, cell.col + cell.width), set()).add("l")
        for (row, col), ends in sorted(arms.items()):
            if len(ends) > 2 and 0 < col < self.rung.columns:
                role = "live-mark" if (row, col) in hot else "joint"
                self.shapes.append(Arc(self.xs[col], self.ys[row], 3.0, role))

    def _pins(self, cell: Any) -> Pins:
        ys = {p: self.ys[cell.row + p.row] for p in cell.pins}
        live = {p: self._pin_live(cell, p) for p in cell.pins if p.wired}
        return Pins(self.xs[cell.col + 1], self.xs[cell.col + 2], ys, live)

    def _pin_live(self, cell: Any, pin: Any) -> bool | None:
        """Whether the line at a wired pin carries power."""
        own = self.power.of(cell.element)
        if own is None:
            return None
        if pin.row == 0:
            return own.into if pin.side == "left" else own.out
        at = (cell.row + pin.row, cell.col if pin.side == "left" else cell.col + cell.width)
        return any(
            self.power.live(k.feeds) for k in self.rung.links if at in ((k.row1, k.col1), (k.row2, k.col2))
        ) or any(p.out for c in self.rung.cells if (c.row, c.col + c.width) == at and (p := self.power.of(c.element)))


def _columns(layout: LadderLayout) -> list[float]:
    """How wide each grid column must be for what stands in it in any rung."""
    columns = [64.0] * max([r.columns for r in layout.rungs], default=2)
    for rung in layout.rungs:
        for cell in rung.cells:
            for i, wide in enumerate(needs(cell)[0]):
                if cell.col + i < len(columns):
                    columns[cell.col + i] = max(columns[cell.col + i], wide)
    spare = max(0.0, _LEAST - sum(columns)) / len(columns)
    return [wide + spare for wide in columns]


def _layout_of(program: Program | LadderLayout) -> LadderLayout:
    from labkit.logic import LadderLayout, Program

    if isinstance(program, LadderLayout):
        return program
    if isinstance(program, Program):
        from labkit.logic import layout

        return layout(program)
    raise DrawingError(
        f"a ladder is drawn of a program or its layout; got {type(program).__name__}",
        try_this="read_ladder(text) or read_st(text) makes a program of a text",
        where="program",
        code="drawing-ladder",
    )


def _story(rung: RungLayout, power: _Power) -> str:
    return "; ".join(say(c, power.of(c.element)) for c in sorted(rung.cells, key=lambda c: c.element)) + "."


def _legend(y: float, width: float) -> tuple[list[Shape], float]:
    """What the lines of a power flow mean, so that a print needs no colour."""
    out: list[Shape] = []
    x, y = _LEFT, y + 12
    parts: list[tuple[list[Shape], str]] = [
        ([Line(0, 0, 26, 0, "live")], "power"),
        (
            [Line(0, 0, 20, 0, "live"), Polyline(((18, -4.5), (27, 0), (18, 4.5)), "live-mark", closed=True)],
            "power ends here",
        ),
        ([Line(0, 0, 26, 0, "dead")], "no power"),
    ]
    for shapes, words in parts:
        wide = 34 + text_width(words, 10) + 18
        if x + wide > width and x > _LEFT:
            x, y = _LEFT, y + 16
        out += [moved(s, x, y) for s in shapes]
        out.append(Text(x + 33, y + 3.5, words, "note", 10))
        x += wide
    return out, y + 8

"""Paint a sheet into matplotlib Axes. No pyplot, no current figure, no rcParams changed."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from labkit.plots.errors import DrawingError
from labkit.plots.shapes import Arc, Group, Hatch, Line, Polyline, Rect, Shape, Sheet, Text
from labkit.plots.theme import Style, style_of, tint_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["axes_size", "draw", "need_axes"]

_DPI = 96.0  # sheet units per inch
_FACE = "DejaVu Sans"  # ships with matplotlib: the same letters on every machine


def need_axes(ax: object) -> Axes | None:
    """`ax` if it is a matplotlib Axes, None if it is None.

    Raises
    ------
    DrawingError
        If it is anything else, with what was got and expected, or if matplotlib is not installed.
    """
    try:
        from matplotlib.axes import Axes
    except ImportError:
        raise DrawingError(
            "drawing into Axes needs matplotlib",
            try_this="pip install labkit[plots], or ask for the SVG text instead",
            where="matplotlib",
            code="drawing-matplotlib",
        ) from None
    if ax is None or isinstance(ax, Axes):
        return ax
    count = f"{len(ax)} of them in a {type(ax).__name__}" if hasattr(ax, "__len__") else f"a {type(ax).__name__}"
    raise DrawingError(
        f"ax takes one matplotlib Axes; got {count}",
        try_this="give one, such as fig.add_subplot(), or leave ax away to have a figure made",
        where="ax",
        code="drawing-axes",
    )


def axes_size(ax: Axes) -> tuple[float, float]:
    """Width and height of the Axes in sheet units."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    box = ax.get_position()
    inch_w, inch_h = figure.get_size_inches()
    return float(box.width * inch_w * _DPI), float(box.height * inch_h * _DPI)


def draw(sheet: Sheet, ax: Axes | None = None) -> Axes:
    """Paint `sheet` into `ax`, or into a figure of its own of the sheet's natural size.

    With a :class:`~labkit.plots.shapes.Frame` the x axis counts in the frame's unit, so that more can be
    drawn over the picture in those units; y counts sheet units downwards.
    """
    ax = need_axes(ax)
    if ax is None:
        from matplotlib.figure import Figure

        figure = Figure(figsize=(sheet.width / _DPI, sheet.height / _DPI), dpi=_DPI * 1.5)
        ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    width, height = axes_size(ax)
    scale = min(width / sheet.width, height / sheet.height)
    frame = sheet.frame
    to_x: Callable[[float], float] = (lambda x: frame.origin + x * frame.per_unit) if frame else (lambda x: x)
    painter = _Painter(ax, to_x, frame.per_unit if frame else 1.0, scale)
    # a sheet narrower or lower than the axes stands in the middle of them, never stretched
    spare_x, spare_y = (width / scale - sheet.width) / 2, (height / scale - sheet.height) / 2
    ax.set_xlim(to_x(-spare_x), to_x(sheet.width + spare_x))
    ax.set_ylim(sheet.height + spare_y, -spare_y)
    ax.set_axis_off()
    for shape in sheet.shapes:
        painter.paint(shape)
    painter.flush()
    if sheet.title:
        ax.set_label(sheet.title)
    return ax


class _Painter:
    def __init__(self, ax: Axes, to_x: Callable[[float], float], per_unit: float, scale: float) -> None:
        self.ax, self.to_x, self.per_unit = ax, to_x, per_unit
        self.points = scale * 72 / _DPI  # typographic points per sheet unit
        self.z = 1.0
        self.strokes: list[list[tuple[float, float]]] = []
        self.strokes_of: tuple[str, str] = ("", "")

    def paint(self, shape: Shape, gid: str = "") -> None:
        if isinstance(shape, Group):
            for inner in shape.shapes:
                self.paint(inner, shape.of)
            return
        if isinstance(shape, Line | Hatch):  # neighbours of one look become one collection
            if (shape.role, shape.tint) != self.strokes_of:
                self.flush()
                self.strokes_of = (shape.role, shape.tint)
            segments = shape.segments() if isinstance(shape, Hatch) else [(shape.x1, shape.y1, shape.x2, shape.y2)]
            self.strokes += [[(self.to_x(a), b), (self.to_x(c), d)] for a, b, c, d in segments]
            return
        self.flush()
        self.z += 0.001
        style = style_of(shape.role)
        stroke, fill = style.stroke, style.fill
        if shape.tint:
            stroke, fill = (tint_of(shape.tint), fill) if style.tinted == "stroke" else (stroke, tint_of(shape.tint))
        artist = self._text(shape, style, fill) if isinstance(shape, Text) else self._patch(shape, style, stroke, fill)
        if gid:
            artist.set_gid(gid)

    def flush(self) -> None:
        """Paint the straight lines gathered so far."""
        if not self.strokes:
            return
        from matplotlib.collections import LineCollection

        self.z += 0.001
        role, tint = self.strokes_of
        style = style_of(role)
        colour = tint_of(tint) if tint and style.tinted == "stroke" else style.stroke
        lines = LineCollection(
            self.strokes,
            colors=colour or "none",
            linewidths=style.width * self.points,
            linestyles=[self._dash(style)],
            zorder=self.z,
            capstyle=_cap(style),
        )
        self.ax.add_collection(lines, autolim=False)
        self.strokes, self.strokes_of = [], ("", "")

    def _dash(self, style: Style) -> Any:
        # matplotlib counts dash lengths in line widths
        return (0, tuple(d / style.width for d in style.dash)) if style.dash else "solid"

    def _text(self, t: Text, style: Style, fill: str) -> Any:
        from matplotlib.patheffects import withStroke

        artist = self.ax.text(
            self.to_x(t.x),
            t.y,
            t.text.replace("$", r"\$"),
            fontsize=t.size * self.points,
            fontfamily=_FACE,
            fontweight="bold" if t.bold else "normal",
            fontstyle="italic" if style.italic else "normal",
            color=fill,
            ha={"start": "left", "middle": "center", "end": "right"}[t.anchor],
            va="baseline",
            rotation=t.turn,
            rotation_mode="anchor",
            zorder=self.z,
        )
        if style.halo:
            artist.set_path_effects([withStroke(linewidth=3 * self.points, foreground=style_of("paper").fill)])
        return artist

    def _patch(self, shape: Polyline | Arc | Rect, style: Style, stroke: str, fill: str) -> Any:
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path

        closed = not (isinstance(shape, Arc) and not shape.whole) and not (
            isinstance(shape, Polyline) and not shape.closed
        )
        points = [(self.to_x(x), y) for x, y in _outline(shape)]
        codes = [Path.MOVETO] + [Path.LINETO] * (len(points) - 1)
        if closed:
            points.append(points[0])
            codes.append(Path.CLOSEPOLY)
        patch = PathPatch(
            Path(points, codes),
            facecolor=fill if fill and closed else "none",
            edgecolor=stroke if stroke and style.width else "none",
            linewidth=style.width * self.points,
            linestyle=self._dash(style),
            capstyle=_cap(style),
            joinstyle="miter",
            zorder=self.z,
        )
        self.ax.add_artist(patch)
        return patch


def _cap(style: Style) -> Any:
    return {"butt": "butt", "square": "projecting", "round": "round"}[style.cap]


def _outline(shape: Polyline | Arc | Rect) -> list[tuple[float, float]]:
    if isinstance(shape, Polyline):
        return list(shape.points)
    if isinstance(shape, Arc):
        n = max(6, math.ceil((shape.end - shape.start) / 7.5))
        last = n if shape.whole else n + 1
        return [shape.at(shape.start + (shape.end - shape.start) * i / n) for i in range(last)]
    x, y, w, h, r = (
        shape.x,
        shape.y,
        shape.width,
        shape.height,
        min(shape.radius, shape.width / 2, shape.height / 2),
    )
    if not r:
        return [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
    corners = (
        (x + w - r, y + r, -90),
        (x + w - r, y + h - r, 0),
        (x + r, y + h - r, 90),
        (x + r, y + r, 180),
    )
    return [Arc(cx, cy, r, "frame").at(a + 15 * k) for cx, cy, a in corners for k in range(7)]

"""A failure-effects table drawn: one row per fault, one column per requirement, a sign in each cell.

The table comes as a record (``effects.table()``). A sign tells by its shape first: an empty ring holds, a filled
square with a cross fails, a dashed box with a question mark is open. Colour repeats it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from labkit.plots._axes import draw
from labkit.plots._measure import shorten, text_width, wrap
from labkit.plots._svg import to_svg
from labkit.plots.shapes import Arc, Group, Line, Rect, Shape, Sheet, Text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["EffectsTableLike", "draw_effects", "effects_sheet", "effects_svg"]

_ROW, _PAD, _SIZE, _HEAD = 20.0, 12.0, 10.5, 11.0
_MOST_TITLE, _COLUMN, _SHOWS = 330.0, 110.0, 250.0
_MARK = 5.0


class _RowLike(Protocol):
    @property
    def title(self) -> str: ...
    @property
    def cells(self) -> Sequence[str]: ...
    @property
    def shows(self) -> str: ...


class EffectsTableLike(Protocol):
    """What is drawn: ``cells`` hold ``holds``, ``fails``, ``undecided`` or ``not solved``."""

    @property
    def title(self) -> str:
        """The heading."""

    @property
    def columns(self) -> Sequence[str]:
        """Names of the requirements."""

    @property
    def rows(self) -> Sequence[_RowLike]:
        """The healthy board first."""


def effects_sheet(table: EffectsTableLike) -> Sheet:
    """The drawing as shapes."""
    looked = any(row.shows for row in table.rows)
    wide = min(max((text_width(r.title, _SIZE) for r in table.rows), default=0) + 8, _MOST_TITLE)
    heads = [wrap(name, _COLUMN - 8, _HEAD) for name in table.columns]
    lines = max((len(h) for h in heads), default=1)
    top = _PAD + (26 if table.title else 0)
    first = top + lines * (_HEAD + 4) + 8
    width = 2 * _PAD + wide + len(table.columns) * _COLUMN + (_SHOWS if looked else 0)
    shapes: list[Shape] = []
    if table.title:
        shapes.append(
            Text(_PAD, _PAD + 14, shorten(table.title, width - 2 * _PAD, 14, bold=True), "title", 14, bold=True)
        )
    for number, head in enumerate(heads):
        x = _PAD + wide + (number + 0.5) * _COLUMN
        for line, words in enumerate(head):
            shapes.append(Text(x, top + (line + 1) * (_HEAD + 4), words, "name", _HEAD, "middle", bold=True))
    if looked:
        x = _PAD + wide + len(heads) * _COLUMN + 8
        shapes.append(Text(x, top + _HEAD + 4, "first seen by", "name", _HEAD, bold=True))
    shapes.append(Line(_PAD, first, width - _PAD, first, "axis"))
    for number, row in enumerate(table.rows):
        signs = _line(row, first + number * _ROW, wide)
        below = Line(_PAD, first + (number + 1) * _ROW, width - _PAD, first + (number + 1) * _ROW, "rule")
        said = ", ".join(f"{name}: {word}" for name, word in zip(table.columns, row.cells, strict=True))
        shapes.append(Group((*signs, below), row.title, said + (f"; {row.shows}" if row.shows else "")))
    height = first + len(table.rows) * _ROW + _PAD
    return Sheet(width, height, tuple(shapes), table.title, _words(table))


def _line(row: _RowLike, y: float, wide: float) -> list[Shape]:
    middle = y + _ROW / 2
    base = middle + 0.36 * _SIZE
    parts: list[Shape] = [Text(_PAD, base, shorten(row.title, wide - 8, _SIZE), "label", _SIZE)]
    for number, word in enumerate(row.cells):
        parts += _sign(word, _PAD + wide + (number + 0.5) * _COLUMN, middle)
    if row.shows:
        x = _PAD + wide + len(row.cells) * _COLUMN + 8
        parts.append(Text(x, base, shorten(row.shows, _SHOWS - 12, _SIZE), "note", _SIZE))
    return parts


def _sign(word: str, x: float, y: float) -> list[Shape]:
    m = _MARK
    if word == "holds":
        return [Arc(x, y, m - 1, "dead-mark")]
    if word == "fails":
        box = Rect(x - m - 1, y - m - 1, 2 * m + 2, 2 * m + 2, "mark-point")
        cross = [Line(x - 3, y - 3, x + 3, y + 3, "detail-light"), Line(x - 3, y + 3, x + 3, y - 3, "detail-light")]
        return [box, *cross]
    if word == "undecided":
        box = Rect(x - m - 1, y - m - 1, 2 * m + 2, 2 * m + 2, "part-gone")
        return [box, Text(x, y + 4, "?", "label", _SIZE, "middle")]
    return [Line(x - m, y, x + m, y, "dead")]


def _words(table: EffectsTableLike) -> str:
    lost = [row.title for row in table.rows[1:] if "fails" in row.cells]
    return f"{len(table.rows) - 1} faults, {len(lost)} of them break a requirement: " + "; ".join(lost)


def effects_svg(table: EffectsTableLike) -> str:
    """The table as SVG text. Needs no matplotlib."""
    return to_svg(effects_sheet(table))


def draw_effects(table: EffectsTableLike, *, ax: Axes | None = None) -> Axes:
    """Draw the table into `ax`, or into a figure of its own."""
    return draw(effects_sheet(table), ax)

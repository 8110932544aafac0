"""The circuit drawings of a board: supply, inputs and outputs, all found in the wiring.

One current path stands in each column, from the plus rail down to 0 V; symbols follow IEC 60617. Where the wiring
leads nowhere the column says so: a half-wired board has drawings too.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labkit.plots._circuit_symbols import STEP, Symbol, symbol_shapes
from labkit.plots._current_paths import APART, TOP, WIRE, Edge, Net, column, said
from labkit.plots._measure import text_width
from labkit.plots.shapes import Arc, Group, Line, Rect, Shape, Sheet, Text

if TYPE_CHECKING:
    from labkit.board import Board, Wiring

__all__ = ["circuit_sheets", "input_sheets", "output_sheets", "supply_sheet"]

_LEFT = 118.0
_CAPTION = 13.0  # between the lines under a column
_NARROW = 26  # characters of a line in a column


@dataclass(frozen=True, slots=True)
class _Column:
    """What stands in one column: the target, its path or why there is none, and what is written under it."""

    target: Edge
    path: tuple[Edge, ...]
    gap: str
    under: tuple[str, ...]
    beside: Symbol | None = None


def circuit_sheets(board: Board, wiring: Wiring | None = None) -> dict[str, Sheet]:
    """Every circuit drawing of a board by the name of its file: supply, inputs by common, outputs by group."""
    sheets = {"supply": supply_sheet(board, wiring)}
    sheets |= {f"inputs-{n}": sheet for n, sheet in enumerate(input_sheets(board, wiring), start=1)}
    return sheets | {f"outputs-{n}": sheet for n, sheet in enumerate(output_sheets(board, wiring), start=1)}


def supply_sheet(board: Board, wiring: Wiring | None = None) -> Sheet:
    """The supply, its breakers, and what lives on them; the bond to the protective conductor below."""
    net = Net(board, board.wiring if wiring is None else wiring)
    columns = []
    for target in net.consumers():
        path, gap = net.path_or_gap(target)
        assert target.symbol is not None
        part = board.part(target.symbol.part)
        words = (f"{target.symbol.a} - {target.symbol.b}", part.label or part.entry.text)
        columns.append(_Column(target, tuple(path), gap, words))
    return _drawn(net, columns, "Supply", supply=True)


def input_sheets(board: Board, wiring: Wiring | None = None) -> tuple[Sheet, ...]:
    """The inputs, one sheet for each common."""
    net = Net(board, board.wiring if wiring is None else wiring)
    sheets = []
    for part, entry in board.controllers:
        for group in entry.input_groups:
            columns = [_of_point(net, board, name, net.input(name)) for name in group.points]
            title = f"Inputs {group.points[0]} to {group.points[-1]}, common {part.terminal(group.common)}"
            sheets.append(_drawn(net, columns, title))
    return tuple(sheets)


def output_sheets(board: Board, wiring: Wiring | None = None) -> tuple[Sheet, ...]:
    """The outputs that have a device, one sheet for each group."""
    net = Net(board, board.wiring if wiring is None else wiring)
    sheets = []
    for part, entry in board.controllers:
        for group in entry.output_groups:
            points = [p for name in group.points if (p := board.points.get(name)) is not None and p.device]
            columns = [_of_point(net, board, p.point, net.load(p.device)) for p in points]
            title = f"Outputs {group.points[0]} to {group.points[-1]}, group plus {part.terminal(group.plus)}"
            sheets.append(_drawn(net, columns, title))
    return tuple(sheets)


def _of_point(net: Net, board: Board, name: str, target: Edge) -> _Column:
    path, gap = net.path_or_gap(target)
    point = board.points.get(name)
    if point is None:
        return _Column(target, tuple(path), gap, (name,))
    return _Column(target, tuple(path), gap, (f"{name}   {point.tag}", point.comment), net.beside(target))


def _drawn(net: Net, columns: Sequence[_Column], title: str, *, supply: bool = False) -> Sheet:
    heights = [sum(STEP if e.symbol else WIRE for e in c.path) for c in columns]
    bottom = TOP + max([*heights, 4 * STEP]) + 24
    first = 1 if supply else 0
    shapes: list[Shape] = []
    if supply:
        shapes += _source(net, _LEFT, bottom)
    for i, it in enumerate(columns):
        x = _LEFT + APART * (first + i)
        path = list(it.path)
        drawn = column(path, x, bottom, it.beside) if path else _gap(it, x, bottom)
        about = f"path {i + 1}: " + (", ".join(said(path)) if path else it.gap)
        shapes += [Group(tuple(drawn), f"path:{i + 1}", about), Text(x, TOP - 22, str(i + 1), "tick", 9, "middle")]
        shapes += _under(it.under, x, bottom)
    wide = _LEFT + APART * (first + len(columns) - 1) + 118
    wide = max(wide, text_width(title, 14, bold=True) + 40)
    rails: list[Shape] = []
    for y, words in ((TOP - 10, f"+{net.volts:g} V"), (bottom, "0 V")):
        rails += [Line(70, y, wide - 24, y, "rail"), Text(60, y + 4, words, "name", 10.5, "end", bold=True)]
    height = bottom + (96 if supply else 70)
    heading = Text(16, 28, title, "title", 14, bold=True)
    alt = " ".join(f"Path {i}: {', '.join(said(list(c.path))) or c.gap}." for i, c in enumerate(columns, start=1))
    return Sheet(wide, height, (Rect(0, 0, wide, height, "paper"), heading, *rails, *shapes), title, alt)


def _under(lines: Sequence[str], x: float, bottom: float) -> list[Shape]:
    """What a column is, under the 0 V rail."""
    first, *rest = lines
    out: list[Shape] = [Text(x, bottom + 20, first, "name", 9.5, "middle", bold=True)]
    words = [line for text in rest for line in textwrap.wrap(text, _NARROW)]
    return out + [
        Text(x, bottom + 20 + _CAPTION * n, line, "label", 8.5, "middle") for n, line in enumerate(words[:3], start=1)
    ]


def _gap(it: _Column, x: float, bottom: float) -> list[Shape]:
    """A column that is not wired: the target by itself, and the sentence that says where the way ends."""
    assert it.target.symbol is not None
    y = bottom - STEP - 20
    lines = textwrap.wrap(f"not wired: {it.gap}", _NARROW)
    words: list[Shape] = [
        Text(x, TOP + 24 + _CAPTION * n, line, "label", 8.5, "middle") for n, line in enumerate(lines)
    ]
    return [*words, *symbol_shapes(it.target.symbol, x, y)]


def _source(net: Net, x: float, bottom: float) -> list[Shape]:
    """The supply between the rails, and its bond to the protective conductor if the wiring has one."""
    part, entry = net.board.supplies[0]
    y = TOP - 10 + (bottom - TOP + 10 - STEP) / 2
    symbol = Symbol("supply", part.designation, entry.plus, entry.minus)
    out: list[Shape] = [
        Line(x, TOP - 10, x, y, "link"),
        Arc(x, TOP - 10, 2.6, "joint"),
        Arc(x, bottom, 2.6, "joint"),
        *symbol_shapes(symbol, x, y),
        Line(x, y + STEP, x, bottom, "link"),
    ]
    earth = net.board.earth_terminals
    bonds = [w for w in net.wiring if len(w.ends & earth) == 1 and net.minus in w.ends]
    if not bonds:
        return [*out, Text(x, bottom + 20, "0 V floats: no bond", "label", 8.5, "middle")]
    low = bottom + 34
    out += [Line(x, bottom, x, low, "link"), Text(x + 5, bottom + 20, bonds[0].no, "tick", 8)]
    out += [Line(x - w, low + d, x + w, low + d, "symbol") for w, d in ((12, 0), (8, 5), (4, 10))]
    far = next(iter(bonds[0].ends & earth))
    return [*out, Text(x + 18, low + 8, far, "tick", 8)]

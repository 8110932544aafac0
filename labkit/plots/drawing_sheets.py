"""The circuit drawings of a board: supply, main circuit, inputs and outputs, all found in the wiring.

One current path stands in each column, from the plus rail down to 0 V; symbols follow IEC 60617. Where the wiring
leads nowhere the column says so: a half-wired board has drawings too.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labkit.plots._circuit_symbols import STEP, Symbol, symbol_shapes
from labkit.plots._current_paths import Edge, Net, Wired
from labkit.plots._measure import text_width
from labkit.plots._path_columns import APART, CAPTION, NARROW, TOP, column, drawn_again, height, rail
from labkit.plots.main_sheet import main_circuit_sheet
from labkit.plots.shapes import Arc, Group, Line, Rect, Shape, Sheet, Text

if TYPE_CHECKING:
    from labkit.board import Board, Wiring

__all__ = ["circuit_sheets", "input_sheets", "output_sheets", "supply_sheet"]

_LEFT = 118.0


@dataclass(frozen=True, slots=True)
class _Column:
    """What stands in one column: the path as it is wired, and what is written under it."""

    wired: Wired
    under: tuple[str, ...]
    beside: Symbol | None = None


def circuit_sheets(board: Board, wiring: Wiring | None = None) -> dict[str, Sheet]:
    """Every circuit drawing of a board by the name of its file: supply, inputs by common, outputs by group, motors."""
    if not board.supplies:
        return {"main-circuit": main_circuit_sheet(board, wiring)} if board.of_kind("motor", "contactor") else {}
    sheets = {"supply": supply_sheet(board, wiring), "main-circuit": main_circuit_sheet(board, wiring)}
    sheets |= {f"inputs-{n}": sheet for n, sheet in enumerate(input_sheets(board, wiring), start=1)}
    return sheets | {f"outputs-{n}": sheet for n, sheet in enumerate(output_sheets(board, wiring), start=1)}


def supply_sheet(board: Board, wiring: Wiring | None = None) -> Sheet:
    """The supply, its breakers, and what lives on them; the bond to the protective conductor below."""
    net = Net(board, wiring)
    columns = []
    for target in net.consumers():
        assert target.symbol is not None
        part = board.part(target.symbol.part)
        words = (f"{target.symbol.a} - {target.symbol.b}", part.label or part.entry.text)
        columns.append(_Column(net.as_wired(target), words))
    return _drawn(net, columns, "Supply", supply=True)


def input_sheets(board: Board, wiring: Wiring | None = None) -> tuple[Sheet, ...]:
    """The inputs, one sheet for each common; a spare point stands there only if something is wired to it."""
    net = Net(board, wiring)
    sheets = []
    for part, entry in board.controllers:
        for group in entry.input_groups:
            targets = [(name, net.input(name)) for name in group.points]
            columns = [
                _of_point(net, board, name, target)
                for name, target in targets
                if name in board.points or net.wiring.at(target.a)
            ]
            if not columns:  # every point is spare, and none is wired
                continue
            title = f"Inputs {group.points[0]} to {group.points[-1]}, common {part.terminal(group.common)}"
            sheets.append(_drawn(net, columns, title))
    return tuple(sheets)


def output_sheets(board: Board, wiring: Wiring | None = None) -> tuple[Sheet, ...]:
    """The outputs that have a device, one sheet for each group."""
    net = Net(board, wiring)
    sheets = []
    for part, entry in board.controllers:
        for group in entry.output_groups:
            points = [p for name in group.points if (p := board.points.get(name)) is not None and p.device]
            columns = [_of_point(net, board, p.point, net.load(p.device)) for p in points]
            if not columns:
                continue
            title = f"Outputs {group.points[0]} to {group.points[-1]}, group plus {part.terminal(group.plus)}"
            sheets.append(_drawn(net, columns, title))
    return tuple(sheets)


def _of_point(net: Net, board: Board, name: str, target: Edge) -> _Column:
    point = board.points.get(name)
    if point is None:
        words: tuple[str, ...] = (name, "spare in the I/O list")
    else:
        words = (f"{name}   {point.tag}", point.comment)
    wired = net.as_wired(target)
    more = "; ".join(f"{no} on {terminal}" for no, terminal in net.besides(wired))
    return _Column(wired, (*words, f"and besides: {more}") if more else words, net.beside(target))


def _drawn(net: Net, columns: Sequence[_Column], title: str, *, supply: bool = False) -> Sheet:
    bottom = TOP + max([*(height(c.wired, net.rail) for c in columns), 4 * STEP]) + 24
    first = 1 if supply else 0
    plus, minus = any(c.wired.on_plus for c in columns), any(c.wired.on_minus for c in columns)
    shapes: list[Shape] = []
    if supply:
        shapes += _source(net, _LEFT, bottom, plus, minus)
    for i, it in enumerate(columns):
        x = _LEFT + APART * (first + i)
        drawn = column(it.wired, net.rail, x, bottom, it.beside)
        about = f"path {i + 1}: {it.wired.story(net.rail)}"
        shapes += [Group(tuple(drawn), f"path:{i + 1}", about), Text(x, TOP - 22, str(i + 1), "tick", 9, "middle")]
        shapes += _under(it.under, x, bottom)
    wide = _LEFT + APART * (first + len(columns) - 1) + 118
    wide = max(wide, text_width(title, 14, bold=True) + 40)
    rails = [
        *rail(net.rail, TOP - 10, wide, plus),
        *rail("0 V", bottom, wide, minus),
    ]
    high = bottom + (96 if supply else 70)
    heading = Text(16, 28, title, "title", 14, bold=True)
    alt = " ".join(f"Path {i}: {c.wired.story(net.rail)}." for i, c in enumerate(columns, start=1))
    again = drawn_again([c.wired for c in columns])
    return Sheet(wide, high, (Rect(0, 0, wide, high, "paper"), heading, *again, *rails, *shapes), title, alt)


def _under(lines: Sequence[str], x: float, bottom: float) -> list[Shape]:
    """What a column is, under the 0 V rail."""
    first, *rest = lines
    out: list[Shape] = [Text(x, bottom + 20, first, "name", 9.5, "middle", bold=True)]
    words = [line for text in rest for line in textwrap.wrap(text, NARROW)]
    return out + [
        Text(x, bottom + 20 + CAPTION * n, line, "label", 8.5, "middle") for n, line in enumerate(words[:4], start=1)
    ]


def _source(net: Net, x: float, bottom: float, plus: bool, minus: bool) -> list[Shape]:
    """The supply between the rails that anything is on, and its bond to the protective conductor if there is one."""
    part, entry = net.board.supplies[0]
    y = TOP - 10 + (bottom - TOP + 10 - STEP) / 2
    symbol = Symbol("supply", part.designation, entry.plus, entry.minus)
    out: list[Shape] = list(symbol_shapes(symbol, x, y))
    if plus:
        out += [Line(x, TOP - 10, x, y, "link"), Arc(x, TOP - 10, 2.6, "joint")]
    else:
        out += [Arc(x, y, 2.8, "terminal"), Text(x, y - 12, "nothing on plus", "label", 8.5, "middle")]
    earth = net.board.earth_terminals
    bonds = [w for w in net.wiring if len(w.ends & earth) == 1 and net.minus in w.ends]
    low = bottom + 34
    end = low if bonds else bottom if minus else y + STEP
    out.append(Line(x, y + STEP, x, end, "link"))
    out.append(Arc(x, bottom, 2.6, "joint") if minus else Arc(x, y + STEP, 2.8, "terminal"))
    if not minus:
        out.append(Text(x + 9, y + STEP + 14, "no way to the loads", "label", 8.5))
    if not bonds:
        return [*out, Text(x, bottom + 20, "0 V floats: no bond", "label", 8.5, "middle")]
    far = next(iter(bonds[0].ends & earth))
    out += [Text(x + 5, bottom + 16, bonds[0].no, "tick", 8), Text(x + 19, low + 12, far, "tick", 8)]
    out.append(Arc(x, low + 9, 15, "symbol"))  # the circle makes it the protective earth
    out += [Line(x, low, x, low + 5, "link")]
    return out + [Line(x - w, low + d, x + w, low + d, "symbol") for w, d in ((9, 5), (6, 10), (3, 15))]

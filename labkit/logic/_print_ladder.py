"""A program as ladder text, drawn from its layout; what is printed reads back as the same tree."""

from __future__ import annotations

from labkit.logic._layout import layout
from labkit.logic._layout_records import Cell, Pin, RungLayout
from labkit.logic._print_header import comment_lines, header_lines
from labkit.logic.nodes import Program

__all__ = ["print_ladder"]


def print_ladder(program: Program) -> str:
    """Ladder text of a program; reading it gives the same tree (Structured Text: the same in ladder form).

    Raises
    ------
    LabkitError
        If an expression is too wide for one rung.

    Examples
    --------
    >>> from labkit.logic import read_st
    >>> print(print_ladder(read_st("K1 := S1 AND (S2 OR K1_A);")), end="")
    |  S1      S2      K1   |
    |--| |--+--| |--+--( )--|
    |       | K1_A  |       |
    |       +--| |--+       |
    """
    picture = layout(program)
    widths = _column_widths(picture.rungs)
    parts = [header_lines(program.declarations)]
    parts += [comment_lines(r.title, r.comment) + _Canvas(r, widths).lines() for r in picture.rungs]
    return "\n\n".join("\n".join(lines) for lines in parts if lines) + "\n"


def _column_widths(rungs: tuple[RungLayout, ...]) -> list[int]:
    """Characters between the grid lines, so that every name, pin and constant has room."""
    widths = [7] * max((r.columns for r in rungs), default=1)

    def need(col: int, width: int) -> None:
        widths[col] = max(widths[col], width)

    for cell in (c for r in rungs for c in r.cells):
        if cell.kind != "block":
            need(cell.col, len(cell.name) + 2)
            continue
        left = {p.row: p for p in cell.pins if p.side == "left"}
        right = {p.row: p for p in cell.pins if p.side == "right"}
        need(cell.col, max(len(p.text) for p in left.values()) + 4)
        need(cell.col + 2, max(len(p.text) for p in right.values()) + 4)
        pins = max(_length(left.get(r)) + _length(right.get(r)) for r in {*left, *right})
        need(cell.col + 1, max(len(cell.symbol) + 2, pins + 2, len(cell.name)))
    return widths


def _length(pin: Pin | None) -> int:
    return len(pin.name) if pin else 0


class _Canvas:
    """One rung as characters. `x[c]` is the text column of grid line c, `y[r]` the text line of grid row r's wire."""

    def __init__(self, rung: RungLayout, widths: list[int]) -> None:
        self.rung = rung
        self.x = [0]
        for width in widths[: rung.columns]:
            self.x.append(self.x[-1] + width + 1)
        blocks = [c for c in rung.cells if c.kind == "block"]
        starts = {c.row for c in blocks}
        ends = {c.row + c.height - 1 for c in blocks}
        self.y: list[int] = []
        line = 0
        for row in range(rung.rows):
            # above a wire: its names; above a block also its upper edge and its instance name
            line += (3 if row in starts else 1) + (1 if row - 1 in ends else 0)
            self.y.append(line)
            line += 1
        height = line + (1 if rung.rows - 1 in ends else 0)
        self.text = [[" "] * (self.x[-1] + 1) for _ in range(height)]

    def lines(self) -> list[str]:
        for link in self.rung.links:
            if link.row1 == link.row2:
                self.across(self.y[link.row1], self.x[link.col1], self.x[link.col2])
        for cell in self.rung.cells:
            if cell.kind == "block":
                self.block(cell)
            else:
                self.element(cell)
        for link in self.rung.links:
            if link.col1 == link.col2:
                self.down(self.x[link.col1], self.y[link.row1], self.y[link.row2])
        for row in self.text:
            row[0] = row[-1] = "|"
        return ["".join(row).rstrip() for row in self.text]

    def put(self, line: int, col: int, text: str) -> None:
        self.text[line][col : col + len(text)] = text

    def across(self, line: int, start: int, end: int) -> None:
        for col in range(start, end + 1):
            if self.text[line][col] == " ":
                self.text[line][col] = "-"

    def down(self, col: int, start: int, end: int) -> None:
        for line in range(start, end + 1):
            here = self.text[line][col]
            self.text[line][col] = "+" if here in "-+" else "|"

    def element(self, cell: Cell) -> None:
        line, start, end = self.y[cell.row], self.x[cell.col], self.x[cell.col + 1]
        self.across(line, start, end)
        middle = (start + end) // 2
        left, right = "||" if cell.kind == "contact" else "()"
        self.put(line, middle - 1, f"{left}{cell.symbol or ' '}{right}")
        self.put(line - 1, middle - (len(cell.name)) // 2, cell.name)

    def block(self, cell: Cell) -> None:
        left, right = self.x[cell.col + 1], self.x[cell.col + 2]
        inner = right - left - 1
        top, bottom = self.y[cell.row] - 2, self.y[cell.row + cell.height - 1] + 1
        edge = "+" + "-" * inner + "+"
        for line in range(top + 1, bottom):
            self.put(line, left, "|" + " " * inner + "|")
        self.put(top, left, edge)
        self.put(bottom, left, edge)
        self.put(top - 1, left + 1 + (inner - len(cell.name)) // 2, cell.name)
        self.put(top + 1, left + 1 + (inner - len(cell.symbol)) // 2, cell.symbol)
        for pin in cell.pins:
            self.pin(cell, pin, left, right)

    def pin(self, cell: Cell, pin: Pin, left: int, right: int) -> None:
        line = self.y[cell.row + pin.row]
        if pin.side == "left":
            self.put(line, left + 1, pin.name)
            if pin.text:
                self.put(line, left - 2 - len(pin.text), pin.text + "--")
            elif pin.wired and pin.row == 0:
                self.across(line, self.x[cell.col], left - 1)
        else:
            self.put(line, right - len(pin.name), pin.name)
            if pin.text:
                self.put(line, right + 1, "--" + pin.text)
            elif pin.wired:
                self.across(line, right + 1, self.x[cell.col + 3])

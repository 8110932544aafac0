"""What stands where in ladder text: rails, wires, contacts, coils, boxes and words.

Rows and columns count from 0 here; a :class:`~labkit.logic.nodes.Span` for people counts from 1.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from labkit.logic._source import Source
from labkit.logic.blocks import BLOCKS
from labkit.logic.nodes import Span

__all__ = ["Box", "Mark", "Scan", "Word", "scan_ladder"]

_BOX = "\x01"  # fills the place of a box once it is taken out of the text
_COIL = re.compile(r"\(([^()|+\x01-]*)\)")
_CONTACT = re.compile(r"\|([^|+()\x01-]{0,32}?)\|")
_WORD = re.compile(r"[^\s|+()\x01-]+(?:-[A-Za-z0-9_][^\s|+()\x01-]*)*")
_INSIDE = re.compile(r"[A-Za-z0-9_.]+")
_LOOSE_BOX = re.compile(r"[|+]-*\s*(" + "|".join(sorted(BLOCKS, key=len, reverse=True)) + r")\s*-*[|+]", re.IGNORECASE)
_RAIL_SLACK = 8  # columns that the right rail of a line of names may stand beside that of its rung
_KINDS = {"": "", "/": "/", "P": "P", "N": "N"}
_COIL_KINDS = _KINDS | {"S": "S", "R": "R"}
_CURES = {
    "L": "a coil that latches is (S), and (R) lets go",
    "U": "a coil that unlatches is (R), and (S) latches",
    "M": "the standard has no retentive coil any more: use ( ) and declare the tag in VAR RETAIN",
    "SM": "the standard has no retentive coil any more: use (S) and declare the tag in VAR RETAIN",
    "RM": "the standard has no retentive coil any more: use (R) and declare the tag in VAR RETAIN",
}


@dataclass(frozen=True, slots=True)
class Word:
    """A name, constant or number in the drawing."""

    text: str
    row: int
    col: int

    @property
    def end(self) -> int:
        """Last column."""
        return self.col + len(self.text) - 1

    @property
    def span(self) -> Span:
        """Its place for people."""
        return Span(self.row + 1, self.col + 1, len(self.text))


@dataclass(frozen=True, slots=True)
class Mark:
    """A contact or coil: `kind` is ``"contact"`` or ``"coil"``; it covers the columns `col` to `end`."""

    kind: str
    symbol: str
    row: int
    col: int
    end: int

    @property
    def span(self) -> Span:
        """Its place for people."""
        return Span(self.row + 1, self.col + 1, self.end - self.col + 1)

    @property
    def top(self) -> int:
        """The row above which the name stands."""
        return self.row


@dataclass(frozen=True, slots=True)
class Box:
    """A function block: its frame from (`row`, `col`) to (`bottom`, `end`), and its words row by row."""

    row: int
    col: int
    bottom: int
    end: int
    type_word: Word
    left: tuple[Word, ...]
    right: tuple[Word, ...]

    kind = "block"

    @property
    def span(self) -> Span:
        """The upper edge of the frame, for people."""
        return Span(self.row + 1, self.col + 1, self.end - self.col + 1)

    @property
    def top(self) -> int:
        """The row above which the name stands."""
        return self.row


@dataclass(slots=True)
class Scan:
    """Everything found in a ladder text. `wires` holds ``- + |`` by place; rails are kept apart."""

    marks: list[Mark] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)
    words: list[Word] = field(default_factory=list)
    wires: dict[tuple[int, int], str] = field(default_factory=dict)
    left_rail: dict[int, int] = field(default_factory=dict)  # row -> column
    right_rail: dict[int, int] = field(default_factory=dict)


def scan_ladder(source: Source, lines: list[str]) -> Scan:
    """Find rails, wires, elements, boxes and words in `lines` (the text with comments and header blanked).

    Raises
    ------
    SlipError
        At a character, contact or box that cannot be read.
    """
    scan = Scan()
    lines, scan.boxes = _take_boxes(source, lines)
    for row, line in enumerate(lines):
        loose = _LOOSE_BOX.search(line)
        if loose:
            span = Span(row + 1, loose.start(1) + 1, len(loose.group(1)))
            raise source.slip("block-box-open", span, type=loose.group(1).upper())
    for first, last in _paragraphs(lines):
        _find_left_rail(scan, lines, first, last)
    for row, line in enumerate(lines):
        _scan_line(source, scan, row, line)
    active = {m.row for m in scan.marks if m.kind == "coil"} | {w.row for b in scan.boxes for w in b.right}
    for first, last in _paragraphs(lines):
        _find_right_rail(scan, lines, (first, last), active)
    return scan


def _paragraphs(lines: list[str]) -> Iterator[tuple[int, int]]:
    """First and last row of each run of lines with something on them."""
    start = None
    for row, line in enumerate([*lines, ""]):
        if line.strip() and start is None:
            start = row
        elif not line.strip() and start is not None:
            yield start, row - 1
            start = None


# ---- boxes


def _take_boxes(source: Source, lines: list[str]) -> tuple[list[str], list[Box]]:
    """Find closed frames with words in them, and blank them out of the lines."""
    boxes: list[Box] = []
    kept = list(lines)
    for row, line in enumerate(lines):
        corners = [i for i, char in enumerate(line) if char == "+"]
        for col, end in pairwise(corners):
            bottom = _frame(lines, row, col, end)
            if bottom is None:
                continue
            boxes.append(_read_box(source, lines, (row, col, bottom, end)))
            for r in range(row, bottom + 1):
                kept[r] = kept[r][:col] + _BOX * (end - col + 1) + kept[r][end + 1 :]
    return kept, boxes


def _frame(lines: list[str], row: int, col: int, end: int) -> int | None:
    """The bottom row of the frame whose upper edge runs from `col` to `end`; None if there is no frame."""
    if not re.fullmatch(r"-+(?:[A-Za-z_]+-+)?", lines[row][col + 1 : end]):
        return None
    words = bool(lines[row][col + 1 : end].strip("-"))
    for r in range(row + 1, len(lines)):
        line = lines[r]
        sides = line[col : col + 1] + line[end : end + 1]
        inner = line[col + 1 : end]
        if sides == "++":
            return r if not inner.strip("-") and words and r > row + 1 else None
        if sides != "||" or re.search(r"[-+|()]", inner):
            return None
        words = words or bool(inner.strip())
    return None


def _read_box(source: Source, lines: list[str], place: tuple[int, int, int, int]) -> Box:
    row, col, bottom, end = place

    def words(r: int) -> list[Word]:
        return [Word(m.group(), r, col + 1 + m.start()) for m in _INSIDE.finditer(lines[r][col + 1 : end])]

    rows = [words(r) for r in range(row + 1, bottom)]
    title = words(row)
    if not title:
        rows = rows[next((i for i, found in enumerate(rows) if found), 0) :]
        if len(rows[0]) != 1:
            raise source.slip("block-untyped", Span(row + 1, col + 1, end - col + 1))
        title = rows.pop(0)
    left: list[Word] = []
    right: list[Word] = []
    for found in rows:
        if len(found) == 1:
            only = found[0]
            (left if only.col - col <= end - only.end else right).append(only)
        elif len(found) == 2:
            left.append(found[0])
            right.append(found[1])
        elif found:
            kind = BLOCKS.get(title[0].text.upper())
            pins = ", ".join(kind.pins) if kind else ""
            raise source.slip(
                "pin-unknown", found[1].span, type=title[0].text, side="", pin=found[1].text, hint="", pins=pins
            )
    return Box(row, col, bottom, end, title[0], tuple(left), tuple(right))


# ---- rails


def _find_left_rail(scan: Scan, lines: list[str], first: int, last: int) -> None:
    """The leftmost bar of a paragraph is the rail; a line may be one column off."""
    starts = {r: len(lines[r]) - len(lines[r].lstrip()) for r in range(first, last + 1)}
    bars = [col for r, col in starts.items() if lines[r][col] == "|"]
    if not bars:
        return
    rail = min(bars)
    for r, col in starts.items():
        if abs(col - rail) <= 1 and lines[r][col] in "|+":
            scan.left_rail[r] = col


def _find_right_rail(scan: Scan, lines: list[str], rows: tuple[int, int], active: set[int]) -> None:
    """A bar that ends a line right of a coil or a box is the rail; on other lines, one that stands under it."""
    ends = {r: len(lines[r]) - 1 for r in range(rows[0], rows[1] + 1)}
    sure = [r for r, col in ends.items() if r in active and scan.wires.get((r, col)) == "|"]
    found: dict[int, int] = {}
    for r, col in ends.items():
        char = scan.wires.get((r, col))
        if not sure or char is None or char == "-":
            continue
        at = bisect_left(sure, r)
        off = min(abs(col - ends[s]) for s in sure[max(0, at - 1) : at + 1])
        alone = (r - 1, col) not in scan.wires and (r + 1, col) not in scan.wires
        if off <= (1 if char == "|" else 0) or (char == "|" and alone and off <= _RAIL_SLACK):
            found[r] = col
    for r, col in found.items():
        del scan.wires[(r, col)]
    scan.right_rail.update(found)


# ---- one line


def _scan_line(source: Source, scan: Scan, row: int, line: str) -> None:
    at = 0
    free = 0  # first column behind the last element
    if row in scan.left_rail:
        at = free = scan.left_rail[row] + 1
    while at < len(line):
        char = line[at]
        if char in " \x01":
            at += 1
            continue
        if char == "(":
            at = free = _coil(source, scan, row, line, at)
        elif char == "|":
            found = _contact(source, row, line, at, free)
            if found:
                scan.marks.append(found)
                at = free = found.end + 1
            else:
                scan.wires[(row, at)] = "|"
                at += 1
        elif char in "-+":
            scan.wires[(row, at)] = char
            at += 1
        else:
            at = _word(source, scan, row, line, at)


def _coil(source: Source, scan: Scan, row: int, line: str, at: int) -> int:
    match = _COIL.match(line, at)
    if match is None:
        raise source.slip("symbol-unknown", Span(row + 1, at + 1), symbol=line[at : at + 3].strip(), kind="coil",
                          cure="a coil is ( ) with one blank or one of / S R P N between the parentheses")  # fmt: skip
    symbol = match.group(1).strip()
    _check_symbol(source, Span(row + 1, at + 1, len(match.group())), symbol, "coil", _COIL_KINDS)
    scan.marks.append(Mark("coil", symbol.upper(), row, at, match.end() - 1))
    return match.end()


def _contact(source: Source, row: int, line: str, at: int, free: int) -> Mark | None:
    """The contact that begins at the bar `at`; None if the bar is a wire."""
    match = _CONTACT.match(line, at)
    if match is None:
        return None
    before = line[at - 1] if at else " "
    after = line[match.end()] if match.end() < len(line) else " "
    starts = before in "-+" or (at == free and at > 0)
    symbol = match.group(1).strip()
    if not starts or (len(match.group(1)) > 3 and (not symbol or after not in "-+(")):
        return None
    span = Span(row + 1, at + 1, len(match.group()))
    if not match.group(1):
        raise source.slip("symbol-unknown", span, symbol="||", kind="contact",
                          cure="a contact is | | with one blank or one of / P N between the bars")  # fmt: skip
    _check_symbol(source, span, symbol, "contact", _KINDS)
    return Mark("contact", symbol.upper(), row, at, match.end() - 1)


def _check_symbol(source: Source, span: Span, symbol: str, kind: str, known: dict[str, str]) -> None:
    if symbol.upper() in known:
        return
    shape, left, right = ("| |", "|", "|") if kind == "contact" else ("( )", "(", ")")
    if len(symbol) > 1 and symbol[0].isalpha() and symbol.upper() not in _CURES:
        raise source.slip("name-inside", span, name=symbol, kind=kind, shape=shape)
    signs = "blank, / P or N" if kind == "contact" else "blank, / S R P or N"
    cure = _CURES.get(symbol.upper(), f"between {left} and {right} stands a {signs}") if kind == "coil" else (
        "a normally closed contact is |/|" if symbol == "\\" else f"between the bars stands a {signs}"
    )  # fmt: skip
    raise source.slip("symbol-unknown", span, symbol=f"{left}{symbol}{right}", kind=kind, cure=cure)


def _word(source: Source, scan: Scan, row: int, line: str, at: int) -> int:
    match = _WORD.match(line, at)
    text = match.group() if match else line[at]
    if not any(c.isalnum() or c in "_%" for c in text):
        raise source.slip("unknown-character", Span(row + 1, at + 1), char=text[0])
    scan.words.append(Word(text, row, at))
    return at + len(text)

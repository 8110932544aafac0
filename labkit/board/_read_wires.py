"""Wires from TOML and from CSV: every slip of a text at once, each with its line or its place. No files here."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any, TypeVar

from pydantic import BaseModel

from labkit.base import did_you_mean
from labkit.board._documents import SCHEMA, WireRow, WiringHead
from labkit.board._slips import check_schema, parse_toml, validate
from labkit.board.boards import Board
from labkit.board.conductors import Conductors
from labkit.board.errors import BoardFileError, Slip, WiringError
from labkit.board.standards import COLOURS
from labkit.board.wiring import Wire, Wiring

__all__ = ["read_wiring", "read_wiring_csv", "rows_of", "wires_of"]

Row = TypeVar("Row", bound=BaseModel)

MOST_ROWS = 1000  # the orchard board has 70 wires
MOST_TORN = 20  # rows of a TOML text that are no TOML; more is another kind of file

_WORDS = ("a_part", "b_part", "colour_words")  # columns of a printed wire list that only explain
_NUMBERS = ("mm2", "m")
_PLACE = re.compile(r"wires\[(\d+)\]")
_AT = re.compile(r"\(at line (\d+), column (\d+)\)")
_TORN_ROW = re.compile(r"\s*\{.*\}\s*,?\s*(#.*)?$")


def read_wiring(text: str, name: str, conductors: Conductors, board: Board | None = None) -> Wiring:
    """A wiring document; with `board`, each end must be a terminal of it.

    Raises
    ------
    BoardFileError
        With every slip in it.
    """
    slips: list[Slip] = []
    document = _parsed(text, name, slips)
    check_schema(document, SCHEMA, name)
    slips += validate(WiringHead, {k: v for k, v in document.items() if k != "wires"})[1]
    found: list[Slip] = []
    wiring = wires_of(rows_of(WireRow, document, "wires", found), conductors, board, found)
    slips += _with_lines(text, document.get("wires"), found)
    if slips:
        raise BoardFileError(slips, name=name)
    return wiring


def _with_lines(text: str, rows: object, slips: Iterable[Slip]) -> Iterator[Slip]:
    """The slips with the line of their row in front, where it can be told by its number; none of torn rows."""
    numbers = [str(row.get("no")) if isinstance(row, dict) else "" for row in rows] if isinstance(rows, list) else []
    for slip in slips:
        place = _PLACE.match(slip.path)
        i = int(place[1]) if place else 0
        if place is None or i >= len(numbers):
            yield slip
        elif isinstance(rows, list) and not (isinstance(rows[i], dict) and rows[i].keys() == {"torn"}):
            row = re.compile(rf"""\bno\s*=\s*["']?{re.escape(numbers[i])}["']?\s*(,|\}}|$)""")
            lines = [n for n, line in enumerate(text.splitlines(), 1) if row.search(line)]
            nth = numbers[:i].count(numbers[i])
            yield replace(slip, path=f"line {lines[nth]}, {slip.path}") if len(lines) > nth else slip


def _parsed(text: str, name: str, slips: list[Slip]) -> dict[str, Any]:
    """The tables of a TOML text; a row that is no TOML becomes a slip, and the reading goes on below it."""
    lines = text.splitlines()
    while True:
        try:
            return parse_toml("\n".join(lines), name)
        except BoardFileError as exc:
            if exc.code != "board-not-toml":
                raise
            where = _AT.search(exc.slips[0].what)
            line = int(where[1]) if where else 0
            if not 0 < line <= len(lines) or not _TORN_ROW.match(lines[line - 1]) or len(slips) >= MOST_TORN:
                raise BoardFileError([*slips, *exc.slips], name=name, code=exc.code) from None
            assert where is not None
            what = exc.slips[0].what.removeprefix("is not TOML: ").replace(f" {where[0]}", "").rstrip(".")
            slips.append(
                Slip(
                    f"line {line}, column {where[2]}",
                    f"is no row of TOML: {what}.",
                    'A row looks like { no = "1", a = "G1:24V", b = "X1:24V", mm2 = 1.5, m = 0.4 },',
                )
            )
            lines[line - 1] = f'{{ torn = "{line}" }},'


def read_wiring_csv(text: str, name: str, conductors: Conductors, board: Board | None = None) -> Wiring:
    """A wire list as CSV with a header line; ``no``, ``a`` and ``b`` must be there, the rest may be left out.

    Cells may be parted by comma, semicolon or tab; with the latter two, 0,75 is a number.

    Raises
    ------
    BoardFileError
        With every slip in it, by line and column.
    """
    rows = _csv_rows(text.removeprefix("\ufeff"), name)
    if not rows:
        raise BoardFileError([Slip("line 1", "is missing.", "Start with the header no,a,b,colour,mm2,m")], name=name)
    first, header = rows[0][0], [cell.strip() for cell in rows[0][1]]
    known = list(WireRow.model_fields)
    unknown = [key for key in header if key not in known and key not in _WORDS]
    slips = [
        Slip(f"line {first}, {key or 'an empty column'}", f"unknown column {key}.", did_you_mean(key, known, most=20))
        for key in unknown
    ]
    missing = [key for key in ("no", "a", "b") if key not in header]
    if len(missing) == 3 and any(":" in cell for cell in header):
        cure = "Put the header no,a,b,colour,mm2,m above the first wire."
        raise BoardFileError([Slip(f"line {first}", "is a wire, not a header.", cure)], name=name)
    slips += [Slip(f"line {first}", f"there is no column {key}.") for key in missing]
    if missing:
        raise BoardFileError(slips, name=name)
    records: list[tuple[int, WireRow]] = []
    for line, row in rows[1:]:
        if len(row) > len(header):
            slips.append(Slip(f"line {line}", f"has {len(row)} cells, the header has {len(header)}."))
            continue
        cells = {k: v.strip() for k, v in zip(header, row, strict=False) if v.strip() and k in known}
        cells |= {k: cells[k].replace(",", ".") for k in _NUMBERS if k in cells}
        record, wrong = validate(WireRow, cells, f"line {line}")
        slips += wrong
        if record is not None:
            records.append((line, record))
    wiring = wires_of(records, conductors, board, slips, "line {}".format)
    if slips:
        raise BoardFileError(slips, name=name)
    return wiring


def _csv_rows(text: str, name: str) -> list[tuple[int, list[str]]]:
    """The rows that have something in them, each with the line on which it ends."""
    head = text.lstrip().partition("\n")[0]
    parted = max((",", ";", "\t"), key=head.count)
    reader = csv.reader(io.StringIO(text), delimiter=parted)
    try:
        rows = [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    except csv.Error as exc:
        raise BoardFileError([Slip(f"line {reader.line_num}", f"is not CSV: {exc}.")], name=name) from None
    if len(rows) > MOST_ROWS + 1:
        raise BoardFileError([Slip("document", f"has {len(rows) - 1} rows; {MOST_ROWS} is the most.")], name=name)
    return rows


def rows_of(model: type[Row], document: Mapping[str, Any], key: str, slips: list[Slip]) -> list[tuple[int, Row]]:
    """The rows of one list that are well formed, with their places; the slips of the others go to `slips`."""
    rows = document.get(key, [])
    if not isinstance(rows, list):
        slips.append(Slip(key, f"must be a list of rows: {key} = [ {{ ... }}, ]"))
        return []
    if len(rows) > MOST_ROWS:
        slips.append(Slip(key, f"has {len(rows)} rows; {MOST_ROWS} is the most."))
        return []
    found = []
    for i, row in enumerate(rows):
        record, wrong = validate(model, row, f"{key}[{i}]")
        slips += wrong
        if record is not None:
            found.append((i, record))
    return found


def wires_of(
    rows: Iterable[tuple[int, WireRow]],
    conductors: Conductors,
    board: Board | None,
    slips: list[Slip],
    where: Callable[[int], str] = "wires[{}]".format,
) -> Wiring:
    """The wires; what is wrong with them goes to `slips`. Terminals are looked up if there is a board."""
    wires: list[Wire] = []
    taken: dict[str, int] = {}
    for i, row in rows:
        path = where(i)
        if row.no in taken:
            slips.append(Slip(f"{path}.no", f"number {row.no} is on {where(taken[row.no])} already."))
        taken.setdefault(row.no, i)
        for end in ("a", "b"):
            terminal = getattr(row, end)
            if board is not None and terminal not in board.terminals:
                slips.append(Slip(f"{path}.{end}", *board.about_unknown(terminal)))
        if row.a == row.b:
            slips.append(Slip(f"{path}.b", f"both ends are on {row.a}."))
        if row.colour not in COLOURS:
            slips.append(Slip(f"{path}.colour", f"no colour {row.colour}.", did_you_mean(row.colour, COLOURS, most=20)))
        try:
            conductors.find(row.mm2, row.conductor_class)
        except WiringError as exc:
            slips.append(Slip(f"{path}.mm2", f"{exc.what}.", f"{exc.try_this}."))
        wires.append(Wire(**row.model_dump()))
    return Wiring(tuple(wires))

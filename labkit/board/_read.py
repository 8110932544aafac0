"""From documents to boards, wirings and catalogues; every slip of one document at once. No files here."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from labkit.base import did_you_mean
from labkit.board._documents import SCHEMA, BoardHead, PartRow, PointRow, RuleRow, WireRow
from labkit.board._read_wires import rows_of, wires_of
from labkit.board._slips import check_schema, parse_toml, validate
from labkit.board.boards import Block, Board, MustBeDead, Part, Point
from labkit.board.catalogue import KINDS, CatalogueEntry
from labkit.board.conductors import Conductor, Conductors
from labkit.board.errors import BoardFileError, Slip
from labkit.board.wiring import Wiring

__all__ = ["read_board", "read_catalogue", "read_conductors"]

Catalogue = Mapping[str, CatalogueEntry]


def read_catalogue(text: str, name: str) -> dict[str, CatalogueEntry]:
    """The parts of one catalogue document.

    Raises
    ------
    BoardFileError
        With every slip in it.
    """
    document = parse_toml(text, name)
    check_schema(document, SCHEMA, name)
    slips = [
        Slip(key, f"unknown key {key}.", did_you_mean(key, ("schema", "parts")))
        for key in document
        if key not in ("schema", "parts")
    ]
    found: dict[str, CatalogueEntry] = {}
    parts = document.get("parts", {})
    if not isinstance(parts, dict):
        raise BoardFileError([*slips, Slip("parts", "must be a table of parts.")], name=name)
    for key, row in parts.items():
        path = f"parts.{key}"
        kind = row.get("kind") if isinstance(row, dict) else None
        if not isinstance(kind, str) or kind not in KINDS:
            slips.append(Slip(f"{path}.kind", f"no kind of part {kind!r}.", did_you_mean(str(kind), KINDS, most=20)))
            continue
        entry, wrong = validate(KINDS[kind], row, path)
        slips += wrong
        if entry is not None:
            found[key] = entry
    if slips:
        raise BoardFileError(slips, name=name)
    return found


def read_conductors(text: str, name: str) -> Conductors:
    """The table of conductors from CSV text.

    Raises
    ------
    BoardFileError
        If a figure is missing or is none.
    """
    rows: dict[tuple[int, float], Conductor] = {}
    slips = []
    for i, row in enumerate(csv.DictReader(io.StringIO(text))):
        try:
            c = Conductor(
                int(row["conductor_class"]),
                float(row["mm2"]),
                float(row["max_ohm_per_km_20c"]),
                float(row["max_protection_a"]),
                row["resistance_source"],
                row["protection_source"],
            )
        except (KeyError, TypeError, ValueError) as exc:
            slips.append(Slip(f"line {i + 2}", f"cannot be read: {exc}."))
        else:
            rows[c.conductor_class, c.mm2] = c
    if slips:
        raise BoardFileError(slips, name=name)
    return Conductors(MappingProxyType(rows))


def read_board(text: str, name: str, catalogue: Catalogue, conductors: Conductors) -> Board:
    """A board document.

    Raises
    ------
    BoardFileError
        With every slip in it.
    """
    document = parse_toml(text, name)
    check_schema(document, SCHEMA, name)
    lists = ("parts", "points", "must_be_dead", "wires")
    head, slips = validate(BoardHead, {k: v for k, v in document.items() if k not in lists})
    part_rows = rows_of(PartRow, document, "parts", slips)
    parts = _parts(part_rows, catalogue, slips)
    title, width, height = (head.title, head.width_mm, head.height_mm) if head else ("", 1.0, 1.0)
    board = Board(name, title, width, height, MappingProxyType(parts), MappingProxyType({}), Wiring())
    points = _points(rows_of(PointRow, document, "points", slips), board, slips)
    rules = _rules(rows_of(RuleRow, document, "must_be_dead", slips), board, slips)
    wiring = wires_of(rows_of(WireRow, document, "wires", slips), conductors, board, slips)
    # a part whose own row is wrong is not reported again wherever it is named
    given = document.get("parts")
    named = [row.get("designation") for row in given if isinstance(row, dict)] if isinstance(given, list) else []
    lost = tuple(f"no part {d} on" for d in named if d not in parts)
    slips = [s for s in slips if not s.what.startswith(lost)] if lost else slips
    if slips:
        raise BoardFileError(slips, name=name)
    return replace(board, points=MappingProxyType(points), wiring=wiring, must_be_dead=rules)


def _parts(rows: Iterable[tuple[int, PartRow]], catalogue: Catalogue, slips: list[Slip]) -> dict[str, Part]:
    parts: dict[str, Part] = {}
    for i, row in rows:
        path = f"parts[{i}]"
        if row.designation in parts:
            slips.append(Slip(f"{path}.designation", f"{row.designation} is already there."))
            continue
        entry = catalogue.get(row.type)
        if entry is None:
            slips.append(
                Slip(
                    f"{path}.type", f"the catalogue has no part {row.type}.", did_you_mean(row.type, catalogue, most=0)
                )
            )
            continue
        if row.designation[0] != entry.letter:
            slips.append(
                Slip(
                    f"{path}.designation",
                    f"{row.designation} is {row.type}, whose letter is {entry.letter}.",
                    f"Did you mean {entry.letter}{row.designation[1:]}?",
                )
            )
        blocks = []
        for name, kind in row.blocks.items():
            block = catalogue.get(kind)
            if block is None or block.kind != "aux_block":
                known = [k for k, e in catalogue.items() if e.kind == "aux_block"]
                slips.append(Slip(f"{path}.blocks.{name}", f"no plug-on block {kind}.", did_you_mean(kind, known)))
                continue
            both = sorted(set(block.terminals) & set(entry.terminals))
            if both:
                slips.append(Slip(f"{path}.blocks.{name}", f"terminal {both[0]} is on {row.designation} already."))
                continue
            blocks.append(Block(f"{row.designation}.{name}", name, kind, block))
        parts[row.designation] = Part(row.designation, row.type, entry, row.label, row.x_mm, row.y_mm, tuple(blocks))
    return parts


def _points(rows: Iterable[tuple[int, PointRow]], board: Board, slips: list[Slip]) -> dict[str, Point]:
    points: dict[str, Point] = {}
    inputs = [p for _, c in board.controllers for p in c.input_points]
    outputs = [p for _, c in board.controllers for p in c.output_points]
    tags: set[str] = set()
    for i, row in rows:
        path = f"points[{i}]"
        if row.point not in inputs and row.point not in outputs:
            slips.append(
                Slip(
                    f"{path}.point",
                    f"the controller has no point {row.point}.",
                    did_you_mean(row.point, inputs + outputs),
                )
            )
            continue
        if row.point in points:
            slips.append(Slip(f"{path}.point", f"{row.point} is in the list already."))
        if row.tag in tags:
            slips.append(Slip(f"{path}.tag", f"{row.tag} is the tag of another point already."))
        if row.device and row.device not in board.parts:
            slips.append(
                Slip(f"{path}.device", f"no part {row.device} on this board.", did_you_mean(row.device, board.parts))
            )
        slips += _positions(f"{path}.on_when", row.on_when, board)
        tags.add(row.tag)
        points[row.point] = Point(
            row.point,
            row.tag,
            "input" if row.point in inputs else "output",
            row.device,
            row.contact,
            row.comment,
            row.one,
            row.zero,
            row.rest,
            MappingProxyType(dict(row.on_when)),
        )
    return points


def _rules(rows: Iterable[tuple[int, RuleRow]], board: Board, slips: list[Slip]) -> tuple[MustBeDead, ...]:
    rules = []
    for i, row in rows:
        path = f"must_be_dead[{i}]"
        slips += _positions(path, {row.actor: row.state}, board)
        if row.terminal not in board.terminals:
            what, try_this = board.about_unknown(row.terminal)
            slips.append(Slip(f"{path}.terminal", what, try_this))
        rules.append(MustBeDead(row.terminal, row.actor, row.state, row.why))
    return tuple(rules)


def _positions(path: str, positions: Mapping[str, str], board: Board) -> list[Slip]:
    slips = []
    for actor, state in positions.items():
        part = board.parts.get(actor)
        if part is None:
            slips.append(Slip(path, f"no part {actor} on this board.", did_you_mean(actor, board.parts)))
        elif state not in part.entry.states():
            has = part.entry.states()
            what = f"{actor} is {' or '.join(has)}, never {state!r}." if has else f"{actor} has no positions."
            slips.append(Slip(path, what, did_you_mean(state, has, most=0)))
    return slips

"""Reading and writing: the only place of this room that opens a file."""

from __future__ import annotations

import csv
import io
import json
from functools import cache
from pathlib import Path
from types import MappingProxyType

from labkit.base import as_path, as_text, data_path, did_you_mean, read_text, write_atomic
from labkit.board._documents import SCHEMA
from labkit.board._given import board_given, needed_wiring
from labkit.board._read import Catalogue, read_board, read_catalogue, read_conductors
from labkit.board._read_wires import read_wiring, read_wiring_csv
from labkit.board.boards import Board
from labkit.board.catalogue import CatalogueEntry
from labkit.board.conductors import Conductors
from labkit.board.errors import BoardError, BoardFileError, Slip
from labkit.board.wiring import Wire, Wiring

__all__ = [
    "board_names",
    "conductors",
    "dumps_board",
    "dumps_wiring",
    "dumps_wiring_csv",
    "load_board",
    "load_wiring",
    "loads_board",
    "loads_catalogue",
    "loads_wiring",
    "loads_wiring_csv",
    "parts_catalogue",
    "save_board",
    "save_wiring",
]

_READ_FIRST = "to read a file give its name to load_board or load_wiring"
COLUMNS = ("no", "a", "b", "colour", "mm2", "m", "ferrule", "conductor_class")


@cache
def conductors() -> Conductors:
    """The shipped table of conductors."""
    path = data_path("datasets", "conductors.csv")
    return read_conductors(read_text(path), path.name)


@cache
def parts_catalogue() -> Catalogue:
    """The shipped parts catalogue: record name -> record.

    Raises
    ------
    BoardFileError
        If a shipped document is broken, or two of them have a part of one name.
    """
    found: dict[str, CatalogueEntry] = {}
    for path in sorted(data_path("datasets", "parts").glob("*.toml")):
        for name, entry in read_catalogue(read_text(path), path.name).items():
            if name in found:
                raise BoardFileError([Slip(f"parts.{name}", "is in another document as well.")], name=path.name)
            found[name] = entry
    return MappingProxyType(found)


def loads_catalogue(text: str, *, name: str = "parts") -> Catalogue:
    """The parts in the text of a catalogue document.

    Raises
    ------
    BoardFileError
        With every slip in it.
    """
    return MappingProxyType(read_catalogue(text, name))


def board_names() -> tuple[str, ...]:
    """The boards that are shipped."""
    return tuple(sorted(path.stem for path in data_path("datasets", "boards").glob("*.toml")))


def loads_board(text: str, *, name: str = "board", catalogue: Catalogue | None = None) -> Board:
    """The board in the text of a board document.

    Raises
    ------
    BoardFileError
        With every slip in it.
    """
    return read_board(
        as_text(text, "the text of a board document", _READ_FIRST),
        name,
        parts_catalogue() if catalogue is None else catalogue,
        conductors(),
    )


def load_board(name: str | Path) -> Board:
    """A shipped board by its name, or any board by the path of its document.

    Raises
    ------
    BoardError
        If there is no such board.
    BoardFileError
        With every slip in the document.
    """
    if isinstance(name, Path) or str(name).endswith(".toml"):
        path = Path(name)
        return loads_board(read_text(path), name=path.stem)
    if name not in board_names():
        raise BoardError(
            f"there is no board called {name}",
            where=str(name),
            try_this=did_you_mean(name, board_names()) or "give its name, or the path of a .toml file",
            code="board-unknown-board",
        )
    return loads_board(read_text(data_path("datasets", "boards", f"{name}.toml")), name=name)


def loads_wiring(text: str, *, name: str = "wiring", board: Board | None = None) -> Wiring:
    """The wires in a TOML text; with `board`, each end must be a terminal of it.

    Raises
    ------
    BoardFileError
        With every slip in it.
    """
    return read_wiring(as_text(text, "the text of a wire list", _READ_FIRST), name, conductors(), board)


def loads_wiring_csv(text: str, *, name: str = "wire list", board: Board | None = None) -> Wiring:
    """The wires in a CSV text with a header line; with `board`, each end must be a terminal of it.

    Raises
    ------
    BoardFileError
        With every slip in it, by line.
    """
    return read_wiring_csv(as_text(text, "the text of a wire list", _READ_FIRST), name, conductors(), board)


def load_wiring(path: str | Path, *, board: Board | None = None) -> Wiring:
    """The wires of a ``.toml`` or ``.csv`` file.

    Raises
    ------
    BoardFileError
        With every slip in it.
    """
    path = as_path(path, "the name of a wire list")
    if path.suffix.lower() not in (".csv", ".toml") and path.is_file():
        raise BoardFileError(
            [
                Slip(
                    "file name",
                    "says neither .csv nor .toml.",
                    "Save the sheet as CSV (parted by commas or semicolons).",
                )
            ],
            name=path.name,
        )
    loads = loads_wiring_csv if path.suffix.lower() == ".csv" else loads_wiring
    return loads(read_text(path), name=path.name, board=board)


def dumps_wiring(wiring: Wiring) -> str:
    """The wires as a TOML text, one line each."""
    return f"schema = {SCHEMA}\n\n{_wires_toml(needed_wiring(wiring))}"


def dumps_wiring_csv(wiring: Wiring) -> str:
    """The wires as a CSV text with a header line."""
    wiring = needed_wiring(wiring)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for w in wiring:
        writer.writerow((w.no, w.a, w.b, w.colour, w.mm2, w.m, "true" if w.ferrule else "false", w.conductor_class))
    return out.getvalue()


def save_wiring(wiring: Wiring, path: str | Path) -> Path:
    """Write the wires as TOML, or as CSV if the path says so."""
    path = as_path(path)
    dumps = dumps_wiring_csv if path.suffix.lower() == ".csv" else dumps_wiring
    return write_atomic(path, dumps(wiring))


def dumps_board(board: Board) -> str:
    """The board as a TOML text; its catalogue stays where it is."""
    board = board_given(board)
    lines = [
        f"schema = {SCHEMA}",
        f"title = {_text(board.title)}",
        f"width_mm = {board.width_mm}",
        f"height_mm = {board.height_mm}",
        "",
        "parts = [",
    ]
    for p in board.parts.values():
        row: dict[str, object] = {"designation": p.designation, "type": p.entry_name, "label": p.label}
        row |= {"x_mm": p.x_mm, "y_mm": p.y_mm}
        if p.blocks:
            row["blocks"] = {b.name: b.entry_name for b in p.blocks}
        lines.append(f"  {_inline(row)},")
    lines += ["]", "", "points = ["]
    for q in board.points.values():
        row = {"point": q.point, "tag": q.tag, "device": q.device, "contact": q.contact, "comment": q.comment}
        row |= {"one": q.one, "zero": q.zero, "rest": q.rest, "on_when": dict(q.on_when)}
        lines.append(f"  {_inline(row)},")
    lines += ["]", "", "must_be_dead = ["]
    for r in board.must_be_dead:
        lines.append(f"  {_inline({'terminal': r.terminal, 'actor': r.actor, 'state': r.state, 'why': r.why})},")
    return "\n".join([*lines, "]", "", _wires_toml(board.wiring)])


def save_board(board: Board, path: str | Path) -> Path:
    """Write the board as TOML."""
    return write_atomic(path, dumps_board(board))


def _wires_toml(wiring: Wiring) -> str:
    return "\n".join(["wires = [", *(f"  {_inline(_wire_row(w))}," for w in wiring), "]", ""])


def _wire_row(wire: Wire) -> dict[str, object]:
    plain = Wire(wire.no, wire.a, wire.b)
    row: dict[str, object] = {"no": wire.no, "a": wire.a, "b": wire.b}
    row |= {"colour": wire.colour, "mm2": wire.mm2, "m": wire.m}
    row |= {k: getattr(wire, k) for k in ("ferrule", "conductor_class") if getattr(wire, k) != getattr(plain, k)}
    return row


def _inline(row: dict[str, object]) -> str:
    return "{ " + ", ".join(f"{k} = {_value(v)}" for k, v in row.items()) + " }"


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, dict):
        return _inline(value) if value else "{}"
    return repr(value)


def _text(value: str) -> str:
    # a JSON string is a TOML basic string, but for DEL, which TOML wants escaped
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")

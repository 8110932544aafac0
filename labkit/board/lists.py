"""Documents of a board as rows: the I/O list and the wire list."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass, fields

from labkit.board._given import wiring_given
from labkit.board.boards import Board
from labkit.board.standards import COLOURS
from labkit.board.wiring import Wiring

__all__ = ["IoRow", "WireListRow", "io_list", "io_list_csv", "wire_list", "wire_list_csv"]


@dataclass(frozen=True, slots=True)
class IoRow:
    """One point of the I/O list."""

    point: str
    tag: str
    direction: str
    device: str
    legend: str
    contact: str
    comment: str
    terminal: str
    wire_numbers: str
    common: str
    rest: int
    meaning_of_1: str
    meaning_of_0: str


@dataclass(frozen=True, slots=True)
class WireListRow:
    """One wire with what stands at both ends."""

    no: str
    a: str
    a_part: str
    b: str
    b_part: str
    colour: str
    colour_words: str
    mm2: float
    m: float
    ferrule: str


def io_list(board: Board, wiring: Wiring | None = None) -> tuple[IoRow, ...]:
    """One row for each point, inputs first, in the controller's order."""
    wiring = wiring_given(board, wiring)
    rows = []
    for part, entry in board.controllers:
        groups = [(p, g.common) for g in entry.input_groups for p in g.points]
        groups += [(p, g.plus) for g in entry.output_groups for p in g.points]
        for name, common in groups:
            point = board.points.get(name)
            if point is None:
                continue
            terminal = part.terminal(name)
            device = board.parts.get(point.device)
            rows.append(
                IoRow(
                    point=name,
                    tag=point.tag,
                    direction=point.direction,
                    device=point.device,
                    legend=device.label if device else "",
                    contact=point.contact,
                    comment=point.comment,
                    terminal=terminal,
                    wire_numbers=" ".join(w.no for w in wiring.at(terminal)),
                    common=part.terminal(common),
                    rest=point.rest,
                    meaning_of_1=point.one,
                    meaning_of_0=point.zero,
                )
            )
    return tuple(rows)


def wire_list(board: Board, wiring: Wiring | None = None) -> tuple[WireListRow, ...]:
    """One row for each wire, in landing order."""
    wiring = wiring_given(board, wiring)
    return tuple(
        WireListRow(
            no=w.no,
            a=w.a,
            a_part=_part_words(board, w.a),
            b=w.b,
            b_part=_part_words(board, w.b),
            colour=w.colour,
            colour_words=COLOURS.get(w.colour, ""),
            mm2=w.mm2,
            m=w.m,
            ferrule="yes" if w.ferrule else "no",
        )
        for w in wiring
    )


def io_list_csv(board: Board, wiring: Wiring | None = None) -> str:
    """The I/O list as CSV with a header line."""
    return _csv(IoRow, io_list(board, wiring))


def wire_list_csv(board: Board, wiring: Wiring | None = None) -> str:
    """The wire list as CSV with a header line."""
    return _csv(WireListRow, wire_list(board, wiring))


def _part_words(board: Board, terminal: str) -> str:
    part = board.parts.get(terminal.partition(":")[0])
    return (part.label or part.entry.text) if part else ""


def _csv(row_type: type[IoRow] | type[WireListRow], rows: Iterable[IoRow | WireListRow]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([f.name for f in fields(row_type)])
    writer.writerows(_safe(astuple(row)) for row in rows)
    return out.getvalue()


def _safe(cells: Sequence[object]) -> list[object]:
    """Cells that a spreadsheet will not take for a formula."""
    return [f"'{c}" if isinstance(c, str) and c[:1] in ("=", "+", "-", "@") else c for c in cells]

"""The papers of one board, to print and to sign: all from the board file, so that no two can differ.

Pages are A4, landscape. The PDF is the same bytes each time.
"""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from labkit.base import write_atomic
from labkit.board import Board, Wiring, io_list, io_list_csv, wire_list, wire_list_csv
from labkit.plots.board import draw_board
from labkit.plots.circuit_sheet import draw_control_circuit
from labkit.plots.errors import DrawingError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["Paper", "bench_papers", "papers_pdf", "write_papers"]

_PAGE = (11.69, 8.27)  # A4 landscape, inches
_POINT = 7.5
_LINE = 0.0158
"""Height of a line of text, as a part of the page."""
_CHAR = 0.00565
"""Width of a character of the table type, as a part of the page; measured on the widest digits."""

_CAUTION = (
    "Isolate, lock off and prove dead before you touch a conductor. Local codes, the college's rules and the "
    "licensed person in charge go before this sheet. Simulated readings prove nothing about a real board."
)


@dataclass(frozen=True, slots=True)
class Paper:
    """One table of the papers.

    Parameters
    ----------
    name
        Of its CSV file.
    title
        Over the page.
    headings, rows
        Text; every row as long as the headings.
    widths
        Of the columns in characters; longer text goes on in the next line.
    """

    name: str
    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[int, ...]


def bench_papers(board: Board, wiring: Wiring | None = None) -> tuple[Paper, ...]:
    """I/O list, wire list, terminal plan, pre-power checks and checkout sheets of a board."""
    wiring = board.wiring if wiring is None else wiring
    return (
        _io_paper(board, wiring),
        _wire_paper(board, wiring),
        _terminal_plan(board, wiring),
        _pre_power(board),
        _inputs_sheet(board, wiring),
        _outputs_sheet(board, wiring),
    )


def _io_paper(board: Board, wiring: Wiring) -> Paper:
    rows = tuple(
        (r.point, r.tag, r.device, r.contact, r.comment, r.wire_numbers, r.common, str(r.rest),
         r.meaning_of_1, r.meaning_of_0)
        for r in io_list(board, wiring)
    )  # fmt: skip
    headings = ("point", "tag", "device", "contact", "comment", "wire", "common", "at rest", "1 means", "0 means")
    return Paper("io-list", "I/O list", headings, rows, (6, 10, 7, 8, 34, 10, 8, 8, 32, 34))


def _wire_paper(board: Board, wiring: Wiring) -> Paper:
    rows = tuple(
        (r.no, r.a, r.a_part, r.b, r.b_part, r.colour, r.colour_words, f"{r.mm2:g}", f"{r.m:g}", r.ferrule, "")
        for r in wire_list(board, wiring)
    )
    headings = ("no", "from", "part", "to", "part", "colour", "in words", "mm2", "m", "ferrule", "landed by")
    return Paper("wire-list", "Wire list", headings, rows, (6, 11, 24, 11, 24, 8, 18, 6, 6, 8, 20))


def _terminal_plan(board: Board, wiring: Wiring) -> Paper:
    rows = tuple(
        (terminal, board.parts[terminal.partition(":")[0]].label, " ".join(w.no for w in wiring.at(terminal)), to)
        for terminal in board.terminals
        if (to := "  ".join(w.b if w.a == terminal else w.a for w in wiring.at(terminal)))
    )
    return Paper("terminal-plan", "Terminal plan", ("terminal", "part", "wires", "lead to"), rows, (12, 26, 44, 76))


def _pre_power(board: Board) -> Paper:
    strip = [t for t in board.terminals if t.startswith("X1:") and t not in {"X1:0V", "X1:PE"}]
    checks = [
        ("meter on the proving unit, before", "the unit's volts"),
        *((f"{terminal} to {ref}", "0 V") for terminal in strip for ref in ("X1:0V", "X1:PE")),
        ("meter on the proving unit, after", "the unit's volts"),
        *((f"{terminal} to X1:0V, ohms, supply off", "more than 5 ohm") for terminal in strip),
        ("X1:0V to X1:PE, ohms", "about 0 ohm if bonded, as drawn"),
        ("every wire tugged, no strand astray", "none moves"),
        ("fuses and breakers against the drawing", "as drawn"),
    ]
    rows = tuple((str(n), what, expected, "", "", "") for n, (what, expected) in enumerate(checks, 1))
    headings = ("no", "check, board isolated and locked off", "expected", "reading", "initials", "time")
    return Paper("pre-power", "Checks before power", headings, rows, (5, 52, 36, 24, 14, 14))


def _inputs_sheet(board: Board, wiring: Wiring) -> Paper:
    rows = tuple(
        (r.point, r.tag, r.wire_numbers, r.device, r.contact, str(r.rest), "", "", "", "", "", "", "", "")
        for r in io_list(board, wiring)
        if r.direction == "input"
    )
    headings = (
        "point", "tag", "wire", "device", "contact", "rest", "volts, rest", "lamp", "bit", "volts, worked", "lamp",
        "bit", "wire off", "initials, time",
    )  # fmt: skip
    widths = (6, 10, 9, 8, 8, 5, 12, 6, 5, 13, 6, 5, 9, 22)
    return Paper("checkout-inputs", "Checkout of the inputs", headings, rows, widths)


def _outputs_sheet(board: Board, wiring: Wiring) -> Paper:
    rows = tuple(
        (r.point, r.tag, r.wire_numbers, r.device, r.legend, "", "", "", "", "", "")
        for r in io_list(board, wiring)
        if r.direction == "output"
    )
    headings = (
        "point",
        "tag",
        "wire",
        "device",
        "load",
        "lamp",
        "volts on",
        "load works",
        "feedback",
        "off again",
        "initials, time",
    )
    return Paper(
        "checkout-outputs", "Checkout of the outputs", headings, rows, (6, 10, 9, 8, 22, 6, 10, 12, 12, 11, 22)
    )


def papers_pdf(board: Board, wiring: Wiring | None = None) -> bytes:
    """The papers as one PDF: the board, the control circuit, then every table."""
    from matplotlib.backends.backend_pdf import PdfPages

    out = io.BytesIO()
    with PdfPages(out, metadata={"Title": board.title, "CreationDate": None}) as pdf:
        pdf.savefig(_drawing(board, wiring, "Layout", circuit=False))
        pdf.savefig(_drawing(board, wiring, "Control circuit", circuit=True))
        for paper in bench_papers(board, wiring):
            for figure in _pages(board, paper):
                pdf.savefig(figure)
    return out.getvalue()


def write_papers(board: Board, folder: str | Path, wiring: Wiring | None = None) -> tuple[Path, ...]:
    """Write ``papers.pdf`` and one CSV file for each table.

    Returns
    -------
    The files, in the order of writing.
    """
    folder = Path(folder)
    made = [write_atomic(folder / "papers.pdf", papers_pdf(board, wiring))]
    for paper in bench_papers(board, wiring):
        if paper.name == "io-list":
            text = io_list_csv(board, wiring)
        elif paper.name == "wire-list":
            text = wire_list_csv(board, wiring)
        else:
            buffer = io.StringIO()
            csv.writer(buffer, lineterminator="\n").writerows([paper.headings, *paper.rows])
            text = buffer.getvalue()
        made.append(write_atomic(folder / f"{paper.name}.csv", text))
    return tuple(made)


def _sheet(board: Board, title: str) -> Figure:
    from matplotlib.figure import Figure

    figure = Figure(figsize=_PAGE)
    figure.text(0.04, 0.955, board.title, fontsize=9, color="#444444")
    figure.text(0.04, 0.92, title, fontsize=15, weight="bold")
    figure.text(0.04, 0.03, textwrap.fill(_CAUTION, 170), fontsize=7, color="#222222")
    figure.text(0.96, 0.955, "name, date: ____________________", fontsize=9, ha="right")
    return figure


def _drawing(board: Board, wiring: Wiring | None, title: str, *, circuit: bool) -> Figure:
    figure = _sheet(board, title)
    ax = figure.add_axes((0.04, 0.07, 0.92, 0.83))
    if circuit:
        try:
            draw_control_circuit(board, wiring=wiring, ax=ax)
        except DrawingError as unwired:  # a half-wired board has papers too; the page says what is missing
            ax.set_axis_off()
            ax.text(0.0, 0.95, str(unwired), va="top", fontsize=11)
    else:
        draw_board(board, wiring=wiring, ax=ax)
    return figure


def _pages(board: Board, paper: Paper) -> Iterator[Figure]:
    """Pages of one table, the headings on each."""
    top, bottom, left = 0.89, 0.075, 0.04
    scale = min(1.25, 0.92 / (sum(paper.widths) * _CHAR))
    edges = [left]
    for width in paper.widths:
        edges.append(edges[-1] + width * _CHAR * scale)
    figure, y, number = None, bottom, 0
    for row in paper.rows:
        cells = [textwrap.wrap(text, max(3, width - 1)) or [""] for text, width in zip(row, paper.widths, strict=True)]
        height = max(map(len, cells)) * _LINE + 0.010
        if y - height < bottom:
            if figure is not None:
                yield figure
            number += 1
            figure = _sheet(board, paper.title if number == 1 else f"{paper.title} ({number})")
            y = _row(figure, [[h] for h in paper.headings], edges, top, 0.028, scale, heading=True)
        assert figure is not None
        y = _row(figure, cells, edges, y, height, scale)
    if figure is not None:
        yield figure


def _row(  # noqa: PLR0917 - where, what, how large
    figure: Figure,
    cells: Sequence[Sequence[str]],
    edges: Sequence[float],
    y: float,
    height: float,
    scale: float,
    *,
    heading: bool = False,
) -> float:
    """Draw one row with its top at `y`; gives where the next begins."""
    from matplotlib.lines import Line2D

    for lines, x in zip(cells, edges, strict=False):
        figure.text(
            x, y - 0.006, "\n".join(lines), fontsize=_POINT * scale, va="top", weight="bold" if heading else "normal",
            linespacing=1.1,
        )  # fmt: skip
    width = 1.2 if heading else 0.4
    figure.add_artist(Line2D([edges[0], edges[-1]], [y - height, y - height], color="black", linewidth=width))
    for x in edges:
        figure.add_artist(Line2D([x - 0.003, x - 0.003], [y, y - height], color="#bbbbbb", linewidth=0.4))
    return y - height

"""The papers of one board, to print and to sign: all from the board file, so that no two can differ.

Pages are A4, landscape. The PDF is the same bytes each time.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from labkit.base import write_atomic
from labkit.bench import Bench, PowerGate
from labkit.board import Board, Wiring, io_list, io_list_csv, wire_list, wire_list_csv
from labkit.plots._axes import draw
from labkit.plots._layout_tiles import tiles
from labkit.plots._paper_pages import Paper, blank_page, label_pages, page_number, table_pages
from labkit.plots._svg import to_svg
from labkit.plots.board import board_sheet, board_svg, draw_board
from labkit.plots.circuit_sheet import control_circuit_sheet
from labkit.plots.drawing_sheets import circuit_sheets
from labkit.plots.shapes import Sheet, Text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["Paper", "bench_papers", "papers_csv", "papers_pdf", "papers_svg", "pdf_of", "write_papers"]

_SHORT = 22  # characters of a part that stand in one line of a list
_BOX = (0.04, 0.07, 0.92, 0.83)  # of a drawing on a page
_ROOM = (11.69 * 0.92 * 96, 8.27 * 0.83 * 96)  # the same in sheet units
_LEAST = 0.95  # of a layout's scale: wire numbers of 5 points


def bench_papers(board: Board, wiring: Wiring | None = None) -> tuple[Paper, ...]:
    """I/O list, wire list and labels, terminal plan, terminal blocks, checks before power, checkout sheets."""
    wiring = board.wiring if wiring is None else wiring
    return (
        _io_paper(board, wiring),
        _wire_paper(board, wiring),
        _labels(wiring),
        _terminal_plan(board, wiring),
        _blocks_plan(board, wiring),
        _pre_power(board, wiring),
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
    return Paper("io-list", "I/O list", headings, rows, (6, 10, 8, 9, 32, 9, 9, 8, 32, 34))


def _wire_paper(board: Board, wiring: Wiring) -> Paper:
    rows = tuple(
        (
            r.no,
            r.a,
            _short(r.a_part),
            r.b,
            _short(r.b_part),
            r.colour,
            r.colour_words,
            f"{r.mm2:g}",
            f"{r.m:g}",
            r.ferrule,
            "",
        )
        for r in wire_list(board, wiring)
    )
    headings = ("no", "from", "part", "to", "part", "colour", "in words", "mm2", "m", "ferrule", "landed by")
    return Paper("wire-list", "Wire list", headings, rows, (6, 11, 24, 11, 24, 8, 18, 6, 6, 8, 20))


def _labels(wiring: Wiring) -> Paper:
    """A label for each end of each wire, in the order of the numbers' wires."""
    rows = tuple((w.no, here, there) for w in wiring for here, there in ((w.a, w.b), (w.b, w.a)))
    return Paper("wire-labels", "Wire labels", ("no", "this end", "far end"), rows, (8, 14, 14))


def _short(words: str) -> str:
    """A part's words up to what only explains them."""
    return re.split(r"[:,] ", words)[0] if len(words) > _SHORT else words


def _terminal_plan(board: Board, wiring: Wiring) -> Paper:
    poles = {pole: f"{plug.id}, {n}" for plug in board.plugs.values() for n, pole in enumerate(plug.poles, 1)}
    rows = []
    for terminal, it in board.terminals.items():
        wires = wiring.at(terminal)
        ways = ", ".join(f"{w.no} to {w.b if w.a == terminal else w.a}" for w in wires)
        part = board.parts[it.part]
        # a bar of a strip is there with all its clamps, taken or not
        if wires or terminal in poles or part.kind == "terminal_strip":
            has = f"{len(wires)} of {it.clamps}" + (": too many" if len(wires) > it.clamps else "")
            rows.append((terminal, part.label or _short(part.entry.text), poles.get(terminal, ""), ways, has, ""))
    headings = ("terminal", "part", "block, pole", "wires, and where they lead", "clamped", "tugged")
    return Paper("terminal-plan", "Terminal plan", headings, tuple(rows), (12, 26, 14, 84, 11, 10))


def _blocks_plan(board: Board, wiring: Wiring) -> Paper:
    rows = tuple(
        (
            plug.id,
            str(n),
            pole,
            "pin" if n in plug.coded else "",
            " ".join(w.no for w in wiring.at(pole)),
            "",
            "",
        )
        for plug in board.plugs.values()
        for n, pole in enumerate(plug.poles, 1)
    )
    headings = ("block", "pole", "terminal", "coding of the header", "wires", "seated", "initials, time")
    return Paper("terminal-blocks", "Plug-on terminal blocks", headings, rows, (12, 8, 14, 24, 30, 14, 24))


def _pre_power(board: Board, wiring: Wiring) -> Paper:
    """The rows of the power gate, so that the sheet can be entered there; and what only hands and eyes can check."""
    rows = [
        (row.what, "look" if row.mode == "note" else row.mode, row.red, row.black, row.expected)
        for row in (PowerGate(Bench(board, wiring)).rows if board.supplies and board.controllers else ())
    ]
    rows += [
        ("every wire tugged, no strand astray", "hand", "", "", "none moves"),
        ("metalwork to the PE bar, low-range ohms", "hand", "metalwork", "PE bar", "less than 0.1 ohm"),
        ("fuses and breakers against the drawing", "hand", "", "", "as drawn"),
    ]
    numbered = tuple((str(n), *row, "", "", "") for n, row in enumerate(rows, 1))
    headings = ("no", "check, board isolated and locked off", "mode", "red", "black", "expected", "reading", "initials",
                "time")  # fmt: skip
    return Paper("pre-power", "Checks before power", headings, numbered, (5, 46, 12, 12, 12, 28, 18, 10, 12))


def _inputs_sheet(board: Board, wiring: Wiring) -> Paper:
    rows = tuple(
        (r.point, r.tag, r.wire_numbers, r.device, r.contact, str(r.rest), *[""] * 10)
        for r in io_list(board, wiring)
        if r.direction == "input"
    )
    headings = (
        "point", "tag", "wire", "device", "contact", "rest", "volts, rest", "lamp", "bit", "volts, worked", "lamp",
        "bit", "wire off", "others moved", "initials, time", "remarks",
    )  # fmt: skip
    widths = (6, 8, 8, 8, 8, 5, 11, 6, 5, 14, 6, 5, 9, 15, 15, 21)
    return Paper("checkout-inputs", "Checkout of the inputs", headings, rows, widths, by_hand=True)


def _outputs_sheet(board: Board, wiring: Wiring) -> Paper:
    rows = tuple(
        (r.point, r.tag, r.wire_numbers, r.device, r.legend, *[""] * 8)
        for r in io_list(board, wiring)
        if r.direction == "output"
    )
    headings = (
        "point", "tag", "wire", "device", "load", "lamp", "volts on", "load works", "feedback", "after ms",
        "off again", "initials, time", "remarks",
    )  # fmt: skip
    widths = (6, 10, 8, 8, 18, 6, 9, 12, 10, 10, 10, 15, 23)
    return Paper("checkout-outputs", "Checkout of the outputs", headings, rows, widths, by_hand=True)


def papers_pdf(board: Board, wiring: Wiring | None = None) -> bytes:
    """The papers as one PDF: the board, its circuit drawings, then every table."""
    figures = [_drawing(board, wiring, "Layout", None)]
    layout = board_sheet(board, wiring=wiring, follow=())
    pieces = tiles(layout, *_ROOM, _LEAST)
    if len(pieces) > 1:
        figures += [_drawing(board, wiring, f"Layout, enlarged ({n})", it) for n, it in enumerate(pieces, 1)]
    figures += [
        _drawing(board, wiring, f"Circuit drawing: {sheet.title}", sheet) for sheet in _circuits(board, wiring).values()
    ]
    for paper in bench_papers(board, wiring):
        if paper.name == "wire-labels":
            labels = [(row[0], row[1], row[2]) for row in paper.rows]
            figures += label_pages(board.title, paper.title, labels)
        else:
            figures += table_pages(board.title, paper)
    for number, figure in enumerate(figures, 1):
        page_number(figure, number, len(figures))
    return pdf_of(board.title, figures)


def pdf_of(title: str, figures: Iterable[Figure]) -> bytes:
    """Pages as one PDF, the same bytes each time."""
    from matplotlib.backends.backend_pdf import PdfPages

    out = io.BytesIO()
    with PdfPages(out, metadata={"Title": title, "CreationDate": None}) as pdf:
        for figure in figures:
            pdf.savefig(figure)
    return out.getvalue()


def write_papers(
    board: Board, folder: str | Path, wiring: Wiring | None = None, *, svg: bool = False
) -> tuple[Path, ...]:
    """Write ``papers.pdf`` and one CSV file for each table; with `svg` each drawing as a file of its own besides.

    Returns
    -------
    The files, in the order of writing.
    """
    folder = Path(folder)
    texts = papers_csv(board, wiring) | (papers_svg(board, wiring) if svg else {})
    made = [write_atomic(folder / name, text) for name, text in texts.items()]  # the quick ones tell of a bad folder
    return (*made, write_atomic(folder / "papers.pdf", papers_pdf(board, wiring)))


def papers_csv(board: Board, wiring: Wiring | None = None) -> dict[str, str]:
    """Every table as the text of a CSV file, by the file's name."""
    found = {f"{paper.name}.csv": _csv(paper) for paper in bench_papers(board, wiring)}
    return found | {"io-list.csv": io_list_csv(board, wiring), "wire-list.csv": wire_list_csv(board, wiring)}


def papers_svg(board: Board, wiring: Wiring | None = None) -> dict[str, str]:
    """Every drawing as the text of an SVG file, by the file's name."""
    circuits = {f"{name}.svg": to_svg(sheet) for name, sheet in _circuits(board, wiring).items()}
    return {"layout.svg": board_svg(board, wiring=wiring), **circuits}


def _csv(paper: Paper) -> str:
    headings = list(paper.headings)
    if paper.name == "pre-power":  # a power gate reads this table: a look is its note
        rows = [["note" if (k, cell) == (2, "look") else cell for k, cell in enumerate(row)] for row in paper.rows]
    else:
        rows = [list(row) for row in paper.rows]
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\n").writerows([headings, *rows])
    return buffer.getvalue()


def _circuits(board: Board, wiring: Wiring | None) -> dict[str, Sheet]:
    """Every circuit drawing; a board without a supply has no control circuit."""
    sheets = circuit_sheets(board, wiring)
    for part in board.of_kind("contactor") if board.supplies else ():
        sheets[f"control-{part.designation}"] = control_circuit_sheet(board, part.designation, wiring=wiring)
    return sheets


def _drawing(board: Board, wiring: Wiring | None, title: str, sheet: Sheet | None) -> Figure:
    figure = blank_page(board.title, title)
    ax = figure.add_axes(_BOX)
    if sheet is None:
        draw_board(board, wiring=wiring, ax=ax)
    else:
        untitled = tuple(s for s in sheet.shapes if not (isinstance(s, Text) and s.role == "title"))
        draw(replace(sheet, shapes=untitled), ax)
    return figure

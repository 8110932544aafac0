"""Pages of the papers: A4 landscape, a heading, a caution at the foot, and a table, a drawing or a text on them."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["Paper", "blank_page", "label_pages", "page_number", "table_pages", "text_page"]

_PAGE = (11.69, 8.27)  # A4 landscape, inches
_POINT = 7.5
_LINE = 0.0158
"""Height of a line of text, as a part of the page."""
_BASE = 0.0165
"""From the top of a row down to its first base line."""
_HAND = 0.042
"""The most that a row takes which is filled in by hand, 9 mm."""
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
    by_hand
        Whether its rows are filled in by hand: they are as high as the page has room for.
    """

    name: str
    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[int, ...]
    by_hand: bool = False


def blank_page(over: str, title: str, *, signed: bool = True) -> Figure:
    """A page with its headings, to be signed and dated."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=_PAGE)
    figure.text(0.04, 0.955, over, fontsize=9, color="#444444")
    figure.text(0.04, 0.92, title, fontsize=15, weight="bold")
    figure.text(0.04, 0.03, textwrap.fill(_CAUTION, 170), fontsize=7, color="#222222")
    if signed:
        figure.text(0.96, 0.955, "name, date: ____________________", fontsize=9, ha="right")
    return figure


def page_number(figure: Figure, number: int, of: int) -> None:
    """Number a page at its foot, so that a set that was dropped can be put in order again."""
    figure.text(0.96, 0.03, f"sheet {number} of {of}", fontsize=8, ha="right")


def table_pages(over: str, paper: Paper) -> Iterator[Figure]:
    """Pages of one table, the headings on each."""
    top, bottom, left = 0.89, 0.075, 0.04
    scale = min(1.25, 0.92 / (sum(paper.widths) * _CHAR))
    edges = [left]
    for width in paper.widths:
        edges.append(edges[-1] + width * _CHAR * scale)
    roomy = min(_HAND, (top - 0.028 - bottom) / max(1, len(paper.rows))) if paper.by_hand else 0.0
    figure, y, number = None, bottom, 0
    for row in paper.rows:
        cells = [textwrap.wrap(text, max(3, width - 1)) or [""] for text, width in zip(row, paper.widths, strict=True)]
        height = max(max(map(len, cells)) * _LINE + 0.010, roomy - 1e-9)
        if y - height < bottom:
            if figure is not None:
                yield figure
            number += 1
            figure = blank_page(over, paper.title if number == 1 else f"{paper.title} ({number})")
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
        for n, line in enumerate(
            lines if any(lines) else ()
        ):  # each on its own base line: letters with and without tails stay level
            base = y - _BASE - n * _LINE
            weight = "bold" if heading else "normal"
            figure.text(x, base, line, fontsize=_POINT * scale, va="baseline", weight=weight)
    width = 1.2 if heading else 0.4
    figure.add_artist(
        Line2D([edges[0] - 0.003, edges[-1] - 0.003], [y - height, y - height], color="black", linewidth=width)
    )
    for x in edges:
        figure.add_artist(Line2D([x - 0.003, x - 0.003], [y, y - height], color="#bbbbbb", linewidth=0.4))
    return y - height


def text_page(over: str, title: str, parts: Sequence[tuple[str, Sequence[str]]], *, signed: bool = True) -> Figure:
    """A page of headed paragraphs."""
    figure = blank_page(over, title, signed=signed)
    y = 0.87
    for heading, lines in parts:
        if heading:
            figure.text(0.04, y, heading, fontsize=10.5, weight="bold", va="baseline")
            y -= 0.03
        for line in lines:
            for piece in textwrap.wrap(line, 118) or [""]:
                figure.text(0.05, y, piece, fontsize=10.5, va="baseline")
                y -= 0.027
        y -= 0.018
    return figure


def label_pages(over: str, title: str, labels: Sequence[tuple[str, str, str]]) -> Iterator[Figure]:
    """Pages of labels to cut out: the number large, this end and the far end below it."""
    from matplotlib.patches import Rectangle

    columns, rows = 8, 15
    width, height = 0.92 / columns, 0.80 / rows
    for start in range(0, len(labels), columns * rows):
        number = start // (columns * rows) + 1
        figure = blank_page(over, title if number == 1 else f"{title} ({number})", signed=False)
        for n, (no, here, there) in enumerate(labels[start : start + columns * rows]):
            x, y = 0.04 + n % columns * width, 0.89 - (n // columns + 1) * height
            figure.add_artist(
                Rectangle((x, y), width, height, fill=False, linewidth=0.4, edgecolor="#777777", linestyle=(0, (4, 3)))
            )
            middle = x + width / 2
            figure.text(middle, y + 0.55 * height, no, fontsize=11, weight="bold", ha="center", va="baseline")
            figure.text(middle, y + 0.2 * height, f"{here} to {there}", fontsize=6, ha="center", va="baseline")
        yield figure

"""A current path as a column of a drawing, from rail to rail, with each break marked and said."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from labkit.plots._circuit_symbols import STEP, Symbol, symbol_shapes
from labkit.plots._current_paths import Edge, Wired
from labkit.plots.shapes import Arc, Line, Shape, Text

__all__ = ["APART", "CAPTION", "NARROW", "TOP", "column", "drawn_again", "height", "rail"]

APART = 168.0  # between two current paths
TOP = 84.0
CAPTION = 13.0  # between lines of a column's words
NARROW = 26  # characters of such a line
_WIRE = 30.0  # what a conductor takes of a path
_RINGS = 40.0  # what a break takes besides its words


def _long(edges: Iterable[Edge]) -> float:
    return sum(STEP if edge.symbol else _WIRE for edge in edges)


def _gap(words: str) -> float:
    return len(textwrap.wrap(words, NARROW)) * CAPTION + _RINGS if words else 0.0


def height(wired: Wired, plus: str) -> float:
    """What a path takes of the sheet's height, with the words of its breaks."""
    gaps = _gap(wired.gap_above(plus)) + _gap(wired.gap_below())
    return _long(wired.head) + _long(wired.edges) + _long(wired.tail) + gaps


def column(wired: Wired, plus: str, x: float, bottom: float, beside: Symbol | None) -> list[Shape]:
    """One current path between the rails `plus` and 0 V: what is wired, and the words that say where it ends."""
    above, below = wired.gap_above(plus), wired.gap_below()
    top = TOP - 10
    rings: list[Shape] = []  # drawn last, so that no line runs through a terminal
    out: list[Shape] = []
    tail_top = bottom - _long(wired.tail)
    start = top if wired.above else tail_top - _gap(below) - _long(wired.edges)
    if wired.on_plus:
        rings.append(Arc(x, top, 2.6, "joint"))
    if wired.on_minus:
        rings.append(Arc(x, bottom, 2.6, "joint"))
    if above:
        end = top + _long(wired.head)
        if wired.head:
            out += _piece(wired.head, x, top, rings)
            rings += _loose_end(wired.head[-1].b, wired.head[-1], x, end)
        out += _words(above, x, end + 24)
        rings += _loose_end(wired.edges[0].a, wired.edges[0], x, start)
    # what is left of the height of a whole path goes between the load and the rail
    spare = bottom - start - _long(wired.edges) if wired.above and wired.below else 0.0
    out += _piece(wired.edges, x, start, rings, wired.target, spare, beside)
    if below:
        end = start + _long(wired.edges)
        rings += _loose_end(wired.edges[-1].b, wired.edges[-1], x, end)
        out += _words(below, x, end + 24)
        if wired.tail:
            rings += _loose_end(wired.tail[0].a, wired.tail[0], x, tail_top)
            out += _piece(wired.tail, x, tail_top, rings)
    return [*out, *rings]


def _piece(  # noqa: PLR0917 - what, where, and what stands beside it
    path: Sequence[Edge],
    x: float,
    y: float,
    rings: list[Shape],
    target: int = -1,
    spare: float = 0.0,
    beside: Symbol | None = None,
) -> list[Shape]:
    """Edges one below the other; where two wires meet on a strip's terminal it is named."""
    out: list[Shape] = []
    for i, edge in enumerate(path):
        if edge.symbol:
            out += symbol_shapes(edge.symbol, x, y)
            if edge.symbol.kind == "coil" and beside:
                out += symbol_shapes(beside, x, y)
            y += STEP
            if i == target and spare:
                out.append(Line(x, y, x, y + spare, "link"))
                y += spare
            continue
        out.append(Line(x, y, x, y + _WIRE, "link"))
        out.append(Text(x + 5, y + _WIRE / 2 + 3, edge.wire, "tick", 8))
        y += _WIRE
        after = path[i + 1] if i + 1 < len(path) else None
        if after and not after.symbol:
            rings.append(Arc(x, y, 2.8, "terminal"))
            out.append(Text(x - 9, y + 3, edge.b, "tick", 8, "end"))
    return out


def _words(words: str, x: float, y: float) -> list[Shape]:
    return [
        Text(x, y + CAPTION * n, line, "label", 8.5, "middle") for n, line in enumerate(textwrap.wrap(words, NARROW))
    ]


def _loose_end(terminal: str, edge: Edge, x: float, y: float) -> list[Shape]:
    """The terminal at which a way ends; a symbol already has its number."""
    ring: list[Shape] = [Arc(x, y, 2.8, "terminal")]
    return ring if edge.symbol else [*ring, Text(x - 9, y + 3, terminal, "tick", 8, "end")]


def rail(words: str, y: float, wide: float, there: bool) -> list[Shape]:
    """A rail, if any path reaches it."""
    if not there:
        return []
    return [Line(70, y, wide - 24, y, "rail"), Text(60, y + 4, words, "name", 10.5, "end", bold=True)]


def drawn_again(paths: Sequence[Wired]) -> list[Shape]:
    """A line under the title: which contacts stand in several paths though each is there once."""
    times = Counter(name for path in paths for name in dict.fromkeys(_contacts(path)))
    names = list(dict.fromkeys(part for (part, _), n in times.items() if n > 1))
    if not names:
        return []
    words = "is one part, drawn" if len(names) == 1 else "are one part each, drawn"
    return [Text(16, 43, f"{' and '.join(names)} {words} anew in each path.", "label", 8.5)]


def _contacts(path: Wired) -> Iterator[tuple[str, str]]:
    for edge in (*path.head, *path.edges, *path.tail):
        if edge.symbol and edge.symbol.kind in {"contact", "breaker", "fuse"}:
            yield edge.symbol.part, edge.symbol.a

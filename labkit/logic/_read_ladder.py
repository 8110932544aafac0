"""Semigraphic ladder text of IEC 61131-3, read into the same tree as Structured Text.

The stages: comments and header set aside (`_source`, `_declare`), things found (`_scan_ladder`), names put over them
(`_attach`), wires joined (`_wires`) and checked (`_check_wires`), blocks read (`_read_box`), rungs told apart by what
hangs together (`_rungs`), and each reduced to series and parallel parts (`_series_parallel`).
"""

from __future__ import annotations

from labkit.logic._attach import attach_names
from labkit.logic._check_wires import Checks
from labkit.logic._declare import Header, read_header
from labkit.logic._names import Names, check_names, titled
from labkit.logic._parts import Part
from labkit.logic._read_box import read_box, take_operands
from labkit.logic._rungs import RungBuilder
from labkit.logic._scan_ladder import Mark, Scan, Word, scan_ladder
from labkit.logic._source import Comment, Source, open_source
from labkit.logic._wires import RIGHT, Edge, Nets, join_wires
from labkit.logic._words import Folder
from labkit.logic.nodes import Coil, Contact, Power, Program, Rung, Span, numbered

__all__ = ["read_ladder"]


def read_ladder(text: str, *, name: str = "program") -> Program:
    """Read ladder text: rails ``|``, wires ``-`` and ``+``, names in the line above their elements.

    Parameters
    ----------
    text
        The drawing; how it is written is in docs/reference/ladder-text.md.
    name
        What the program is called in findings and traces.

    Raises
    ------
    SlipError
        At the first thing that cannot be read, with line, column and a cure.

    Examples
    --------
    >>> hold = read_ladder('''
    ... |   S1        S2                K1   |
    ... |--| |---+---| |---+-----------( )---|
    ... |        |  K1_A   |                 |
    ... |        +---| |---+                 |
    ... ''')
    >>> hold.reads(), hold.writes()
    (('S1', 'S2', 'K1_A'), ('K1',))
    """
    source = open_source(text)
    fold = Folder(source)
    header = read_header(source, fold)
    names = Names(source, fold, header.declarations)
    body = _body(source, header)
    if not any(line.lstrip()[:1] in ("|", "-", "+") for line in body if line) and any(":=" in line for line in body):
        row = next(i for i, line in enumerate(body) if line.strip())
        raise source.slip("ladder-is-st", Span(row + 1, len(body[row]) - len(body[row].lstrip()) + 1))
    scan = scan_ladder(source, body)
    if not scan.marks and not scan.boxes:
        _refuse_without_elements(source, scan)
    rungs = _rungs(source, names, scan)
    check_names(source, rungs, names.declared)
    return Program(name, numbered(rungs), header.declarations, text, "ladder")


def _body(source: Source, header: Header) -> list[str]:
    """The lines with the VAR header turned into blanks."""
    lines = list(source.code)
    lines[: header.line - 1] = [""] * (header.line - 1)
    if header.column:
        lines[header.line - 1] = " " * header.column + lines[header.line - 1][header.column :]
        lines[header.line - 1] = lines[header.line - 1].rstrip()
    return lines


def _refuse_without_elements(source: Source, scan: Scan) -> None:
    attach_names(source, scan, scan.words)  # a name without an element is the plainest reason
    if any(char == "-" for char in scan.wires.values()):
        row, col = next(place for place, char in scan.wires.items() if char == "-")
        raise source.slip("coil-missing", Span(row + 1, col + 1))
    raise source.slip("empty", Span(1, 1))


def _rungs(source: Source, names: Names, scan: Scan) -> tuple[Rung, ...]:
    """Every rung of the drawing, from top to bottom."""
    operands, free = take_operands(scan)
    named = attach_names(source, scan, free)
    nets = join_wires(source, scan, _edges(scan))
    parts = [_element(names, nets, mark, named[mark]) for mark in scan.marks]
    for box in scan.boxes:
        parts += read_box(names, nets, operands, box, named[box])
    builder = RungBuilder(source, names, parts)
    groups = builder.groups()
    source.within("rungs", len(groups), Span(1, 1))
    for group in groups:
        source.within("rung elements", len(group), group[0].span)
    Checks(source, scan, nets, groups).run()
    networks = [builder.network(group) for group in groups]
    comments = _share_comments(source.comments, [max(p.bottom for p in group) + 1 for group in groups])
    return tuple(
        Rung(network, *titled(mine), span=min(group, key=lambda p: (p.row, p.col)).span)
        for group, network, mine in zip(groups, networks, comments, strict=True)
    )


def _edges(scan: Scan) -> list[Edge]:
    """Where elements and pins begin and end."""
    edges = [Edge(m.row, m.col, -1) for m in scan.marks] + [Edge(m.row, m.end, 1) for m in scan.marks]
    for box in scan.boxes:
        edges += [Edge(w.row, box.col, -1) for w in box.left] + [Edge(w.row, box.end, 1) for w in box.right]
    return edges


def _element(names: Names, nets: Nets, mark: Mark, word: Word) -> Part:
    """A contact or coil with its name and the nets it lies between."""
    is_coil = mark.kind == "coil"
    node: Power
    if is_coil:
        node = Coil(names.target(word.text, word.span), mark.symbol, span=mark.span)
    else:
        node = names.contact(word.text, mark.symbol, word.span)
        if isinstance(node, Contact):
            node = Contact(node.name, node.kind, span=mark.span)
    start = nets.net(Edge(mark.row, mark.col, -1))
    end = nets.net(Edge(mark.row, mark.end, 1))
    if start is None:
        raise nets.starts_nowhere(mark.row, mark.col)
    if end is None:  # nothing right of a coil: the right rail is implied
        end = RIGHT if is_coil else ("loose", mark.row, mark.end)
    part = Part(node, start, end, mark.row, mark.col, mark.end, mark.span, is_coil)
    part.top = part.bottom = mark.row
    return part


def _share_comments(comments: tuple[Comment, ...], bottoms: list[int]) -> list[list[Comment]]:
    """For each rung (by its last line, from 1) the comments that stand before or beside it."""
    mine: list[list[Comment]] = [[] for _ in bottoms]
    at = 0
    for comment in comments:
        while at < len(bottoms) - 1 and bottoms[at] < comment.span.line:
            at += 1
        mine[at].append(comment)
    return mine

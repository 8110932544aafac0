"""Places for drawing a ladder: a grid of cells and the links between them.

A network is placed between two columns of the grid. Series parts stand side by side, parallel parts below one another;
coils are moved to the right end. Every link knows the elements whose power it carries.
"""

from __future__ import annotations

from labkit.base import LabkitError
from labkit.logic._as_ladder import as_ladder
from labkit.logic._layout_records import Cell, LadderLayout, Link, Pin, RungLayout
from labkit.logic.blocks import BLOCKS
from labkit.logic.nodes import Block, Coil, Constant, Contact, Not, Parallel, Power, Program, Series, Xor, elements

__all__ = ["layout"]

_BLOCK_COLUMNS = 3
Feeds = tuple[int, ...]


def layout(program: Program) -> LadderLayout:
    """The program ready to draw; Structured Text is brought into ladder form first.

    Raises
    ------
    LabkitError
        If an expression is too wide for one rung.

    Examples
    --------
    >>> from labkit.logic import read_st
    >>> picture = layout(read_st("K1 := S1 AND (S2 OR K1_A);"))
    >>> [(c.row, c.col, c.name) for c in picture.rungs[0].cells]
    [(0, 0, 'S1'), (0, 1, 'S2'), (1, 1, 'K1_A'), (0, 2, 'K1')]
    """
    shown = as_ladder(program)
    columns = max((_end(rung.network, 0) for rung in shown.rungs), default=1)
    rungs = []
    for number, rung in enumerate(shown.rungs, 1):
        placer = _Placer(columns, number)
        placer.place(rung.network, 0, 0, columns, ())
        rungs.append(
            RungLayout(
                number,
                rung.title,
                rung.comment,
                columns,
                placer.bottom,
                tuple(placer.cells),
                tuple(_joined(placer.links)),
            )
        )
    return LadderLayout(program.name, tuple(rungs), shown)


def _end(node: Power, col: int) -> int:
    """The column where a network that begins at `col` ends, if it is drawn as tightly as possible."""
    if isinstance(node, Series):
        for item in node.items:
            col = _end(item, col)
        return col
    if isinstance(node, Parallel):
        return max(_end(item, col) for item in node.items)
    if isinstance(node, Block):
        return _block_col(node, col) + _BLOCK_COLUMNS
    return col + 1


def _block_col(node: Block, col: int) -> int:
    """Where a block can stand at the earliest: the networks on its pins begin at the left rail and need their room."""
    feeds = [_end(feed, 0) for _, feed in node.inputs if not _is_word(feed)]
    return max([col, *feeds])


def _is_word(feed: Power) -> bool:
    """Whether a pin's feed is a single name or constant, to be written beside the pin."""
    return isinstance(feed, Constant) or (isinstance(feed, Contact) and not feed.kind)


def _word(feed: Power) -> str:
    if isinstance(feed, Constant):
        return "TRUE" if feed.value else "FALSE"
    return feed.name if isinstance(feed, Contact) else ""


def _has_coil(node: Power) -> bool:
    return any(isinstance(e, Coil) for e in elements(node))


def _joined(links: list[Link]) -> list[Link]:
    """Vertical links that share a grid point are one wire, and carry what any of them carries."""
    whole = [link for link in links if link.row1 == link.row2]
    for link in sorted((k for k in links if k.row1 != k.row2), key=lambda k: (k.col1, k.row1, k.row2)):
        last = whole[-1] if whole else link
        if whole and last.row1 != last.row2 and last.col1 == link.col1 and link.row1 <= last.row2:
            feeds = tuple(dict.fromkeys(last.feeds + link.feeds))
            whole[-1] = Link(last.row1, last.col1, max(last.row2, link.row2), last.col1, feeds)
        else:
            whole.append(link)
    return whole


class _Placer:
    """Cells and links of one rung; `bottom` is the first free row."""

    def __init__(self, columns: int, number: int) -> None:
        self.columns = columns
        self.number = number
        self.cells: list[Cell] = []
        self.links: list[Link] = []
        self.bottom = 1

    def place(self, node: Power, row: int, col: int, right: int, feeds: Feeds) -> Feeds:
        """Draw `node` in `row` from `col` to `right`; gives what feeds the wire on its right."""
        self.bottom = max(self.bottom, row + 1)
        if isinstance(node, Series):
            return self.series(node.items, row, col, right, feeds)
        if isinstance(node, Parallel):
            return self.parallel(node, row, col, right, feeds)
        if isinstance(node, Coil):
            self.wire(row, col, right - 1, feeds)
            return self.cell(node, row, right - 1, kind="coil", symbol=node.kind, name=node.name)
        if isinstance(node, Block):
            return self.block(node, row, col, right, feeds)
        if isinstance(node, Not | Xor):
            raise AssertionError(node)  # as_ladder has drawn these out
        name, kind = (_word(node), "") if isinstance(node, Constant) else (node.name, node.kind)
        out = self.cell(node, row, col, kind="contact", symbol=kind, name=name)
        self.wire(row, col + 1, right, out)
        return out

    def wire(self, row: int, col: int, right: int, feeds: Feeds) -> None:
        if right > col:
            self.links.append(Link(row, col, row, right, feeds))

    def cell(self, node: Contact | Constant | Coil, row: int, col: int, *, kind: str, symbol: str, name: str) -> Feeds:
        self.cells.append(Cell(row, col, 1, 1, kind, symbol, name, node.element))
        return (node.element,)

    def series(self, items: tuple[Power, ...], row: int, col: int, right: int, feeds: Feeds) -> Feeds:
        tail = next((i for i, item in enumerate(items) if _has_coil(item)), len(items))
        for item in items[:tail]:
            end = _end(item, col)
            feeds = self.place(item, row, col, end, feeds)
            col = end
        if tail == len(items):
            self.wire(row, col, right, feeds)
        elif tail == len(items) - 1:
            feeds = self.place(items[tail], row, col, right, feeds)
        else:
            width = sum(_end(item, col) - col for item in items[tail:])
            self.wire(row, col, right - width, feeds)
            col = right - width
            for item in items[tail:]:
                end = _end(item, col)
                feeds = self.place(item, row, col, end, feeds)
                col = end
        return feeds

    def parallel(self, node: Parallel, row: int, col: int, right: int, feeds: Feeds) -> Feeds:
        out: list[int] = []
        rows = []
        for i, arm in enumerate(node.items):
            at = row if i == 0 else self.bottom
            rows.append(at)
            before = len(self.links)
            out += self.place(arm, at, col, right, feeds)
            self._refuse_crossing(col, self.links[before:], last=i == len(node.items) - 1)
        joined = tuple(dict.fromkeys(out))
        if col > 0:
            self.links.append(Link(row, col, rows[-1], col, feeds))
        if right < self.columns:
            self.links.append(Link(row, right, rows[-1], right, joined))
        return joined

    def _refuse_crossing(self, col: int, links: list[Link], *, last: bool) -> None:
        """A block's pin network starts at the left rail, so no branch may open below it further right."""
        if not last and col > 0 and any(link.col1 < col for link in links):
            raise LabkitError(
                "this block's pin network would cross a branch",
                where=f"rung {self.number}",
                try_this="write one tag name on the pin",
                code="too-wide-to-draw",
            )

    def block(self, node: Block, row: int, col: int, right: int, feeds: Feeds) -> Feeds:
        kind = BLOCKS[node.type]
        own = _block_col(node, col)
        self.wire(row, col, own, feeds)
        given, presets, attached = dict(node.inputs), dict(node.presets), dict(node.outputs)
        pins = [Pin(kind.inputs[0], "left", 0, wired=True)]
        at = 1
        for pin in (*kind.inputs[1:], *([kind.preset] if kind.preset else [])):
            feed = given.get(pin)
            if feed is not None and not _is_word(feed):
                at = max(at, self.bottom - row)
                pins.append(Pin(pin, "left", at, wired=True))
                out = self.place(feed, row + at, 0, own, ())
                self.wire(row + at, own, own + 1, out)
                at = self.bottom - row
            else:
                text = _word(feed) if feed is not None else presets[pin].text if pin in presets else ""
                pins.append(Pin(pin, "left", at, text))
                at += 1
        below = [p for p in (*kind.outputs[1:], kind.value) if p]
        pins.append(Pin(kind.outputs[0], "right", 0, attached.get(kind.outputs[0], ""), wired=True))
        pins += [Pin(p, "right", 1 + i, attached.get(p, "")) for i, p in enumerate(below)]
        height = max(at, 1 + len(below))
        self.cells.append(
            Cell(row, own, _BLOCK_COLUMNS, height, "block", node.type, node.instance, node.element, tuple(pins))
        )
        self.bottom = max(self.bottom, row + height)
        if kind.outputs[0] not in attached:
            self.wire(row, own + _BLOCK_COLUMNS, right, (node.element,))
        return (node.element,)

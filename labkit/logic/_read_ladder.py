"""Semigraphic ladder text of IEC 61131-3, read into the same tree as Structured Text.

The stages: comments and header set aside (`_source`, `_declare`), things found (`_scan_ladder`), names put over them
(`_attach`), wires joined (`_wires`), rungs told apart by what hangs together, and each reduced to series and parallel
parts (`_series_parallel`).
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass, field

from labkit.base import did_you_mean
from labkit.logic._attach import attach_names
from labkit.logic._declare import Header, read_header
from labkit.logic._names import Names, check_names, titled
from labkit.logic._scan_ladder import Box, Mark, Scan, Word, scan_ladder
from labkit.logic._series_parallel import Branch, reduce_network
from labkit.logic._source import Comment, Source, open_source
from labkit.logic._wires import LEFT, RIGHT, Edge, Nets, join_wires
from labkit.logic._words import Folder
from labkit.logic.blocks import BlockType
from labkit.logic.nodes import Block, Coil, Constant, Contact, Power, Preset, Program, Rung, Span, numbered

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
    rungs = _Reader(source, names, scan).rungs()
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


@dataclass(slots=True)
class _Part:
    """One element on its way into the tree: its node, its ends, and for a block what is wired to its other pins."""

    node: Power
    start: Hashable
    end: Hashable
    row: int
    col: int
    last: int
    span: Span
    is_coil: bool = False
    box: _BoxPins | None = None
    top: int = 0
    bottom: int = 0


@dataclass(slots=True)
class _BoxPins:
    """What the reader knows of a block before its side networks are read."""

    kind: BlockType
    instance: str
    inputs: list[tuple[str, Power]] = field(default_factory=list)
    presets: list[tuple[str, Preset]] = field(default_factory=list)
    outputs: list[tuple[str, str]] = field(default_factory=list)
    wired: list[tuple[str, Hashable, Span]] = field(default_factory=list)


class _Reader:
    def __init__(self, source: Source, names: Names, scan: Scan) -> None:
        self.source = source
        self.names = names
        self.scan = scan
        self.parts: list[_Part] = []

    def rungs(self) -> tuple[Rung, ...]:
        operands, free = self._operands()
        named = attach_names(self.source, self.scan, free)
        edges = [Edge(m.row, m.col, -1) for m in self.scan.marks] + [Edge(m.row, m.end, 1) for m in self.scan.marks]
        for box in self.scan.boxes:
            edges += [Edge(w.row, box.col, -1) for w in box.left] + [Edge(w.row, box.end, 1) for w in box.right]
        nets = join_wires(self.source, self.scan, edges)
        for mark in self.scan.marks:
            self._element(mark, named[mark], nets)
        for box in self.scan.boxes:
            self._block(box, named[box], operands, nets)
        groups = self._groups(nets)
        for group in groups:
            self.source.within("rung elements", len(group), group[0].span)
        self.source.within("rungs", len(groups), Span(1, 1))
        _Checks(self.source, self.scan, nets, groups).run()
        found = [(group, self._network(group)) for group in groups]
        comments = _share_comments(self.source.comments, [max(p.bottom for p in group) + 1 for group in groups])
        return tuple(
            Rung(network, *titled(mine), span=_first(group).span)
            for (group, network), mine in zip(found, comments, strict=True)
        )

    # ---- elements

    def _operands(self) -> tuple[dict[tuple[int, int], Word], list[Word]]:
        """Words on block pins by (row, column of the frame), their leads taken off the wires; and all other words."""
        ends = {(w.row, w.end): w for w in self.scan.words}
        starts = {(w.row, w.col): w for w in self.scan.words}
        operands: dict[tuple[int, int], Word] = {}
        taken: set[int] = set()
        for box in self.scan.boxes:
            pins = [(w.row, box.col, -1, ends) for w in box.left] + [(w.row, box.end, 1, starts) for w in box.right]
            for row, frame, step, table in pins:
                col, lead = frame + step, []
                while self.scan.wires.get((row, col)) == "-":
                    lead.append((row, col))
                    col += step
                word = table.get((row, col))
                if word is None and not lead:  # a constant may stand beside the pin without a lead
                    blanks = (table.get((row, frame + step * k)) for k in (2, 3))
                    word = next((w for w in blanks if w and ("#" in w.text or not w.text[0].isalpha())), None)
                if word:
                    sign = (row, word.col - 1)
                    if word.text.isdigit() and sign in self.scan.wires and (row, word.col - 2) not in self.scan.wires:
                        lead.append(sign)  # the dash before a number is its sign
                        taken.add(id(word))
                        word = Word("-" + word.text, row, word.col - 1)
                    operands[(row, frame)] = word
                    for place in lead:
                        del self.scan.wires[place]
        taken |= {id(w) for w in operands.values()}
        return operands, [w for w in self.scan.words if id(w) not in taken]

    def _element(self, mark: Mark, word: Word, nets: Nets) -> None:
        is_coil = mark.kind == "coil"
        node: Power
        if is_coil:
            node = Coil(self.names.target(word.text, word.span), mark.symbol, span=mark.span)
        else:
            node = self.names.contact(word.text, mark.symbol, word.span)
            if isinstance(node, Contact):
                node = Contact(node.name, node.kind, span=mark.span)
        start = nets.net(Edge(mark.row, mark.col, -1))
        end = nets.net(Edge(mark.row, mark.end, 1))
        if start is None:
            raise self._starts_nowhere(mark.row, mark.col)
        if end is None:
            end = RIGHT if is_coil else ("loose", mark.row, mark.end)
        self.parts.append(
            _Part(node, start, end, mark.row, mark.col, mark.end, mark.span, is_coil, top=mark.row, bottom=mark.row)
        )

    def _starts_nowhere(self, row: int, col: int) -> Exception:
        code = "wire-nowhere" if row in self.scan.left_rail else "rail-missing"
        return self.source.slip(code, Span(row + 1, col + 1), how="starts")

    def _block(self, box: Box, word: Word, operands: dict[tuple[int, int], Word], nets: Nets) -> None:
        title = box.type_word
        kind = self.names.block_type(title.text, title.span)
        contact = self.names.contact(word.text, "", word.span)
        if not isinstance(contact, Contact) or "." in contact.name:
            raise self.source.slip("name-sign", word.span, name=word.text)
        pins = _BoxPins(kind, contact.name)
        start: Hashable | None = None
        end: Hashable = ("loose", box.row, box.end)
        row = box.row
        given: set[str] = set()
        for pin in box.left:
            name = self._pin_name(
                kind, pin, known=(*kind.inputs, kind.preset), side="input ", given=given, name=contact.name
            )
            operand = operands.get((pin.row, box.col))
            net = None if operand else nets.net(Edge(pin.row, box.col, -1))
            if name == kind.inputs[0]:
                row = pin.row
                start = self._power_pin(pin, box, operand, net)
            elif name == kind.preset:
                if net is not None:
                    takes = "a time" if kind.is_timer else "a whole number"
                    raise self.source.slip("pin-wrong", pin.span, pin=name, kind=f"{takes}, not a wire",
                                           cure="write T#200ms--| or 5--| before the pin")  # fmt: skip
                if operand:
                    pins.presets.append((name, self.names.preset(kind, operand.text, operand.span)))
            elif operand:
                pins.inputs.append((name, self._bool_operand(name, operand)))
            elif net is not None:
                pins.wired.append((name, net, pin.span))
        for pin in box.right:
            name = self._pin_name(
                kind, pin, known=(*kind.outputs, kind.value), side="output ", given=given, name=contact.name
            )
            operand = operands.get((pin.row, box.end))
            net = None if operand else nets.net(Edge(pin.row, box.end, 1))
            if name == kind.value and (operand or net is not None):
                takes = "a time" if kind.is_timer else "a number"
                raise self.source.slip("pin-wrong", pin.span, pin=name, kind=f"nothing: it gives {takes}",
                                       cure=f"leave it open; a watcher reads {contact.name}.{name}")  # fmt: skip
            if operand:
                pins.outputs.append((name, self.names.target(operand.text, operand.span)))
            elif name == kind.outputs[0]:
                end = end if net is None else net
            elif net is not None:
                raise self.source.slip("pin-wrong", pin.span, pin=name, kind="a tag name, not a wire",
                                       cure=f"read it with a contact called {contact.name}.{name}")  # fmt: skip
        if start is None:
            raise self.source.slip("pin-unfed", box.span, pin=kind.inputs[0], name=contact.name)
        node = Constant(True)  # takes the block's place until its side networks are known
        self.parts.append(
            _Part(node, start, end, row, box.col, box.end, word.span, box=pins, top=box.row, bottom=box.bottom)
        )

    def _pin_name(
        self, kind: BlockType, pin: Word, *, known: tuple[str, ...], side: str, given: set[str], name: str
    ) -> str:
        text = pin.text.upper()
        if text not in known:
            other = "It stands on the other side." if text in kind.pins else did_you_mean(text, kind.pins, most=0)
            raise self.source.slip(
                "pin-unknown", pin.span, type=kind.name, side=side, pin=pin.text, hint=other, pins=", ".join(kind.pins)
            )
        if text in given:
            raise self.source.slip("pin-twice", pin.span, pin=text, name=name)
        given.add(text)
        return text

    def _power_pin(self, pin: Word, box: Box, operand: Word | None, net: Hashable | None) -> Hashable | None:
        """The net of the pin that takes the power flow; a name written on it stands for a contact."""
        if operand is None:
            return net
        node = self._bool_operand(pin.text.upper(), operand)
        own = ("pin", pin.row, box.col)
        span = operand.span
        self.parts.append(_Part(node, LEFT, own, pin.row, operand.col, operand.end, span, top=pin.row, bottom=pin.row))
        return own

    def _bool_operand(self, pin: str, operand: Word) -> Power:
        if not (operand.text[0].isalpha() or operand.text[0] == "_") or "#" in operand.text:
            raise self.source.slip("pin-wrong", operand.span, pin=pin, kind="a BOOL tag", cure="write a tag name there")
        return self.names.contact(operand.text, "", operand.span)

    # ---- rungs

    def _groups(self, nets: Nets) -> list[list[_Part]]:
        """Parts that hang together by wires, the rails left out: one group for each rung, from top to bottom."""
        owner = nets.sets.__class__()
        for i, part in enumerate(self.parts):
            ends = [part.start, part.end] + ([net for _, net, _ in part.box.wired] if part.box else [])
            for net in ends:
                if net not in (LEFT, RIGHT):
                    owner.union(("part", i), ("net", net))
        groups: dict[Hashable, list[_Part]] = {}
        for i, part in enumerate(self.parts):
            groups.setdefault(owner.find(("part", i)), []).append(part)
        ordered = sorted(groups.values(), key=lambda g: min((p.top, p.col) for p in g))
        return [sorted(g, key=lambda p: (p.row, p.col)) for g in ordered]

    def _network(self, group: list[_Part]) -> Power:
        """A group as one network, the side networks of its blocks read first."""
        used: set[int] = set()
        for part in sorted(group, key=lambda p: p.col):
            if part.box is not None:
                self._finish_block(part, group, used)
        main = [p for p in group if id(p) not in used]
        ends = {p.end for p in main if p.end not in {q.start for q in main}}
        branches = [_branch(p, ends) for p in main]
        return self._reduced(branches, RIGHT, main)

    def _finish_block(self, part: _Part, group: list[_Part], used: set[int]) -> None:
        box = part.box
        assert box is not None
        for pin, net, span in box.wired:
            if net == LEFT:
                box.inputs.append((pin, Constant(True, span=span)))
                continue
            side = self._side_network(net, group)
            if side is None:
                raise self.source.slip("pin-network", span, pin=pin, name=box.instance)
            box.inputs.append((pin, self._reduced([_branch(p, {net}) for p in side], RIGHT, side)))
            used |= {id(p) for p in side}
        part.node = self.names.finish_block(
            box.kind, box.instance, part.span, fed=True, inputs=box.inputs, presets=box.presets, outputs=box.outputs
        )

    def _side_network(self, net: Hashable, group: list[_Part]) -> list[_Part] | None:
        """The parts that feed only this net; None if one of its nets also feeds something else."""
        nets: set[Hashable] = {net}
        found: dict[int, _Part] = {}
        todo = [net]
        while todo:
            now = todo.pop()
            for p in group:
                if p.end == now and id(p) not in found:
                    found[id(p)] = p
                    if p.start != LEFT and p.start not in nets:
                        nets.add(p.start)
                        todo.append(p.start)
        for p in group:
            taps = [p.start] + ([n for _, n, _ in p.box.wired if n != net] if p.box else [])
            if id(p) not in found and any(t in nets for t in taps):
                return None
            if id(p) in found and (p.is_coil or p.box):
                return None
        return [p for p in group if id(p) in found] or None

    def _reduced(self, branches: list[Branch], end: Hashable, parts: list[_Part]) -> Power:
        result = reduce_network(branches, LEFT, end)
        if not isinstance(result, list):
            return result
        # a bridge joins two nets that some way through the rung avoids
        shared = {net for b in result for net in (b.start, b.end) if not _reaches(result, LEFT, end, without=net)}
        inner = [b for b in result if not {b.start, b.end} & (shared | {LEFT, end})] or result
        bridging = min(inner, key=lambda b: b.order)
        part = next(p for p in parts if (p.row, p.col) == bridging.order)
        raise self.source.slip("bridge", part.span, name=_name(part.node))


def _reaches(branches: list[Branch], start: Hashable, end: Hashable, *, without: Hashable) -> bool:
    """Whether power could get from `start` to `end` past the net `without`."""
    seen, todo = {start}, [start]
    while todo:
        now = todo.pop()
        for b in branches:
            if b.start == now and b.end != without and b.end not in seen:
                seen.add(b.end)
                todo.append(b.end)
    return end in seen


def _branch(part: _Part, sinks: Iterable[Hashable]) -> Branch:
    return Branch(part.start, RIGHT if part.end in sinks else part.end, part.node, (part.row, part.col))


def _name(node: Power) -> str:
    if isinstance(node, Contact | Coil):
        return node.name
    if isinstance(node, Block):
        return node.instance
    return "TRUE" if isinstance(node, Constant) and node.value else "FALSE"


def _first(group: list[_Part]) -> _Part:
    return min(group, key=lambda p: (p.row, p.col))


def _share_comments(comments: tuple[Comment, ...], bottoms: list[int]) -> list[list[Comment]]:
    """For each rung (by its last line, from 1) the comments that stand before or beside it."""
    mine: list[list[Comment]] = [[] for _ in bottoms]
    at = 0
    for comment in comments:
        while at < len(bottoms) - 1 and bottoms[at] < comment.span.line:
            at += 1
        mine[at].append(comment)
    return mine


class _Checks:
    """What may be wrong with a rung's wires, the plainest reason first."""

    def __init__(self, source: Source, scan: Scan, nets: Nets, groups: list[list[_Part]]) -> None:
        self.source = source
        self.scan = scan
        self.nets = nets
        self.groups = groups
        self.feeders: dict[Hashable, list[_Part]] = {}
        self.takers: dict[Hashable, list[_Part]] = {}
        for part in (p for g in groups for p in g):
            self.feeders.setdefault(part.end, []).append(part)
            self.takers.setdefault(part.start, []).append(part)
            for _, net, _ in part.box.wired if part.box else ():
                self.takers.setdefault(net, []).append(part)

    def run(self) -> None:
        """Raise at the first thing that is wrong."""
        self._starts()
        for group in self.groups:
            for check in (self._shorts, self._behind_coils, self._left_rail, self._coil, self._backwards):
                check(group)
        self._loose_ends()

    def _starts(self) -> None:
        """A wire with nothing on its left."""
        for group in self.groups:
            for part in group:
                for net in [part.start] + ([n for _, n, _ in part.box.wired] if part.box else []):
                    if net != LEFT and net not in self.feeders:
                        place = min(p for p in self.scan.wires if self.nets.sets.find(p) == net)
                        row, col = part.row, self._leftmost(net, part.row, place[1])
                        code = "wire-nowhere" if row in self.scan.left_rail else "rail-missing"
                        raise self.source.slip(code, Span(row + 1, col + 1), how="starts")

    def _leftmost(self, net: Hashable, row: int, default: int) -> int:
        cols = [c for r, c in self.scan.wires if r == row and self.nets.sets.find((r, c)) == net]
        return min(cols, default=default)

    def _shorts(self, group: list[_Part]) -> None:
        for part in group:
            if part.start == part.end:
                raise self.source.slip("short", part.span, name=_name(part.node))

    def _behind_coils(self, group: list[_Part]) -> None:
        coiled = {p.end for p in group if p.is_coil}
        for part in group:
            if part.start in coiled and not part.is_coil:
                if all(p.start == LEFT for p in self.feeders[part.start] if p.is_coil):
                    self._left_rail(self.feeders[part.start])
                raise self.source.slip(
                    "after-coil", part.span, name=part.box.instance if part.box else _name(part.node)
                )

    def _left_rail(self, group: list[_Part]) -> None:
        for part in group:
            if part.is_coil and part.start == LEFT:
                raise self.source.slip("coil-on-left-rail", part.span, name=_name(part.node))

    def _coil(self, group: list[_Part]) -> None:
        """Each way through the rung ends in a coil or a block."""
        if not any(p.is_coil or p.box for p in group):
            last = max(group, key=lambda p: (p.last, -p.row))
            raise self.source.slip("coil-missing", Span(last.row + 1, last.last + 1))
        for part in group:
            if part.is_coil or part.box:
                continue
            if part.end == RIGHT:
                raise self.source.slip("coil-missing", Span(part.row + 1, part.last + 1))
            if part.end not in self.takers:
                raise self.source.slip("branch-open", Span(part.row + 1, self._rightmost(part) + 1))

    def _rightmost(self, part: _Part) -> int:
        col = part.last
        while (part.row, col + 1) in self.scan.wires:
            col += 1
        return col

    def _backwards(self, group: list[_Part]) -> None:
        for part in group:
            for feeder in self.feeders.get(part.start, ()):
                if part.start not in (LEFT, RIGHT) and feeder.last >= part.col:
                    raise self.source.slip("right-to-left", part.span, name=_name(part.node))

    def _loose_ends(self) -> None:
        """A wire, although joined to something, that also leads nowhere."""
        coils = {p.end for g in self.groups for p in g if p.is_coil or p.box}
        for (row, col), char in sorted(self.scan.wires.items()):
            net = self.nets.sets.find((row, col))
            if self.nets.degree[(row, col)] >= 2 or net == RIGHT or (net in coils and net not in self.takers):
                continue
            beside = self.scan.wires.get((row, col - 1))
            if char == "-" and (net == LEFT or not beside):
                how = "ends" if beside or net == LEFT else "starts"
                raise self.source.slip("wire-nowhere", Span(row + 1, col + 1), how=how)
            raise self.source.slip("branch-open", Span(row + 1, col + 1))

"""Structured Text: boolean assignments and block calls, read into the same tree as a ladder.

Precedence from high to low is NOT, AND (or &), XOR, OR, as in IEC 61131-3.
"""

from __future__ import annotations

from labkit.logic._declare import read_header
from labkit.logic._lex_st import Token, tokens
from labkit.logic._names import Names, check_names, titled
from labkit.logic._source import Comment, Source, open_source
from labkit.logic._words import RESERVED, Folder, check_name
from labkit.logic.blocks import BLOCKS, BlockType
from labkit.logic.nodes import (
    Coil,
    Constant,
    Contact,
    Not,
    Power,
    Preset,
    Program,
    Rung,
    Span,
    Xor,
    numbered,
    parallel,
    series,
)

__all__ = ["read_st"]

_CURES = {
    "&&": "write AND",
    "||": "write OR",
    "|": "write OR",
    "+": "write OR: logic is not added up",
    "*": "write AND: logic is not multiplied",
    "!": "write NOT before the name",
    "~": "write NOT before the name",
    "/": "write NOT before the name",
    "^": "write XOR",
    "==": "write := to give a value; to ask whether two bits are equal write NOT (A XOR B)",
    "=": "write := to give a value; to ask whether two bits are equal write NOT (A XOR B)",
    "<>": "write XOR: two bits that differ",
    ":=": "one statement writes one tag; write a second statement for the other",
}
_BINARY = {"AND", "OR", "XOR", "&"}


def read_st(text: str, *, name: str = "program") -> Program:
    """Read Structured Text: a VAR header if wanted, boolean assignments and block calls.

    Parameters
    ----------
    text
        For example ``K1 := S1 AND (S2 OR K1_A);``.
    name
        What the program is called in findings and traces.

    Raises
    ------
    SlipError
        At the first thing that cannot be read, with line, column and a cure.

    Examples
    --------
    >>> read_st("K1 := S1 AND NOT S2;").rungs[0].network.items[1].kind
    '/'
    """
    source = open_source(text)
    fold = Folder(source)
    header = read_header(source, fold)
    reader = _Reader(source, Names(source, fold, header.declarations), tokens(source, header.line, header.column))
    rungs = reader.program((header.line, header.column))
    check_names(source, rungs, reader.names.declared)
    return Program(name, numbered(rungs), header.declarations, text, "st")


def negated(network: Power, span: Span) -> Power:
    """NOT of a network; a plain contact or constant turns over instead."""
    if isinstance(network, Contact):
        return Contact(network.name, "" if network.kind == "/" else "/", span=network.span)
    if isinstance(network, Constant):
        return Constant(not network.value, span=network.span)
    return network.of if isinstance(network, Not) else Not(network, span)


class _Reader:
    """A cursor over the tokens; one method per rule of the grammar."""

    def __init__(self, source: Source, names: Names, found: list[Token]) -> None:
        self.source = source
        self.names = names
        self.tokens = found
        self.at = 0
        self.depth = 0

    # ---- cursor

    @property
    def now(self) -> Token:
        return self.tokens[self.at]

    @property
    def before(self) -> Token:
        return self.tokens[self.at - 1]

    def peek(self, ahead: int = 1) -> Token:
        return self.tokens[min(self.at + ahead, len(self.tokens) - 1)]

    def take(self) -> Token:
        token = self.now
        if token.kind != "end":
            self.at += 1
        return token

    # ---- statements

    def program(self, start: tuple[int, int]) -> tuple[Rung, ...]:
        found: list[tuple[Power, Span, tuple[int, int]]] = []
        while self.now.kind != "end":
            if self.now.text == ";":  # an empty statement does no harm
                self.take()
                continue
            span = self.now.span
            network = self.statement()
            found.append((network, span, (self.before.span.line, self.before.span.column)))
            self.source.within("rungs", len(found), span)
        if not found:
            raise self.source.slip("empty", Span(1, 1))
        comments = _share_comments(self.source.comments, start, [end for *_, end in found])
        return tuple(
            Rung(network, *titled(mine), span=span) for (network, span, _), mine in zip(found, comments, strict=True)
        )

    def statement(self) -> Power:
        first, second = self.now, self.peek()
        if first.text == ")":
            raise self.source.slip("parenthesis-extra", first.span)
        if first.text == ":=":
            raise self.source.slip("operand-missing", first.span, after=":=", side="left")
        if first.kind == "sign" and first.text in _CURES:
            raise self.source.slip("foreign-operator", first.span, text=first.text, cure=_CURES[first.text])
        if first.kind != "word":
            raise self.source.slip("statement-shape", first.span, found=first.text)
        if second.text == "=":
            raise self.source.slip("equals-for-assign", second.span, name=first.text)
        if second.text == "==":
            raise self.source.slip("foreign-operator", second.span, text="==", cure="write := to give a value")
        if second.text == ":=":
            return self.assignment()
        if second.text == "(" and first.upper not in RESERVED:
            return self.call()
        if second.kind == "word" and self.peek(2).text == ":=" and not {first.upper, second.upper} & RESERVED:
            self._space_slip(first, second)
        raise self.source.slip("statement-shape", first.span, found=first.text)

    def assignment(self) -> Power:
        word = self.take()
        target = self.names.target(word.text, word.span)
        self.take()
        value = self.expression()
        self.end_statement()
        return series(value, Coil(target, span=word.span))

    def end_statement(self) -> None:
        token, last = self.now, self.before
        if token.text == ";":
            self.take()
        elif token.text == ")":
            raise self.source.slip("parenthesis-extra", token.span)
        elif token.kind == "end" or self._starts_statement(token):
            place = Span(last.span.line, last.span.column + last.span.width)
            raise self.source.slip("semicolon-missing", place, after=last.text)
        else:
            raise self._between(token, last)

    def _starts_statement(self, token: Token) -> bool:
        follows = self.peek().text
        return (
            token.kind == "word"
            and (
                follows in {":=", "=", "=="}
                or (follows == "(" and token.upper not in RESERVED)
                or token.span.line > self.before.span.line
            )
            and token.upper not in {"NOT", "TRUE", "FALSE"}
        )

    def _between(self, token: Token, last: Token) -> Exception:
        """What is wrong where an operator, a `)` or a semicolon should stand."""
        if token.text in _CURES:
            return self.source.slip("foreign-operator", token.span, text=token.text, cure=_CURES[token.text])
        if token.kind == "word" and last.kind == "word" and not {token.upper, last.upper} & RESERVED:
            return self._space_error(last, token)
        if token.kind == "word" or token.text == "(":
            return self.source.slip("operator-missing", token.span, left=last.text, right=token.text)
        return self.source.slip("statement-shape", token.span, found=token.text)

    def _space_error(self, first: Token, second: Token) -> Exception:
        check_name(self.source, first.text.partition(".")[0], first.span)
        check_name(self.source, second.text.partition(".")[0], second.span)
        span = Span(first.span.line, first.span.column, first.span.width + 1 + second.span.width)
        name, better = f"{first.text} {second.text}", f"{first.text}_{second.text}, or AND or OR between two names"
        return self.source.slip("name-space", span, name=name, better=better)

    def _space_slip(self, first: Token, second: Token) -> None:
        raise self._space_error(first, second)

    # ---- block calls

    def call(self) -> Power:
        word = self.take()
        check_name(self.source, word.text, word.span)
        name = self.names.fold(word.text, word.span)
        known = self.names.declared.get(name)
        if known is None:
            raise self.source.slip("block-undeclared", word.span, name=word.text)
        if known.type not in BLOCKS:
            raise self.source.slip("block-name-clash", word.span, name=word.text)
        kind = BLOCKS[known.type]
        opener = self.take()
        feed: Power | None = None
        inputs: list[tuple[str, Power]] = []
        presets: list[tuple[str, Preset]] = []
        outputs: list[tuple[str, str]] = []
        given: set[str] = set()
        while self.now.text != ")":
            pin = self.pin(kind, name, given)
            if pin == kind.preset:
                presets.append((pin, self.preset(kind)))
            elif pin in kind.outputs:
                target = self.take()
                outputs.append((pin, self.names.target(target.text, target.span)))
            elif pin == kind.inputs[0]:
                feed = self.expression()
            else:
                inputs.append((pin, self.expression()))
            self.end_of_pin(opener, kind, name)
        self.take()
        block = self.names.finish_block(
            kind, name, word.span, fed=feed is not None, inputs=inputs, presets=presets, outputs=outputs
        )
        self.end_statement()
        return series(feed, block) if feed is not None else block

    def pin(self, kind: BlockType, name: str, given: set[str]) -> str:
        """The ``PIN :=`` or ``PIN =>`` before a value."""
        word, arrow = self.now, self.peek()
        if word.kind == "word" and arrow.text == "=":
            raise self.source.slip("equals-for-assign", arrow.span, name=word.text)
        if word.kind != "word" or arrow.text not in {":=", "=>"}:
            if word.kind == "end" or word.text == ";":
                raise self.source.slip("parenthesis-open", self._last_opener())
            example = ", ".join(f"{p} := ..." for p in (kind.inputs[0], kind.preset) if p)
            raise self.source.slip("call-shape", word.span, name=name, found=word.text, better=example)
        pin = word.upper
        known = kind.outputs if arrow.text == "=>" else (*kind.inputs, kind.preset)
        if pin not in known or not pin:
            side = "output " if arrow.text == "=>" else "input "
            raise self.source.slip(
                "pin-unknown", word.span, type=kind.name, side=side, pin=word.text, hint="", pins=", ".join(kind.pins)
            )
        if pin in given:
            raise self.source.slip("pin-twice", word.span, pin=pin, name=name)
        given.add(pin)
        self.take()
        self.take()
        return pin

    def preset(self, kind: BlockType) -> Preset:
        sign = self.take() if self.now.text in {"-", "+"} else None
        token = self.take()
        if token.kind != "word":
            raise self.source.slip("operand-missing", token.span, after=":=", side="right")
        return self.names.preset(kind, (sign.text if sign else "") + token.text, token.span)

    def end_of_pin(self, opener: Token, kind: BlockType, name: str) -> None:
        token = self.now
        if token.text == ",":
            self.take()
        elif token.kind == "end" or token.text == ";":
            raise self.source.slip("parenthesis-open", opener.span)
        elif token.text != ")":
            if token.kind == "word" and self.peek().text in {":=", "=>"}:
                example = ", ".join(f"{p} := ..." for p in (kind.inputs[0], kind.preset) if p)
                raise self.source.slip(
                    "call-shape", token.span, name=name, found=f"{token.text} without a comma before it", better=example
                )
            raise self._between(token, self.before)

    def _last_opener(self) -> Span:
        return next(t.span for t in reversed(self.tokens[: self.at]) if t.text == "(")

    # ---- expressions

    def expression(self) -> Power:
        items = [self.exclusive()]
        while self.now.upper == "OR":
            self.take()
            items.append(self.exclusive())
        return parallel(*items)

    def exclusive(self) -> Power:
        items = [self.conjunction()]
        while self.now.upper == "XOR":
            self.take()
            items.append(self.conjunction())
        if len(items) == 1:
            return items[0]
        flat = tuple(x for i in items for x in (i.items if isinstance(i, Xor) else (i,)))
        return Xor(flat, _span_of(flat[0]))

    def conjunction(self) -> Power:
        items = [self.factor()]
        while self.now.upper == "AND" or self.now.text == "&":
            self.take()
            items.append(self.factor())
        return series(*items)

    def factor(self) -> Power:
        turns = 0
        first = self.now
        while self.now.upper == "NOT":
            self.take()
            turns += 1
        value = self.primary()
        return negated(value, first.span) if turns % 2 else value

    def primary(self) -> Power:
        token = self.now
        if token.text == "(":
            return self.parenthesis()
        if token.kind == "word" and token.upper not in _BINARY:
            self.take()
            return self.names.contact(token.text, "", token.span)
        if token.text in _CURES and token.text != "=":
            raise self.source.slip("foreign-operator", token.span, text=token.text, cure=_CURES[token.text])
        if token.upper in _BINARY:
            raise self.source.slip("operand-missing", token.span, after=token.text, side="left")
        raise self.source.slip("operand-missing", self.before.span, after=self.before.text, side="right")

    def parenthesis(self) -> Power:
        opener = self.take()
        self.depth += 1
        self.source.within("nesting", self.depth, opener.span)
        value = self.expression()
        token = self.now
        if token.text == ")":
            self.take()
        elif token.kind == "end" or token.text == ";" or self._starts_statement(token):
            raise self.source.slip("parenthesis-open", opener.span)
        else:
            raise self._between(token, self.before)
        self.depth -= 1
        return value


def _span_of(node: Power) -> Span:
    return node.span


def _share_comments(
    comments: tuple[Comment, ...], start: tuple[int, int], ends: list[tuple[int, int]]
) -> list[list[Comment]]:
    """For each statement its comments: those before or inside it, and one behind it on its last line."""
    mine: list[list[Comment]] = [[] for _ in ends]
    at = 0
    for comment in comments:
        place = (comment.span.line, comment.span.column)
        if place < start:
            continue
        while at < len(ends) and ends[at] < place:
            at += 1
        behind = at > 0 and ends[at - 1][0] == comment.span.line
        owner = at - 1 if behind or at == len(ends) else at
        mine[owner].append(comment)
    return mine

"""The VAR header that may stand before rungs and statements in both languages."""

from __future__ import annotations

import re
from dataclasses import dataclass

from labkit.base import did_you_mean
from labkit.logic._source import Source
from labkit.logic._words import Folder, check_name, count_literal, time_literal
from labkit.logic.blocks import BLOCKS
from labkit.logic.nodes import Span, Variable

__all__ = ["Header", "read_header"]

_WORD = re.compile(r":=|[:;,]|[^\s:;,]+")
_TYPES = ("BOOL", "TIME", "INT", *BLOCKS)


@dataclass(frozen=True, slots=True)
class Header:
    """The declarations, and the first line (from 1) and column (from 0) of what follows them."""

    declarations: tuple[Variable, ...]
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class _Token:
    text: str
    span: Span


def read_header(source: Source, fold: Folder) -> Header:
    """Read the ``VAR ... END_VAR`` blocks at the start, if there are any.

    Raises
    ------
    SlipError
        If a declaration cannot be read.
    """
    found: dict[str, Variable] = {}
    line, column = 1, 0
    while True:
        start = _next_word(source, line, column)
        if start is None or start.text.upper() != "VAR":
            return Header(tuple(found.values()), line, column)
        line, column = _read_section(source, fold, start, found)


def _next_word(source: Source, line: int, column: int) -> _Token | None:
    while line <= len(source.code):
        match = _WORD.search(source.code[line - 1], column)
        if match:
            return _Token(match.group(), Span(line, match.start() + 1, len(match.group())))
        line, column = line + 1, 0
    return None


def _read_section(source: Source, fold: Folder, opener: _Token, found: dict[str, Variable]) -> tuple[int, int]:
    """One section; gives the place behind its END_VAR."""
    retain = constant = False
    statement: list[_Token] = []
    at = opener
    while True:
        token = _next_word(source, at.span.line, at.span.column - 1 + at.span.width)
        if token is None:
            raise source.slip("var-open", opener.span, line=opener.span.line)
        at = token
        word = token.text.upper()
        if word == "END_VAR":
            if statement:
                raise source.slip("var-shape", statement[-1].span, found=statement[-1].text)
            return token.span.line, token.span.column - 1 + token.span.width
        if not statement and word in {"RETAIN", "NON_RETAIN", "CONSTANT"}:
            retain, constant = retain or word == "RETAIN", constant or word == "CONSTANT"
        elif word == ";":
            _declare(source, fold, statement, token, retain=retain, constant=constant, found=found)
            statement = []
        elif word.startswith("|") or (word == ":=" and ":" not in (t.text for t in statement)):
            raise source.slip("var-open", opener.span, line=opener.span.line)  # the program has begun
        else:
            statement.append(token)


def _declare(
    source: Source,
    fold: Folder,
    tokens: list[_Token],
    end: _Token,
    *,
    retain: bool,
    constant: bool,
    found: dict[str, Variable],
) -> None:
    """One declaration: names, colon, type and perhaps a starting value."""
    texts = [t.text for t in tokens]
    if ":" not in texts:
        bad = tokens[1] if len(tokens) > 1 else end
        raise source.slip("var-shape", bad.span, found=bad.text)
    colon = texts.index(":")
    rest = tokens[colon + 1 :]
    if len(rest) not in (1, 3) or (len(rest) == 3 and rest[1].text != ":="):
        bad = rest[1] if len(rest) > 1 else end
        raise source.slip("var-shape", bad.span, found=bad.text)
    kind = rest[0].text.upper()
    if kind not in _TYPES:
        raise source.slip("block-unknown" if kind.startswith(("T", "C", "R_", "F_")) else "var-type", rest[0].span,
                          name=rest[0].text, hint=did_you_mean(kind, _TYPES, most=0))  # fmt: skip
    initial = _initial(source, kind, rest[2]) if len(rest) == 3 else 0
    names = tokens[:colon]
    if not names or any((t.text == ",") != (i % 2 == 1) for i, t in enumerate(names)) or len(names) % 2 == 0:
        bad = names[1] if len(names) > 1 else tokens[colon]
        raise source.slip("var-shape", bad.span, found=bad.text)
    for token in names[::2]:
        check_name(source, token.text, token.span)
        name = fold(token.text, token.span)
        if name in found:
            raise source.slip("var-twice", token.span, name=name, line=found[name].span.line)
        found[name] = Variable(name, kind, retain, initial, constant, token.span)


def _initial(source: Source, kind: str, token: _Token) -> int:
    text = token.text
    if kind == "BOOL" and text.upper() in {"TRUE", "FALSE", "0", "1"}:
        return int(text.upper() in {"TRUE", "1"})
    value = time_literal(source, text, token.span) if kind == "TIME" else None
    value = count_literal(source, text, token.span) if kind == "INT" else value
    if value is None:
        better = {"BOOL": "TRUE or FALSE", "TIME": "a time such as T#2s", "INT": "a whole number such as 5"}
        raise source.slip(
            "var-value",
            token.span,
            text=text,
            type=kind,
            better=better.get(kind, "nothing: a block has no starting value"),
        )
    return value.value

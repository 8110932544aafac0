"""Structured Text as a row of tokens with places."""

from __future__ import annotations

import re
from dataclasses import dataclass

from labkit.logic._source import Source
from labkit.logic.nodes import Span

__all__ = ["END", "Token", "tokens"]

# A hyphen between two words without blanks is the slip K1-A, so the lexer keeps such a word whole.
_TOKEN = re.compile(
    r"\s*(?:(?P<sign>:=|=>|==|<>|<=|>=|&&|\|\||\*\*|[;(),&=+*/!|<>:\-^~])"
    r"|(?P<word>[A-Za-z0-9_%$.#][\w%$.#]*(?:-[A-Za-z0-9_]+)*)|(?P<bad>\S))",
    re.ASCII,
)
END = ""


@dataclass(frozen=True, slots=True)
class Token:
    """`kind` is ``"sign"``, ``"word"`` or ``"end"``; `text` as written."""

    kind: str
    text: str
    span: Span

    @property
    def upper(self) -> str:
        """The text in capitals: keywords and names are the same in either."""
        return self.text.upper()


def tokens(source: Source, line: int, column: int) -> list[Token]:
    """Tokens from the given line (from 1) and column (from 0) on, closed by one of kind ``"end"``.

    Raises
    ------
    SlipError
        At a character that has no meaning, or where a ladder is given.
    """
    found: list[Token] = []
    for number in range(line, len(source.code) + 1):
        text = source.code[number - 1]
        at = column if number == line else 0
        while match := _TOKEN.match(text, at):
            at = match.end()
            kind = match.lastgroup or "bad"
            span = Span(number, match.start(kind) + 1, at - match.start(kind))
            if kind == "bad":
                raise source.slip("unknown-character", span, char=match.group(kind))
            if match.group(kind) in {"|", "||"} and not found:
                raise source.slip("st-is-ladder", span)
            found.append(Token(kind, match.group(kind), span))
    last = found[-1].span if found else Span(line, column + 1, 0)
    found.append(Token("end", END, Span(last.line, last.column + last.width, 1)))
    return found

"""A program text with its lines: comments set aside, tabs widened, look-alike characters caught, carets drawn."""

from __future__ import annotations

from dataclasses import dataclass, field

from labkit.base import need
from labkit.logic.limits import LIMITS
from labkit.logic.nodes import Span
from labkit.logic.slips import SlipError, slip

__all__ = ["Comment", "Source", "open_source"]

# Characters that word processors and web pages put in place of the plain one; the reader must not guess silently.
_LOOK_ALIKES = {
    "–": "-", "—": "-", "−": "-", "‐": "-", "‑": "-", "─": "-", "━": "-",
    "│": "|", "┃": "|", "¦": "|", "∣": "|",
    "┼": "+", "├": "+", "┤": "+", "┬": "+", "┴": "+", "┌": "+", "┐": "+", "└": "+", "┘": "+",
    "’": "'", "‘": "'", "“": '"', "”": '"',
    "（": "(", "）": ")", "；": ";", "：": ":", "∕": "/", "⁄": "/", "＝": "=", "≔": ":=", "＃": "#",
    "\u00a0": "a blank", "\u2007": "a blank", "\u202f": "a blank", "\u3000": "a blank", "\u200b": "nothing",
    "\ufeff": "nothing",
}  # fmt: skip
_LOOK_ALIKE_NAMES = {"–": "an en dash", "—": "an em dash", "−": "a minus sign", "\u00a0": "a fixed blank"}


@dataclass(frozen=True, slots=True)
class Comment:
    """A comment's words and the lines it covers (from 1); `alone` if nothing else stands on those lines."""

    text: str
    span: Span
    last_line: int
    alone: bool


@dataclass(frozen=True, slots=True)
class Source:
    """`lines` are what was written (tabs widened); `code` the same lines with every comment turned into blanks."""

    text: str
    lines: tuple[str, ...]
    code: tuple[str, ...]
    comments: tuple[Comment, ...] = field(default=())

    def slip(self, code: str, span: Span, /, **words: object) -> SlipError:
        """The error for a beginner's slip at `span`, its line with a caret below."""
        line = self.lines[span.line - 1] if 0 < span.line <= len(self.lines) else ""
        return slip(code, line, span, **words)

    def within(self, limit: str, got: int, span: Span) -> None:
        """Refuse early, with a reason.

        Raises
        ------
        SlipError
            If `got` is above the bound named `limit`.
        """
        if got > LIMITS[limit].most:
            raise self.slip("too-big", span, limit=limit, got=got)


def open_source(text: str) -> Source:
    """The text as a :class:`Source`.

    Raises
    ------
    SlipError
        If the text is too long, a comment does not end, or a character only looks like the right one.
    """
    need(text, str, "the text of a program", "write it in quotes; to read a file: Path('hold.ld').read_text()")
    if len(text) > LIMITS["characters"].most:
        raise slip("too-big", text[:60].split("\n", 1)[0], Span(1, 1), limit="characters", got=len(text))
    lines = tuple(line.rstrip().expandtabs(4) for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n"))
    bare = Source(text, lines, lines)
    bare.within("lines", len(lines), Span(1, 1))
    for number, line in enumerate(lines, 1):
        bare.within("columns", len(line), Span(number, LIMITS["columns"].most))
    code, comments = _set_comments_aside(bare)
    source = Source(text, lines, tuple(code), tuple(comments))
    _check_characters(source)
    return source


def _set_comments_aside(bare: Source) -> tuple[list[str], list[Comment]]:
    """Turn ``(* *)`` and ``//`` comments into blanks, keeping every column where it was."""
    code: list[str] = []
    found: list[tuple[list[str], Span, int]] = []
    inside: tuple[list[str], Span] | None = None
    for number, line in enumerate(bare.lines, 1):
        kept, at = "", 0
        while at < len(line):
            if inside is not None:
                end = line.find("*)", at)
                stop = len(line) if end < 0 else end
                inside[0].append(line[at:stop].strip())
                kept += " " * (stop - at)
                at = stop
                if end >= 0:
                    found.append((*inside, number))
                    inside, kept, at = None, kept + "  ", end + 2
                continue
            opens, slashes = line.find("(*", at), line.find("//", at)
            if slashes >= 0 and (opens < 0 or slashes < opens):
                found.append(([line[slashes + 2 :].strip()], Span(number, slashes + 1, 2), number))
                kept += line[at:slashes]
                at = len(line)
            elif opens >= 0:
                kept += line[at:opens] + "  "
                inside, at = ([], Span(number, opens + 1, 2)), opens + 2
            else:
                kept += line[at:]
                at = len(line)
        if inside is not None and not line:
            inside[0].append("")
        code.append(kept.rstrip())
    if inside is not None:
        raise bare.slip("comment-open", inside[1])
    return code, [
        Comment("\n".join(words).strip(), span, last, all(not code[i].strip(" |") for i in range(span.line - 1, last)))
        for words, span, last in found
    ]


def _check_characters(source: Source) -> None:
    for number, line in enumerate(source.code, 1):
        if line.isascii():
            continue
        for column, char in enumerate(line, 1):
            if char in _LOOK_ALIKES:
                name = _LOOK_ALIKE_NAMES.get(char, f"the character {char!r} (U+{ord(char):04X})")
                raise source.slip("look-alike", Span(number, column), char=name, plain=_LOOK_ALIKES[char])
            if not char.isascii():
                raise source.slip("not-ascii", Span(number, column), char=char, number=f"U+{ord(char):04X}")

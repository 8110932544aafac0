"""Filling a lesson's text with a variant's words, and reading its spans of time.

``{start}`` in a lesson file stands for this student's word. Only plain names are known (no attribute, no
index, no format), so a lesson file cannot reach into objects.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from labkit.base import did_you_mean
from labkit.lessons.errors import LessonError

__all__ = ["fill", "holes", "relabel", "span_us"]

_HOLE = re.compile(r"\{([a-z][a-z0-9_.]*)\}")
_TERM = re.compile(r"(?P<sign>[+-]?)\s*(?P<count>\d+(?:\.\d+)?)?\s*(?P<unit>[a-z_]+)\s*")
_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")

_UNITS = {"us": 1, "ms": 1_000, "s": 1_000_000}


def holes(text: str) -> list[str]:
    """The names that `text` wants filled, in order."""
    return _HOLE.findall(text)


def fill(text: str, words: Mapping[str, str]) -> str:
    """`text` with every ``{name}`` replaced.

    Raises
    ------
    LessonError
        If a name is not among `words`.
    """

    def word(match: re.Match[str]) -> str:
        name = match[1]
        if name not in words:
            raise LessonError(
                f"the text wants {{{name}}}, which this lesson does not have",
                where=f"near {text[max(0, match.start() - 20) : match.end()]!r}",
                try_this=did_you_mean(name, words),
                code="lesson-unknown-word",
            )
        return words[name]

    return _HOLE.sub(word, text)


def span_us(text: str, symbols: Mapping[str, int]) -> int:
    """Whole microseconds of a span such as ``"2 scans + filter + 1 ms"``.

    `symbols` gives further units in microseconds; a unit may be written in the plural.

    Raises
    ------
    LessonError
        If the span cannot be read.
    """
    units = {**symbols, **_UNITS}
    total, at = 0.0, 0
    stripped = text.strip()
    while at < len(stripped):
        term = _TERM.match(stripped, at)
        if term is None or (at > 0 and not term["sign"]):
            raise LessonError(
                f"the span {text!r} cannot be read", try_this='write e.g. "2 scans + 5 ms"', code="lesson-span"
            )
        unit = term["unit"] if term["unit"] in units else term["unit"].removesuffix("s")
        if unit not in units:
            raise LessonError(
                f"the span {text!r} has an unknown unit {term['unit']}",
                try_this=did_you_mean(term["unit"], units),
                code="lesson-span",
            )
        total += (-1 if term["sign"] == "-" else 1) * float(term["count"] or 1) * units[unit]
        at = term.end()
    if not stripped:
        raise LessonError("a span of time is empty", try_this='write e.g. "100 ms"', code="lesson-span")
    return round(total)


def relabel(program: str, names: Mapping[str, str]) -> str:
    """A program's text with its tags renamed; in ladder text each name stays above its element.

    A line of names keeps its columns: every new name is centred where the old one stood. Lines that are
    comments or Structured Text are replaced word by word.

    Raises
    ------
    LessonError
        If a longer name would run into its neighbour.
    """
    return "\n".join(_relabel_line(line, names) for line in program.split("\n"))


def _relabel_line(line: str, names: Mapping[str, str]) -> str:
    if not line.lstrip().startswith("|"):
        return _WORD.sub(lambda m: names.get(m[0], m[0]), line)
    found = [(m.start(), m.end(), names[m[0]]) for m in _WORD.finditer(line) if m[0] in names]
    if not found:
        return line
    canvas = list(line)
    for start, end, _ in found:
        canvas[start:end] = " " * (end - start)
    for start, end, new in found:
        left = start + (end - start - len(new)) // 2
        right = left + len(new)
        around = canvas[max(0, left - 1) : right + 1]
        if left < 1 or right >= len(canvas) or any(c != " " for c in around[:-1]) or around[-1] not in " |":
            raise LessonError(
                f"the name {new} does not fit above its element",
                where=line.strip(),
                try_this="leave more room between the elements of this rung",
                code="lesson-relabel",
            )
        canvas[left:right] = new
    return "".join(canvas)

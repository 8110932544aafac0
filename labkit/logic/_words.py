"""Names and literals, the same in both languages."""

from __future__ import annotations

import re

from labkit.logic._source import Source
from labkit.logic.blocks import BLOCKS, INT_MAX, INT_MIN
from labkit.logic.limits import LIMITS
from labkit.logic.nodes import Preset, Span

__all__ = ["RESERVED", "Folder", "check_name", "count_literal", "time_literal"]

# Keywords of IEC 61131-3 that a tag may not be called (keyword annex; from memory), and the operators of this subset.
_KEYWORDS = """
    PROGRAM END_PROGRAM FUNCTION END_FUNCTION FUNCTION_BLOCK END_FUNCTION_BLOCK
    VAR VAR_INPUT VAR_OUTPUT VAR_IN_OUT VAR_EXTERNAL VAR_GLOBAL VAR_TEMP END_VAR RETAIN NON_RETAIN CONSTANT AT
    R_EDGE F_EDGE IF THEN ELSIF ELSE END_IF CASE OF END_CASE FOR TO BY DO END_FOR WHILE END_WHILE REPEAT UNTIL
    END_REPEAT EXIT RETURN CONTINUE BOOL BYTE WORD DWORD LWORD SINT INT DINT LINT USINT UINT UDINT ULINT REAL LREAL
    TIME DATE TOD DT STRING AND OR XOR NOT MOD TRUE FALSE
"""
RESERVED = frozenset(_KEYWORDS.split()) | frozenset(BLOCKS)

_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*\Z")
_TIME = re.compile(r"(?:T|TIME)#(.*)\Z", re.IGNORECASE)
_PARTS = re.compile(r"(?:(\d+(?:\.\d+)?)D_?)?(?:(\d+(?:\.\d+)?)H_?)?(?:(\d+(?:\.\d+)?)M_?)?"
                    r"(?:(\d+(?:\.\d+)?)S_?)?(?:(\d+(?:\.\d+)?)MS_?)?(?:(\d+)US)?\Z")  # fmt: skip
_UNIT_US = (86_400_000_000, 3_600_000_000, 60_000_000, 1_000_000, 1_000, 1)
_MOST_US = 2**53  # the whole numbers that survive a float; some 285 years
_LONELY_TIME = re.compile(r"\d+(\.\d+)?\s*(ms|us|s|m|h|d)\Z", re.IGNORECASE)


class Folder:
    """Names are the same in capitals and small letters; the first spelling is kept for all."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.first: dict[str, str] = {}

    def __call__(self, name: str, span: Span) -> str:
        """The first spelling of `name` seen in this program."""
        folded = self.first.setdefault(name.upper(), name)
        self.source.within("names", len(self.first), span)
        return folded


def check_name(source: Source, text: str, span: Span) -> None:
    """A plain tag name, or the slip that it shows.

    Raises
    ------
    SlipError
        If `text` is no name of IEC 61131-3.
    """
    if text.startswith("%"):
        raise source.slip("direct-address", span, name=text)
    if _NAME.match(text):
        if text.upper() in RESERVED:
            raise source.slip("name-reserved", span, name=text, better=f"{text}_1")
        source.within("name length", len(text), span)
        return
    if "-" in text:
        raise source.slip("name-hyphen", span, name=text, better=text.replace("-", "_"))
    if text[:1].isdigit():
        raise source.slip("name-digit", span, name=text, better=_swapped(text))
    raise source.slip("name-sign", span, name=text)


def time_slip(text: str) -> bool:
    """True for ``200ms`` and ``2 s``: a time without its T#."""
    return bool(_LONELY_TIME.match(text))


def _swapped(text: str) -> str:
    digits = re.match(r"\d+", text)
    head = digits.group() if digits else ""
    tail = re.sub(r"\W", "_", text[len(head) :]).strip("_")
    return f"{tail}{head}" if tail else f"S{head}"


def time_literal(source: Source, text: str, span: Span) -> Preset | None:
    """``T#1s500ms`` as microseconds; None if `text` does not look like a time.

    Raises
    ------
    SlipError
        If it looks like a time but is none.
    """
    marked = _TIME.match(text)
    if marked is None:
        if time_slip(text):
            raise source.slip("time-unmarked", span, text=text, better="T#" + text.replace(" ", ""))
        return None
    body = marked.group(1)
    parts = _PARTS.match(body.upper().replace("__", "!"))
    if not body or parts is None or body.endswith("_"):
        raise source.slip("time-wrong", span, text=text)
    given = [(i, value) for i, value in enumerate(parts.groups()) if value is not None]
    if any("." in value for _, value in given[:-1]):  # only the least unit may have a fraction
        raise source.slip("time-wrong", span, text=text)
    total = 0
    for i, value in given:
        whole, _, fraction = value.partition(".")
        total += int(whole) * _UNIT_US[i] + (int(fraction[:9].ljust(9, "0")) * _UNIT_US[i]) // 10**9
    if not given or total > _MOST_US:
        raise source.slip("time-wrong", span, text=text)
    return Preset(total, text, span)


def count_literal(source: Source, text: str, span: Span) -> Preset | None:
    """``5`` or ``INT#5`` as a count; None if `text` is no whole number.

    Raises
    ------
    SlipError
        If the number does not fit an INT.
    """
    body = text[4:] if text.upper().startswith("INT#") else text
    if not re.match(r"[+-]?\d+(_\d+)*\Z", body):
        return None
    if len(body) > LIMITS["name length"].most or not INT_MIN <= int(body.replace("_", "")) <= INT_MAX:
        raise source.slip("count-range", span, text=body[:20])
    return Preset(int(body.replace("_", "")), text, span)

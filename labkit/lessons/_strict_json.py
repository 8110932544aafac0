"""JSON from a stranger: bounded first, then strict.

Only ``json`` of the standard library reads the text, and only after its size and nesting are known.
Refused besides broken text: a key given twice (two readers would see two documents), NaN and infinities,
numbers of absurd length, lone surrogates and nesting.
"""

from __future__ import annotations

import json
import math
import re
from typing import Any, NoReturn

from labkit.lessons.errors import HandInError
from labkit.lessons.limits import LIMITS

__all__ = ["Json", "strict_json"]

Json = Any  # what json.loads can give: dict, list, str, int, float, bool, None

# One pass that always moves on: a whole string (or an unfinished one to the end of the text) or a bracket.
_TOKENS = re.compile(r'"(?:[^"\\]|\\.)*+(?:"|\\?\Z)|[\[{]|[\]}]', re.DOTALL)


def strict_json(data: bytes) -> Json:
    """The document in `data`.

    Raises
    ------
    HandInError
        With one sentence, and line and column where there is one.
    """
    if len(data) > LIMITS.file_bytes.value:
        raise HandInError(LIMITS.file_bytes.says(), code="handin-too-big")
    if not data.strip():
        raise HandInError("the file is empty", try_this="hand in again", code="handin-empty")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        raise HandInError(f"the file is not UTF-8 text (byte {exc.start})", code="handin-not-text") from None
    _check_depth(text)
    try:
        document = json.loads(
            text,
            object_pairs_hook=_no_twins,
            parse_int=_whole,
            parse_float=_fraction,
            parse_constant=_no_constant,
        )
    except json.JSONDecodeError as exc:
        torn = (exc.pos >= len(text.rstrip()) - 1 and exc.msg != "Extra data") or exc.msg.startswith("Unterminated")
        what = "the file is torn: it ends in the middle" if torn else "the file is not JSON"
        raise HandInError(
            what, where=f"line {exc.lineno}, column {exc.colno}", try_this="hand in again", code="handin-torn"
        ) from None
    except RecursionError:
        raise HandInError(LIMITS.depth.says(), code="handin-too-deep") from None
    _check_text(document)
    return document


def _check_depth(text: str) -> None:
    depth = 0
    for token in _TOKENS.finditer(text):
        sign = token.group()[0]
        depth += (sign in "[{") - (sign in "]}")
        if depth > LIMITS.depth.value:
            raise HandInError(LIMITS.depth.says(), code="handin-too-deep")


def _no_twins(pairs: list[tuple[str, Json]]) -> dict[str, Json]:
    seen: dict[str, Json] = {}
    for key, value in pairs:
        if key in seen:
            raise HandInError(f"the key {key[:40]!r} is given twice", code="handin-twice")
        seen[key] = value
    return seen


def _whole(digits: str) -> int:
    if len(digits.lstrip("-")) > LIMITS.digits.value:
        raise HandInError(LIMITS.digits.says(), code="handin-number")
    return int(digits)


def _fraction(digits: str) -> float:
    value = float(digits) if len(digits) <= 2 * LIMITS.digits.value else math.inf
    if not math.isfinite(value):
        raise HandInError("a number is beyond any reading", code="handin-number")
    return value


def _no_constant(name: str) -> NoReturn:
    raise HandInError(f"{name} is not a number that can be marked", code="handin-number")


def _check_text(value: Json) -> None:
    """No lone surrogate anywhere: it could not be written down again."""
    if isinstance(value, str):
        try:
            value.encode("utf-8")
        except UnicodeEncodeError:
            raise HandInError("a text holds half a character (a lone surrogate)", code="handin-not-text") from None
    elif isinstance(value, dict):
        for key, inner in value.items():
            _check_text(key)
            _check_text(inner)
    elif isinstance(value, list):
        for inner in value:
            _check_text(inner)

"""Things that a person hands over: of the right kind, or a sentence that says what is due."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from labkit.base.errors import GivenError

__all__ = ["as_many", "as_path", "as_text", "need", "shown"]

_LONGEST = 40


def need(value: object, kinds: type | tuple[type, ...], due: str, try_this: str) -> None:
    """See that `value` is of one of these kinds.

    Parameters
    ----------
    due
        What is due here, e.g. ``"a bench"``.
    try_this
        How to come by one.

    Raises
    ------
    GivenError
        If it is of another kind; still a TypeError.
    """
    if not isinstance(value, kinds):
        raise GivenError(f"{due} is due here; this is {shown(value)}", where=due, try_this=try_this, code="given")


def as_text(value: Any, due: str, try_this: str) -> str:
    """The value, which must be text.

    Raises
    ------
    GivenError
        If it is none.
    """
    need(value, str, due, try_this)
    return str(value)


def as_path(value: Any, due: str = "the name of a file") -> Path:
    """The value as a path.

    Raises
    ------
    GivenError
        If it is no name of a file, or an empty one.
    """
    need(value, (str, os.PathLike), due, "give it as text in quotes, such as 'board.toml'")
    if isinstance(value, str) and not value.strip():
        raise GivenError(
            f"{due} is due here; this is an empty text",
            where=due,
            try_this="give the name, such as 'board.toml'",
            code="given",
        )
    return Path(value)


def as_many(value: Any, due: str, try_this: str) -> tuple[Any, ...]:
    """The members of a list; a text alone counts as one name, None as none.

    Raises
    ------
    GivenError
        If it is no list.
    """
    if value is None:
        return ()
    if isinstance(value, str):
        return (value,)
    need(value, Iterable, due, try_this)
    return tuple(value)


def shown(value: object) -> str:
    """What a thing is, in words.

    Examples
    --------
    >>> shown("K1"), shown(None), shown(5)
    ("the text 'K1'", 'nothing (None)', 'the number 5')
    """
    if value is None:
        return "nothing (None)"
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, int | float):
        return f"the number {value}"
    if isinstance(value, str):
        text = value if len(value) <= _LONGEST else f"{value[:_LONGEST]}..."
        return f"the text {text!r}"
    if isinstance(value, list | tuple | set | frozenset | dict):
        return f"a {type(value).__name__} of {len(value)}"
    if isinstance(value, Path):
        return f"the path {value}"
    return f"a {type(value).__name__}"

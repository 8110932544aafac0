"""Guessing the slip behind an unknown name."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

__all__ = ["did_you_mean", "nearest"]

_SOME = 6


def did_you_mean(name: object, known: Iterable[str], *, most: int = 8) -> str:
    """A sentence that helps after an unknown `name`: the nearest known one, or the list if it is short
    (of those with the same first letter, if it is long).

    Examples
    --------
    >>> did_you_mean("K1:15", ["K1:13", "K1:14", "X1:1"])
    'Did you mean K1:14?'
    """
    names, name = list(known), str(name)
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if not near:
        folded = {n.lower(): n for n in names}
        near = [folded[name.lower()]] if name.lower() in folded else []
    if near:
        return f"Did you mean {near[0]}?"
    if len(names) > most:
        first = name[:1].lower() if name[:1].isalpha() else ""
        names = [n for n in names if first and n[:1].lower() == first]
    if names and len(names) <= most:
        return "Known here: " + ", ".join(names) + "."
    return ""


def nearest(name: object, known: Iterable[str]) -> str:
    """As :func:`did_you_mean`, but never silent while anything is known: of a long list the first few.

    Examples
    --------
    >>> nearest("speed", [f"wire {n}" for n in range(1, 60)])
    'Some of the 59 known here: wire 1, wire 2, wire 3, wire 4, wire 5, wire 6.'
    """
    names = list(known)
    some = f"Some of the {len(names)} known here: {', '.join(names[:_SOME])}." if names else ""
    return did_you_mean(name, names) or some

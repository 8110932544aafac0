"""Guessing the slip behind an unknown name."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

__all__ = ["did_you_mean"]


def did_you_mean(name: str, known: Iterable[str], *, most: int = 8) -> str:
    """A sentence that helps after an unknown `name`: the nearest known one, or the list if it is short
    (of those with the same first letter, if it is long).

    Examples
    --------
    >>> did_you_mean("K1:15", ["K1:13", "K1:14", "X1:1"])
    'Did you mean K1:14?'
    """
    names = list(known)
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

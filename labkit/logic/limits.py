"""Bounds on what a program text may be, each with the sentence the student sees.

A hand-in is a stranger's text. Every reader asks :func:`within` before it does work that grows with the text, so
that a hostile one is refused early, with a reason, and costs next to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["LIMITS", "Limit"]


@dataclass(frozen=True, slots=True)
class Limit:
    """One bound: the largest value still accepted, and what is said above it.

    Parameters
    ----------
    most
        Largest value still accepted.
    what
        Sentence with ``{most}`` and ``{got}``.
    try_this
        The cure.
    """

    most: int
    what: str
    try_this: str


# A whole course on one board needs some 50 rungs; each bound leaves room for ten times a large hand-in.
LIMITS: dict[str, Limit] = {
    "characters": Limit(
        200_000,
        "this program text is too long: {got} characters, at most {most} are read",
        "hand in only the program, without anything pasted around it",
    ),
    "lines": Limit(
        5_000, "this program text has too many lines: {got}, at most {most} are read", "split it into several programs"
    ),
    "columns": Limit(
        500,
        "this line is too long: {got} characters, at most {most} are read",
        "break the rung in two with a memory bit in between",
    ),
    "rungs": Limit(600, "too many rungs: {got}, at most {most} are read", "split it into several programs"),
    "elements": Limit(
        5_000, "too many contacts, coils and blocks: {got}, at most {most} are read", "split it into several programs"
    ),
    "rung elements": Limit(
        400,
        "this rung has too many elements: {got}, at most {most} fit in one rung",
        "break the rung in two with a memory bit in between",
    ),
    "nesting": Limit(
        30,
        "branches or parentheses are nested too deep: {got} levels, at most {most} are read",
        "give the inner part a rung and a memory bit of its own",
    ),
    "names": Limit(1_000, "too many different names: {got}, at most {most} are read", "use fewer memory bits"),
    "name length": Limit(
        32, "this name is too long: {got} characters, at most {most} are read", "choose a shorter tag name"
    ),
}

"""Declarations and comments, printed the same way in both languages."""

from __future__ import annotations

from labkit.logic.nodes import Variable

__all__ = ["comment_lines", "header_lines", "time_text"]

_UNITS = (("d", 86_400_000_000), ("h", 3_600_000_000), ("m", 60_000_000), ("s", 1_000_000), ("ms", 1_000), ("us", 1))


def time_text(us: int) -> str:
    """Microseconds as a TIME literal.

    Examples
    --------
    >>> time_text(1_500_000)
    'T#1s500ms'
    """
    text = ""
    for unit, size in _UNITS:
        count, us = divmod(us, size)
        text += f"{count}{unit}" if count else ""
    return f"T#{text or '0s'}"


def header_lines(declarations: tuple[Variable, ...]) -> list[str]:
    """The VAR sections, one for each run of declarations of one kind."""
    lines: list[str] = []
    section = ""
    for v in declarations:
        opener = "VAR" + (" RETAIN" if v.retain else "") + (" CONSTANT" if v.constant else "")
        if opener != section:
            lines += (["END_VAR"] if section else []) + [opener]
            section = opener
        lines.append(f"  {v.name} : {v.type}{_initial(v)};")
    return [*lines, "END_VAR"] if lines else []


def _initial(v: Variable) -> str:
    if not v.initial:
        return ""
    text = {"BOOL": "TRUE", "TIME": time_text(v.initial)}.get(v.type, str(v.initial))
    return f" := {text}"


def comment_lines(title: str, comment: str) -> list[str]:
    """A rung's title and comment as one ``(* *)`` comment; nothing if there is none."""
    if not title:
        return []
    words = [title, *comment.split("\n")] if comment else [title]
    words = [w.replace("*)", "* )") for w in words]  # a // comment may hold what would end this one
    return [("(* " if i == 0 else "   " if w else "") + w + (" *)" if i == len(words) - 1 else "")
            for i, w in enumerate(words)]  # fmt: skip

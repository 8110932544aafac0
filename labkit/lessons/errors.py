"""What can be wrong with a lesson file, an answer or a hand-in."""

from __future__ import annotations

from labkit.base import LabkitError

__all__ = ["AnswerError", "HandInError", "LessonError", "MarkBookError", "one_line"]


class LessonError(LabkitError):
    """A lesson file that cannot be used; `where` points into the document."""

    default_code = "lesson"


class AnswerError(LabkitError):
    """An answer whose form cannot be read (its correctness is not judged here)."""

    default_code = "answer"


class HandInError(LabkitError):
    """A hand-in file that cannot be read."""

    default_code = "handin"


class MarkBookError(LabkitError):
    """A mark book that cannot be opened or written."""

    default_code = "markbook"


def one_line(error: LabkitError, limit: int = 300) -> str:
    """The three parts of an error on one line, without control characters, cut at `limit` characters."""
    parts = [error.what]
    if error.where:
        parts.append(f"({error.where})")
    text = " ".join(parts) + (f"; {error.try_this}" if error.try_this else "")
    flat = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return flat if len(flat) <= limit else flat[: limit - 1] + "…"

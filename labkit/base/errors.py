"""One base for every error that a person can cause."""

from __future__ import annotations

__all__ = ["GivenError", "LabkitError", "UnitError"]


class LabkitError(Exception):
    """What is wrong, where, and what to try.

    Parameters
    ----------
    what
        One sentence that says what is wrong, in words of the trade.
    where
        The place: a line and column, a terminal, a path in a document. May be empty.
    try_this
        One sentence that says what to try. May be empty.
    code
        A short stable name such as ``"wiring-unknown-terminal"``, for tests and for whoever translates messages.
    """

    default_code = "labkit"

    def __init__(self, what: str, *, where: str = "", try_this: str = "", code: str = "") -> None:
        self.what = what
        self.where = where
        self.try_this = try_this
        self.code = code or self.default_code
        super().__init__(what)

    def __str__(self) -> str:
        lines = [self.what]
        if self.where:
            lines.append(f"  where: {self.where}")
        if self.try_this:
            lines.append(f"  try:   {self.try_this}")
        return "\n".join(lines)


class UnitError(LabkitError, TypeError):
    """A number where a length of time is due, or no number where one is: told in a sentence, and still a TypeError."""

    default_code = "unit"


class GivenError(LabkitError, TypeError):
    """Something of the wrong kind was handed over: told in a sentence, and still a TypeError."""

    default_code = "given"

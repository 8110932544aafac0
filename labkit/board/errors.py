"""What can be wrong with a board, its parts or its wiring."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from labkit.base import LabkitError

__all__ = ["BoardError", "BoardFileError", "Slip", "WiringError"]


class BoardError(LabkitError):
    """Something asked of a board that it does not have."""

    default_code = "board"


class WiringError(BoardError):
    """A wire that cannot be landed, lifted or numbered as asked."""

    default_code = "wiring"


@dataclass(frozen=True, slots=True)
class Slip:
    """One thing wrong in a document.

    Parameters
    ----------
    path
        Where in the document, e.g. ``wires[14].b``.
    what
        What is wrong there.
    try_this
        The guess at the slip behind it; may be empty.
    """

    path: str
    what: str
    try_this: str = ""

    def __str__(self) -> str:
        return f"{self.path}: {self.what}{' ' + self.try_this if self.try_this else ''}"


class BoardFileError(BoardError):
    """A board, parts or wiring document with slips in it: all of them, not only the first.

    Parameters
    ----------
    slips
        What is wrong, in the order of the document.
    name
        The document's name, for people.
    """

    default_code = "board-file"

    def __init__(self, slips: Iterable[Slip], *, name: str = "", code: str = "") -> None:
        self.slips = tuple(slips)
        count = "one thing" if len(self.slips) == 1 else f"{len(self.slips)} things"
        what = f"{name or 'the document'} has {count} wrong:\n" + "\n".join(f"  {s}" for s in self.slips)
        super().__init__(what, where=name, code=code)

    def __str__(self) -> str:
        return self.what

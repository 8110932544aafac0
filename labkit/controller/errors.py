"""What the room raises, and what it notes without refusing."""

from __future__ import annotations

from dataclasses import dataclass

from labkit.base import LabkitError

__all__ = ["ControllerError", "LoadError", "Note"]


class ControllerError(LabkitError):
    """Something that this controller cannot do now, or a point that it does not have."""

    default_code = "controller"


class LoadError(ControllerError):
    """A program that this controller refuses."""

    default_code = "load"


@dataclass(frozen=True, slots=True)
class Note:
    """Something about a loaded program that the family accepts but speaks of."""

    what: str
    where: str
    try_this: str
    code: str

    def __str__(self) -> str:
        return f"{self.what} ({self.where}): {self.try_this}"

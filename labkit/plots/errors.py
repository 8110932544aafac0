"""What can go wrong when a drawing is asked for."""

from __future__ import annotations

from collections.abc import Iterable

from labkit.base import LabkitError, nearest

__all__ = ["DrawingError"]


class DrawingError(LabkitError):
    """A drawing was asked for that cannot be made.

    Parameters
    ----------
    what, where, try_this, code
        As for :class:`~labkit.base.LabkitError`.
    name, known
        The unknown name and the known ones: the cure then guesses the slip.
    """

    default_code = "drawing"

    def __init__(
        self,
        what: str,
        *,
        where: str = "",
        try_this: str = "",
        code: str = "",
        name: str = "",
        known: Iterable[str] = (),
    ) -> None:
        super().__init__(what, where=where, try_this=try_this or (nearest(name, known) if name else ""), code=code)

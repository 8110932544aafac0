"""What can be wrong with a fault or a search."""

from __future__ import annotations

from labkit.base import LabkitError

__all__ = ["FaultError"]


class FaultError(LabkitError):
    """A fault that cannot be put in, or a search that makes no sense."""

    default_code = "fault"

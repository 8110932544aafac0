"""The room's own error."""

from __future__ import annotations

from labkit.base import LabkitError

__all__ = ["CircuitError"]


class CircuitError(LabkitError):
    """A network that cannot be drawn up, or that has no single operating point; names the parts."""

    default_code = "circuit"

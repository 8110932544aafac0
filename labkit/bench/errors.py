"""What goes wrong at a bench, in the three parts of every labkit error."""

from __future__ import annotations

from labkit.base import LabkitError

__all__ = ["BenchError"]


class BenchError(LabkitError):
    """A wrong action at the bench, or a bench that cannot go on."""

    default_code = "bench"

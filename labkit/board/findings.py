"""What a check of a wiring finds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Finding"]

Severity = Literal["danger", "fault", "advice"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong, or unwise, about a wiring.

    Parameters
    ----------
    code
        A short stable name, e.g. ``"input-common-missing"``.
    terminal
        The terminal it is at; a wire's end for a wire.
    what
        What is wrong and why it matters, in one or two sentences.
    try_this
        What to do.
    severity
        ``"danger"`` (can hurt somebody or something, or stop the stop), ``"fault"`` (will not work) or
        ``"advice"``.
    """

    code: str
    terminal: str
    what: str
    try_this: str
    severity: Severity

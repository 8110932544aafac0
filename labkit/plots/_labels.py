"""Labels above a time line: each in a lane where it touches no other and no other's leader crosses it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labkit.plots._measure import shorten, text_width

__all__ = ["Flag", "pack"]


@dataclass(frozen=True, slots=True)
class Flag:
    """A label in lane 0 (nearest the rows), 1, ...; lane -1: no room, only its tick is drawn."""

    x: float
    text: str
    left: float
    width: float
    lane: int


def pack(
    labels: Sequence[tuple[float, str]],
    *,
    left: float,
    right: float,
    size: float,
    bold: bool = False,
    pad: float = 4.0,
    lanes: int = 6,
    widest: float = 240.0,
) -> list[Flag]:
    """Place labels given as (x, text), in order of x.

    From right to left each goes one lane above whatever its text would cover, so a leader, which drops
    at the label's left edge, never runs through a text.
    """
    flags: list[Flag] = []
    for x, text in sorted(labels, key=lambda item: -item[0]):
        text = shorten(text, min(widest, right - left - 2 * pad), size, bold=bold)
        width = text_width(text, size, bold=bold) + 2 * pad
        start = max(left, min(x, right - width))
        below = [f.lane for f in flags if f.lane >= 0 and _meet(start, width, f)]
        lane = max(below, default=-1) + 1
        flags.append(Flag(x, text, start, width, lane if lane < lanes else -1))
    return flags[::-1]


def _meet(start: float, width: float, other: Flag) -> bool:
    a, b = min(other.x, other.left), max(other.x, other.left + other.width)
    return start < b + 3 and a < start + width + 3

"""What a photo-eye and an inductive sensor see; whether they can say so depends on their supply."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["METAL_FACTOR", "PhotoEye", "Proximity"]

METAL_FACTOR: dict[str, float] = {
    # Typical middles of published ranges for inductive sensors; mild steel is the reference by definition
    # (IEC 60947-5-2). tests/truth/metal_factors.csv has the ranges.
    "steel": 1.0,
    "stainless": 0.75,
    "brass": 0.45,
    "aluminium": 0.40,
    "copper": 0.30,
}
"""Sensing distance on a metal as a part of the distance on mild steel."""


@dataclass(slots=True)
class PhotoEye:
    """A light beam and what it does to the output.

    Parameters
    ----------
    part
        The reference designation.
    on_when_blocked
        True for a dark-on sensor: its output is on while the beam is blocked.
    """

    part: str
    on_when_blocked: bool = True
    blocked: bool = False

    def wants_on(self) -> bool:
        """The output that the sensor would give if its supply is good."""
        return self.blocked == self.on_when_blocked


@dataclass(slots=True)
class Proximity:
    """An inductive sensor with a target at some distance.

    Parameters
    ----------
    part
        The reference designation.
    range_mm
        Operating distance on mild steel.
    hysteresis
        The target must go this part further away than the operating distance to be lost.
    on_when_near
        False for a sensor whose output is on while nothing is near.
    """

    part: str
    range_mm: float
    hysteresis: float = 0.10
    on_when_near: bool = True
    distance_mm: float | None = None
    factor: float = 1.0
    seen: bool = False

    def place(self, distance_mm: float | None, factor: float = 1.0) -> None:
        """Put a target there, or take it away (None)."""
        self.distance_mm, self.factor = distance_mm, factor
        reach = self.range_mm * factor
        if distance_mm is None or distance_mm > reach * (1 + self.hysteresis):
            self.seen = False
        elif distance_mm <= reach:
            self.seen = True
        # between the two distances it stays as it is

    def wants_on(self) -> bool:
        """The output that the sensor would give if its supply is good."""
        return self.seen == self.on_when_near

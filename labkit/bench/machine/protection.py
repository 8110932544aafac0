"""A fuse or breaker: the let-through I2t decides how long an overcurrent may last."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Breaker"]


@dataclass(slots=True)
class Breaker:
    """Counts ampere-square-seconds while the current is above the rating, and trips when they are used up.

    Below the rating the count starts again from nothing: the element is taken to cool at once. That is kinder
    than a real fuse under repeated short overloads.

    Parameters
    ----------
    part
        The reference designation, for example ``F4``.
    rated_a
        Amperes that it carries for ever.
    i2t
        Ampere-square-seconds that it lets through.
    """

    part: str
    rated_a: float
    i2t: float
    used: float = 0.0
    amps: float = 0.0
    since_us: int = 0

    def carry(self, amps: float, t_us: int) -> int | None:
        """Tell it its current; the answer is when it will trip, or None if it will not."""
        if self.amps > self.rated_a:
            self.used += self.amps**2 * (t_us - self.since_us) * 1e-6
        self.amps, self.since_us = abs(amps), t_us
        if self.amps <= self.rated_a:
            self.used = 0.0
            return None
        left = max(0.0, self.i2t - self.used)
        return t_us + max(1, round(left / self.amps**2 * 1e6))

    def reset(self, t_us: int) -> None:
        """Switched on again, or replaced: nothing is used up."""
        self.used, self.amps, self.since_us = 0.0, 0.0, t_us

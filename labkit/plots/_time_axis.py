"""The time across a sheet: which unit, which ticks, where a moment stands."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Window", "say_time"]


@dataclass(frozen=True, slots=True)
class Window:
    """Moments `t0` to `t1` (microseconds) between the sheet positions `left` and `right`.

    `zero` is the moment that the axis calls 0.
    """

    t0: int
    t1: int
    left: float
    right: float
    zero: int = 0

    @property
    def px_per_us(self) -> float:
        """Sheet units per microsecond."""
        return (self.right - self.left) / (self.t1 - self.t0)

    @property
    def unit(self) -> tuple[str, int]:
        """The axis unit and its microseconds: seconds from 5 s on, microseconds below 100."""
        reach = max(self.t1 - self.t0, 1)
        return ("s", 1_000_000) if reach >= 5_000_000 else ("ms", 1_000) if reach >= 100 else ("us", 1)

    def x(self, t: float) -> float:
        """The sheet position of a moment, also outside the window."""
        return self.left + (t - self.t0) * self.px_per_us

    def clip(self, t: float) -> float:
        """The sheet position of a moment, no further than the edges."""
        return min(max(self.x(t), self.left), self.right)

    def ticks(self, apart: float = 70.0) -> list[tuple[float, str]]:
        """Positions and texts of ticks at least about `apart` sheet units from each other."""
        _name, size = self.unit
        step = _nice(apart / self.px_per_us)
        first = math.ceil((self.t0 - self.zero) / step)
        last = math.floor((self.t1 - self.zero) / step + 1e-9)
        places = max(0, math.ceil(-math.log10(step / size) - 1e-9)) if step < size else 0
        if step * 10**places % size and step < size:
            places += 1
        return [(self.x(self.zero + k * step), f"{k * step / size:.{places}f}") for k in range(first, last + 1)]


def _nice(least: float) -> int:
    """The smallest 1, 2 or 5 times a power of ten that is at least `least` microseconds."""
    power = 10 ** max(0, math.floor(math.log10(max(least, 1))))
    return int(next(power * m for m in (1, 2, 5, 10) if power * m >= least - 1e-9))


def say_time(us: float) -> str:
    """A duration in the largest unit that keeps three figures: ``250 us``, ``9.7 ms``, ``1.25 s``."""
    for unit, size in (("s", 1_000_000), ("ms", 1_000)):
        if abs(us) >= size:
            return f"{us / size:.4g} {unit}"
    return f"{us:.4g} us"

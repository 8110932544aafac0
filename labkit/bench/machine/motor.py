"""A motor as a shaft that runs up and coasts down, each in a straight line."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Motor"]


@dataclass(slots=True)
class Motor:
    """Speed between 0 (stands) and 1 (full).

    Straight lines are not how a real motor starts; they are enough for "it turns", "it is at speed" and
    "it still coasts". Torque and current are not modelled here.

    Parameters
    ----------
    part
        The reference designation, for example ``M1``.
    run_up_us, coast_us
        Microseconds from stand to full speed, and from full speed to stand.
    """

    part: str
    run_up_us: int = 300_000
    coast_us: int = 600_000
    fed: bool = False
    since_us: int = 0
    since_speed: float = 0.0

    def feed(self, fed: bool, t_us: int) -> None:
        """Connect or cut the supply."""
        self.since_speed, self.since_us, self.fed = self.speed(t_us), t_us, fed

    def speed(self, t_us: int) -> float:
        """Speed at a time not before the last :meth:`feed`."""
        passed = t_us - self.since_us
        if self.fed:
            return min(1.0, self.since_speed + passed / self.run_up_us)
        return max(0.0, self.since_speed - passed / self.coast_us)

    def settled_us(self) -> int:
        """When the speed will have stopped changing."""
        if self.fed:
            return self.since_us + round((1.0 - self.since_speed) * self.run_up_us)
        return self.since_us + round(self.since_speed * self.coast_us)

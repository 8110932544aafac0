"""A contactor's or relay's armature: pick-up and drop-out volts, operate and release times, weld, jam."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

__all__ = ["Contactor", "Zone"]


class Zone(IntEnum):
    """What the coil's volts are good for."""

    DROP = -1
    """Below drop-out: an armature that is in lets go."""
    HOLD = 0
    """Between drop-out and pick-up: holds an armature that is in, cannot pull one in."""
    PICK = 1
    """At or above pick-up: pulls the armature in."""


@dataclass(slots=True)
class Contactor:
    """One armature. Main poles and auxiliaries move with it.

    The armature starts to move when the coil's volts cross a limit and has arrived `operate_us` or
    `release_us` later. While it pulls in, the coil must stay at pick-up: if the volts sag the armature falls
    back. While it lets go, contacts are still closed; if pick-up volts return before `release_us` has
    passed, it stays in, and volts that would only hold do not stop it.

    Parameters
    ----------
    part
        The reference designation, for example ``K1``.
    pick_up_v, drop_out_v
        Coil volts, either polarity.
    operate_us, release_us
        Microseconds from the coil's volts to the contacts. The release time depends on the suppressor that is
        fitted across the coil.
    """

    part: str
    pick_up_v: float
    drop_out_v: float
    operate_us: int
    release_us: int
    closed: bool = False
    welded: bool = False
    jammed: bool = False
    due_us: int | None = None
    zone: Zone = Zone.DROP

    def zone_of(self, volts: float) -> Zone:
        """The zone that these coil volts fall in."""
        volts = abs(volts)
        if volts >= self.pick_up_v:
            return Zone.PICK
        return Zone.DROP if volts < self.drop_out_v else Zone.HOLD

    def feel(self, zone: Zone, t_us: int) -> int | None:
        """Tell the armature its coil's zone; the answer is when it will arrive, or None if it stays."""
        self.zone = zone
        if self.closed:
            going = (zone is Zone.DROP or (self.due_us is not None and zone is Zone.HOLD)) and not self.welded
            time_us = self.release_us
        else:
            going = zone is Zone.PICK and not self.jammed
            time_us = self.operate_us
        if not going:
            self.due_us = None
        elif self.due_us is None:
            self.due_us = t_us + time_us
        return self.due_us

    def arrive(self) -> None:
        """The armature is where it was going."""
        self.closed = not self.closed
        self.due_us = None

    def refit(self, pick_up_v: float, drop_out_v: float, operate_us: int, release_us: int) -> None:
        """Take the limits of a coil that has been rewired; where the armature is does not change."""
        self.pick_up_v, self.drop_out_v = pick_up_v, drop_out_v
        self.operate_us, self.release_us = operate_us, release_us

"""What a metre of wire is worth: resistance by IEC 60228, and the breaker it may stand behind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from labkit.board.errors import WiringError

__all__ = ["ALPHA_20", "Conductor", "Conductors"]

ALPHA_20 = 0.00393
"""Temperature coefficient of copper at 20 C, per kelvin (IEC 60028)."""


@dataclass(frozen=True, slots=True)
class Conductor:
    """One size of one class.

    `ohm_per_km` is the largest that IEC 60228 allows at 20 C, so that every drop is the worst allowed.
    """

    conductor_class: int
    mm2: float
    ohm_per_km: float
    max_protection_a: float
    resistance_source: str
    protection_source: str


@dataclass(frozen=True, slots=True)
class Conductors:
    """The table of conductors, by class and mm2."""

    rows: Mapping[tuple[int, float], Conductor]

    def sizes(self, conductor_class: int) -> tuple[float, ...]:
        """The cross-sections of a class, in mm2, rising."""
        return tuple(sorted(mm2 for cls, mm2 in self.rows if cls == conductor_class))

    def find(self, mm2: float, conductor_class: int = 5) -> Conductor:
        """One row.

        Raises
        ------
        WiringError
            If there is no such size in the class.
        """
        try:
            return self.rows[conductor_class, mm2]
        except KeyError:
            sizes = self.sizes(conductor_class)
            near = min(sizes, key=lambda s: abs(s - mm2)) if sizes else None
            raise WiringError(
                f"no class {conductor_class} conductor of {mm2:g} mm2",
                where=f"{mm2:g} mm2",
                try_this=f"{near:g} mm2 is the nearest size" if near else "classes are 1, 2, 5 and 6",
                code="wiring-no-such-conductor",
            ) from None

    def ohm(self, m: float, mm2: float, conductor_class: int = 5, *, at_c: float = 20.0) -> float:
        """The resistance of `m` metres, in ohm, at a conductor temperature in degrees Celsius."""
        per_km = self.find(mm2, conductor_class).ohm_per_km
        return m * per_km / 1000 * (1 + ALPHA_20 * (at_c - 20.0))

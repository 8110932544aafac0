"""Durations for people, integer microseconds for the machine."""

from __future__ import annotations

from dataclasses import dataclass

from labkit.base.errors import UnitError

__all__ = ["Duration", "as_us", "ms", "s", "us"]


@dataclass(frozen=True, slots=True, order=True)
class Duration:
    """A length of time, kept as whole microseconds.

    Examples
    --------
    >>> ms(45)
    45 ms
    >>> s(1) + ms(500)
    1500 ms
    """

    us: int

    def __add__(self, other: Duration) -> Duration:
        return Duration(self.us + other.us) if isinstance(other, Duration) else NotImplemented

    def __sub__(self, other: Duration) -> Duration:
        return Duration(self.us - other.us) if isinstance(other, Duration) else NotImplemented

    def __mul__(self, factor: float) -> Duration:
        return Duration(round(self.us * factor)) if isinstance(factor, int | float) else NotImplemented

    __rmul__ = __mul__

    def __repr__(self) -> str:
        for unit, size in (("s", 1_000_000), ("ms", 1_000)):
            if self.us and self.us % size == 0:
                return f"{self.us // size} {unit}"
        return f"{self.us} us"


def us(value: float) -> Duration:
    """A duration of `value` microseconds, rounded to a whole one."""
    return Duration(_whole("us", value, 1))


def ms(value: float) -> Duration:
    """A duration of `value` milliseconds."""
    return Duration(_whole("ms", value, 1_000))


def s(value: float) -> Duration:
    """A duration of `value` seconds."""
    return Duration(_whole("s", value, 1_000_000))


def _whole(unit: str, value: float, size: int) -> int:
    try:
        return round(value * size + 0.0)
    except (TypeError, ValueError, OverflowError):
        raise UnitError(f"{unit}() takes a number, not {value!r}", try_this=f"write {unit}(45)") from None


def as_us(value: object, what: str = "this duration") -> int:
    """Whole microseconds of a :class:`Duration`.

    Raises
    ------
    UnitError
        If `value` is a bare number: the message shows both ways it could be meant.
    """
    if isinstance(value, Duration):
        return value.us
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise UnitError(
            f"{what} needs a unit", try_this=f"write ms({value:g}) or s({value:g}), not the bare number {value:g}"
        )
    raise UnitError(f"{what} must be a duration, not {value!r}", try_this="write for example ms(45) or s(2)")

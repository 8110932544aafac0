"""The four things a network is made of."""

from __future__ import annotations

import math
from dataclasses import dataclass

from labkit.circuit.errors import CircuitError

__all__ = ["Curve", "Element", "Resistor", "Source", "Switch", "diode"]


@dataclass(frozen=True, slots=True)
class Resistor:
    """A resistance between two nodes: a wire, a coil, a lamp, a meter.

    Current is counted from `a` through it to `b`.

    Parameters
    ----------
    ohm
        Above 0, in ohm.
    """

    name: str
    a: str
    b: str
    ohm: float


@dataclass(frozen=True, slots=True)
class Switch:
    """A contact: `ohm` when closed, nothing at all when open.

    Everything that varies on a bench is a switch, so that a position of the bench is a set of closed
    switches.

    Parameters
    ----------
    ohm
        Contact resistance when closed, above 0, in ohm.
    """

    name: str
    a: str
    b: str
    ohm: float


@dataclass(frozen=True, slots=True)
class Curve:
    """A part whose current rises with its voltage along straight pieces.

    Parameters
    ----------
    points
        Corners ``(volts, amps)``, volts from `a` to `b`, amps from `a` through it to `b`. Neither may ever
        fall, and each corner must differ from the one before it. A flat piece is an ideal current limit, a
        vertical one an ideal voltage. The first and the last piece go on for ever, so two points make a
        straight line.
    """

    name: str
    a: str
    b: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Source:
    """A supply: constant voltage up to `limit_a`, then constant current.

    It never takes current in. Where something else holds its terminals above `volts` it gives 0 A, as the
    output stage of a bench supply does (it can push, it cannot pull). While limiting it gives `limit_a` at
    whatever voltage the load leaves, down to 0 V and, if something else drags the terminals below 0 V, there
    as well. There is no fold-back to a smaller current: a network with such a supply can have two operating
    points, and then no answer would be the right one.

    Parameters
    ----------
    volts
        Open-circuit volts from `minus` to `plus`.
    ohm
        Inner resistance before the limit, 0 or more, in ohm.
    limit_a
        Where constant current takes over, above 0, in ampere; `math.inf` for a supply without a limit.
    """

    name: str
    plus: str
    minus: str
    volts: float
    ohm: float
    limit_a: float


Element = Resistor | Switch | Curve | Source


def diode(
    name: str,
    anode: str,
    cathode: str,
    *,
    drop_v: float = 0.7,
    on_ohm: float = 0.1,
    off_per_ohm: float = 1e-9,
) -> Curve:
    """A diode of two straight pieces.

    Parameters
    ----------
    drop_v
        Forward volts at which it starts to conduct.
    on_ohm
        Resistance of the conducting piece; 0 for an ideal one.
    off_per_ohm
        Leakage of the blocking piece; 0 for none.

    Raises
    ------
    CircuitError
        If a figure is negative or not finite.
    """
    for what, value in (("drop_v", drop_v), ("on_ohm", on_ohm), ("off_per_ohm", off_per_ohm)):
        if not (math.isfinite(value) and value >= 0):
            raise CircuitError(
                f"diode {name}: {what} must be 0 or more, not {value:g}",
                where=name,
                try_this="give a figure of 0 or more",
                code="circuit-value",
            )
    knee_a = drop_v * off_per_ohm
    return Curve(
        name,
        anode,
        cathode,
        ((drop_v - 1.0, knee_a - off_per_ohm), (drop_v, knee_a), (drop_v + on_ohm, knee_a + 1.0)),
    )


def terminals(element: Element) -> tuple[str, str]:
    """The two nodes of an element, the one its current is counted from first."""
    if isinstance(element, Source):
        return element.plus, element.minus
    return element.a, element.b


def corners(element: Curve | Source) -> tuple[tuple[float, float], ...]:
    """The current-voltage corners of a curve or a source, current counted from the first node through the
    part.

    A source counts as a part that takes negative current; its pieces are 0 limiting, 1 constant voltage, 2
    pushed back. A source without a limit has the pieces 0 constant voltage, 1 pushed back.
    """
    if isinstance(element, Curve):
        return element.points
    volts, ohm, limit = element.volts, element.ohm, element.limit_a
    if math.isinf(limit):
        return ((volts - ohm, -1.0), (volts, 0.0), (volts + 1.0, 0.0))
    knee = volts - ohm * limit
    return ((knee - 1.0, -limit), (knee, -limit), (volts, 0.0), (volts + 1.0, 0.0))

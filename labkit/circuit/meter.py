"""What a hand-held multimeter would read between two nodes of a network.

The meter is part of the network: its volts input is a resistance, its ohms and diode functions push a
current. Readings are rounded to the digits the meter has; ``.exact`` keeps the figure before rounding.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from labkit.circuit.elements import Resistor, Source
from labkit.circuit.network import Circuit
from labkit.circuit.solution import Solution
from labkit.circuit.solver import Solver

__all__ = ["Reading", "amps", "continuity", "diode_test", "ohms", "volts"]

# A usual hand-held meter of 4000 counts; figures are common practice, no source. Ohms: (full scale ohm,
# test current A), each range reaching 0.4 V at full scale, so that a silicon diode in the network does not
# open.
OHM_RANGES = ((400.0, 1e-3), (4e3, 1e-4), (4e4, 1e-5), (4e5, 1e-6), (4e6, 1e-7), (4e7, 1e-8))
VOLT_RANGES = (0.4, 4.0, 40.0, 400.0, 1000.0)
AMP_RANGES = (0.4, 4.0, 40.0)
COUNTS = 4000
OHM_COMPLIANCE_V = 1.0
DIODE_A, DIODE_COMPLIANCE_V = 1e-3, 2.8
BEEP_OHM = 50.0
# above this the network itself drives the probes and an ohms reading means nothing
LIVE_V = 0.02
# While ohms are measured the insulation is taken as beyond the meter's reach: the circuit's own strays
# would put some ten megohm across a large board, and a dry board reads OL.
DRY_SIEMENS = 1e-13


class Reading(float):
    """A figure on the display.

    Attributes
    ----------
    unit
        ``"V"``, ``"A"`` or ``"ohm"``.
    exact
        Before rounding to the display.
    text
        As displayed, e.g. ``"23.98 V"`` or ``"OL"``.
    live
        The network drove the probes while ohms were asked: the figure is nonsense and the meter may be
        harmed.
    """

    __slots__ = ("exact", "live", "text", "unit")
    unit: str
    exact: float
    text: str
    live: bool

    @classmethod
    def of(cls, exact: float, unit: str, step: float, *, live: bool = False) -> Reading:
        """A reading of `exact` in steps of `step`; infinite is OL."""
        shown = exact if math.isinf(exact) else round(exact / step) * step + 0.0
        reading = cls(shown)
        reading.exact, reading.unit, reading.live = exact, unit, live
        reading.text = "OL" if math.isinf(exact) else _digits(shown, unit, step)
        return reading

    def __repr__(self) -> str:
        return self.text + (" (live!)" if self.live else "")


def volts(solver: Solver, key: int, a: str, b: str, meter_ohm: float = 10e6) -> Reading:
    """Volts with the red probe on `a` and the black one on `b`.

    The meter's own resistance is part of the network, so a floating wire reads near 0 V.

    Raises
    ------
    CircuitError
        If a node is unknown or the network has no operating point.
    """
    exact = solver.loaded(key, a, b, meter_ohm).volt(a, b)
    return Reading.of(exact, "V", _step(exact, VOLT_RANGES))


def amps(solution: Solution, element: str) -> Reading:
    """Amps through an element by clamp: nothing is opened, the network does not change.

    Raises
    ------
    CircuitError
        If there is no such element.
    """
    exact = solution.amps(element)
    return Reading.of(exact, "A", _step(exact, AMP_RANGES))


def ohms(circuit: Circuit, closed: Iterable[str], a: str, b: str) -> Reading:
    """Ohms between two probes, red on `a`: volts over the meter's own test current.

    Above 40 megohm the display says OL (``math.inf``). If the network drives the probes, the reading is
    flagged `live` and is the nonsense that the meter would show.

    Raises
    ------
    CircuitError
        If a node is unknown or the network has no operating point.
    """
    closed = tuple(closed)
    live = _live(circuit, closed, a, b)
    for full, current in OHM_RANGES:
        seen = _pushed(circuit, closed, a, b, (current, OHM_COMPLIANCE_V))
        exact = abs(seen) / current
        if exact <= full:
            return Reading.of(exact, "ohm", full / COUNTS, live=live)
    return Reading.of(math.inf, "ohm", 1.0, live=live)


def continuity(circuit: Circuit, closed: Iterable[str], a: str, b: str) -> bool:
    """Whether the meter beeps: less than 50 ohm between the probes, on a dead network.

    Raises
    ------
    CircuitError
        If a node is unknown or the network has no operating point.
    """
    reading = ohms(circuit, closed, a, b)
    return reading < BEEP_OHM and not reading.live


def diode_test(circuit: Circuit, closed: Iterable[str], a: str, b: str) -> Reading:
    """Forward volts at 1 mA with the red probe on `a`; OL above 2.8 V.

    Raises
    ------
    CircuitError
        If a node is unknown or the network has no operating point.
    """
    closed = tuple(closed)
    exact = _pushed(circuit, closed, a, b, (DIODE_A, DIODE_COMPLIANCE_V))
    if exact > DIODE_COMPLIANCE_V * 0.999:
        exact = math.inf
    return Reading.of(exact, "V", 1e-3, live=_live(circuit, closed, a, b))


def _pushed(circuit: Circuit, closed: tuple[str, ...], a: str, b: str, push: tuple[float, float]) -> float:
    """Volts between the probes while the meter pushes `push`: test current A, most volts it can make."""
    current, most_v = push
    from dataclasses import replace

    probe = Source(_free_name(circuit, "meter"), a, b, most_v, 1.0, current)
    solver = Solver(replace(circuit.with_elements(probe), stray_siemens=DRY_SIEMENS))
    return solver.solve(solver.key(closed)).volt(a, b)


def _live(circuit: Circuit, closed: tuple[str, ...], a: str, b: str) -> bool:
    name = _free_name(circuit, "meter")
    solver = Solver(circuit.with_elements(Resistor(name, a, b, 10e6)))
    return abs(solver.solve(solver.key(closed)).volt(a, b)) > LIVE_V


def _free_name(circuit: Circuit, name: str) -> str:
    taken = {e.name for e in circuit.elements}
    while name in taken:
        name += "'"
    return name


def _step(exact: float, ranges: tuple[float, ...]) -> float:
    full = next((r for r in ranges if abs(exact) < r), ranges[-1])
    return full / COUNTS


def _digits(shown: float, unit: str, step: float) -> str:
    size, prefix = 1.0, ""
    if unit == "ohm":
        size, prefix = next(((s, p) for s, p in ((1e6, "M"), (1e3, "k")) if step * COUNTS > s), (1.0, ""))
    elif step * COUNTS <= 0.4:
        size, prefix = 1e-3, "m"
    places = max(0, round(-math.log10(step / size)))
    return f"{shown / size:.{places}f} {prefix}{unit}"

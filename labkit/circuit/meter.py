"""What a hand-held multimeter would read between two nodes of a network.

The meter is part of the network: its volts input is a resistance, its ohms and diode functions push a
current. Readings are rounded to the digits the meter has; ``.exact`` keeps the figure before rounding.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache

from labkit.circuit.elements import Source
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
VOLTS_OHM = 10e6
DIODE_A, DIODE_MOST_V = 1e-3, 2.8
BEEP_OHM = 50.0
# above any of these the network is under voltage and an ohms reading means nothing
LIVE_V, LIVE_TO_GROUND_V, LIVE_A = 0.02, 1.0, 1e-4
# While ohms are measured the insulation is taken as beyond the meter's reach: the circuit's own strays
# would put some ten megohm across a large board, and a dry board reads OL.
DRY_PER_OHM = 1e-13


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


def volts(solver: Solver, key: int, a: str, b: str, meter_ohm: float = VOLTS_OHM) -> Reading:
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
    solver = _dry(circuit)
    key = solver.key(closed)
    live = _live(circuit, key, a, b)
    for full, current in OHM_RANGES:
        exact = abs(_pushed(solver, key, a, b, current)) / current
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
    solver = _dry(circuit)
    key = solver.key(closed)
    exact = _pushed(solver, key, a, b, DIODE_A)
    if exact > DIODE_MOST_V:
        exact = math.inf
    return Reading.of(exact, "V", 1e-3, live=_live(circuit, key, a, b))


def _pushed(solver: Solver, key: int, a: str, b: str, current: float) -> float:
    """Volts between the probes while the meter pushes its test current.

    The meter's limited voltage need not be looked at: more current never gives less volts, so a reading
    beyond full scale is beyond it whether or not the meter could have driven so far.
    """
    if a == b:
        return 0.0
    return solver.vary(key, injected={a: current, b: -current}).volt(a, b)


@lru_cache(maxsize=16)
def _dry(circuit: Circuit) -> Solver:
    return Solver(replace(circuit, stray_per_ohm=DRY_PER_OHM))


@lru_cache(maxsize=16)
def _as_it_is(circuit: Circuit) -> Solver:
    return Solver(circuit)


def _live(circuit: Circuit, key: int, a: str, b: str) -> bool:
    """Whether a careful person would call the probed points live: current flows, or either is away from ground."""
    solver = _as_it_is(circuit)
    if abs(solver.loaded(key, a, b, VOLTS_OHM).volt(a, b)) > LIVE_V:
        return True
    if any(abs(solver.loaded(key, n, circuit.ground, VOLTS_OHM).volts[n]) > LIVE_TO_GROUND_V for n in (a, b)):
        return True
    now = solver.solve(key)
    return any(now.amps(e.name) > LIVE_A for e in circuit.elements if isinstance(e, Source))


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

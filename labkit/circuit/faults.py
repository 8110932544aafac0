"""Every single fault of a wiring at once: an opened part, or two nodes that touch."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from labkit.circuit._graph import Floats, Ints
from labkit.circuit.cases import Case, Cases
from labkit.circuit.errors import CircuitError
from labkit.circuit.solution import Solution
from labkit.circuit.solver import Solver

__all__ = ["Fault", "FaultTable", "Joined", "Opened", "fault_table", "faulted"]


@dataclass(frozen=True, slots=True)
class Opened:
    """A resistor or a switch that carries no current, whatever its position: a broken wire, a dirty contact."""

    name: str


@dataclass(frozen=True, slots=True)
class Joined:
    """A resistance between two nodes that should not be there."""

    a: str
    b: str
    ohm: float = 0.05


Fault = Opened | Joined


@dataclass(frozen=True, slots=True)
class FaultTable:
    """The operating point of a position under each of many faults, one at a time.

    Attributes
    ----------
    faults
        One for each row.
    volts
        Row for fault, column for node (ground first), in volt.
    pieces, curve_amps
        Row for fault, column for curve or source in the circuit's order.
    refused
        Row number and error of each fault under which the network has no single point; its rows are not a
        number.
    """

    faults: tuple[Fault, ...]
    volts: Floats
    pieces: Ints
    curve_amps: Floats
    refused: tuple[tuple[int, CircuitError], ...] = ()


def faulted(solver: Solver, key: int, *faults: Fault) -> Solution:
    """The operating point with some faults at the same time, one by one solved in full.

    Raises
    ------
    CircuitError
        If a name is unknown or the faulted network has no single operating point.
    """
    return solver.vary(
        key,
        opened=[f.name for f in faults if isinstance(f, Opened)],
        joined=[(f.a, f.b, f.ohm) for f in faults if isinstance(f, Joined)],
    )


def fault_table(solver: Solver, key: int, faults: Iterable[Fault]) -> FaultTable:
    """The operating points of one position under each fault in turn.

    Parameters
    ----------
    solver
        Its base inverse is used; nothing is kept.
    key
        The position, as ``solver.key`` counts it. Contacts stay where they are: a relay that drops because of
        the fault is a new position, for who called to ask.

    Raises
    ------
    CircuitError
        If a name is unknown.
    """
    rows = tuple(faults)
    cases = Cases(solver)
    ports = [cases.added(f.name, math.inf) if isinstance(f, Opened) else cases.joined(f.a, f.b, f.ohm) for f in rows]
    position = cases.position(key)
    found = cases.solve([Case(position, (port,)) for port in ports])
    volts, pieces, amps = found.volts, found.pieces, found.amps
    refused = []
    for row in np.flatnonzero(found.doubtful).tolist():
        try:
            one = faulted(solver, key, rows[row])
        except CircuitError as exc:
            refused.append((row, exc))
            volts[row], amps[row] = np.nan, np.nan
        else:
            volts[row], pieces[row], amps[row] = one.array, one.pieces, one.curve_amps
    return FaultTable(rows, volts, pieces, amps, tuple(refused))

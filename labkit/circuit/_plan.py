"""A circuit with its names turned into numbers, once; every engine reads this."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from labkit.circuit._graph import RHO_OHM, Floats, Graphs, Ints
from labkit.circuit.elements import Curve, Resistor, Source, Switch, terminals
from labkit.circuit.network import Circuit, unknown_element

__all__ = ["Plan"]


class Plan:
    """Index tables of a checked circuit.

    Node 0 is ground. `fixed` are the resistors, `switches` the switches, `curves` the curves and sources;
    `*_ends` hold the two node numbers of each, one row for each part.

    Raises
    ------
    CircuitError
        If the circuit's own check fails.
    """

    def __init__(self, circuit: Circuit) -> None:
        circuit.check()
        self.circuit = circuit
        self.nodes = circuit.nodes
        self.index = {node: k for k, node in enumerate(self.nodes)}
        self.by_name = {e.name: e for e in circuit.elements}
        self.fixed = tuple(e for e in circuit.elements if isinstance(e, Resistor))
        self.switches = tuple(e for e in circuit.elements if isinstance(e, Switch))
        self.curves = tuple(e for e in circuit.elements if isinstance(e, Curve | Source))
        self.switch_bit = {e.name: k for k, e in enumerate(self.switches)}
        self.curve_row = {e.name: k for k, e in enumerate(self.curves)}
        self.branch_names = tuple(e.name for part in (self.fixed, self.switches) for e in part)
        self.fixed_ends = self._ends(self.fixed)
        self.switch_ends = self._ends(self.switches)
        self.curve_ends = self._ends(self.curves)
        self.fixed_ohm = np.array([e.ohm for e in self.fixed], dtype=float)
        self.switch_ohm = np.array([e.ohm for e in self.switches], dtype=float)
        self.graphs = Graphs(self.curves)

    def _ends(self, parts: Iterable[Resistor | Switch | Curve | Source]) -> Ints:
        pairs = [[self.index[node] for node in terminals(part)] for part in parts]
        return np.array(pairs, dtype=np.int64).reshape(-1, 2)

    def key(self, closed: Iterable[str]) -> int:
        """The switch position with these switches closed, bit i for switch i.

        Raises
        ------
        CircuitError
            If a name is not that of a switch.
        """
        key = 0
        for name in closed:
            bit = self.switch_bit.get(name)
            if bit is None:
                raise unknown_element(name, self.circuit)
            key |= 1 << bit
        return key

    def closed_rows(self, key: int) -> Ints:
        """Numbers of the switches that a key closes."""
        return np.array([k for k in range(len(self.switches)) if key >> k & 1], dtype=np.int64)

    def on_curve(self, row: int, amps: float, volts: float) -> tuple[float, float]:
        """How far a point lies beside a curve, in volts and in ampere (0, 0 on it)."""
        graphs = self.graphs
        x = np.array(volts + RHO_OHM * amps)
        piece = int((x > graphs.inner[row]).sum())
        return (
            abs(float(graphs.v_at[row, piece] + graphs.v_by[row, piece] * x) - volts),
            abs(float(graphs.i_at[row, piece] + graphs.i_by[row, piece] * x) - amps),
        )


def curve_state(graphs: Graphs, pieces: Ints, x: Floats) -> tuple[Floats, Floats]:
    """Volts and amps of every curve at x on the given pieces."""
    rows = graphs.rows
    return (
        graphs.v_at[rows, pieces] + graphs.v_by[rows, pieces] * x,
        graphs.i_at[rows, pieces] + graphs.i_by[rows, pieces] * x,
    )

"""The front of the solver: positions in, solutions out, kept for the next time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from labkit.circuit._dense import solve_dense
from labkit.circuit._graph import Ints
from labkit.circuit._plan import Plan
from labkit.circuit._threads import one_thread
from labkit.circuit.elements import Resistor
from labkit.circuit.network import Circuit, unknown_node
from labkit.circuit.solution import Solution

__all__ = ["Solver"]


class Solver:
    """Solves one circuit in any of its switch positions.

    Parameters
    ----------
    circuit
        Checked here.
    keep
        How many solutions are kept; the oldest goes first.

    Attributes
    ----------
    switches
        Names of the switches: bit i of a key belongs to ``switches[i]``.
    nodes
        Names of the nodes in the order of ``Solution.array``, ground first.

    Raises
    ------
    CircuitError
        If an element cannot be solved for.
    """

    def __init__(self, circuit: Circuit, *, keep: int = 4096) -> None:
        one_thread()
        self.circuit = circuit
        self._plan = Plan(circuit)
        self.switches = circuit.switches
        self.nodes = self._plan.nodes
        self._keep = keep
        self._kept: dict[int, Solution] = {}

    def key(self, closed: Iterable[str]) -> int:
        """The position with exactly these switches closed; bit i stands for ``switches[i]``.

        Raises
        ------
        CircuitError
            If a name is not that of a switch.
        """
        return self._plan.key(closed)

    def solve(self, key: int) -> Solution:
        """The operating point in a position; bits beyond the last switch mean nothing.

        Raises
        ------
        CircuitError
            If the network has no single operating point; names the parts.
        """
        solution = self._kept.get(key)
        if solution is not None:
            return solution
        solution = solve_dense(self._plan, key)
        if len(self._kept) >= self._keep:
            del self._kept[next(iter(self._kept))]
        self._kept[key] = solution
        return solution

    def loaded(self, key: int, a: str, b: str, ohm: float) -> Solution:
        """The operating point with a further resistance between two nodes, such as a meter's input.

        Raises
        ------
        CircuitError
            If a node is unknown or the network has no single operating point.
        """
        self.rows((a, b))
        solver = Solver(self.circuit.with_elements(Resistor(" load ", a, b, ohm)))
        return solver.solve(key)

    def rows(self, nodes: Sequence[str]) -> Ints:
        """Places of `nodes` in ``Solution.array``, for reading many volts at once.

        Raises
        ------
        CircuitError
            If a node is unknown.
        """
        index = self._plan.index
        try:
            return np.array([index[node] for node in nodes], dtype=np.int64)
        except KeyError as exc:
            raise unknown_node(str(exc.args[0]), self.nodes) from None

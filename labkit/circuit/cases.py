"""Many changed networks at once, in many positions, from the one inverse that the sound network has.

A change of a resistance is an EMF in its branch that follows its current, a resistance between two nodes a pair of
amps; either is a *port*. A case is a position, a few ports in it, and other curves in place of some. With `own` what a
unit at a port does at the ports, `on` the curves' amps it causes, and ``i(x)``, ``e(x)`` the amps and EMFs of the
curves along their running numbers (see `_graph`), a case obeys ::

    i(x) = seen e(x) - on^T y          own y = on e(x)

Written as the difference from the sound network, all that is unknown is `y` and the x of those curves that left their
piece: systems of one to some ten unknowns, solved in stacks (J. Sherman and W. J. Morrison, 1950; M. A. Woodbury,
1950). Volts and x are then sums of a few columns that are made once for the position (`_columns`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from labkit.circuit._asked import Asked
from labkit.circuit._columns import Columns, columns_of
from labkit.circuit._graph import RHO_OHM, Graphs, Ints
from labkit.circuit._room import together
from labkit.circuit._stack import FINELY_V, PORTS, Case, Settled
from labkit.circuit._straight import settle_straight
from labkit.circuit.elements import Curve, Source
from labkit.circuit.errors import CircuitError
from labkit.circuit.network import unknown_element
from labkit.circuit.solver import Solver

__all__ = ["Asked", "Case", "Cases", "Settled"]


class Cases:
    """Changed networks of one circuit.

    Parameters
    ----------
    solver
        Its base inverse is used.
    others
        What may stand in the place of a curve. Names are unique, also among the circuit's elements.
    within_v
        How far off rounding may leave volts of a node that hangs on its insulation.
    """

    def __init__(self, solver: Solver, others: Sequence[Curve | Source] = (), *, within_v: float = 1e-6) -> None:
        self.within_v = within_v
        # An x may lie this far outside its piece. At the corner both pieces say the same; beside it they differ by up
        # to 1/RHO_OHM amps a volt, and on a node that 1e-9 S hold that is 1e8 times as much. Who wants less than
        # FINELY_V has every case at a corner corrected.
        self.tie_v = within_v * (1e-8 if within_v >= FINELY_V else 1e-4)
        self.solver, self.engine = solver, solver.engine
        plan = solver.plan
        self._branch = {name: k for k, name in enumerate(plan.branch_names)}
        self._ports: dict[tuple[int, int, int, float], int] = {(-1, 0, 0, 1.0): 0}
        self._positions: dict[tuple[int, frozenset[str]], int] = {}
        self._opened: list[Ints] = []
        self._columns: list[Columns | None] = []  # None: it does not settle by the quick ways
        curves = (*plan.curves, *others)
        self._place = {curve.name: k for k, curve in enumerate(curves)}
        graphs = self._graphs = Graphs(curves)
        flat = (graphs.v_at, graphs.v_by, graphs.i_at, graphs.i_by)
        self._width = graphs.v_at.shape[1]
        v_at, v_by, i_at, i_by = (part.ravel() for part in flat)
        self._tables = np.stack([v_at - RHO_OHM * i_at, v_by - RHO_OHM * i_by, i_at, i_by])
        self._low, self._high = graphs.low.ravel(), graphs.high.ravel()
        self._low_near, self._high_near = self._low - self.tie_v, self._high + self.tie_v
        # whether a line turns a corner from the one before; one past the last for the last
        self._bends = np.append(np.diff(graphs.v_by, axis=1, prepend=np.nan).ravel() != 0.0, True)
        self._start = np.arange(len(curves)) * self._width + graphs.locate(np.zeros(len(curves)))
        self._base = np.arange(len(plan.curves))

    def position(self, key: int, out: Iterable[str] = ()) -> int:
        """A position of the switches with some resistors out; solved with the first cases in it.

        Raises
        ------
        CircuitError
            If a name is unknown.
        """
        out = frozenset(out)
        found = self._positions.get((key, out))
        if found is None:
            opened = {int(k) for k in self.engine.open_branches(key)} | {self._number(name) for name in out}
            self._opened.append(np.array(sorted(opened), dtype=np.int64))
            found = self._positions[key, out] = len(self._opened) - 1
        return found

    def added(self, name: str, ohm: float) -> int:
        """A port that adds ohms to a resistor or a closed switch; infinite opens it.

        Raises
        ------
        CircuitError
            If the name is unknown.
        """
        if ohm == 0:
            return 0
        return self._ports.setdefault((self._number(name), 0, 0, ohm), len(self._ports))

    def joined(self, a: str, b: str, ohm: float) -> int:
        """A port that puts a resistance between two nodes.

        Raises
        ------
        CircuitError
            If the resistance is not above 0 ohm and finite, or a node is unknown.
        """
        if not 0.0 < ohm < np.inf:
            raise CircuitError(
                f"the resistance from {a} to {b} must be above 0 ohm, not {ohm:g}",
                where=f"{a} to {b}",
                try_this="take a contact's resistance, such as 0.05",
                code="circuit-value",
            )
        first, second = self.solver.rows([a, b])
        return self._ports.setdefault((-1, int(first), int(second), ohm), len(self._ports))

    def _number(self, name: str) -> int:
        if name not in self._branch:
            raise unknown_element(name, self.solver.circuit)
        return self._branch[name]

    def solve(self, cases: Sequence[Case]) -> Settled:
        """Settle cases, all at once."""
        return self.settle(Asked.of(self, cases))

    def settle(self, asked: Asked) -> Settled:
        """The same with the cases told as arrays."""
        count, curves, nodes = len(asked.position), len(self._base), len(self.solver.nodes)
        volts, amps = together((count, nodes), (count, curves))
        result = Settled(volts, np.zeros((count, curves), dtype=np.int32), amps, np.zeros(count, dtype=bool))
        if not count:
            return result
        self._meet()
        result.doubtful[:] = np.array([columns is None for columns in self._columns], dtype=bool)[asked.position]
        usable = np.flatnonzero(~result.doubtful)
        if not len(usable):
            return result
        with np.errstate(all="ignore"):
            asked.prepare(usable)
            others, astray = settle_straight(asked, usable, result)
            weak = [astray]
            for rows in asked.alike(others):
                weak.append(asked.stack(rows).settle(result))
            for rows in asked.alike(np.concatenate(weak), PORTS[1:]):
                asked.stack(rows).refine(result)
        return result

    def _meet(self) -> None:
        """Solve the positions that are new."""
        fresh = self._opened[len(self._columns) :]
        if fresh:
            with np.errstate(all="ignore"):
                self._columns += columns_of(self.engine, fresh)

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
from itertools import chain

import numpy as np

from labkit.circuit._columns import Columns, columns_of
from labkit.circuit._graph import RHO_OHM, Floats, Graphs, Ints
from labkit.circuit._offer import Offer
from labkit.circuit._stack import PORTS, TOGETHER, Case, Settled, Stack
from labkit.circuit.elements import Curve, Source
from labkit.circuit.errors import CircuitError
from labkit.circuit.network import unknown_element
from labkit.circuit.solver import Solver

__all__ = ["Case", "Cases", "Settled"]


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
        # an x may lie this far outside its piece: at a corner both pieces say the same
        self.within_v, self.tie_v = within_v, 1e-4 * within_v
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
        """A port that adds ohms to a resistor or a closed switch; infinite opens it."""
        if ohm == 0:
            return 0
        return self._ports.setdefault((self._number(name), 0, 0, ohm), len(self._ports))

    def joined(self, a: str, b: str, ohm: float) -> int:
        """A port that puts a resistance between two nodes."""
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
        count, curves, nodes = len(cases), len(self._base), len(self.solver.nodes)
        result = Settled(
            np.empty((count, nodes)),
            np.zeros((count, curves), dtype=np.int64),
            np.empty((count, curves)),
            np.zeros(count, dtype=bool),
        )
        number = np.array([len(case.ports) for case in cases], dtype=np.int64)
        ports = np.fromiter(chain.from_iterable(case.ports for case in cases), np.int64)
        position = np.array([case.position for case in cases], dtype=np.int64)
        self._meet()
        result.doubtful[:] = np.array([columns is None for columns in self._columns], dtype=bool)[position]
        usable = np.flatnonzero(~result.doubtful)
        if not len(usable):
            return result
        first = np.cumsum(number) - number
        fine = ~result.doubtful
        with np.errstate(all="ignore"):
            offer = Offer(self, position[fine], number[fine], ports[np.repeat(fine, number)])
            at = np.searchsorted(offer.positions, position)
            apart = self._placed(cases)
            size = np.searchsorted(PORTS, number)
            pushed, ends, amps = self._driven(cases)
            for step in np.unique(size[usable]).tolist():
                every = usable[size[usable] == step]
                every = every[np.argsort(position[every], kind="stable")]
                for begin in range(0, len(every), TOGETHER):
                    rows = every[begin : begin + TOGETHER]
                    slots = np.arange(max(1, int(number[rows].max())))
                    there = slots < number[rows, None]
                    own = np.where(there, ports.take(first[rows, None] + slots, mode="clip") if len(ports) else 0, -1)
                    through = np.flatnonzero(pushed[rows] >= 0)
                    which = pushed[rows[through]]
                    driven = through, ends[which], amps[which]
                    places = None if apart is None else apart[rows]
                    Stack(self, offer, rows, at=at[rows], own=own, places=places, driven=driven).settle(result)
        return result

    def _meet(self) -> None:
        """Solve the positions that are new."""
        fresh = self._opened[len(self._columns) :]
        if fresh:
            with np.errstate(all="ignore"):
                self._columns += columns_of(self.engine, fresh)

    def _placed(self, cases: Sequence[Case]) -> Ints | None:
        """What stands in the place of each curve, by its number; None if nothing does in any case."""
        told = [(row, case.places) for row, case in enumerate(cases) if case.places]
        if not told:
            return None
        places = np.repeat(self._base[None, :], len(cases), axis=0)
        for row, there in told:
            for name, other in there.items():
                places[row, self._place[name]] = self._place[other]
        return places

    def _driven(self, cases: Sequence[Case]) -> tuple[Ints, Ints, Floats]:
        """The place of each case among those that amps are driven through, or -1; and of these the nodes and amps."""
        told = [(row, case.driven) for row, case in enumerate(cases) if case.driven]
        pushed = np.full(len(cases), -1)
        pushed[[row for row, _ in told]] = np.arange(len(told))
        ends = self.solver.rows([n for _, driven in told for n in driven[:2]]).reshape(-1, 2)
        return pushed, ends, np.array([driven[2] for _, driven in told])

"""The front of the solver: positions in, solutions out, kept for the next time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from labkit.circuit._dense import solve_dense
from labkit.circuit._engine import Engine
from labkit.circuit._explain import free_ring
from labkit.circuit._graph import Floats, Ints
from labkit.circuit._plan import Plan
from labkit.circuit._position import Inexact, operate
from labkit.circuit._settle import Restless
from labkit.circuit._threads import one_thread
from labkit.circuit.elements import Curve, Resistor, Source, Switch
from labkit.circuit.errors import CircuitError
from labkit.circuit.network import Circuit, unknown_element, unknown_node
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
        self.plan = Plan(circuit)
        self.switches = circuit.switches
        self.nodes = self.plan.nodes
        self._keep = keep
        self._kept: dict[int, Solution] = {}
        self._engine: Engine | None = None

    @property
    def engine(self) -> Engine:
        """The base inverse; made when first needed."""
        if self._engine is None:
            self._engine = Engine(self.plan)
        return self._engine

    def key(self, closed: Iterable[str]) -> int:
        """The position with exactly these switches closed; bit i stands for ``switches[i]``.

        Raises
        ------
        CircuitError
            If a name is not that of a switch.
        """
        return self.plan.key(closed)

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
        solution = self._fresh(key)
        if len(self._kept) >= self._keep:
            del self._kept[next(iter(self._kept))]
        self._kept[key] = solution
        return solution

    def _fresh(self, key: int) -> Solution:
        try:
            engine = self.engine
            volts, pieces, amps = operate(engine, engine.open_branches(key))
        except (Inexact, Restless, np.linalg.LinAlgError):
            return solve_dense(self.plan, key)
        if free_ring(self.plan, volts, amps):
            return solve_dense(self.plan, key)
        return Solution(self.plan, key, (volts, pieces, amps))

    def vary(
        self,
        key: int,
        *,
        opened: Iterable[str] = (),
        joined: Iterable[tuple[str, str, float]] = (),
        injected: Mapping[str, float] | None = None,
    ) -> Solution:
        """The operating point with a change that is no switch, from the same base; not kept.

        Parameters
        ----------
        opened
            Names of resistors and switches that carry no current.
        joined
            Further resistances: node, node, ohm.
        injected
            Amps put into nodes from outside, back through ground.

        Raises
        ------
        CircuitError
            If a name is unknown, or the changed network has no single operating point.
        """
        joins = tuple(joined)
        for a, b, ohm in joins:
            if not 0.0 < ohm < np.inf:
                raise CircuitError(
                    f"the resistance from {a} to {b} must be above 0 ohm, not {ohm:g}",
                    where=f"{a} to {b}",
                    try_this="take a contact's resistance, such as 0.05",
                    code="circuit-value",
                )
        out = frozenset(opened)
        plan = self.plan
        branch = {name: k for k, name in enumerate(plan.branch_names)}
        for name in sorted(out - branch.keys()):
            raise unknown_element(name, self.circuit)
        pairs = self.rows([n for a, b, _ in joins for n in (a, b)]).reshape(-1, 2)
        put = self._put(injected or {})
        try:
            engine = self.engine
            rows = {int(b) for b in engine.open_branches(key)} | {branch[name] for name in out}
            volts, pieces, amps = operate(
                engine,
                np.array(sorted(rows), dtype=np.int64),
                [(int(a), int(b), ohm) for (a, b), (_, _, ohm) in zip(pairs, joins, strict=True)],
                put if injected else None,
            )
            if not free_ring(plan, volts, amps):
                flows = [
                    (int(a), int(b), float(volts[a] - volts[b]) / ohm)
                    for (a, b), (_, _, ohm) in zip(pairs, joins, strict=True)
                ]
                flows += [(0, int(k), float(put[k])) for k in put.nonzero()[0]]
                return Solution(plan, key, (volts, pieces, amps), out, tuple(flows))
        except (Inexact, Restless, np.linalg.LinAlgError):
            pass
        return self._rebuilt(key, out, joins, injected or {})

    def _put(self, injected: Mapping[str, float]) -> Floats:
        put = np.zeros(len(self.nodes))
        put[self.rows(list(injected))] = list(injected.values())
        return put

    def _rebuilt(
        self,
        key: int,
        out: frozenset[str],
        joins: tuple[tuple[str, str, float], ...],
        injected: Mapping[str, float],
    ) -> Solution:
        """The changed network as one of its own, by the plain engine."""
        closed = [s for k, s in enumerate(self.switches) if key >> k & 1 and s not in out]
        kept = [e for e in self.circuit.elements if e.name not in out or isinstance(e, Switch)]
        extra: list[Resistor | Curve | Source] = [
            Resistor(f" join {k}", a, b, ohm) for k, (a, b, ohm) in enumerate(joins)
        ]
        extra += [
            Curve(f" put {node}", self.circuit.ground, node, ((-1.0, amps), (1.0, amps)))
            for node, amps in injected.items()
        ]
        circuit = Circuit((*kept, *extra), self.circuit.ground, self.circuit.stray_per_ohm)
        plan = Plan(circuit)
        found = solve_dense(plan, plan.key(closed))
        volts = np.array([found.array[plan.index[n]] if n in plan.index else 0.0 for n in self.nodes])
        rows = [plan.curve_row[c.name] for c in self.plan.curves]
        flows = [
            (self.plan.index[e.a], self.plan.index[e.b], found.amps(e.name)) for e in extra if not isinstance(e, Source)
        ]
        return Solution(self.plan, key, (volts, found.pieces[rows], found.curve_amps[rows]), out, tuple(flows))

    def loaded(self, key: int, a: str, b: str, ohm: float) -> Solution:
        """The operating point with a further resistance between two nodes, such as a meter's input.

        Raises
        ------
        CircuitError
            If a node is unknown, `ohm` is not above 0, or the network has no single operating point.
        """
        return self.vary(key, joined=((a, b, ohm),))

    def rows(self, nodes: Sequence[str]) -> Ints:
        """Places of `nodes` in ``Solution.array``, for reading many volts at once.

        Raises
        ------
        CircuitError
            If a node is unknown.
        """
        index = self.plan.index
        try:
            return np.array([index[node] for node in nodes], dtype=np.int64)
        except KeyError as exc:
            raise unknown_node(str(exc.args[0]), self.nodes) from None

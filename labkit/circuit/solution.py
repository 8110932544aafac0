"""What is known of a network in one position."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np

from labkit.circuit._graph import Floats, Ints
from labkit.circuit.elements import Curve, Source, Switch, terminals
from labkit.circuit.errors import CircuitError
from labkit.circuit.network import unknown_element, unknown_node

if TYPE_CHECKING:
    from labkit.circuit._plan import Plan

__all__ = ["Solution"]

SOURCE_STATES = ("limit", "volts", "idle")


class NodeVolts(Mapping[str, float]):
    """Node name -> volts to ground, read only."""

    __slots__ = ("_array", "_index")

    def __init__(self, index: Mapping[str, int], array: Floats) -> None:
        self._index = index
        self._array = array

    def __getitem__(self, node: str) -> float:
        return float(self._array[self._index[node]])

    def __iter__(self) -> Iterator[str]:
        return iter(self._index)

    def __len__(self) -> int:
        return len(self._index)


class Solution:
    """The operating point of a network in one switch position.

    Attributes
    ----------
    key
        The switch position, as :meth:`Solver.key` counts it.
    array
        Volts to ground of every node, in the order of ``Solver.nodes`` (ground first, 0 V); read only.
    pieces, curve_amps
        Of every curve and source in the circuit's order: the piece it works on, and amps through it.
    """

    __slots__ = ("_flows", "_out", "_plan", "array", "curve_amps", "key", "pieces")

    def __init__(
        self,
        plan: Plan,
        key: int,
        found: tuple[Floats, Ints, Floats],
        out: frozenset[str] = frozenset(),
        flows: tuple[tuple[int, int, float], ...] = (),
    ) -> None:
        self._plan = plan
        self.key = key
        self.array, self.pieces, self.curve_amps = found
        self.array.flags.writeable = False
        # what Solver.vary changed: parts taken out, and amps that flow from node to node beside the elements
        self._out = out
        self._flows = flows

    @property
    def volts(self) -> Mapping[str, float]:
        """Volts of each node to ground."""
        return NodeVolts(self._plan.index, self.array)

    def volt(self, a: str, b: str) -> float:
        """Volts from node `b` to node `a`: positive if `a` is the higher one.

        Raises
        ------
        CircuitError
            If a node is unknown.
        """
        index = self._plan.index
        try:
            return float(self.array[index[a]] - self.array[index[b]])
        except KeyError as exc:
            raise unknown_node(str(exc.args[0]), self._plan.nodes) from None

    def amps(self, element: str) -> float:
        """Amps through an element.

        From `a` through it to `b`; of a source, what it delivers out of `plus` (never below 0).

        Raises
        ------
        CircuitError
            If there is no such element.
        """
        plan = self._plan
        part = plan.by_name.get(element)
        if part is None:
            raise unknown_element(element, plan.circuit)
        if isinstance(part, Curve | Source):
            amps = float(self.curve_amps[plan.curve_row[element]])
            return -amps if isinstance(part, Source) else amps
        if element in self._out or (isinstance(part, Switch) and not self.closed(element)):
            return 0.0
        a, b = terminals(part)
        return float(self.array[plan.index[a]] - self.array[plan.index[b]]) / part.ohm

    def closed(self, switch: str) -> bool:
        """Whether a switch is closed in this position.

        Raises
        ------
        CircuitError
            If there is no such switch.
        """
        bit = self._plan.switch_bit.get(switch)
        if bit is None:
            raise unknown_element(switch, self._plan.circuit)
        return bool(self.key >> bit & 1)

    def segment(self, curve: str) -> int:
        """The straight piece a curve or a source works on, counted from 0 at its lowest voltage.

        Raises
        ------
        CircuitError
            If there is no such curve.
        """
        row = self._plan.curve_row.get(curve)
        if row is None:
            raise unknown_element(curve, self._plan.circuit)
        return int(self.pieces[row])

    def source_state(self, source: str) -> str:
        """How a source works: ``"volts"``, ``"limit"`` (constant current) or ``"idle"`` (held above its
        volts).

        Raises
        ------
        CircuitError
            If there is no such source.
        """
        piece = self.segment(source)
        part = self._plan.by_name[source]
        if not isinstance(part, Source):
            raise CircuitError(f"{source} is not a source", where=source, try_this="use segment()", code="circuit-kind")
        return SOURCE_STATES[piece + 1 if part.limit_a == np.inf else piece]

    def watts(self) -> dict[str, float]:
        """Power each element takes, in watt; a source that delivers has a negative figure."""
        plan = self._plan
        taken = {}
        for part in plan.circuit.elements:
            amps = self.amps(part.name)
            taken[part.name] = self.volt(*terminals(part)) * (-amps if isinstance(part, Source) else amps)
        return taken

    def residuals(self) -> dict[str, float]:
        """Amps that each node but ground is short of a sum of 0; rounding leaves about 1e-12."""
        plan = self._plan
        rest = -self.array * plan.circuit.stray_per_ohm
        for part in plan.circuit.elements:
            amps = self.amps(part.name) * (-1.0 if isinstance(part, Source) else 1.0)
            a, b = terminals(part)
            rest[plan.index[a]] -= amps
            rest[plan.index[b]] += amps
        for start, end, amps in self._flows:
            rest[start] -= amps
            rest[end] += amps
        return {node: float(rest[k]) for node, k in plan.index.items() if k}

    def check(self) -> None:
        """See that this is a solution: currents at each node add up to 0 and every curve lies on its points.

        Raises
        ------
        CircuitError
            Names the worst node or the curve. It means a mistake in this room, not of the person's.
        """
        plan = self._plan
        rest = self.residuals()
        worst = max(rest, key=lambda node: abs(rest[node]), default="")
        # a milliohm wire turns the last bit of 24 V into 4e-12 A; 1e-8 A is a hundredth of what is promised
        if worst and abs(rest[worst]) > 1e-8:
            raise CircuitError(
                f"the currents at {worst} do not add up: {rest[worst]:.3g} A too much",
                where=worst,
                try_this="report this network: it was solved wrongly",
                code="circuit-kcl",
            )
        for name, row in plan.curve_row.items():
            volts, amps = plan.on_curve(row, float(self.curve_amps[row]), self.volt(*terminals(plan.by_name[name])))
            if volts > 1e-6 and amps > 1e-8:
                raise CircuitError(
                    f"{name} does not work on its curve: {volts:.3g} V and {amps:.3g} A beside it",
                    where=name,
                    try_this="report this network: it was solved wrongly",
                    code="circuit-curve",
                )

"""A network and what must be true of it before it can be solved."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from labkit.circuit.elements import Curve, Element, Resistor, Source, Switch, terminals
from labkit.circuit.errors import CircuitError

__all__ = ["Circuit"]


@dataclass(frozen=True, slots=True)
class Circuit:
    """Elements between named nodes.

    Parameters
    ----------
    elements
        In any order; names are unique.
    ground
        The node that every voltage is counted from. It need not be joined to anything: then all of the
        network floats on its insulation.
    stray_per_ohm
        Insulation: each node leaks this much to ground. It keeps floating wires near 0 V.
    """

    elements: tuple[Element, ...]
    ground: str
    stray_per_ohm: float = 1e-9

    @property
    def nodes(self) -> tuple[str, ...]:
        """Ground, then every other node in order of first use."""
        found = {self.ground: None}
        for element in self.elements:
            found.update(dict.fromkeys(terminals(element)))
        return tuple(found)

    @property
    def switches(self) -> tuple[str, ...]:
        """Names of the switches, in order."""
        return tuple(e.name for e in self.elements if isinstance(e, Switch))

    def with_elements(self, *elements: Element) -> Circuit:
        """A new circuit with `elements` added at the end."""
        return replace(self, elements=self.elements + elements)

    def without(self, *names: str) -> Circuit:
        """A new circuit that lacks the named elements.

        Raises
        ------
        CircuitError
            If a name is unknown.
        """
        missing = set(names) - {e.name for e in self.elements}
        if missing:
            raise unknown_element(sorted(missing)[0], self)
        return replace(self, elements=tuple(e for e in self.elements if e.name not in names))

    def check(self) -> None:
        """See that every element can be solved for.

        Raises
        ------
        CircuitError
            Names the first element that is wrong: a name used twice, a resistance that is not above 0, a
            curve that falls, a figure that is not a number.
        """
        if not (math.isfinite(self.stray_per_ohm) and self.stray_per_ohm > 0):
            raise CircuitError(
                f"the insulation of a node must leak something: stray_per_ohm is {self.stray_per_ohm:g}",
                where="circuit",
                try_this="leave it at 1e-9",
                code="circuit-stray",
            )
        seen: set[str] = set()
        for element in self.elements:
            if element.name in seen:
                raise CircuitError(
                    f"two elements are called {element.name}",
                    where=element.name,
                    try_this="give each element its own name",
                    code="circuit-duplicate",
                )
            seen.add(element.name)
            for fault in _faults(element):
                raise CircuitError(
                    f"{element.name}: {fault}",
                    where=element.name,
                    try_this="correct the figure",
                    code="circuit-value",
                )


def _faults(element: Element) -> Iterator[str]:
    """What is wrong with one element, as the rest of a sentence that starts with its name."""
    if not all(terminals(element)):
        yield "a terminal has no name"
    if isinstance(element, Resistor | Switch):
        if not (math.isfinite(element.ohm) and element.ohm > 0):
            yield f"the resistance must be above 0 ohm, not {element.ohm:g}"
    elif isinstance(element, Source):
        if not math.isfinite(element.volts):
            yield f"the voltage must be a number, not {element.volts:g}"
        if not (math.isfinite(element.ohm) and element.ohm >= 0):
            yield f"the inner resistance must be 0 ohm or more, not {element.ohm:g}"
        if not element.limit_a > 0:
            yield f"the current limit must be above 0 A, not {element.limit_a:g}"
    else:
        yield from _curve_faults(element)


def _curve_faults(curve: Curve) -> Iterator[str]:
    if len(curve.points) < 2:
        yield "a curve needs at least two points"
    if not all(math.isfinite(x) for point in curve.points for x in point):
        yield "a point of the curve is not a number"
    for (v0, i0), (v1, i1) in zip(curve.points, curve.points[1:], strict=False):
        if v1 < v0:
            yield f"the curve goes back in voltage, from {v0:g} V to {v1:g} V"
        if i1 < i0:
            yield f"the curve falls in current, from {i0:g} A to {i1:g} A at {v1:g} V"
        if (v0, i0) == (v1, i1):
            yield f"the curve has the same point twice: {v0:g} V, {i0:g} A"


def unknown_element(name: str, circuit: Circuit) -> CircuitError:
    """The error for an element name that is not in the circuit."""
    from labkit.base import did_you_mean

    return CircuitError(
        f"there is no element {name} in this circuit",
        where=name,
        try_this=did_you_mean(name, [e.name for e in circuit.elements]) or "use the name of an element",
        code="circuit-unknown-element",
    )


def unknown_node(name: str, nodes: tuple[str, ...]) -> CircuitError:
    """The error for a node name that is not in the circuit."""
    from labkit.base import did_you_mean

    return CircuitError(
        f"there is no node {name} in this circuit",
        where=name,
        try_this=did_you_mean(name, nodes) or "use the name of a terminal",
        code="circuit-unknown-node",
    )

"""The network as a netlist for ngspice, so that a general simulator can be asked the same question."""

from __future__ import annotations

from collections.abc import Iterable

from labkit.circuit._plan import Plan
from labkit.circuit.elements import Resistor, Source, Switch, corners, terminals
from labkit.circuit.network import Circuit

__all__ = ["to_spice"]

# a vertical piece becomes this steep, in ohm: its error at 10 A is 0.01 mV
STEEP_OHM = 1e-6
# how far, in volts, an end piece is drawn on before ngspice is told to stop
FAR_V = 1e4


def to_spice(circuit: Circuit, closed: Iterable[str], *, title: str = "labkit network") -> str:
    """A netlist of the circuit with the named switches closed, ready for an operating point.

    Nodes and elements are numbered in labkit's order, and the comment lines tell the names. Element k is
    ``Rk`` or ``Bk``; node k is ``nk``, ground ``0``.

    Parameters
    ----------
    closed
        Names of the closed switches.

    Raises
    ------
    CircuitError
        If the circuit's check fails or a name is not that of a switch.
    """
    plan = Plan(circuit)
    key = plan.key(closed)
    lines = [f"* {title}"]
    lines += [f"* {spice_node(k)} is {node}" for k, node in enumerate(plan.nodes)]
    for k, element in enumerate(circuit.elements):
        a, b = (spice_node(plan.index[node]) for node in terminals(element))
        if isinstance(element, Switch) and not key >> plan.switch_bit[element.name] & 1:
            lines.append(f"* {element.name} is open")
        elif isinstance(element, Resistor | Switch):
            lines.append(f"* {element.name}")
            lines.append(f"R{k} {a} {b} {element.ohm!r}")
        else:
            lines.append(f"* {element.name}")
            lines.append(f"B{k} {a} {b} I=pwl(V({a},{b}), {_table(corners(element))})")
    for k in range(1, len(plan.nodes)):
        lines.append(f"Rstray{k} {spice_node(k)} 0 {1.0 / circuit.stray_per_ohm!r}")
    # a start near the working point, or the limited supplies throw the first steps to 1e9 V
    sources = sorted((e for e in circuit.elements if isinstance(e, Source)), key=lambda e: e.volts)
    held = {plan.index[e.minus]: 0.0 for e in sources} | {plan.index[e.plus]: e.volts for e in sources}
    lines += [f".nodeset V({spice_node(k)})={volts!r}" for k, volts in held.items() if k]
    lines += [".options gmin=1e-15 reltol=1e-9 abstol=1e-13 vntol=1e-10 itl1=1000", ".op", ".end", ""]
    return "\n".join(lines)


def spice_node(number: int) -> str:
    """The netlist's name of labkit's node number."""
    return f"n{number}" if number else "0"


def _table(points: tuple[tuple[float, float], ...]) -> str:
    """The corners with vertical pieces leaned and both end pieces drawn far on."""
    leaned: list[tuple[float, float]] = []
    last_v = -float("inf")
    for volts, amps in points:
        if leaned and volts <= last_v:
            volts = last_v + STEEP_OHM * (amps - leaned[-1][1])
        leaned.append((volts, amps))
        last_v = volts
    first, second = leaned[0], leaned[1]
    before, end = leaned[-2], leaned[-1]
    head = (first[0] - FAR_V, first[1] - FAR_V * (second[1] - first[1]) / (second[0] - first[0]))
    tail = (end[0] + FAR_V, end[1] + FAR_V * (end[1] - before[1]) / (end[0] - before[0]))
    return ", ".join(f"{v!r}, {i!r}" for v, i in (head, *leaned, tail))

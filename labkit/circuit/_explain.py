"""Why a network has no answer, in the names of its own parts."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from labkit.circuit._graph import RHO_OHM, Floats
from labkit.circuit._plan import Plan
from labkit.circuit.elements import Resistor, Switch, terminals
from labkit.circuit.errors import CircuitError

__all__ = ["conflict", "free_ring", "ideal_ring", "no_single_point", "restless"]


def conflict(ring: list[str]) -> CircuitError:
    """The error for ideal voltages that close a ring: their amps could be anything."""
    if len(ring) == 1:
        what = f"{ring[0]} holds an ideal voltage and both its ends are one node"
    else:
        what = f"{', '.join(ring[:-1])} and {ring[-1]} hold ideal voltages against each other"
        what += " with no resistance between them"
    return CircuitError(
        what,
        where=", ".join(ring),
        try_this="give one of them an inner resistance, or put a wire with its resistance between them",
        code="circuit-conflict",
    )


def no_single_point(plan: Plan, key: int) -> CircuitError:
    """The error for a network whose figures leave nothing of the digits."""
    closed = [s.name for s in plan.switches if key >> plan.switch_bit[s.name] & 1]
    branches: list[Resistor | Switch] = [*plan.fixed, *plan.switches]
    least = min(branches, key=lambda e: e.ohm, default=None)
    return CircuitError(
        "the network has no single operating point that can be told from rounding",
        where="closed switches: " + (", ".join(closed) or "none"),
        try_this=f"{least.name} has only {least.ohm:g} ohm: give it a real wire's resistance"
        if least is not None
        else "look at the corners of the curves",
        code="circuit-singular",
    )


def restless(parts: tuple[str, ...]) -> CircuitError:
    """The error for a network whose curves never come to rest."""
    return CircuitError(
        f"the network does not settle: {', '.join(parts)} keep changing",
        where=", ".join(parts),
        try_this="look at the corners of these curves and at what joins these parts",
        code="circuit-restless",
    )


def free_ring(plan: Plan, volts: Floats, amps: Floats) -> list[str]:
    """Names of parts at an ideal voltage that form a ring, so that amps may turn in it; mostly none.

    Parameters
    ----------
    volts
        Of every node, ground first.
    amps
        Of every curve.
    """
    graphs = plan.graphs
    if not graphs.any_upright:
        return []
    x = volts[plan.curve_ends[:, 0]] - volts[plan.curve_ends[:, 1]] + RHO_OHM * amps
    return ideal_ring(plan, graphs.at_ideal(x))


def ideal_ring(plan: Plan, upright: NDArray[np.bool_]) -> list[str]:
    """Names of parts among the marked curves that form a ring; empty if none do."""
    if not upright.any():
        return []
    links: dict[str, list[tuple[str, str]]] = {}
    for row in upright.nonzero()[0]:
        part = plan.curves[int(row)]
        a, b = terminals(part)
        path = _path(links, a, b)
        if path is not None:
            return [*path, part.name]
        links.setdefault(a, []).append((b, part.name))
        links.setdefault(b, []).append((a, part.name))
    return []


def _path(links: dict[str, list[tuple[str, str]]], a: str, b: str) -> list[str] | None:
    """Names of the parts on a way from a to b, or None."""
    stack: list[tuple[str, list[str]]] = [(a, [])]
    seen = {a}
    while stack:
        node, path = stack.pop()
        if node == b:
            return path
        for other, name in links.get(node, ()):
            if other not in seen:
                seen.add(other)
                stack.append((other, [*path, name]))
    return None

"""Why a network has no answer, in the names of its own parts."""

from __future__ import annotations

from itertools import pairwise

from labkit.circuit._plan import Plan
from labkit.circuit.elements import corners, terminals
from labkit.circuit.errors import CircuitError

__all__ = ["no_single_point", "restless"]


def no_single_point(plan: Plan, key: int) -> CircuitError:
    """The error for a singular network: only ideal voltages that close a ring can make one."""
    ring = _ideal_ring(plan)
    if ring:
        names = " and ".join([", ".join(ring[:-1]), ring[-1]] if len(ring) > 1 else ring)
        return CircuitError(
            f"{names} hold ideal voltages against each other with no resistance between them",
            where=", ".join(ring),
            try_this="give one of them an inner resistance, or put a wire with its resistance between them",
            code="circuit-conflict",
        )
    closed = [s.name for s in plan.switches if key >> plan.switch_bit[s.name] & 1]
    return CircuitError(
        "the network has no single operating point",
        where="closed switches: " + (", ".join(closed) or "none"),
        try_this="look for figures that differ by more than a million million times, such as 1e-12 ohm",
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


def _ideal_ring(plan: Plan) -> list[str]:
    """Names of the parts with a vertical piece that form a ring, or that stand across one another."""
    links: dict[str, list[tuple[str, str]]] = {}
    for part in plan.curves:
        points = corners(part)
        if not any(v0 == v1 for (v0, _), (v1, _) in pairwise(points)):
            continue
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

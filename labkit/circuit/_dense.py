"""The plain engine: the whole network as one dense system for each choice of pieces.

Unknowns are, in this order, the amps of every resistor and closed switch, the running number x of every
curve, and the volts of every node but ground. Keeping the amps as unknowns (``v_a - v_b - R i = 0``) keeps
the digits: on the plain nodal matrix the 1e-9 S of a floating wire drowns beside the 1000 S of a milliohm
joint.
"""

from __future__ import annotations

import numpy as np

from labkit.circuit._explain import conflict, free_ring, ideal_ring, no_single_point, restless
from labkit.circuit._graph import Floats, Ints
from labkit.circuit._plan import Plan, curve_state
from labkit.circuit._settle import Restless, settle
from labkit.circuit.solution import Solution

__all__ = ["solve_dense"]


def solve_dense(plan: Plan, key: int) -> Solution:
    """The operating point in one switch position.

    Raises
    ------
    CircuitError
        If the network has no single operating point; names the parts.
    """
    closed = plan.closed_rows(key)
    ends = np.concatenate([plan.fixed_ends, plan.switch_ends[closed]])
    ohm = np.concatenate([plan.fixed_ohm, plan.switch_ohm[closed]])
    graphs = plan.graphs
    branches, curves, nodes = len(ends), len(plan.curves), len(plan.nodes) - 1
    size = branches + curves + nodes
    matrix = np.zeros((size, size + 1))  # one spare column takes what would belong to ground
    column = np.arange(branches)
    matrix[column, column] = -ohm
    at = branches + curves
    for k, (a, b) in enumerate(np.concatenate([ends, plan.curve_ends])):
        for node, sign in ((a, 1.0), (b, -1.0)):
            if node:
                matrix[k, at + node - 1] += sign
                if k < branches:
                    matrix[at + node - 1, k] += sign
    diagonal = np.arange(at, at + nodes)
    matrix[diagonal, diagonal] += plan.circuit.stray_per_ohm
    matrix = matrix[:, :size]
    rows = graphs.rows
    inc = np.zeros((nodes + 1, curves))
    np.add.at(inc, (plan.curve_ends[:, 0], rows), 1.0)
    np.add.at(inc, (plan.curve_ends[:, 1], rows), -1.0)
    inc = inc[1:]

    def solve(pieces: Ints) -> tuple[Floats, Floats]:
        full = matrix.copy()
        slope = graphs.v_by[rows, pieces]
        if ideal_ring(plan, graphs.upright[rows, pieces]):
            # a choice on the way, not yet an answer: a little resistance drives the pieces apart
            slope = slope + np.where(graphs.upright[rows, pieces], 1e-9, 0.0)
        full[branches + rows, branches + rows] = -slope
        full[at:, branches:at] = inc * graphs.i_by[rows, pieces]
        right = np.zeros(size)
        right[branches:at] = graphs.v_at[rows, pieces]
        right[at:] = -inc @ graphs.i_at[rows, pieces]
        try:
            y = np.linalg.solve(full, right)
            y += np.linalg.solve(full, right - full @ y)
        except np.linalg.LinAlgError:
            raise no_single_point(plan, key) from None
        if not np.isfinite(y).all():
            raise no_single_point(plan, key)
        return y[branches:at], y

    if curves:
        try:
            pieces, (x, y) = settle(graphs, solve, graphs.locate(np.zeros(curves)))
        except Restless as exc:
            raise restless(exc.parts) from None
    else:
        pieces = rows
        x, y = solve(pieces)
    volts = np.concatenate([[0.0], y[at:]])
    amps = curve_state(graphs, pieces, x)[1]
    ring = free_ring(plan, volts, amps)
    if ring:
        raise conflict(ring)
    return Solution(plan, key, (volts, pieces, amps))

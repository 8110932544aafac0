"""The fast engine: one inverse for a circuit, then a small system for each position.

The base network has every switch closed and every curve replaced by a resistance. It is written in the mixed
form

    [ -R   A ] [ i ]   [ e ]        v_a - v_b = R i + e   for every branch
    [ A^T  S ] [ v ] = [ J ]        branch amps and strays add up to J at every node

and inverted once. Opening a branch is then putting in the EMF e that brings its current to 0, a curve is an
EMF that follows its own amps, a further resistance between two nodes is a pair of injections J. Each is a
column of the inverse, so a position costs one system of the size (open switches) and a few of the size
(curves); see `_position`.

Why opened and never closed: the inverse of a network in pieces holds figures near 1e9 ohm, of which the joint
would have to find its milliohms in the last digits. Why mixed and not nodal: the 1e-9 S of a floating wire
drown beside the 1000 S of a joint as soon as both are added up on one diagonal; as unknowns of their own the
currents keep the digits.
"""

from __future__ import annotations

import numpy as np

from labkit.circuit._graph import RHO_OHM, Floats, Ints
from labkit.circuit._plan import Plan
from labkit.circuit.elements import Source

__all__ = ["Engine"]


class Engine:
    """The base inverse of a planned circuit and what is read from it.

    Branches are numbered resistors first, then switches, then curves; nodes as in the plan, ground in front.

    Attributes
    ----------
    admit
        Branch amps by branch EMF, A/V.
    follow
        Node volts by branch EMF, V/V; also branch amps by amps injected at a node.
    impede
        Node volts by amps injected at a node, V/A.
    tables
        Rows ``e_at, e_by, i_at, i_by`` of every piece of every curve, curve by curve: the EMF is ``e_at +
        e_by * x``.

    Raises
    ------
    numpy.linalg.LinAlgError
        If the base network is singular; it cannot be, short of figures 1e15 apart.
    """

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.graphs = graphs = plan.graphs
        self.nodes = len(plan.nodes) - 1
        fixed, switches, curves = len(plan.fixed), len(plan.switches), len(plan.curves)
        self.first_switch, self.first_curve = fixed, fixed + switches
        self.branches = branches = fixed + switches + curves
        ends = np.concatenate([plan.fixed_ends, plan.switch_ends, plan.curve_ends])
        self.upper, self.lower = np.ascontiguousarray(ends.T)
        self.base_ohm = np.concatenate([plan.fixed_ohm, plan.switch_ohm, np.full(curves, RHO_OHM)])
        self.per_ohm = 1.0 / self.base_ohm[: self.first_curve]
        inverse = np.linalg.inv(self._matrix(ends))
        self.admit: Floats = np.ascontiguousarray(inverse[:branches, :branches])
        # ground in front, with zeros
        self.follow: Floats = np.zeros((self.nodes + 1, branches))
        self.follow[1:] = inverse[branches:, :branches]
        self.by_emf = np.ascontiguousarray(self.follow.T)
        self.impede: Floats = np.zeros((self.nodes + 1, self.nodes + 1))
        self.impede[1:, 1:] = inverse[branches:, branches:]
        # the curves' own block: amps by their own EMFs
        self.admit_cc = np.ascontiguousarray(self.admit[self.first_curve :, self.first_curve :])
        self.tables = np.stack(
            [
                (graphs.v_at - RHO_OHM * graphs.i_at).ravel(),
                (graphs.v_by - RHO_OHM * graphs.i_by).ravel(),
                graphs.i_at.ravel(),
                graphs.i_by.ravel(),
            ]
        )
        self.row_starts = graphs.rows * graphs.v_at.shape[1]
        self.start = self._start()
        # amps into each node by branch amps
        self.into_nodes: Floats = np.zeros((branches, self.nodes + 1))
        np.add.at(self.into_nodes, (np.arange(branches), self.lower), 1.0)
        np.add.at(self.into_nodes, (np.arange(branches), self.upper), -1.0)
        self.bits = np.array([1 << k for k in range(min(switches, 62))], dtype=np.int64)

    def _matrix(self, ends: Ints) -> Floats:
        size = self.branches + self.nodes + 1
        matrix = np.zeros((size, size))
        row = np.arange(self.branches)
        matrix[row, row] = -self.base_ohm
        for end, sign in ((0, 1.0), (1, -1.0)):
            # ground's place is the last row and column, cut off below; += because both ends may be one node
            column = self.branches + (ends[:, end] - 1) % (self.nodes + 1)
            matrix[row, column] += sign
            matrix[column, row] += sign
        at = np.arange(self.branches, size)
        matrix[at, at] += self.plan.circuit.stray_per_ohm
        return matrix[:-1, :-1]

    def _start(self) -> Ints:
        """The pieces a solve sets out from: sources hold their volts, all else is as if there were no voltage."""
        pieces = self.graphs.locate(np.zeros(len(self.plan.curves)))
        for row, part in enumerate(self.plan.curves):
            if isinstance(part, Source):
                pieces[row] = self.graphs.pieces[row] - 2
        return pieces

    def open_branches(self, key: int) -> Ints:
        """Branch numbers of the switches that a key leaves open."""
        count = self.first_curve - self.first_switch
        if count < 63:
            return (self.bits & ~(key & ((1 << count) - 1))).nonzero()[0] + self.first_switch
        bits = (~key & ((1 << count) - 1)).to_bytes(count // 8 + 1, "little")
        spread = np.unpackbits(np.frombuffer(bits, dtype=np.uint8), bitorder="little")
        return spread.nonzero()[0] + self.first_switch

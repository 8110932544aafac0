"""The fast engine: one inverse for a circuit, then a small system for each position.

The base network has every switch closed and every curve replaced by a resistance. It is written in the mixed
form

    [ -R   A ] [ i ]   [ e ]        v_a - v_b = R i + e   for every branch
    [ A^T  S ] [ v ] = [ J ]        branch amps and strays add up to J at every node

and inverted once. Opening a branch is then putting in the EMF e that brings its current to 0, a curve is an
EMF that follows its own amps, a further resistance between two nodes is a pair of injections J. Each is a
column of the inverse, so a position costs one system of the size (open switches) and a few of the size
(curves).

Why opened and never closed: the inverse of a network in pieces holds figures near 1e9 ohm, of which the joint
would have to find its milliohms in the last digits. Why mixed and not nodal: the 1e-9 S of a floating wire
drown beside the 1000 S of a joint as soon as both are added up on one diagonal; as unknowns of their own the
currents keep the digits.

What rounding is left is taken out by correction: the currents at every node are added up from the volts
found, and what is missing is sent through the same small systems once more.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from labkit.circuit._graph import RHO_OHM, Floats, Ints
from labkit.circuit._plan import Plan
from labkit.circuit._settle import FINE_V, ROUGH_V, settle
from labkit.circuit.elements import Source

__all__ = ["Engine", "Inexact", "Join"]

# a further resistance between two nodes: node numbers and ohm
Join = tuple[int, int, float]

# A correction smaller than this is the last one: each is some ten million times smaller than the one before
# (measured on the random boards of the tests; a hundred would do for 1 mV and 1 uA).
ENOUGH_V, ENOUGH_A = 1e-4, 1e-8
CORRECTIONS = 5


class Inexact(Exception):  # noqa: N818 - caught inside the room
    """The corrections do not shrink: leave this network to the plain engine."""


class Engine:
    """The base inverse of a planned circuit and what is read from it.

    Branches are numbered resistors first, then switches, then curves; nodes as in the plan, less ground.

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
        self.ends = np.concatenate([plan.fixed_ends, plan.switch_ends, plan.curve_ends])
        self.base_ohm = np.concatenate([plan.fixed_ohm, plan.switch_ohm, np.full(curves, RHO_OHM)])
        self.ohm = np.concatenate([plan.fixed_ohm, plan.switch_ohm])
        inverse = np.linalg.inv(self._matrix())
        self.admit = inverse[:branches, :branches]  # branch amps by EMF, A/V
        self.follow = inverse[branches:, :branches]  # node volts by EMF, V/V
        self.impede = np.ascontiguousarray(inverse[branches:, branches:])  # node volts by injected amps, V/A
        # curves' own blocks, contiguous
        self.admit_cc = np.ascontiguousarray(self.admit[self.first_curve :, self.first_curve :])
        self.follow_c = np.ascontiguousarray(self.follow[:, self.first_curve :])
        # EMF of a curve at x on a piece: e = v - rho i
        self.e_at = graphs.v_at - RHO_OHM * graphs.i_at
        self.e_by = graphs.v_by - RHO_OHM * graphs.i_by
        self.ends_t = np.ascontiguousarray(self.ends.T)
        self.start = self._start()

    def _matrix(self) -> Floats:
        size = self.branches + self.nodes + 1
        matrix = np.zeros((size, size))
        row = np.arange(self.branches)
        matrix[row, row] = -self.base_ohm
        for end, sign in ((0, 1.0), (1, -1.0)):
            # ground's place is the last row and column, cut off below; += because both ends may be one node
            column = self.branches + (self.ends[:, end] - 1) % (self.nodes + 1)
            matrix[row, column] += sign
            matrix[column, row] += sign
        at = np.arange(self.branches, size)
        matrix[at, at] += self.plan.circuit.stray_siemens
        return matrix[:-1, :-1]

    def _start(self) -> Ints:
        """The pieces a solve sets out from: sources hold their volts, all else is as if there were no voltage."""
        pieces = self.graphs.locate(np.zeros(len(self.plan.curves)))
        for row, part in enumerate(self.plan.curves):
            if isinstance(part, Source):
                pieces[row] = self.graphs.pieces[row] - 2
        return pieces

    @cached_property
    def switch_rows(self) -> Ints:
        """Branch numbers of the switches."""
        return np.arange(self.first_switch, self.first_curve)

    def open_branches(self, key: int) -> Ints:
        """Branch numbers of the switches that a key leaves open."""
        first = self.first_switch
        return np.array([first + k for k in range(self.first_curve - first) if not key >> k & 1], dtype=np.int64)

    def operate(
        self, opened: Ints, joins: Sequence[Join] = (), inject: Floats | None = None
    ) -> tuple[Floats, Ints, Floats]:
        """Node volts (ground first), pieces and amps of the curves.

        Parameters
        ----------
        opened
            Branch numbers of the open switches, and of resistors to be taken out.
        joins
            Further resistances between nodes.
        inject
            Amps put into every node but ground from outside.

        Raises
        ------
        Inexact
            If rounding cannot be corrected away.
        Restless
            If the curves do not settle.
        numpy.linalg.LinAlgError
            If a system is singular.
        """
        return _Position(self, opened, joins, inject).operate()


class _Position:
    """One position of the switches, its joins and injections, with curves still free."""

    def __init__(self, engine: Engine, opened: Ints, joins: Sequence[Join], inject: Floats | None) -> None:
        self.engine = engine
        self.opened = opened
        self.joins = joins
        self.inject = inject
        curve = engine.first_curve
        block = engine.admit[opened]
        within = block[:, opened]
        couple = block[:, curve:]
        spread = engine.follow[:, opened]
        if joins:
            pairs, ohm = np.array([j[:2] for j in joins]), np.array([j[2] for j in joins])
            across = _pairs(engine.impede, pairs)  # node volts by amps sent into a, out of b
            of_open = _pairs(spread.T, pairs).T
            within = np.block([[within, of_open.T], [of_open, _pairs(across.T, pairs) + np.diag(ohm)]])
            couple = np.concatenate([couple, _pairs(engine.follow_c.T, pairs).T])
            spread = np.concatenate([spread, across], axis=1)
        self.within = within
        self.couple = couple
        # Solved, never multiplied by an inverse: an island makes that inverse 1e9 large, and where its rows
        # cancel nothing is left. Elimination has done the cancelling before it divides.
        self.answer: Floats = np.linalg.solve(within, couple)
        self.spread = spread
        # what the curves see of everything else: amps by their own EMFs
        self.seen = engine.admit_cc - couple.T @ self.answer
        self.live = np.delete(np.arange(curve), opened)

    def operate(self) -> tuple[Floats, Ints, Floats]:
        engine = self.engine
        graphs = engine.graphs
        first = self._driven(self.inject)
        pieces: Ints
        x: Floats
        volts: Floats
        if not len(graphs.rows):
            pieces, x, volts = graphs.rows, np.zeros(0), self._volts(first, np.zeros(0))
        else:
            pieces, x = settle(graphs, lambda p: self._x(p, first), engine.start, ROUGH_V)
            volts = self._volts(first, self._emf(pieces, x))
        volts, x = self._correct(pieces, volts, x)
        if len(x) and graphs.overshoot(x, pieces).max() > FINE_V:
            # so near a corner that the uncorrected figures chose the piece
            pieces, x = settle(graphs, lambda p: self._exact(p, first)[1], graphs.locate(x), FINE_V)
            volts, x = self._exact(pieces, first)
        rows = graphs.rows
        return volts, pieces, graphs.i_at[rows, pieces] + graphs.i_by[rows, pieces] * x

    def _exact(self, pieces: Ints, first: _Drive) -> tuple[Floats, Floats]:
        x = self._x(pieces, first)
        return self._correct(pieces, self._volts(first, self._emf(pieces, x)), x)

    def _driven(self, inject: Floats | None) -> _Drive:
        """What injected amps do while the curves' EMFs are 0."""
        if inject is None:
            return _Drive(None, None, None)
        engine = self.engine
        volts = engine.impede @ inject
        opened = len(self.opened)
        held = np.empty(len(self.within))
        held[:opened] = inject @ engine.follow[:, self.opened]
        if self.joins:
            held[opened:] = _pairs(volts[None], np.array([j[:2] for j in self.joins]))[0]
        return _Drive(volts, held, inject @ engine.follow_c - held @ self.answer)

    def _emf(self, pieces: Ints, x: Floats) -> Floats:
        engine = self.engine
        rows = engine.graphs.rows
        emf: Floats = engine.e_at[rows, pieces] + engine.e_by[rows, pieces] * x
        return emf

    def _x(self, pieces: Ints, drive: _Drive) -> Floats:
        """The curves' running numbers for a choice of pieces."""
        engine = self.engine
        graphs = engine.graphs
        rows = graphs.rows
        right = self.seen @ engine.e_at[rows, pieces] - graphs.i_at[rows, pieces]
        if drive.amps is not None:
            right += drive.amps
        x: Floats = np.linalg.solve(self._matrix(pieces), right)
        return x

    def _matrix(self, pieces: Ints) -> Floats:
        engine = self.engine
        rows = engine.graphs.rows
        matrix: Floats = -self.seen * engine.e_by[rows, pieces]
        matrix.flat[:: len(rows) + 1] += engine.graphs.i_by[rows, pieces]
        return matrix

    def _volts(self, drive: _Drive, emf: Floats) -> Floats:
        """Volts of every node but ground."""
        held = self.couple @ emf
        if drive.held is not None:
            held += drive.held
        inner = np.linalg.solve(self.within, held)
        volts: Floats = self.engine.follow_c @ emf - self.spread @ inner
        if drive.volts is not None:
            volts = volts + drive.volts
        return volts

    def _correct(self, pieces: Ints, volts: Floats, x: Floats) -> tuple[Floats, Floats]:
        """Volts with ground in front, and x, after corrections; see the module's text."""
        engine = self.engine
        graphs = engine.graphs
        rows = graphs.rows
        volts = np.concatenate([[0.0], volts])
        e_by = engine.e_by[rows, pieces]
        matrix = self._matrix(pieces)
        for _ in range(CORRECTIONS):
            missing, beside = self._missing(pieces, volts, x)
            drive = self._driven(missing)
            assert drive.amps is not None
            shift = np.linalg.solve(matrix, drive.amps - self.seen @ beside) if len(x) else x
            step = self._volts(drive, e_by * shift - beside)
            volts[1:] += step
            x = x + shift
            most = float(np.abs(step).max(initial=0.0))
            if most < ENOUGH_V and float(np.abs(missing).max(initial=0.0)) < ENOUGH_A:
                return volts, x
            if not most < 1e9:
                break
        raise Inexact

    def _missing(self, pieces: Ints, volts: Floats, x: Floats) -> tuple[Floats, Floats]:
        """Amps each node lacks, and volts each curve is beside its own."""
        engine = self.engine
        graphs = engine.graphs
        rows = graphs.rows
        upper, lower = engine.ends_t
        across = volts[upper] - volts[lower]
        amps = np.zeros(engine.branches)
        live = self.live
        amps[live] = across[live] / engine.ohm[live]
        curve = engine.first_curve
        amps[curve:] = graphs.i_at[rows, pieces] + graphs.i_by[rows, pieces] * x
        beside = across[curve:] - (graphs.v_at[rows, pieces] + graphs.v_by[rows, pieces] * x)
        count = engine.nodes + 1
        missing: Floats = np.bincount(lower, amps, count).astype(float) - np.bincount(upper, amps, count)
        missing -= engine.plan.circuit.stray_siemens * volts
        if self.inject is not None:
            missing[1:] += self.inject
        for a, b, ohm in self.joins:
            flow = (volts[a] - volts[b]) / ohm
            missing[a] -= flow
            missing[b] += flow
        return missing[1:], beside


class _Drive:
    """What injected amps do to node volts, to the opened branches and joins, and to the curves' amps."""

    __slots__ = ("amps", "held", "volts")

    def __init__(self, volts: Floats | None, held: Floats | None, amps: Floats | None) -> None:
        self.volts = volts
        self.held = held
        self.amps = amps


def _pairs(by_node: Floats, pairs: Ints) -> Floats:
    """Differences a - b of the columns of a table that has one column for each node but ground."""
    wide = np.concatenate([np.zeros((len(by_node), 1)), by_node], axis=1)
    difference: Floats = wide[:, pairs[:, 0]] - wide[:, pairs[:, 1]]
    return difference

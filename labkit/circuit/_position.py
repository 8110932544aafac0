"""One position of the switches, solved from the base inverse of `_engine`.

The opened branches and joins are eliminated first, which leaves the network as the curves see it; the curves
settle on that. What rounding is left is taken out by correction: the currents at every node are added up from
the volts found, and what is missing is sent through the same small systems once more.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from labkit.circuit._engine import Engine
from labkit.circuit._graph import RHO_OHM, Floats, Ints
from labkit.circuit._linear import solve_many, solve_one
from labkit.circuit._settle import FINE_V, settle

__all__ = ["Inexact", "Join", "Position", "operate"]

# a further resistance between two nodes: node numbers and ohm
Join = tuple[int, int, float]

# A correction smaller than this is the last one: each is some ten million times smaller than the one before
# (measured on the random boards of the tests; a hundred would do for 1 mV and 1 uA).
ENOUGH_V, ENOUGH_A = 1e-4, 1e-8
CORRECTIONS = 5


class Inexact(Exception):  # noqa: N818 - caught inside the room
    """The corrections do not shrink: leave this network to the plain engine."""


def operate(
    engine: Engine, opened: Ints, joins: Sequence[Join] = (), inject: Floats | None = None
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
    """
    with np.errstate(all="ignore"):
        return Position(engine, opened, joins, inject).operate()


class Position:
    """The network as the curves see it, everything else eliminated.

    A source of disturbance is told by three things: `volts` it makes at the nodes of the base network, what
    it would drive through the opened branches and across the joins (`held`), and the curves' `amps` it
    causes.
    """

    def __init__(self, engine: Engine, opened: Ints, joins: Sequence[Join], inject: Floats | None) -> None:
        self.engine = engine
        self.opened = opened
        self.joins = joins
        self.inject = inject
        curve = engine.first_curve
        rows = engine.admit.take(opened, 0)
        within, couple = rows.take(opened, 1), rows[:, curve:]
        if joins:
            within, couple = self._with_joins(within, couple)
        self.within = within
        self.couple = couple
        # Solved, never multiplied by an inverse: an island makes that inverse 1e9 large, and where its rows
        # cancel nothing is left. Elimination has done the cancelling before it divides.
        self.answer = solve_many(within, couple)
        # the curves' amps by their own EMFs
        self.seen: Floats = engine.admit_cc - couple.T @ self.answer
        self.siemens = engine.siemens
        if len(opened):
            self.siemens = engine.siemens.copy()
            self.siemens[opened] = 0.0

    def _with_joins(self, within: Floats, couple: Floats) -> tuple[Floats, Floats]:
        engine = self.engine
        self.pairs = np.array([j[:2] for j in self.joins])
        ohm = np.array([j[2] for j in self.joins])
        self.across = pairs_of(engine.impede, self.pairs)  # node volts by amps sent into a, out of b
        by_emf = pairs_of(engine.follow.T, self.pairs).T  # volts across a join by branch EMFs
        of_open = by_emf[:, self.opened]
        corner = pairs_of(self.across.T, self.pairs) + np.diag(ohm)
        within = np.block([[within, of_open.T], [of_open, corner]])
        return within, np.concatenate([couple, by_emf[:, engine.first_curve :]])

    def operate(self) -> tuple[Floats, Ints, Floats]:
        """As the function of this module."""
        engine = self.engine
        graphs = engine.graphs
        inject = self.inject
        volts_at, held, amps = (None, None, None) if inject is None else self._driven(inject)
        if not len(graphs.rows):
            pieces = engine.start
            volts, x = self._correct(pieces, self._volts(volts_at, held, np.zeros(0)), np.zeros(0))
            return volts, pieces, x

        def rough(pieces: Ints) -> Floats:
            return self._x(self._table(pieces), amps)

        def exact(pieces: Ints) -> tuple[Floats, Floats]:
            table = self._table(pieces)
            x = self._x(table, amps)
            return self._correct(pieces, self._volts(volts_at, held, table[0] + table[1] * x), x)

        pieces, x = settle(graphs, rough, engine.start)
        table = self._table(pieces)
        volts, x = self._correct(pieces, self._volts(volts_at, held, table[0] + table[1] * x), x)
        found = graphs.locate(x)
        if found.tobytes() != pieces.tobytes() and graphs.overshoot(x, pieces).max() > FINE_V:
            # so near a corner that the uncorrected figures chose the piece
            pieces, x = settle(graphs, lambda p: exact(p)[1], found)
            volts, x = exact(pieces)
            table = self._table(pieces)
        return volts, pieces, table[2] + table[3] * x

    def _table(self, pieces: Ints) -> Floats:
        return self.engine.tables.take(self.engine.row_starts + pieces, 1)

    def _driven(self, inject: Floats) -> tuple[Floats, Floats, Floats]:
        """What injected amps do while the curves' EMFs are 0."""
        engine = self.engine
        volts = engine.impede @ inject
        by_branch = inject @ engine.follow
        held = by_branch.take(self.opened)
        if self.joins:
            held = np.concatenate([held, pairs_of(volts[None], self.pairs)[0]])
        return volts, held, by_branch[engine.first_curve :] - held @ self.answer

    def _matrix(self, table: Floats) -> Floats:
        matrix: Floats = self.seen * -table[1]
        matrix.ravel()[:: len(matrix) + 1] += table[3]
        return matrix

    def _x(self, table: Floats, amps: Floats | None) -> Floats:
        """The curves' running numbers for a choice of pieces."""
        right = self.seen @ table[0] - table[2]
        return solve_one(self._matrix(table), right if amps is None else right + amps)

    def _volts(self, volts: Floats | None, held: Floats | None, emf: Floats) -> Floats:
        """Volts of every node but ground."""
        engine = self.engine
        drive = self.couple @ emf
        inner = solve_one(self.within, drive if held is None else drive + held)
        emfs = np.zeros(engine.branches)
        emfs[engine.first_curve :] = emf
        opened = len(self.opened)
        emfs[self.opened] = -inner[:opened]
        made: Floats = engine.follow @ emfs
        if self.joins:
            made = made - self.across @ inner[opened:]
        return made if volts is None else made + volts

    def _correct(self, pieces: Ints, volts: Floats, x: Floats) -> tuple[Floats, Floats]:
        """Volts with ground in front, and x, after corrections; see the module's text."""
        table = self._table(pieces)
        matrix = self._matrix(table)
        volts = np.concatenate([_GROUND, volts])
        for _ in range(CORRECTIONS):
            missing, beside = self._missing(table, volts, x)
            volts_at, held, amps = self._driven(missing)
            shift = solve_one(matrix, amps - self.seen @ beside) if len(x) else x
            step = self._volts(volts_at, held, table[1] * shift - beside)
            volts[1:] += step
            x = x + shift
            most = max(step.max(initial=0.0), -step.min(initial=0.0))
            if most < ENOUGH_V and max(missing.max(initial=0.0), -missing.min(initial=0.0)) < ENOUGH_A:
                return volts, x
            if not most < 1e9:
                break
        raise Inexact

    def _missing(self, table: Floats, volts: Floats, x: Floats) -> tuple[Floats, Floats]:
        """Amps each node lacks, and volts each curve is beside its own."""
        engine = self.engine
        curve = engine.first_curve
        across = volts.take(engine.upper) - volts.take(engine.lower)
        own = table[2] + table[3] * x
        beside = across[curve:] - (table[0] + table[1] * x + RHO_OHM * own)
        amps = np.concatenate([across[:curve] * self.siemens, own])
        count = engine.nodes + 1
        # added up from both ends alike, so that what leaves one node enters the other to the last bit
        missing: Floats = np.bincount(engine.lower, amps, count).astype(float)
        missing += np.bincount(engine.upper, -amps, count)
        missing -= engine.plan.circuit.stray_siemens * volts
        missing = missing[1:]
        if self.inject is not None:
            missing += self.inject
        for a, b, ohm in self.joins:
            flow = (volts[a] - volts[b]) / ohm
            if a:
                missing[a - 1] -= flow
            if b:
                missing[b - 1] += flow
        return missing, beside


_GROUND = np.zeros(1)


def pairs_of(by_node: Floats, pairs: Ints) -> Floats:
    """Differences a - b of the columns of a table that has one column for each node but ground."""
    wide = np.concatenate([np.zeros((len(by_node), 1)), by_node], axis=1)
    difference: Floats = wide[:, pairs[:, 0]] - wide[:, pairs[:, 1]]
    return difference

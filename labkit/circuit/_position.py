"""One position of the switches, solved from the base inverse of `_engine`.

The opened branches and joins are eliminated first, which leaves the network as the curves see it; the curves
settle on that. What rounding is left is taken out by correction: the currents at every node are added up from
the volts found, and what is missing is sent through the same small systems once more.

Arrays over nodes have ground in front, where everything is 0.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from labkit.circuit._engine import Engine
from labkit.circuit._graph import RHO_OHM, Floats, Ints
from labkit.circuit._linear import solve_many, solve_one
from labkit.circuit._settle import FINE_V, ROUGH_CIRCLE_V, settle

__all__ = ["Inexact", "Join", "Position", "operate"]

# a further resistance between two nodes: node numbers and ohm
Join = tuple[int, int, float]

# A correction smaller than this is the last one: each is some ten million times smaller than the one before
# (measured on the random boards of the tests; a hundred would do for 1 mV and 1 uA). Root of the sum of
# squares.
ENOUGH_V, ENOUGH_A = 1e-4, 1e-8
CORRECTIONS = 5


class Inexact(Exception):  # noqa: N818 - caught inside the room
    """The corrections do not shrink: leave this network to the plain engine."""


def operate(
    engine: Engine, opened: Ints, joins: Sequence[Join] = (), inject: Floats | None = None
) -> tuple[Floats, Ints, Floats]:
    """Node volts, pieces and amps of the curves.

    Parameters
    ----------
    opened
        Branch numbers of the open switches, and of resistors to be taken out.
    joins
        Further resistances between nodes.
    inject
        Amps put into every node from outside; what ground gets is not looked at.

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

    A disturbance is told by three things: the `volts` it makes at the nodes of the base network, what it
    would drive through the opened branches and across the joins (`held`), and the curves' `amps` it causes.
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
        self.per_ohm = engine.per_ohm.copy()
        self.per_ohm[opened] = 0.0

    def _with_joins(self, within: Floats, couple: Floats) -> tuple[Floats, Floats]:
        engine = self.engine
        a, b = self.pairs = np.array([j[:2] for j in self.joins]).T
        ohm = np.array([j[2] for j in self.joins])
        self.across = engine.impede[:, a] - engine.impede[:, b]  # node volts by amps sent into a, out of b
        by_emf = engine.follow[a] - engine.follow[b]  # volts across a join by branch EMFs
        of_open = by_emf[:, self.opened]
        corner = self.across[a] - self.across[b] + np.diag(ohm)
        within = np.block([[within, of_open.T], [of_open, corner]])
        return within, np.concatenate([couple, by_emf[:, engine.first_curve :]])

    def operate(self) -> tuple[Floats, Ints, Floats]:
        """As the function of this module."""
        engine = self.engine
        table: Floats
        matrix: Floats
        graphs = engine.graphs
        inject = self.inject
        at, held, amps = (None, None, None) if inject is None else self._driven(inject)
        if not len(graphs.rows):
            table, matrix = np.zeros((4, 0)), np.zeros((0, 0))
            volts, x = self._correct(table, matrix, self._volts(at, held, table[0]), table[0])
            return volts, engine.start, x
        pieces, (x, table, matrix) = settle(graphs, lambda p: self.linear(p, amps), engine.start, ROUGH_CIRCLE_V)
        volts, x = self._correct(table, matrix, self._volts(at, held, table[0] + table[1] * x), x)
        found = graphs.locate(x)
        if found.tobytes() != pieces.tobytes() and graphs.overshoot(x, pieces).max() > FINE_V:
            # so near a corner that the uncorrected figures chose the piece: again, each choice corrected
            def exact(pieces: Ints) -> tuple[Floats, Floats, Floats]:
                x, table, matrix = self.linear(pieces, amps)
                volts, x = self._correct(table, matrix, self._volts(at, held, table[0] + table[1] * x), x)
                return x, table, volts

            pieces, (x, table, volts) = settle(graphs, exact, found)
        return volts, pieces, table[2] + table[3] * x

    def _driven(self, inject: Floats) -> tuple[Floats, Floats, Floats]:
        """What injected amps do while the curves' EMFs are 0: volts, held, amps."""
        engine = self.engine
        volts = engine.impede @ inject
        by_branch = inject @ engine.follow
        held = by_branch.take(self.opened)
        if self.joins:
            a, b = self.pairs
            held = np.concatenate([held, volts[a] - volts[b]])
        return volts, held, by_branch[engine.first_curve :] - held @ self.answer

    def linear(self, pieces: Ints, amps: Floats | None) -> tuple[Floats, Floats, Floats]:
        """The curves' running numbers for a choice of pieces, its table and its matrix."""
        engine = self.engine
        table = engine.tables.take(engine.row_starts + pieces, 1)
        e_at, e_by, i_at, i_by = table
        matrix = self.seen * -e_by
        matrix.ravel()[:: len(matrix) + 1] += i_by
        right = self.seen @ e_at - i_at
        if amps is not None:
            right += amps
        return solve_one(matrix, right), table, matrix

    def _volts(self, volts: Floats | None, held: Floats | None, emf: Floats) -> Floats:
        """Volts of every node."""
        engine = self.engine
        drive = self.couple @ emf
        inner = solve_one(self.within, drive if held is None else drive + held)
        emfs = np.zeros(engine.branches)
        emfs[engine.first_curve :] = emf
        if self.joins:
            opened = len(self.opened)
            emfs[self.opened] = -inner[:opened]
            made: Floats = engine.follow @ emfs - self.across @ inner[opened:]
        else:
            emfs[self.opened] = -inner
            made = engine.follow @ emfs
        return made if volts is None else made + volts

    def _correct(self, table: Floats, matrix: Floats, volts: Floats, x: Floats) -> tuple[Floats, Floats]:
        """Volts and x after corrections; see the module's text."""
        for _ in range(CORRECTIONS):
            missing, beside = self._missing(table, volts, x)
            at, held, amps = self._driven(missing)
            shift = solve_one(matrix, amps - self.seen @ beside) if len(x) else x
            step = self._volts(at, held, table[1] * shift - beside)
            volts += step
            x = x + shift
            square = step @ step
            if square < ENOUGH_V**2 and missing @ missing < ENOUGH_A**2:
                return volts, x
            if not square < 1e18:
                break
        raise Inexact

    def _missing(self, table: Floats, volts: Floats, x: Floats) -> tuple[Floats, Floats]:
        """Amps each node lacks, and volts each curve is beside its own."""
        engine = self.engine
        curve = engine.first_curve
        across = volts.take(engine.upper) - volts.take(engine.lower)
        e_at, e_by, i_at, i_by = table
        own = i_at + i_by * x
        beside = across[curve:] - (e_at + e_by * x + RHO_OHM * own)
        amps = np.concatenate([across[:curve] * self.per_ohm, own])
        count = engine.nodes + 1
        # added up from both ends alike, so that what leaves one node enters the other to the last bit
        missing: Floats = np.bincount(engine.lower, amps, count) - engine.plan.circuit.stray_per_ohm * volts
        missing -= np.bincount(engine.upper, amps, count)
        if self.inject is not None:
            missing += self.inject
        for a, b, ohm in self.joins:
            flow = (volts[a] - volts[b]) / ohm
            missing[a] -= flow
            missing[b] += flow
        missing[0] = 0.0
        return missing, beside

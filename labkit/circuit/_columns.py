"""What positions offer to changed networks: columns of their answers, made once.

All of it is on the sound pieces of a position: every curve a straight line, the network linear. Positions are solved
in stacks, their open branches padded to one width; what is padded has a 1 on the diagonal and nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from labkit.circuit._engine import Engine
from labkit.circuit._graph import RHO_OHM, Floats, Ints
from labkit.circuit._linear import solve_many
from labkit.circuit._position import CORRECTIONS, ENOUGH_A, ENOUGH_V, Inexact, Position
from labkit.circuit._settle import FINE_V, ROUGH_CIRCLE_V, Restless

__all__ = ["ISLAND_S", "Columns", "columns_of"]

ISLAND_S = 1e-6
"""A node that this little holds has insulation behind it, and few digits are left."""

# Rounds in which rounding may not yet end the search for pieces, and further ones in which it may.
QUICK, CAREFUL = 3, 10


class Columns:
    """A position solved, and what EMFs and amps of its curves make of it.

    Parameters
    ----------
    opened
        Branch numbers of what is open.
    within, answer
        What EMFs of the opened branches do to each other; the EMFs there by those of the curves.
    seen
        The curves' amps by their own EMFs.
    volts, pieces
        The sound network's node volts, and the pieces it works on.
    gain
        Every x by what is missing in the curves' equations, if it is known.

    Attributes
    ----------
    x, emf, table
        The curves' running numbers and EMFs; ``e_at, e_by, i_at, i_by`` of the pieces.
    by_curves
        Row for curve: node volts by an EMF in it while the other curves' EMFs stay.
    gain
        Every x by what is missing in the curves' equations.
    x_by_e, x_by_i
        Row for curve: every x by an EMF in it, by an amp through it.
    """

    def __init__(
        self,
        engine: Engine,
        opened: Ints,
        *,
        within: Floats,
        answer: Floats,
        seen: Floats,
        volts: Floats,
        pieces: Ints,
        gain: Floats | None = None,
    ) -> None:
        self.engine, self.opened, self.within, self.answer = engine, opened, within, answer
        self.volts, self.pieces = volts, pieces
        curves = answer.shape[1]
        self.spread: Floats = np.empty((curves + len(opened), engine.by_emf.shape[1]))
        self.by_curves, self.by_shut = self.spread[:curves], self.spread[curves:]
        np.take(engine.by_emf, opened, 0, out=self.by_shut)
        np.subtract(engine.by_emf[engine.first_curve :], answer.T @ self.by_shut, out=self.by_curves)
        self.per_ohm = engine.per_ohm.copy()
        self.per_ohm[opened] = 0.0
        self.table: Floats = engine.tables.take(engine.row_starts + pieces, 1)
        e_at, e_by, i_at, i_by = self.table
        if gain is None:
            matrix = seen * -e_by
            matrix.ravel()[:: len(matrix) + 1] += i_by
            gain = np.linalg.inv(matrix)
        self.gain = gain
        self.x: Floats = self.gain @ (seen @ e_at - i_at)
        self.emf: Floats = e_at + e_by * self.x
        self.x_by_i = np.ascontiguousarray(self.gain.T)
        self.x_by_e: Floats = seen @ self.x_by_i

    @cached_property
    def _taken(self) -> Floats:
        return solve_many(self.within, self.by_shut)

    @cached_property
    def impede(self) -> Floats:
        """Node volts by an amp into each node while the curves' EMFs stay."""
        impede: Floats = self.engine.impede - self.by_shut.T @ self._taken
        return impede

    @cached_property
    def x_by_amps(self) -> Floats:
        """Row for node: every x by an amp into it."""
        return self.by_curves.T @ self.x_by_i

    @cached_property
    def soft(self) -> Ints:
        """Nodes that hang on little more than their insulation here."""
        ohm = self.engine.impede.diagonal() - (self.by_shut * self._taken).sum(axis=0)
        ohm = ohm + (self.x_by_amps * (self.table[1][:, None] * self.by_curves).T).sum(axis=1)
        return np.flatnonzero(ohm > 1.0 / ISLAND_S)

    def held(self, missing: Floats) -> Floats:
        """What stands in the opened branches when amps missing at the nodes are put in, a row for each case."""
        return solve_many(self.within, np.ascontiguousarray((missing @ self.by_shut.T).T)).T


def columns_of(engine: Engine, every: Sequence[Ints]) -> list[Columns | None]:
    """The columns of some positions, told by their open branches; None for one that does not settle."""
    if not engine.plan.curves:
        return [_singly(engine, opened) for opened in every]
    width = max(1, *(len(opened) for opened in every))
    shut = np.full((len(every), width), engine.branches)
    for row, opened in enumerate(every):
        shut[row, : len(opened)] = opened
    stack = _Stack(engine, shut)
    volts, pieces, rests = stack.operate()
    found: list[Columns | None] = []
    for row, opened in enumerate(every):
        if rests[row]:
            n = len(opened)
            within, answer, seen = (
                np.ascontiguousarray(stack.within[row, :n, :n]),
                stack.answer[row, :n],
                stack.seen[row],
            )
            sound = {"volts": volts[row], "pieces": pieces[row], "gain": stack.gain[row]}
            found.append(Columns(engine, opened, within=within, answer=answer, seen=seen, **sound))
        else:
            found.append(_singly(engine, opened))
    return found


def _singly(engine: Engine, opened: Ints) -> Columns | None:
    position = Position(engine, opened, (), None)
    try:
        volts, pieces, _ = position.operate()
        within, answer, seen = position.within, position.answer, position.seen
        return Columns(engine, opened, within=within, answer=answer, seen=seen, volts=volts, pieces=pieces)
    except (Inexact, Restless, np.linalg.LinAlgError):
        return None


class _Stack:
    """Positions of one circuit as `_position` has them one by one; `shut` is padded with the number of branches."""

    def __init__(self, engine: Engine, shut: Ints) -> None:
        self.engine, self.shut, self.each = engine, shut, np.arange(len(shut))[:, None]
        self.true = shut < engine.branches
        real = np.where(self.true, shut, 0)
        both = self.true[:, :, None] & self.true[:, None, :]
        self.within: Floats = np.where(both, engine.admit[real[:, :, None], real[:, None, :]], 0.0)
        diagonal = np.arange(shut.shape[1])
        self.within[:, diagonal, diagonal] += ~self.true
        self.couple: Floats = engine.admit[:, engine.first_curve :].take(real, 0) * self.true[:, :, None]
        self.answer = solve_many(self.within, self.couple)
        self.seen: Floats = engine.admit_cc - self.couple.transpose(0, 2, 1) @ self.answer
        self.per_ohm = np.repeat(np.append(engine.per_ohm, 0.0)[None, :], len(shut), axis=0)
        self.per_ohm[self.each, np.minimum(shut, len(engine.per_ohm))] = 0.0

    def operate(self) -> tuple[Floats, Ints, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
        """Node volts, pieces, and which positions have come to rest."""
        engine, graphs = self.engine, self.engine.graphs
        pieces = np.repeat(engine.start[None, :], len(self.shut), axis=0)
        x, matrix = np.zeros(pieces.shape), np.empty(self.seen.shape)
        rests = np.ones(len(x), dtype=bool)
        first = np.arange(1)
        rests[self._settle(first, pieces, x, matrix)] = False
        if rests[0]:
            pieces[1:] = pieces[0]  # the others are of the same board, so it is a good guess
        rests[self._settle(np.arange(1, len(x)), pieces, x, matrix)] = False
        table = self._lines(pieces)
        self.gain: Floats = np.linalg.inv(matrix)
        volts = self._volts(table[0] + table[1] * x)
        wrong = np.ones(len(x), dtype=bool)
        for _ in range(CORRECTIONS):
            missing, beside = self._missing(table, volts, x)
            by_branch = missing @ engine.follow
            held = np.take_along_axis(by_branch, np.where(self.true, self.shut, 0), 1) * self.true
            amps = by_branch[:, engine.first_curve :] - (held[:, None, :] @ self.answer)[:, 0]
            right = amps - (self.seen @ beside[:, :, None])[:, :, 0]
            shift = (self.gain @ right[:, :, None])[:, :, 0]
            step = self._volts(table[1] * shift - beside, held) + missing @ engine.impede
            volts, x = volts + step, x + shift
            small = ((step * step).sum(axis=1) < ENOUGH_V**2) & ((missing * missing).sum(axis=1) < ENOUGH_A**2)
            wrong &= ~small
            if not wrong.any():
                break
        rests &= ~wrong & np.isfinite(volts).all(axis=1)
        rests &= graphs.overshoot_many(x, pieces).max(axis=1) <= ROUGH_CIRCLE_V
        return volts, pieces, rests

    def _settle(self, rows: Ints, pieces: Ints, x: Floats, matrix: Floats) -> Ints:
        """Find pieces, x and matrices of some positions in place; those that do not come to rest."""
        graphs = self.engine.graphs
        diagonal = np.arange(pieces.shape[1])
        for attempt in range(QUICK + CAREFUL):
            if not len(rows):
                break
            e_at, e_by, i_at, i_by = self._lines(pieces[rows])
            system = self.seen[rows] * -e_by[:, None, :]
            system[:, diagonal, diagonal] += i_by
            matrix[rows] = system
            right = (self.seen[rows] @ e_at[:, :, None])[:, :, 0] - i_at
            x[rows] = solve_many(system, right[:, :, None])[:, :, 0]
            outside = graphs.overshoot_many(x[rows], pieces[rows]).max(axis=1)
            rows = rows[outside > (FINE_V if attempt <= QUICK else ROUGH_CIRCLE_V)]
            step = graphs.locate_many(x[rows]) - pieces[rows]
            pieces[rows] += step if attempt < 1 else np.sign(step)  # the guess is good: care pays
        return rows

    def _lines(self, pieces: Ints) -> Floats:
        lines: Floats = self.engine.tables.take(self.engine.row_starts + pieces, 1)
        return lines

    def _volts(self, emf: Floats, held: Floats | None = None) -> Floats:
        """Volts of every node by the curves' EMFs and by what disturbances hold in the opened branches."""
        engine = self.engine
        inner = (self.answer @ emf[:, :, None])[:, :, 0]
        if held is not None:
            inner += solve_many(self.within, held[:, :, None])[:, :, 0]
        emfs = np.zeros((len(emf), engine.branches + 1))
        emfs[:, engine.first_curve : -1] = emf
        emfs[self.each, self.shut] = -inner
        return emfs[:, :-1] @ engine.by_emf

    def _missing(self, table: Floats, volts: Floats, x: Floats) -> tuple[Floats, Floats]:
        """Amps each node lacks, and volts each curve is beside its own."""
        engine = self.engine
        curve = engine.first_curve
        across = volts.take(engine.upper, 1) - volts.take(engine.lower, 1)
        e_at, e_by, i_at, i_by = table
        own = i_at + i_by * x
        beside = across[:, curve:] - (e_at + e_by * x + RHO_OHM * own)
        amps = np.concatenate([across[:, :curve] * self.per_ohm[:, :-1], own], axis=1)
        missing: Floats = amps @ engine.into_nodes - engine.plan.circuit.stray_per_ohm * volts
        missing[:, 0] = 0.0
        return missing, beside

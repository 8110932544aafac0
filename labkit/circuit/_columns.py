"""What one position offers to changed networks: columns of its answer, made once.

All of it is on the sound pieces of the position: every curve a straight line, the network linear.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from labkit.circuit._engine import Engine
from labkit.circuit._graph import Floats, Ints
from labkit.circuit._linear import solve_many
from labkit.circuit._position import Position

__all__ = ["Columns", "PortColumns"]

ISLAND_S = 1e-6
"""A branch whose opening leaves less than this between its ends has insulation behind it, and few digits are left."""


class Columns:
    """A position solved, and what EMFs and amps of its curves make of it.

    Attributes
    ----------
    pieces, x, volts
        The pieces the sound network works on, its curves' running numbers, its node volts.
    table
        ``e_at, e_by, i_at, i_by`` of those pieces.
    by_curves
        Row for curve: node volts by an EMF in it while the other curves' EMFs stay.
    x_by_e, x_by_i
        Row for curve: every x by an EMF in it, by an amp through it.
    """

    def __init__(self, engine: Engine, opened: Ints) -> None:
        self.engine = engine
        self.position = position = Position(engine, opened, (), None)
        self.volts, self.pieces, _ = position.operate()
        curves = self.curves = len(self.pieces)
        self.spread = np.ascontiguousarray(engine.follow[:, opened])
        self.admit_shut = engine.admit.take(opened, 1)
        self.admit_curves = engine.admit[:, engine.first_curve :]
        self.follow_curves = engine.follow[:, engine.first_curve :]
        self.by_curves: Floats = (self.follow_curves - self.spread @ position.answer).T
        if curves:
            self.x, self.table, matrix = position.linear(self.pieces, None)
            self.gain = np.linalg.inv(matrix)
        else:
            self.x, self.table, self.gain = np.zeros(0), np.zeros((4, 0)), np.zeros((0, 0))
        self.emf: Floats = self.table[0] + self.table[1] * self.x
        gain_e = self.gain @ position.seen
        self.x_by_e, self.x_by_i = np.ascontiguousarray(gain_e.T), np.ascontiguousarray(self.gain.T)
        self.weighed = self.table[1][:, None] * self.by_curves

    @cached_property
    def impede(self) -> Floats:
        """Node volts by an amp into each node while the curves' EMFs stay."""
        taken = solve_many(self.position.within, np.ascontiguousarray(self.spread.T))
        impede: Floats = self.engine.impede - self.spread @ taken
        return impede

    @cached_property
    def x_by_amps(self) -> Floats:
        """Row for node: every x by an amp into it."""
        return self.by_curves.T @ self.gain.T

    @cached_property
    def soft(self) -> Ints:
        """Nodes that hang on little more than their insulation here."""
        ohm = self.impede.diagonal() + (self.x_by_amps * self.weighed.T).sum(axis=1)
        return np.flatnonzero(ohm > 1.0 / ISLAND_S)


class PortColumns:
    """What units at ports of one position make, and what they do to each other.

    Attributes
    ----------
    alone
        What a unit at a port does at the port itself, its own resistance included.
    heard
        What a port hears of the sound network: the amps through a branch, the volts across a pair.
    x_by, on_nodes
        Row for port: every x by its unit; node volts by its unit while the curves' EMFs stay.
    by_e, by_i
        Row for port, column for curve: what the port hears of an EMF and of an amp in the curve.
    island
        Whether opening the branch leaves what hangs on it to the insulation.
    cut
        Whether the port is a branch that does something here.
    """

    def __init__(self, columns: Columns, ports: Floats) -> None:
        engine, position = columns.engine, columns.position
        self.branch, self.a, self.b = ports[:, :3].astype(np.int64).T
        ohm = ports[:, 3]
        joins = self.branch < 0
        cut = np.flatnonzero(~joins)
        broken = self.branch[cut]
        on_nodes = engine.impede.take(self.a, 0) - engine.impede.take(self.b, 0)
        on_nodes[cut] = engine.by_emf.take(broken, 0)
        by_shut = columns.spread.take(self.a, 0) - columns.spread.take(self.b, 0)
        by_shut[cut] = columns.admit_shut.take(broken, 0)
        on_curves = columns.follow_curves.take(self.a, 0) - columns.follow_curves.take(self.b, 0)
        on_curves[cut] = columns.admit_curves.take(broken, 0)
        each = np.arange(len(ports))
        own = on_nodes[each, self.a] - on_nodes[each, self.b]
        own[cut] = engine.admit[broken, broken]
        taken = solve_many(position.within, np.ascontiguousarray(by_shut.T)).T
        own -= (by_shut * taken).sum(axis=1)
        # an open contact that opens changes nothing, nor does a joint of a node with itself
        idle: NDArray[np.bool_] = np.isin(self.branch, position.opened) | (joins & (self.a == self.b))
        self.cut = ~joins & ~idle
        self.island: NDArray[np.bool_] = self.cut & (np.abs(own) < ISLAND_S)
        # added ohms oppose the amps of their branch, so they count against the branch's own answer
        own += np.where(joins, ohm, -1.0 / np.where(joins, 1.0, ohm))
        on_curves -= by_shut @ position.answer
        on_nodes -= taken @ columns.spread.T
        for array in (on_curves, on_nodes, by_shut, taken):
            array[idle] = 0.0
        own[idle] = 1.0
        self.by_shut, self.taken, self.on_nodes = by_shut, taken, on_nodes
        self.x_by = on_curves @ columns.gain.T
        self.felt = on_curves * columns.table[1]
        self.heard = on_curves @ columns.emf
        self.by_e = self.felt @ columns.x_by_e.T + on_curves
        self.by_i = self.felt @ columns.gain
        self.alone = own + (self.felt * self.x_by).sum(axis=1)
        self._admit = engine.admit

    def between(self, cases: Ints) -> Floats:
        """The matrix of each case's ports among themselves, -1 for none."""
        used, back = np.unique(cases, return_inverse=True)
        back = back.reshape(cases.shape)
        none = cases < 0
        used = np.where(used < 0, 0, used)
        every = self._mutual(used) + self.felt[used] @ self.x_by[used].T
        found: Floats = every[back[:, :, None], back[:, None, :]]
        found[none[:, :, None] | none[:, None, :]] = 0.0
        diagonal = np.arange(cases.shape[1])
        found[:, diagonal, diagonal] = np.where(none, 1.0, self.alone[cases])
        return found

    def _mutual(self, used: Ints) -> Floats:
        """What units at ports do at other ports, the curves' EMFs staying."""
        branch, on_nodes = self.branch[used], self.on_nodes[used]
        across = on_nodes[:, self.a[used]] - on_nodes[:, self.b[used]]
        seen: Floats = np.where((branch >= 0)[None, :], across.T, across)
        which = np.flatnonzero(self.cut[used])
        branch = branch[which]
        direct = self._admit[branch[:, None], branch] - self.by_shut[used[which]] @ self.taken[used[which]].T
        seen[which[:, None], which] = direct
        return seen

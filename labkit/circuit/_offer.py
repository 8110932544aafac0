"""What some positions and ports offer to the cases of them, in one array each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from labkit.circuit._engine import Engine
from labkit.circuit._graph import Floats, Ints
from labkit.circuit._linear import solve_many
from labkit.circuit._room import together

if TYPE_CHECKING:
    from labkit.circuit.cases import Cases

__all__ = ["Offer", "Units", "runs", "subtract"]

# The last bit of the amps by volts of a branch, which is all that an island behind it may be held by.
ROUNDING = 2.2e-16
# What rounding has done to a port is read off two figures that should be alike; it may be this many times as much.
GUESS = 3.0


class Offer:
    """The columns of all the positions and ports that some cases need, in one array each; a last row for no port.

    Attributes
    ----------
    port
        What each row of ports is in the owner's list.
    by_shut, taken
        What the opened branches hear of a unit at a port, and the EMFs that undo it.
    x_by, felt
        Every x by a unit; what the port hears of an x.
    x_by_e, x_by_i, every_x_by
        Every x by an EMF in a curve, by an amp through it, position by position; both and `x_by` in one array.
    heard
        What a port hears of the sound network: the amps through a branch, the volts across a pair.
    alone
        What a unit at a port does at the port itself, its own resistance included.
    cut, noise, hiss
        Whether the port is a branch that does something here, and how far rounding may have put off its `alone` and
        `heard`.
    """

    def __init__(self, owner: Cases, positions: Ints, number: Ints, ports: Ints) -> None:
        """`ports` of all cases one after the other, `number` of each."""
        self.owner = owner
        self.count = count = len(owner._ports)
        most = len(owner._columns)
        met = np.zeros(most * count, dtype=bool)
        met[np.repeat(positions, number) * count + ports] = True
        codes = np.flatnonzero(met)
        self._row = np.cumsum(met) - 1
        self.port = np.append(codes % count, 0)
        here = np.zeros(most, dtype=bool)
        here[positions] = True
        self.positions = np.flatnonzero(here)
        self.starts = np.searchsorted(codes // count, self.positions)
        self.bases = [base for base in (owner._columns[p] for p in self.positions.tolist()) if base is not None]
        of = np.searchsorted(self.positions, codes // count)
        bases = self.bases
        self.x = np.array([base.x for base in bases])
        self.emf = np.array([base.emf for base in bases])
        self.volts = np.array([base.volts for base in bases])
        self.pieces = np.array([base.pieces for base in bases])
        self.numbers = self.pieces + owner._base * owner._width
        self.lines = np.stack([base.table for base in bases], 1)  # e_at..i_by x position x curve
        self.flat_lines = self.lines.reshape(4, -1)
        graphs, curves = owner._graphs, owner._base
        self.low = graphs.low[curves, self.pieces] - owner.tie_v
        self.high = graphs.high[curves, self.pieces] + owner.tie_v
        self.amps = self.lines[2] + self.lines[3] * self.x
        self.above, self.below = self.high - self.x, self.low - self.x
        self.margin = np.minimum(self.above, -self.below).min(axis=1, initial=np.inf)
        self.per_ohm = np.array([base.per_ohm for base in bases])
        self.table = np.array(list(owner._ports), dtype=float)
        self.units = Units(owner.engine, self.table)
        self._make(of)

    def _make(self, of: Ints) -> None:
        """The arrays of ports; `of` is the position of each."""
        engine, units, port = self.owner.engine, self.units, self.port[:-1]
        total, curves, curve = len(self.port), self.x.shape[1], engine.first_curve
        width = max(1, *(len(base.opened) for base in self.bases))
        of_curves = len(self.bases) * curves
        through, shut_too = (total, curves), (total, width)
        room = together((2 * of_curves + total, curves), through, through, shut_too, shut_too)
        self.every_x_by, self.felt, self.port_by_i, self.by_shut, self.taken = room
        self.x_by_e, self.x_by_i = self.every_x_by[:of_curves], self.every_x_by[of_curves : 2 * of_curves]
        self.x_by = self.every_x_by[2 * of_curves :]
        np.concatenate([base.x_by_e for base in self.bases], out=self.x_by_e)
        np.concatenate([base.x_by_i for base in self.bases], out=self.x_by_i)
        self.by_shut[:], self.taken[:] = 0.0, 0.0
        self.heard, by_curves, loud, apart, self.most = np.empty((5, total))
        branch, joins, ohm = units.branch[port], units.joins[port], units.ohm[port]
        shut = np.zeros((len(self.bases), engine.branches + 1), dtype=bool)
        for number, base in enumerate(self.bases):
            shut[number, base.opened] = True
        # an open contact that opens changes nothing, nor does a joint of a node with itself
        self.idle = idle = np.append(shut[of, branch] | (joins & units.nothing[port]), True)
        self.cut = np.append(~joins, False) & ~idle
        ends = [*self.starts[1:].tolist(), total - 1]
        # position by position, which is small enough to stay at hand
        for base, first, last in zip(self.bases, self.starts.tolist(), ends, strict=True):
            if base is self.bases[-1]:
                last = total  # with the row for no port
            rows, here, opened = slice(first, last), self.port[first:last], len(base.opened)
            e_by = base.table[1]
            by_shut = units.on_opened(here, base.opened)
            on_curves = units.on_branches[:, curve:].take(here, 0)
            np.matmul(np.abs(on_curves), np.abs(base.emf), out=loud[rows])
            on_curves -= by_shut @ base.answer
            none = idle[rows]
            by_shut[none], on_curves[none] = 0.0, 0.0
            self.by_shut[rows, :opened] = by_shut
            self.taken[rows, :opened] = solve_many(base.within, np.ascontiguousarray(by_shut.T)).T
            np.matmul(on_curves, base.emf, out=self.heard[rows])
            x_by = np.matmul(on_curves, base.x_by_i, out=self.x_by[rows])
            felt = np.multiply(on_curves, e_by, out=self.felt[rows])
            # What a port hears of an EMF and of an amp in a curve are by reciprocity x_by times a slope. But what
            # answers to what must agree to the last bit where figures are 1e9 apart: for amps it is reckoned anew.
            by_i = np.matmul(felt, base.gain, out=self.port_by_i[rows])
            np.einsum("ij,ij->i", felt, x_by, out=by_curves[rows])
            # by as much as the two differ, rounding has put off what the curves add to `alone`
            np.einsum("ij,ij->i", np.abs(felt), np.abs(by_i - x_by * e_by), out=apart[rows])
            np.abs(x_by).max(axis=1, initial=0.0, out=self.most[rows])
        own = np.ones(total)
        # added ohms oppose the amps of their branch, so they count against the branch's own answer
        own[:-1] = units.own[port] + np.where(joins, ohm, -1.0 / np.where(joins, 1.0, ohm))
        own -= np.einsum("ij,ij->i", self.by_shut, self.taken)
        own[idle] = 1.0
        self.alone = own + by_curves
        apart *= GUESS
        apart[:-1] += units.noise[port]
        self.noise = np.where(self.cut, apart, 0.0)
        self.hiss = np.where(self.cut, ROUNDING * loud, 0.0)

    def rows(self, at: Ints, ports: Ints) -> Ints:
        """Rows of the ports in the arrays; `at` counts positions as here, ports below 0 are none."""
        return np.where(
            ports < 0, len(self.port) - 1, self._row[self.positions[at][:, None] * self.count + np.maximum(ports, 0)]
        )

    def spread(self, at: Ints, ports: Ints, emf: Floats, y: Floats, held: Floats | None = None) -> Floats:
        """Node volts that EMFs of curves and units of ports make, and EMFs held in the opened branches.

        Of cases sorted by position: `at` and `ports` as in :meth:`rows` and as it gives them, `y` units of each.
        """
        curves = emf.shape[1]
        which = self.port[ports]
        left = np.empty((len(at), curves + self.taken.shape[1]))
        left[:, :curves] = emf
        shut = left[:, curves:]
        if held is None:
            shut[:] = 0.0
        else:
            np.negative(held, out=shut)
        subtract(shut, -y, self.taken, ports)
        volts = np.empty((len(at), self.volts.shape[1]))
        for number, here in runs(at):  # run by run, which is small enough to stay at hand
            right = self.bases[number].spread
            np.matmul(left[here, : len(right)], right, out=volts[here])
            subtract(volts[here], y[here], self.units.on_nodes, which[here])
        return volts

    def between(self, rows: Ints) -> Floats:
        """The matrix of each case's ports among themselves."""
        units, port = self.units, self.port[rows]
        branch, a, b = units.branch[port][:, :, None], units.a[port][:, :, None], units.b[port][:, :, None]
        other = port[:, None, :]
        across = units.on_nodes[other, a] - units.on_nodes[other, b]
        found: Floats = np.where(units.joins[port][:, :, None], across, units.on_branches[other, branch])
        found -= self.by_shut[rows] @ self.taken[rows].transpose(0, 2, 1)
        found += self.felt[rows] @ self.x_by[rows].transpose(0, 2, 1)
        none = self.idle[rows]
        found[none[:, :, None] | none[:, None, :]] = 0.0
        diagonal = np.arange(rows.shape[1])
        found[:, diagonal, diagonal] = self.alone[rows]
        return found


class Units:
    """What a unit at each port does in the base network, where all is closed."""

    def __init__(self, engine: Engine, table: Floats) -> None:
        self.branch, self.a, self.b = table[:, :3].astype(np.int64).T
        self.ohm, self.joins = table[:, 3], self.branch < 0
        self.nothing: NDArray[np.bool_] = self.a == self.b
        cut = np.flatnonzero(~self.joins)
        broken = self.branch[cut]
        self.on_nodes: Floats = engine.impede.take(self.a, 0) - engine.impede.take(self.b, 0)
        self.on_nodes[cut] = engine.by_emf.take(broken, 0)
        self.on_branches: Floats = engine.follow.take(self.a, 0) - engine.follow.take(self.b, 0)
        self.on_branches[cut] = engine.admit.take(broken, 0)
        each = np.arange(len(table))
        self.own: Floats = self.on_nodes[each, self.a] - self.on_nodes[each, self.b]
        self.own[cut] = engine.admit[broken, broken]
        self.noise = np.zeros(len(table))
        self.noise[cut] = ROUNDING / engine.base_ohm[broken]

    def on_opened(self, ports: Ints, opened: Ints) -> Floats:
        """What the opened branches hear of the units, a row for each port."""
        found: Floats = self.on_branches.take(ports, 0).take(opened, 1)
        return found


def runs(at: Ints) -> Iterator[tuple[int, slice]]:
    """The positions of sorted cases, and where each begins and ends."""
    if not len(at):
        return
    turns = (np.flatnonzero(at[1:] != at[:-1]) + 1).tolist()
    starts = [0, *turns]
    for number, first, last in zip(at[starts].tolist(), starts, [*turns, len(at)], strict=True):
        yield number, slice(first, last)


def subtract(total: Floats, weights: Floats, columns: Floats, which: Ints) -> None:
    """From each case its rows of `columns`, weighed."""
    if which.shape[1] > 2:
        total -= np.matmul(weights[:, None, :], columns.take(which, 0, mode="wrap"))[:, 0]
        return
    for k in range(which.shape[1]):
        part = columns.take(which[:, k], 0)
        part *= weights[:, k : k + 1]
        total -= part

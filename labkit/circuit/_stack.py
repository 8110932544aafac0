"""Cases of one size, solved in stacks: what :mod:`labkit.circuit.cases` says in formulas."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from labkit.circuit._columns import CAREFUL, ISLAND_S, QUICK, SINGLE
from labkit.circuit._explain import free_ring
from labkit.circuit._graph import RHO_OHM, Floats, Ints
from labkit.circuit._linear import solve_many
from labkit.circuit._offer import Offer
from labkit.circuit._position import CORRECTIONS, ENOUGH_V
from labkit.circuit._settle import FINE_V

if TYPE_CHECKING:
    from labkit.circuit.cases import Cases

__all__ = ["PORTS", "TOGETHER", "Case", "Settled", "Stack"]

# Cases are stacked with others of about as many ports and of about as many curves off their sound piece.
PORTS, CURVES, LATER = (1, 4, 16), (1, 3, 8), (4,)
TOGETHER = 8000  # cases at a time, which bounds the memory
# A case is corrected if what hangs on insulation has moved by this: its figures may have no more than three digits.
WEAK_V = 0.02
# An x so near to a corner may be on the wrong side of it by rounding, until it is corrected.
NEAR_V = 1e-6
# What rounding may do to a case is estimated from what opens in it. The estimate knows nothing of curves: a case whose
# curves have moved is corrected if what opens in it had volts across it. Who wants less than this many volts has every
# case corrected in which what opens had volts across it or insulation behind it, or in which a curve is at a corner.
FINELY_V = 1e-4


@dataclass(frozen=True, slots=True)
class Case:
    """One changed network.

    Parameters
    ----------
    position
        From :meth:`Cases.position`.
    ports
        From :meth:`Cases.added` and :meth:`Cases.joined`.
    places
        Curve of the network -> what stands in its place, one of the `others` of the :class:`Cases`.
    driven
        Amps from outside: into a node, out of a node, how many; for a meter's test current.
    """

    position: int
    ports: tuple[int, ...] = ()
    places: Mapping[str, str] = field(default_factory=dict)
    driven: tuple[str, str, float] | None = None


@dataclass(frozen=True, slots=True)
class Settled:
    """Cases as they settled, a row for each.

    Attributes
    ----------
    volts
        Column for node, ground first, in volt.
    pieces, amps
        Column for curve or source in the circuit's order: the piece it works on, and what flows through the part
        from its first node.
    doubtful
        The cases that did not settle in few rounds, or may have no single point: solve them singly.
    """

    volts: Floats
    pieces: Ints
    amps: Floats
    doubtful: NDArray[np.bool_]


class Stack:
    """Cases of about as many ports, sorted by position.

    Parameters
    ----------
    into
        The cases' rows in the result.
    at
        Their positions, counted as in `offer`.
    own
        Their ports, -1 for none.
    places
        What stands in the place of each curve, if it is not what the circuit has in any of them.
    driven
        Of each that amps are driven through: its place among these cases, the two nodes and the amps.
    """

    def __init__(
        self,
        owner: Cases,
        offer: Offer,
        into: Ints,
        *,
        at: Ints,
        own: Ints,
        places: Ints | None,
        driven: tuple[Ints, Ints, Floats],
    ) -> None:
        self.owner, self.offer, self.curves, self.into = owner, offer, len(owner._base), into
        self.at, self.own, self.places = at, own, places
        self.ports = offer.rows(at, own)
        self.heard = offer.heard[self.ports]
        self.between = offer.alone[self.ports][:, :, None] if own.shape[1] == 1 else offer.between(self.ports)
        self.x = offer.x[at]
        self.pushed, self.ends, self.amps = driven
        if len(self.pushed):
            self._drive()

    def _drive(self) -> None:
        """Add to the sound x and volts, and to what the ports hear, the amps from outside."""
        offer, rows = self.offer, self.pushed
        ports = self.ports[rows]
        self.pushed_volts = np.empty((len(rows), offer.volts.shape[1]))
        on_nodes, some = offer.units.on_nodes, offer.port[ports]
        for number, here in _runs(self.at[rows]):
            base, (a, b), amps = offer.bases[number], self.ends[here].T, self.amps[here, None]
            x = base.x_by_amps[a] - base.x_by_amps[b]
            self.x[rows[here]] += amps * x
            self.pushed_volts[here] = amps * (base.impede[a] - base.impede[b])
            nodes = on_nodes[some[here], a[:, None]] - on_nodes[some[here], b[:, None]]
            shut = (base.by_shut[:, a] - base.by_shut[:, b]).T
            nodes -= (offer.taken[ports[here], : shut.shape[1]] * shut[:, None, :]).sum(axis=2)
            curves = (base.by_curves[:, a] - base.by_curves[:, b]).T
            heard = nodes + (offer.port_by_i[ports[here]] * curves[:, None, :]).sum(axis=2)
            self.heard[rows[here]] += amps * heard * ~offer.idle[ports[here]]

    # from sound to settled ----------------------------------------------------------------------
    def settle(self, result: Settled) -> None:
        """Find the pieces of every case; put what comes of it into the result."""
        offer, count = self.offer, len(self.at)
        every = np.arange(count)
        pieces = offer.pieces[self.at]
        if self.places is not None:
            foreign = self.places != self.owner._base
            pieces[foreign] = self._locate(np.zeros(pieces.shape), every)[foreign]
        x, y = self.x.copy(), np.empty(self.ports.shape)
        rows = every
        for attempt in range(QUICK + CAREFUL + SINGLE):
            for few, changed in self._alike(rows, pieces, CURVES if attempt < 3 else LATER, fresh=attempt == 0):
                at = rows if len(few) == count else rows[few]
                x[at], y[at] = self._answer(at, changed, pieces[at], self.heard[at], self.x[at])
            rows = rows[self._moved(rows, pieces, x, fresh=attempt == 0)]
            if not len(rows):
                break
            step = self._locate(x[rows], rows) - pieces[rows]
            if attempt >= QUICK + CAREFUL:
                farthest = self._overshoot(x[rows], pieces[rows], rows).argmax(axis=1)
                step[np.arange(step.shape[1]) != farthest[:, None]] = 0
            pieces[rows] += step if attempt < QUICK else np.sign(step)
        volts, weak = self._volts(every, pieces, x, y)
        bent = self._bent(pieces)
        weak |= self._astray(y, bent) > self.owner.within_v
        apart = np.abs(y) > WEAK_V
        if self.owner.within_v < FINELY_V:
            bent[:] = True
            apart |= np.abs(offer.alone[self.ports]) < ISLAND_S
            weak |= self._at_corner(x)
        weak |= bent & (offer.cut[self.ports] & apart).any(axis=1)
        weak[rows] = False
        doubtful: NDArray[np.bool_] = np.logical_not(np.isfinite(x).all(axis=1) & np.isfinite(y).all(axis=1))
        doubtful[rows] = True
        doubtful[self._refined(np.flatnonzero(weak), pieces, x, volts)] = True
        i_at, i_by = self._lines(every, pieces, slice(2, 4))
        amps = i_by * x
        amps += i_at
        if self.owner._graphs.any_upright:  # ideal parts side by side may share their amps as they like
            plan = self.owner.solver.plan
            doubtful |= np.array([bool(free_ring(plan, v, i)) for v, i in zip(volts, amps, strict=True)], dtype=bool)
        result.volts[self.into], result.pieces[self.into] = volts, pieces
        result.amps[self.into], result.doubtful[self.into] = amps, doubtful

    def _moved(self, rows: Ints, pieces: Ints, x: Floats, *, fresh: bool) -> NDArray[np.bool_]:
        """Whether an x of a case lies outside its piece."""
        offer = self.offer
        if fresh and self.places is None:  # all are on their sound pieces
            outside = x > offer.high.take(self.at, 0)
            outside |= x < offer.low.take(self.at, 0)
            found: NDArray[np.bool_] = outside.any(axis=1)
        else:
            found = self._overshoot(x[rows], pieces[rows], rows).max(axis=1) > self.owner.tie_v
        return found

    def _bent(self, pieces: Ints) -> NDArray[np.bool_]:
        """Whether a curve of a case is on another piece than in the sound network, or is another curve."""
        bent: NDArray[np.bool_] = (pieces != self.offer.pieces.take(self.at, 0)).any(axis=1)
        if self.places is not None:
            bent |= (self.places != self.owner._base).any(axis=1)
        return bent

    def _astray(self, y: Floats, bent: NDArray[np.bool_]) -> Floats:
        """How far rounding may have put off the volts of each case that is not bent, by what opens in it."""
        offer = self.offer
        noise = np.abs(y) * offer.noise[self.ports] + offer.hiss[self.ports]
        found: Floats = (noise / np.abs(offer.alone[self.ports])).max(axis=1)
        if y.shape[1] > 1:
            rows = np.flatnonzero(~bent & (noise > 0).any(axis=1))
            units = np.eye(y.shape[1]) * np.ones((len(rows), 1, 1))
            answer = solve_many(self.between[rows], units)
            found[rows] = (np.abs(answer) * noise[rows, None, :]).sum(axis=2).max(axis=1)
        return found

    def _volts(self, rows: Ints, pieces: Ints, x: Floats, y: Floats) -> tuple[Floats, NDArray[np.bool_]]:
        """Volts of every node: the curves' EMFs and the ports' units, beyond the sound network.

        Also whether a node that hangs on its insulation has moved far from there.
        """
        e_at, e_by = self._lines(rows, pieces, slice(2))
        emf = e_by * x
        emf += e_at
        emf -= self.offer.emf.take(self.at[rows], 0)
        volts = self._spread(rows, emf, y)
        if len(self.pushed):
            place, pushed = self._of_pushed(rows)
            volts[place] += self.pushed_volts[pushed]
        soft = np.zeros(len(rows), dtype=bool)
        for number, here in _runs(self.at[rows]):
            base, some = self.offer.bases[number], volts[here]
            if len(base.soft):
                soft[here] = (np.abs(some.take(base.soft, 1)) > WEAK_V).any(axis=1)
            some += base.volts
        return volts, soft

    def _of_pushed(self, rows: Ints) -> tuple[Ints, Ints]:
        """Which of `rows` amps are driven through, and the numbers of these among all such."""
        here = np.searchsorted(self.pushed, rows)
        place = np.flatnonzero(self.pushed.take(here, mode="clip") == rows)
        return place, here[place]

    def _spread(self, rows: Ints, emf: Floats, y: Floats, held: Floats | None = None) -> Floats:
        """Node volts that EMFs of curves and units of ports make, and EMFs in the opened branches."""
        offer, curves = self.offer, self.curves
        ports = self.ports[rows]
        which = offer.port[ports]
        left = np.zeros((len(rows), curves + offer.taken.shape[1]))
        left[:, :curves] = emf
        shut = left[:, curves:]
        if held is not None:
            shut -= held
        _subtract(shut, -y, offer.taken, ports)
        volts = np.empty((len(rows), offer.volts.shape[1]))
        for number, here in _runs(self.at[rows]):  # run by run, which is small enough to stay at hand
            right = offer.bases[number].spread
            np.matmul(left[here, : len(right)], right, out=volts[here])
            _subtract(volts[here], y[here], offer.units.on_nodes, which[here])
        return volts

    def _lines(self, rows: Ints, pieces: Ints, which: slice = slice(4)) -> Floats:
        """``e_at, e_by, i_at, i_by`` of all curves of some cases, or some of these."""
        lines: Floats = self.owner._tables[which].take(self._numbers(rows, pieces), 1)
        return lines

    def _numbers(self, rows: Ints, pieces: Ints) -> Ints:
        """Where the pieces are in the tables."""
        places = self.owner._base if self.places is None else self.places[rows]
        numbers: Ints = places * self.owner._width + pieces
        return numbers

    def _locate(self, x: Floats, rows: Ints) -> Ints:
        """The piece that each x lies on."""
        inner = self.owner._graphs.inner
        found = np.zeros(x.shape, dtype=np.int64)
        for k in range(inner.shape[1]):
            found += x > (inner[: self.curves, k] if self.places is None else inner[:, k].take(self.places[rows]))
        return found

    def _alike(
        self, rows: Ints, pieces: Ints, sizes: Sequence[int] = CURVES, *, fresh: bool = False
    ) -> Iterator[tuple[Ints, NDArray[np.bool_] | None]]:
        """Places in `rows` in groups of about as many changed curves, and which those are.

        `fresh`: all are still on their sound pieces.
        """
        if fresh and self.places is None:
            yield np.arange(len(rows)), None
            return
        changed = pieces[rows] != self.offer.pieces.take(self.at[rows], 0)
        if self.places is not None:
            changed |= self.places[rows] != self.owner._base
        number = changed.sum(axis=1)
        size = np.where(number == 0, -1, np.searchsorted(sizes, number))
        for step in np.unique(size).tolist():
            few = np.flatnonzero(size == step)
            yield few, None if step < 0 else changed[few]

    def _answer(
        self,
        rows: Ints,
        changed: NDArray[np.bool_] | None,
        pieces: Ints,
        heard: Floats,
        x: Floats,
        *,
        whole: bool = True,
    ) -> tuple[Floats, Floats]:
        """Every x of some cases for a choice of pieces, and the ports' y.

        `heard` and `x` are as with no port and the sound pieces; `x` is written over. Not `whole`: the pieces count as
        lines through 0, as for a correction.
        """
        offer, ports = self.offer, self.ports[rows]
        width = ports.shape[1]
        if changed is None and width == 1:
            y = heard / self.between[rows, 0]
            _subtract(x, y, offer.x_by, ports)
            return x, y
        between, most = self.between[rows], 0 if changed is None else int(changed.sum(axis=1).max(initial=0))
        right = np.zeros((len(rows), width + most, 1))
        right[:, :width, 0] = heard
        if changed is None:
            answer = solve_many(between, right)
        else:
            each = np.arange(len(rows))[:, None]
            first = changed.argmax(axis=1)[:, None]
            which = first if most == 1 else np.argsort(~changed, axis=1, kind="stable")[:, :most]
            position = self.at[rows][:, None]
            places = which if self.places is None else self.places[rows][each, which]
            lines = self.owner._tables.take(places * self.owner._width + pieces[each, which], 1)
            column = position * self.curves + which  # of the curve in its position
            # by how much EMF and amps of each changed curve differ from its sound piece: at x = 0, and by x
            lines -= offer.flat_lines.take(column, 1)
            lines *= changed[each, which]
            e_at, e_by, i_at, i_by = lines
            port, curve = ports[:, :, None] * self.curves, which[:, None, :]
            port = port % (len(offer.port) * self.curves)  # -1 is the last
            pe, pi = offer.port_by_e.take(port + curve), offer.port_by_i.take(port + curve)
            at = column[:, None, :] * self.curves + which[:, :, None]
            xe, xi = offer.x_by_e.take(at), offer.x_by_i.take(at)
            system = np.empty((len(rows), width + most, width + most))
            system[:, :width, :width] = between
            system[:, :width, width:] = pi * i_by[:, None, :] - pe * e_by[:, None, :]
            system[:, width:, :width] = offer.x_by.take(port + curve).transpose(0, 2, 1)
            system[:, width:, width:] = xi * i_by[:, None, :] - xe * e_by[:, None, :]
            diagonal = np.arange(width, width + most)
            system[:, diagonal, diagonal] += 1.0
            right[:, width:, 0] = x[each, which]
            if whole:
                right[:, :width, 0] += (pe * e_at[:, None, :] - pi * i_at[:, None, :]).sum(axis=2)
                right[:, width:, 0] += (xe * e_at[:, None, :] - xi * i_at[:, None, :]).sum(axis=2)
            answer = solve_many(system, right)
            there = answer[:, width:, 0]
            emf, amps = e_by * there, i_by * there
            if whole:
                emf, amps = emf + e_at, amps + i_at
            _subtract(x, -emf, offer.x_by_e, column)
            _subtract(x, amps, offer.x_by_i, column)
        y = answer[:, :width, 0]
        _subtract(x, y, offer.x_by, ports)
        return x, y

    # what rounding has left -----------------------------------------------------------------------
    def _refined(self, rows: Ints, pieces: Ints, x: Floats, volts: Floats) -> Ints:
        """Correct cases, and those that end on other pieces once more on these; the cases that do not come to rest."""
        left = [rows[:0]]
        for _ in range(QUICK):
            left.append(self._corrected(rows, pieces, x, volts))
            there = self._locate(x[rows], rows)
            outside = (there != pieces[rows]) & (self._overshoot(x[rows], pieces[rows], rows) > 10 * FINE_V)
            moved = outside.any(axis=1)
            rows, there = rows[moved], there[moved]
            if not len(rows):
                break
            pieces[rows] = there
            for few, changed in self._alike(rows, pieces):
                at = rows[few]
                x[at], y = self._answer(at, changed, pieces[at], self.heard[at], self.x[at])
                volts[at], _ = self._volts(at, pieces[at], x[at], y)
        return np.concatenate([*left, rows])

    def _at_corner(self, x: Floats) -> NDArray[np.bool_]:
        """Which cases have a curve at a corner that is one."""
        graphs = self.owner._graphs
        places = slice(self.curves) if self.places is None else self.places
        found = np.zeros(len(x), dtype=bool)
        for k in range(graphs.inner.shape[1]):
            bends = graphs.v_by[places, k] != graphs.v_by[places, k + 1]
            found |= ((np.abs(x - graphs.inner[places, k]) < NEAR_V) & bends).any(axis=1)
        return found

    def _overshoot(self, x: Floats, pieces: Ints, rows: Ints) -> Floats:
        """How far each x lies outside its piece."""
        numbers = self._numbers(rows, pieces)
        outside = self.owner._low.take(numbers)
        outside -= x
        np.maximum(outside, x - self.owner._high.take(numbers), out=outside)
        return outside

    def _corrected(self, rows: Ints, pieces: Ints, x: Floats, volts: Floats) -> Ints:
        """Correct cases in place; those whose corrections do not shrink."""
        for _ in range(CORRECTIONS):
            if not len(rows):
                break
            rows = rows[~(self._correct(rows, pieces, x, volts) <= ENOUGH_V)]
        return rows

    def _correct(self, rows: Ints, pieces: Ints, x: Floats, volts: Floats) -> Floats:
        """Send what is missing at the nodes through the same systems once more, as `_position` does.

        The largest step of a node's volts in each case.
        """
        offer = self.offer
        missing, beside = self._missing(rows, pieces[rows], x[rows], volts[rows])
        shift, curves = np.empty((2, len(rows), self.curves))
        into_shut, held = np.zeros((2, len(rows), offer.taken.shape[1]))
        for number, here in _runs(self.at[rows]):
            base, some = offer.bases[number], missing[here]
            opened = slice(len(base.opened))
            into_shut[here, opened] = into = some @ base.by_shut.T
            held[here, opened] = solve_many(base.within, np.ascontiguousarray(into.T)).T
            on_curves = some @ base.by_curves.T
            shift[here] = on_curves @ base.x_by_i - beside[here] @ base.x_by_e
            curves[here] = on_curves
        ports = self.ports[rows]
        heard = (offer.units.on_nodes[offer.port[ports]] * missing[:, None, :]).sum(axis=2)
        heard -= (offer.taken[ports] * into_shut[:, None, :]).sum(axis=2)
        heard += (offer.port_by_i[ports] * curves[:, None, :] - offer.port_by_e[ports] * beside[:, None, :]).sum(axis=2)
        heard *= ~offer.idle[ports]
        y = np.empty(ports.shape)
        for few, changed in self._alike(rows, pieces):
            at = rows[few]
            shift[few], y[few] = self._answer(at, changed, pieces[at], heard[few], shift[few], whole=False)
        step = self._spread(rows, self._lines(rows, pieces[rows])[1] * shift - beside, y, held)
        step += missing @ self.owner.engine.impede
        x[rows] += shift
        volts[rows] += step
        most: Floats = np.abs(step).max(axis=1)
        return most

    def _missing(self, rows: Ints, pieces: Ints, x: Floats, volts: Floats) -> tuple[Floats, Floats]:
        """Amps each node lacks, and volts each curve is beside its own."""
        engine, table = self.owner.engine, self.offer.table
        curve = engine.first_curve
        across = volts.take(engine.upper, 1) - volts.take(engine.lower, 1)
        per_ohm = self.offer.per_ohm[self.at[rows]]
        missing = np.zeros(volts.shape)
        each = np.arange(len(rows))
        for column in self.own[rows].T:
            cut = each[(column >= 0) & (table[column, 0] >= 0)]
            branch = table[column[cut], 0].astype(np.int64)
            less = 1.0 / (engine.base_ohm[branch] + table[column[cut], 3])
            per_ohm[cut, branch] = np.where(per_ohm[cut, branch] > 0, less, 0.0)
            join = each[(column > 0) & (table[column, 0] < 0)]
            a, b = table[column[join], 1:3].astype(np.int64).T
            flow = (volts[join, a] - volts[join, b]) / table[column[join], 3]
            missing[join, a] -= flow
            missing[join, b] += flow
        e_at, e_by, i_at, i_by = self._lines(rows, pieces)
        own = i_at + i_by * x
        beside = across[:, curve:] - (e_at + e_by * x + RHO_OHM * own)
        amps = np.concatenate([across[:, :curve] * per_ohm, own], axis=1)
        missing += amps @ engine.into_nodes - engine.plan.circuit.stray_per_ohm * volts
        pushed = np.isin(self.pushed, rows)
        if pushed.any():
            place = np.searchsorted(rows, self.pushed[pushed])
            missing[place, self.ends[pushed, 0]] += self.amps[pushed]
            missing[place, self.ends[pushed, 1]] -= self.amps[pushed]
        missing[:, 0] = 0.0
        return missing, beside


def _runs(at: Ints) -> Iterator[tuple[int, slice]]:
    """The positions of sorted cases, and where each begins and ends."""
    if not len(at):
        return
    turns = (np.flatnonzero(at[1:] != at[:-1]) + 1).tolist()
    starts = [0, *turns]
    for number, first, last in zip(at[starts].tolist(), starts, [*turns, len(at)], strict=True):
        yield number, slice(first, last)


def _subtract(total: Floats, weights: Floats, columns: Floats, which: Ints) -> None:
    """From each case its rows of `columns`, weighed."""
    if which.shape[1] > 2:
        total -= np.matmul(weights[:, None, :], columns.take(which, 0, mode="wrap"))[:, 0]
        return
    for k in range(which.shape[1]):
        part = columns.take(which[:, k], 0)
        part *= weights[:, k : k + 1]
        total -= part

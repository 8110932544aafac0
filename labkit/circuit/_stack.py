"""Cases of one size, solved in stacks: what :mod:`labkit.circuit.cases` says in formulas."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from labkit.circuit._columns import ISLAND_S
from labkit.circuit._explain import free_ring
from labkit.circuit._graph import RHO_OHM, Floats, Ints
from labkit.circuit._linear import solve_many
from labkit.circuit._offer import Offer, runs, subtract
from labkit.circuit._position import CORRECTIONS, ENOUGH_V
from labkit.circuit._settle import FINE_V

if TYPE_CHECKING:
    from labkit.circuit.cases import Cases

__all__ = ["PORTS", "TOGETHER", "Case", "Settled", "Stack"]

REFINED = 3  # times that a corrected case may end on other pieces
# Cases are stacked with others of about as many ports and of about as many curves off their sound piece.
PORTS, CURVES, LATER = (1, 4, 16), (1, 3, 8), (4,)
# Rounds in which every curve that lies outside its piece moves to the next one; in which only those do that lie at
# least half as far outside as the farthest; in which only the farthest does. Cases are near their sound pieces, where
# to jump further does not pay.
EVERY, FAR, SINGLE = 6, 10, 20
FEW = 60  # are not worth sorting by size
TOLD = 600  # cases at a time, of which the figures then stay at hand
TOGETHER = 8000  # cases at a time, which bounds the memory
# A case is corrected if what hangs on insulation has moved by this: its figures may have no more than three digits.
WEAK_V = 0.02
# Where something opens as well, of the volts by which a joint moves an island as many are wrong, for each ohm squared
# that the island stood off: seen were a tenth at 5e8 ohm.
CAUGHT_PER_OHM2 = 1e-18
# An x so near to a corner may be on the wrong side of it by rounding, until it is corrected.
NEAR_V = 1e-6
# What rounding may do to a case is estimated from what opens in it. Who wants less than this many volts has every case
# corrected in which what opens had volts across it or insulation behind it, or in which a curve is at a corner.
FINELY_V = 1e-4


class Case(NamedTuple):
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
    places: Mapping[str, str] = MappingProxyType({})
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
        self.by_noise = np.empty(self.between.shape)  # every y by what a port mishears
        self.x = offer.x[at]
        # what is left after a step is less than the step, and mostly far less
        self.enough_v = max(ENOUGH_V, owner.within_v)
        self.pushed, self.ends, self.amps = driven
        if len(self.pushed):
            self._drive()

    def _drive(self) -> None:
        """Add to the sound x and volts, and to what the ports hear, the amps from outside."""
        offer, rows = self.offer, self.pushed
        ports = self.ports[rows]
        self.pushed_volts = np.empty((len(rows), offer.volts.shape[1]))
        on_nodes, some = offer.units.on_nodes, offer.port[ports]
        for number, here in runs(self.at[rows]):
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
    def settle(self, result: Settled) -> Ints:
        """Find the pieces of every case; put what comes of it into the result.

        The rows of those that rounding may have put off.
        """
        offer, count = self.offer, len(self.at)
        rows = every = np.arange(count)
        lines = offer.numbers[self.at]
        if self.places is not None:
            foreign = self.places != self.owner._base
            lines[foreign] = self.owner._start[self.places[foreign]]
        x: Floats = np.empty(self.x.shape)
        y: Floats = np.empty(self.ports.shape)
        for attempt in range(EVERY + FAR + SINGLE):
            for few, changed in self._alike(rows, lines, CURVES if attempt < 3 else LATER, fresh=attempt == 0):
                if len(few) == count:
                    x, y = self._answer(every, changed, lines, self.heard, self.x.copy())
                else:
                    at = rows[few]
                    x[at], y[at] = self._answer(at, changed, lines[at], self.heard[at], self.x[at])
            rows, step = self._outside(rows, lines, x, fresh=attempt == 0)
            if not len(rows):
                break
            if attempt >= EVERY:
                outside = self._overshoot(x[rows], lines[rows])
                if attempt < EVERY + FAR:
                    step[outside < 0.5 * outside.max(axis=1, keepdims=True)] = 0
                else:
                    step[np.arange(self.curves) != outside.argmax(axis=1)[:, None]] = 0
            lines[rows] += step
        weak = self._astray(y) > self.owner.within_v
        alone = np.abs(offer.alone[self.ports])
        if alone.shape[1] > 1:
            caught = np.where(offer.cut[self.ports], 0.0, CAUGHT_PER_OHM2 * np.abs(y) * (alone * alone * alone))
            weak |= caught.max(axis=1) > self.owner.within_v  # a joint with an island, which has then moved far
        if self.owner.within_v < FINELY_V:
            apart = (np.abs(y) > WEAK_V) | (alone < ISLAND_S)
            weak |= self._at_corner(x, lines) | (offer.cut[self.ports] & apart).any(axis=1)
        for begin in range(0, count, TOLD):
            some = every[begin : begin + TOLD]
            volts = self._tell(result, some, lines[some], x[some], y[some])
            if self.owner.within_v < FINELY_V or len(self.pushed):
                weak[some] |= self._adrift(some, volts)
        weak[rows] = False
        ones = np.ones(self.curves)
        doubtful: NDArray[np.bool_] = np.logical_not(np.isfinite(x @ ones) & np.isfinite(y.sum(axis=1)))
        doubtful[rows] = True
        self._doubt(result, doubtful)
        return self.into[weak & ~doubtful]

    def refine(self, result: Settled) -> None:
        """Correct cases that have settled."""
        every = np.arange(len(self.at))
        lines, volts = result.pieces[self.into] + self._firsts(every), result.volts[self.into]
        engine = self.owner.engine
        upper, lower = engine.upper[engine.first_curve :], engine.lower[engine.first_curve :]
        x = volts.take(upper, 1) - volts.take(lower, 1) + RHO_OHM * result.amps[self.into]
        doubtful = np.zeros(len(every), dtype=bool)
        doubtful[self._refined(every, lines, x, volts)] = True
        _, _, i_at, i_by = self._tables(lines)
        result.volts[self.into], result.amps[self.into] = volts, i_at + i_by * x
        result.pieces[self.into] = lines - self._firsts(every)
        self._doubt(result, doubtful)

    def _firsts(self, rows: Ints) -> Ints:
        """The number of the first line of what stands in the place of each curve."""
        firsts: Ints = (self.owner._base if self.places is None else self.places[rows]) * self.owner._width
        return firsts

    def _tell(self, result: Settled, rows: Ints, lines: Ints, x: Floats, y: Floats) -> Floats:
        """Put into the result what the cases come to; the volts."""
        e_at, e_by, i_at, i_by = self._tables(lines)
        i_by *= x
        i_by += i_at
        volts, into = self._volts(rows, e_at, e_by, x, y), self.into[rows]
        result.volts[into], result.amps[into] = volts, i_by
        result.pieces[into] = lines - self._firsts(rows)
        return volts

    def _doubt(self, result: Settled, doubtful: NDArray[np.bool_]) -> None:
        """Note which cases are doubtful; so are those with ideal parts side by side, which may share their amps."""
        if self.owner._graphs.any_upright:
            plan, volts, amps = self.owner.solver.plan, result.volts[self.into], result.amps[self.into]
            doubtful |= np.array([bool(free_ring(plan, v, i)) for v, i in zip(volts, amps, strict=True)], dtype=bool)
        result.doubtful[self.into] = doubtful

    def _outside(self, rows: Ints, lines: Ints, x: Floats, *, fresh: bool) -> tuple[Ints, NDArray[np.int8]]:
        """Those of `rows` of which an x lies outside its piece, and which way each of their curves has to go."""
        offer, owner = self.offer, self.owner
        if fresh and self.places is None:  # all are on their sound pieces
            above, below = x > offer.high.take(self.at, 0), x < offer.low.take(self.at, 0)
        else:
            x, lines = x[rows], lines[rows]
            above, below = x > owner._high_near.take(lines), x < owner._low_near.take(lines)
        moved = np.flatnonzero((above | below).any(axis=1))
        return rows[moved], above[moved].view(np.int8) - below[moved].view(np.int8)

    def _adrift(self, rows: Ints, volts: Floats) -> NDArray[np.bool_]:
        """Whether a node of a case that hangs on its insulation has moved far from where it is in the sound network."""
        found = np.zeros(len(volts), dtype=bool)
        for number, here in runs(self.at[rows]):
            base = self.offer.bases[number]
            if len(base.soft):
                moved = volts[here].take(base.soft, 1) - base.volts[base.soft]
                found[here] = (np.abs(moved) > WEAK_V).any(axis=1)
        return found

    def _astray(self, y: Floats) -> Floats:
        """How far rounding may have put off the ports of each case, by what opens in it."""
        offer = self.offer
        noise = np.abs(y) * offer.noise[self.ports] + offer.hiss[self.ports]
        found: Floats = (np.abs(self.by_noise) * noise[:, None, :]).sum(axis=2).max(axis=1)
        return found

    def _volts(self, rows: Ints, e_at: Floats, e_by: Floats, x: Floats, y: Floats) -> Floats:
        """Volts of every node: the curves' EMFs and the ports' units, beyond the sound network; `e_by` is used up."""
        e_by *= x
        e_by += e_at
        e_by -= self.offer.emf.take(self.at[rows], 0)
        volts = self.offer.spread(self.at[rows], self.ports[rows], e_by, y)
        if len(self.pushed):
            place, pushed = self._of_pushed(rows)
            volts[place] += self.pushed_volts[pushed]
        for number, here in runs(self.at[rows]):
            volts[here] += self.offer.bases[number].volts
        return volts

    def _of_pushed(self, rows: Ints) -> tuple[Ints, Ints]:
        """Which of `rows` amps are driven through, and the numbers of these among all such."""
        here = np.searchsorted(self.pushed, rows)
        place = np.flatnonzero(self.pushed.take(here, mode="clip") == rows)
        return place, here[place]

    def _tables(self, lines: Ints) -> Floats:
        """``e_at, e_by, i_at, i_by`` of lines, told by their numbers."""
        found: Floats = self.owner._tables.take(lines, 1)
        return found

    def _alike(
        self, rows: Ints, lines: Ints, sizes: Sequence[int] = CURVES, *, fresh: bool = False
    ) -> Iterator[tuple[Ints, NDArray[np.bool_] | None]]:
        """Places in `rows` in groups of about as many changed curves, and which those are.

        `fresh`: all are still on their sound pieces.
        """
        if fresh and self.places is None:
            yield np.arange(len(rows)), None
            return
        changed = lines[rows] != self.offer.numbers.take(self.at[rows], 0)
        if len(rows) < FEW:
            yield np.arange(len(rows)), changed if changed.any() else None
            return
        number = changed.sum(axis=1)
        size = np.where(number == 0, -1, np.searchsorted(sizes, number))
        for step in (np.flatnonzero(np.bincount(size + 1)) - 1).tolist():
            few = np.flatnonzero(size == step)
            yield few, None if step < 0 else changed[few]

    def _answer(
        self,
        rows: Ints,
        changed: NDArray[np.bool_] | None,
        lines: Ints,
        heard: Floats,
        x: Floats,
        *,
        whole: bool = True,
    ) -> tuple[Floats, Floats]:
        """Every x of some cases for a choice of lines, and the ports' y.

        `heard` and `x` are as with no port and the sound pieces; `x` is written over. Not `whole`: the lines count as
        if they went through 0, as for a correction.
        """
        offer, ports = self.offer, self.ports[rows]
        width = ports.shape[1]
        if changed is None and width == 1:
            y = heard / self.between[rows, 0]
            if whole:
                self.by_noise[rows] = 1.0 / self.between[rows]
            subtract(x, y, offer.x_by, ports)
            return x, y
        if changed is None:
            system = self.between[rows]
        else:
            system, by_e, by_i, (e_at, e_by, i_at, i_by), which, column = self._system(rows, changed, lines)
        right = np.zeros((len(rows), system.shape[1], 1 + width * whole))
        right[:, :width, 0] = heard
        if whole:
            diagonal = np.arange(width)
            right[:, diagonal, 1 + diagonal] = 1.0
        if changed is not None:
            right[:, width:, 0] = x.take(np.arange(0, x.size, self.curves)[:, None] + which)
            if whole:
                by_e *= e_at[:, None, :]
                by_i *= i_at[:, None, :]
                by_e -= by_i
                right[:, :, 0] += by_e.sum(axis=2)
        answer = solve_many(system, right)
        if whole:
            self.by_noise[rows] = answer[:, :width, 1:]
        y = answer[:, :width, 0]
        if changed is None:
            subtract(x, y, offer.x_by, ports)
            return x, y
        there = answer[:, width:, 0]
        emf, amps = e_by * there, i_by * there
        if whole:
            emf += e_at
            amps += i_at
        np.negative(emf, out=emf)
        curves = len(offer.x_by_e)
        which = np.concatenate([column, column + curves, ports + 2 * curves], axis=1)
        subtract(x, np.concatenate([emf, amps, y], axis=1), offer.every_x_by, which)
        return x, y

    def _system(
        self, rows: Ints, changed: NDArray[np.bool_], lines: Ints
    ) -> tuple[Floats, Floats, Floats, Floats, Ints, Ints]:
        """The equations of some cases' ports and of their changed curves.

        Also what the ports and the curves hear of the curves' EMFs, and of their amps; by how much ``e_at, e_by, i_at,
        i_by`` of the changed curves differ from the sound lines; which curves those are; and their rows in the offer.
        """
        offer, ports, curves = self.offer, self.ports[rows], self.curves
        width, number = ports.shape[1], changed.sum(axis=1)
        most = int(number.max(initial=0))
        there = np.arange(most) < number[:, None]
        which: Ints = np.zeros(there.shape, dtype=np.int64)
        which[there] = np.nonzero(changed)[1]
        flat = np.arange(0, changed.size, curves)[:, None] + which
        column = (self.at[rows] * curves)[:, None] + which
        apart, sound = self._tables(lines.take(flat)), offer.flat_lines.take(column, 1)
        apart -= sound
        apart *= there
        at = (ports * curves)[:, :, None] + which[:, None, :]
        by_e, by_i = np.empty((2, len(rows), width + most, most))
        x_by = offer.x_by.take(at)
        np.multiply(x_by, sound[3][:, None, :], out=by_e[:, :width])
        by_i[:, :width] = offer.port_by_i.take(at)
        at = (column * curves)[:, None, :] + which[:, :, None]
        by_e[:, width:], by_i[:, width:] = offer.x_by_e.take(at), offer.x_by_i.take(at)
        system = np.empty((len(rows), width + most, width + most))
        system[:, :width, :width] = self.between[rows]
        system[:, width:, :width] = x_by.transpose(0, 2, 1)
        mine = system[:, :, width:]
        np.multiply(by_i, apart[3][:, None, :], out=mine)
        mine -= by_e * apart[1][:, None, :]
        diagonal = np.arange(most)
        mine[:, width + diagonal, diagonal] += 1.0
        return system, by_e, by_i, apart, which, column

    # what rounding has left -----------------------------------------------------------------------
    def _refined(self, rows: Ints, lines: Ints, x: Floats, volts: Floats) -> Ints:
        """Correct cases, and those that end on other pieces once more on these; the cases that do not come to rest."""
        left = [rows[:0]]
        for _ in range(REFINED):
            left.append(self._corrected(rows, lines, x, volts))
            above = x[rows] - self.owner._high.take(lines[rows]) > 10 * FINE_V
            below = self.owner._low.take(lines[rows]) - x[rows] > 10 * FINE_V
            moved = (above | below).any(axis=1)
            rows = rows[moved]
            if not len(rows):
                break
            lines[rows] += above[moved].view(np.int8) - below[moved].view(np.int8)
            for few, changed in self._alike(rows, lines):
                at = rows[few]
                x[at], y = self._answer(at, changed, lines[at], self.heard[at], self.x[at])
                e_at, e_by, _, _ = self._tables(lines[at])
                volts[at] = self._volts(at, e_at, e_by, x[at], y)
        return np.concatenate([*left, rows])

    def _at_corner(self, x: Floats, lines: Ints) -> NDArray[np.bool_]:
        """Which cases have a curve at a corner that is one."""
        owner = self.owner
        above = (x > owner._high.take(lines) - NEAR_V) & owner._bends.take(lines + 1)
        below = (x < owner._low.take(lines) + NEAR_V) & owner._bends.take(lines)
        found: NDArray[np.bool_] = (above | below).any(axis=1)
        return found

    def _overshoot(self, x: Floats, lines: Ints) -> Floats:
        """How far each x lies outside its piece."""
        outside = self.owner._low.take(lines)
        outside -= x
        np.maximum(outside, x - self.owner._high.take(lines), out=outside)
        return outside

    def _corrected(self, rows: Ints, lines: Ints, x: Floats, volts: Floats) -> Ints:
        """Correct cases in place; those whose corrections do not shrink."""
        for _ in range(CORRECTIONS):
            if not len(rows):
                break
            rows = rows[~(self._correct(rows, lines, x, volts) <= self.enough_v)]
        return rows

    def _correct(self, rows: Ints, lines: Ints, x: Floats, volts: Floats) -> Floats:
        """Send what is missing at the nodes through the same systems once more, as `_position` does.

        The largest step of a node's volts in each case.
        """
        offer = self.offer
        missing, beside = self._missing(rows, lines[rows], x[rows], volts[rows])
        shift, curves = np.empty((2, len(rows), self.curves))
        into_shut, held = np.zeros((2, len(rows), offer.taken.shape[1]))
        for number, here in runs(self.at[rows]):
            base = offer.bases[number]
            both = missing[here] @ base.spread.T
            curves[here], opened = both[:, : self.curves], slice(both.shape[1] - self.curves)
            into_shut[here, opened] = into = both[:, self.curves :]
            held[here, opened] = solve_many(base.within, into.T).T
            shift[here] = curves[here] @ base.x_by_i - beside[here] @ base.x_by_e
        ports = self.ports[rows]
        heard = (offer.units.on_nodes[offer.port[ports]] * missing[:, None, :]).sum(axis=2)
        heard -= (offer.taken[ports] * into_shut[:, None, :]).sum(axis=2)
        port_by_e = offer.x_by[ports] * offer.lines[3][self.at[rows]][:, None, :]
        heard += (offer.port_by_i[ports] * curves[:, None, :] - port_by_e * beside[:, None, :]).sum(axis=2)
        heard *= ~offer.idle[ports]
        y = np.empty(ports.shape)
        for few, changed in self._alike(rows, lines):
            at = rows[few]
            shift[few], y[few] = self._answer(at, changed, lines[at], heard[few], shift[few], whole=False)
        step = offer.spread(self.at[rows], ports, self._tables(lines[rows])[1] * shift - beside, y, held)
        step += missing @ self.owner.engine.impede
        x[rows] += shift
        volts[rows] += step
        most: Floats = np.abs(step).max(axis=1)
        return most

    def _missing(self, rows: Ints, lines: Ints, x: Floats, volts: Floats) -> tuple[Floats, Floats]:
        """Amps each node lacks, and volts each curve is beside its own."""
        engine, table = self.owner.engine, self.offer.table
        curve = engine.first_curve
        across = volts.take(engine.upper, 1) - volts.take(engine.lower, 1)
        per_ohm = self.offer.per_ohm[self.at[rows]]
        missing = np.zeros(volts.shape)
        each, slot = np.nonzero(self.own[rows] > 0)
        ports = table[self.own[rows][each, slot]]
        cut = ports[:, 0] >= 0
        row, branch = each[cut], ports[cut, 0].astype(np.int64)
        less = 1.0 / (engine.base_ohm[branch] + ports[cut, 3])
        per_ohm[row, branch] = np.where(per_ohm[row, branch] > 0, less, 0.0)
        row, (a, b) = each[~cut], ports[~cut, 1:3].astype(np.int64).T
        flow = (volts[row, a] - volts[row, b]) / ports[~cut, 3]
        np.subtract.at(missing, (row, a), flow)
        np.add.at(missing, (row, b), flow)
        e_at, e_by, i_at, i_by = self._tables(lines)
        own = i_at + i_by * x
        beside = across[:, curve:] - (e_at + e_by * x + RHO_OHM * own)
        amps = np.concatenate([across[:, :curve] * per_ohm, own], axis=1)
        missing += amps @ engine.into_nodes - engine.plan.circuit.stray_per_ohm * volts
        if len(self.pushed):
            place, pushed = self._of_pushed(rows)
            missing[place, self.ends[pushed, 0]] += self.amps[pushed]
            missing[place, self.ends[pushed, 1]] -= self.amps[pushed]
        missing[:, 0] = 0.0
        return missing, beside

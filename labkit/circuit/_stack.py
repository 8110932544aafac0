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
from labkit.circuit._offer import Offer
from labkit.circuit._position import CORRECTIONS, ENOUGH_V
from labkit.circuit._settle import FINE_V

if TYPE_CHECKING:
    from labkit.circuit.cases import Cases

__all__ = ["PORTS", "TOGETHER", "Case", "Settled", "Stack"]

REFINED = 3  # times that a corrected case may end on other pieces
# Cases are stacked with others of about as many ports and of about as many curves off their sound piece.
PORTS, CURVES, LATER = (1, 4, 16), (1, 3, 8), (4,)
# Rounds in which all curves go at once where their x lies; in which each moves one piece at a time; in which only the
# curve that lies farthest outside does. Most cases are near their sound pieces, where care pays at once.
QUICK, CAREFUL, SINGLE = 1, 12, 16
FEW = 60  # are not worth sorting by size
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
        # what is left after a step is far smaller than the step
        self.enough_v = max(ENOUGH_V, owner.within_v / 30.0)
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
    def settle(self, result: Settled) -> Ints:
        """Find the pieces of every case; put what comes of it into the result.

        The rows of those that rounding may have put off.
        """
        offer, count = self.offer, len(self.at)
        every = np.arange(count)
        pieces = offer.pieces[self.at]
        if self.places is not None:
            foreign = self.places != self.owner._base
            pieces[foreign] = self._locate(np.zeros(pieces.shape), every)[foreign]
        x: Floats = np.empty(self.x.shape)
        y: Floats = np.empty(self.ports.shape)
        rows = every
        for attempt in range(QUICK + CAREFUL + SINGLE):
            for few, changed in self._alike(rows, pieces, CURVES if attempt < 3 else LATER, fresh=attempt == 0):
                if len(few) == count:
                    x, y = self._answer(every, changed, pieces, self.heard, self.x.copy())
                else:
                    at = rows[few]
                    x[at], y[at] = self._answer(at, changed, pieces[at], self.heard[at], self.x[at])
            rows = rows[self._moved(rows, pieces, x, fresh=attempt == 0)]
            if not len(rows):
                break
            step = self._locate(x[rows], rows) - pieces[rows]
            if attempt >= QUICK + CAREFUL:
                farthest = self._overshoot(x[rows], pieces[rows], rows).argmax(axis=1)
                step[np.arange(step.shape[1]) != farthest[:, None]] = 0
            pieces[rows] += step if attempt < QUICK else np.sign(step)
        volts, amps = self._volts(every, pieces, x, y), self._amps(every, pieces, x)
        weak = self._astray(y) > self.owner.within_v
        alone = np.abs(offer.alone[self.ports])
        if alone.shape[1] > 1:
            caught = np.where(offer.cut[self.ports], 0.0, CAUGHT_PER_OHM2 * np.abs(y) * (alone * alone * alone))
            weak |= caught.max(axis=1) > self.owner.within_v  # a joint with an island, which has then moved far
        if self.owner.within_v < FINELY_V:
            apart = (np.abs(y) > WEAK_V) | (alone < ISLAND_S)
            weak |= self._at_corner(x) | (offer.cut[self.ports] & apart).any(axis=1)
        if self.owner.within_v < FINELY_V or len(self.pushed):
            weak |= self._adrift(volts)
        weak[rows] = False
        ones = np.ones(self.curves)
        doubtful: NDArray[np.bool_] = np.logical_not(np.isfinite(x @ ones) & np.isfinite(y.sum(axis=1)))
        doubtful[rows] = True
        self._tell(result, pieces, volts, amps, doubtful)
        return self.into[weak & ~doubtful]

    def refine(self, result: Settled) -> None:
        """Correct cases that have settled."""
        every = np.arange(len(self.at))
        pieces, volts = result.pieces[self.into], result.volts[self.into]
        engine = self.owner.engine
        upper, lower = engine.upper[engine.first_curve :], engine.lower[engine.first_curve :]
        x = volts.take(upper, 1) - volts.take(lower, 1) + RHO_OHM * result.amps[self.into]
        doubtful = np.zeros(len(every), dtype=bool)
        doubtful[self._refined(every, pieces, x, volts)] = True
        self._tell(result, pieces, volts, self._amps(every, pieces, x), doubtful)

    def _amps(self, rows: Ints, pieces: Ints, x: Floats) -> Floats:
        """What flows through every curve."""
        i_at, i_by = self._lines(rows, pieces, slice(2, 4))
        amps: Floats = i_by * x
        amps += i_at
        return amps

    def _tell(self, result: Settled, pieces: Ints, volts: Floats, amps: Floats, doubtful: NDArray[np.bool_]) -> None:
        """Put cases into the result."""
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

    def _adrift(self, volts: Floats) -> NDArray[np.bool_]:
        """Whether a node of a case that hangs on its insulation has moved far from where it is in the sound network."""
        found = np.zeros(len(volts), dtype=bool)
        for number, here in _runs(self.at):
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

    def _volts(self, rows: Ints, pieces: Ints, x: Floats, y: Floats) -> Floats:
        """Volts of every node: the curves' EMFs and the ports' units, beyond the sound network."""
        e_at, e_by = self._lines(rows, pieces, slice(2))
        emf = e_by * x
        emf += e_at
        emf -= self.offer.emf.take(self.at[rows], 0)
        volts = self._spread(rows, emf, y)
        if len(self.pushed):
            place, pushed = self._of_pushed(rows)
            volts[place] += self.pushed_volts[pushed]
        for number, here in _runs(self.at[rows]):
            volts[here] += self.offer.bases[number].volts
        return volts

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
        if len(rows) < FEW:
            yield np.arange(len(rows)), changed if changed.any() else None
            return
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
            if whole:
                self.by_noise[rows] = 1.0 / self.between[rows]
            _subtract(x, y, offer.x_by, ports)
            return x, y
        if changed is None:
            system = self.between[rows]
        else:
            system, by_e, by_i, lines, which, column = self._system(rows, changed, pieces)
            e_at, e_by, i_at, i_by = lines
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
            _subtract(x, y, offer.x_by, ports)
            return x, y
        there = answer[:, width:, 0]
        emf, amps = e_by * there, i_by * there
        if whole:
            emf += e_at
            amps += i_at
        np.negative(emf, out=emf)
        _subtract(x, emf, offer.x_by_e, column)
        _subtract(x, amps, offer.x_by_i, column)
        _subtract(x, y, offer.x_by, ports)
        return x, y

    def _system(
        self, rows: Ints, changed: NDArray[np.bool_], pieces: Ints
    ) -> tuple[Floats, Floats, Floats, Floats, Ints, Ints]:
        """The equations of some cases' ports and of their changed curves.

        Also what the ports and the curves hear of the curves' EMFs, and of their amps; by how much ``e_at, e_by, i_at,
        i_by`` of the changed curves differ from the sound pieces; which curves those are; and their rows in the offer.
        """
        offer, ports, curves = self.offer, self.ports[rows], self.curves
        width, most = ports.shape[1], int(changed.sum(axis=1).max(initial=0))
        first = changed.argmax(axis=1)[:, None]
        which: Ints = first if most == 1 else np.argsort(~changed, axis=1, kind="stable")[:, :most]
        flat = np.arange(0, changed.size, curves)[:, None] + which
        places = which if self.places is None else self.places[rows].take(flat)
        column = (self.at[rows] * curves)[:, None] + which
        lines: Floats = self.owner._tables.take(places * self.owner._width + pieces.take(flat), 1)
        sound = offer.flat_lines.take(column, 1)
        lines -= sound
        lines *= changed.take(flat)
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
        np.multiply(by_i, lines[3][:, None, :], out=mine)
        mine -= by_e * lines[1][:, None, :]
        diagonal = np.arange(most)
        mine[:, width + diagonal, diagonal] += 1.0
        return system, by_e, by_i, lines, which, column

    # what rounding has left -----------------------------------------------------------------------
    def _refined(self, rows: Ints, pieces: Ints, x: Floats, volts: Floats) -> Ints:
        """Correct cases, and those that end on other pieces once more on these; the cases that do not come to rest."""
        left = [rows[:0]]
        for _ in range(REFINED):
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
                volts[at] = self._volts(at, pieces[at], x[at], y)
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
            rows = rows[~(self._correct(rows, pieces, x, volts) <= self.enough_v)]
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
        e_at, e_by, i_at, i_by = self._lines(rows, pieces)
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

"""Cases of one size, solved in stacks: what :mod:`labkit.circuit.cases` says in formulas."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from labkit.circuit._columns import PortColumns
from labkit.circuit._explain import free_ring
from labkit.circuit._graph import RHO_OHM, Floats, Ints
from labkit.circuit._linear import solve_many
from labkit.circuit._position import CORRECTIONS, ENOUGH_V
from labkit.circuit._settle import FINE_V

if TYPE_CHECKING:
    from labkit.circuit.cases import Cases

__all__ = ["PORTS", "TOGETHER", "Case", "Offer", "Settled", "Stack"]

# Rounds in which all curves go at once where their x lies, and further ones in which each moves one piece at a time.
QUICK, CAREFUL = 4, 10
# Cases are stacked with others of about as many ports and of about as many curves off their sound piece.
PORTS, CURVES = (1, 4, 16), (1, 2, 4, 8, 16)
TOGETHER = 2000  # cases at a time, which bounds the memory
# A case is corrected if what may hang on insulation has moved by this: its figures may have no more than three digits.
WEAK_V = 0.02
# An x so near to a corner may be on the wrong side of it by rounding, until it is corrected.
NEAR_V = 1e-6


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


class Offer:
    """The columns of all the positions and ports that some cases need, in one array each."""

    def __init__(self, owner: Cases, cases: Sequence[Case]) -> None:
        self.count = len(owner._ports)
        codes = [case.position * self.count + port for case in cases for port in case.ports or (0,)]
        self.codes = np.unique(np.array(codes))
        positions = self.codes // self.count
        self.positions = np.unique(positions)
        self.starts = np.searchsorted(positions, self.positions)
        self.table = np.array(list(owner._ports), dtype=float)
        found = [owner._columns[p] for p in self.positions.tolist()]
        bases = self.bases = [base for base in found if base is not None]
        ports = np.split(self.table[self.codes % self.count], self.starts[1:])
        self.parts = parts = [PortColumns(base, some) for base, some in zip(bases, ports, strict=True)]
        self.x = np.array([base.x for base in bases])
        self.emf = np.array([base.emf for base in bases])
        self.volts = np.array([base.volts for base in bases])
        self.pieces = np.array([base.pieces for base in bases])
        self.lines = np.stack([base.table for base in bases], 1)  # e_at..i_by x position x curve
        self.x_by_e = np.concatenate([base.x_by_e for base in bases])
        self.x_by_i = np.concatenate([base.x_by_i for base in bases])
        # a last row for no port
        self.x_by_port = _with_none([part.x_by for part in parts])
        self.on_nodes = _with_none([part.on_nodes for part in parts])
        self.port_by_e = _with_none([part.by_e for part in parts])
        self.port_by_i = _with_none([part.by_i for part in parts])
        self.heard = np.concatenate([*(part.heard for part in parts), [0.0]])
        self.alone = np.concatenate([*(part.alone for part in parts), [1.0]])
        self.island = np.concatenate([*(part.island for part in parts), [False]])
        self.cut = np.concatenate([*(part.cut for part in parts), [False]])

    def rows(self, at: Ints, ports: Ints) -> Ints:
        """Rows of the ports in the arrays; `at` counts positions as here, ports below 0 are none."""
        codes = self.positions[at][:, None] * self.count + ports
        return np.where(ports < 0, -1, np.searchsorted(self.codes, np.where(ports < 0, 0, codes)))


def _with_none(parts: Sequence[Floats]) -> Floats:
    return np.concatenate([*parts, np.zeros((1, parts[0].shape[1]))])


class Stack:
    """Cases of about as many ports."""

    def __init__(self, owner: Cases, offer: Offer, cases: Sequence[Case], into: Ints, width: int) -> None:
        self.owner, self.offer, self.curves, self.into = owner, offer, len(owner._base), into
        self.at = np.searchsorted(offer.positions, np.array([case.position for case in cases]))
        self.numbers = [(number, np.flatnonzero(self.at == number)) for number in np.unique(self.at).tolist()]
        none = (-1,) * width
        self.own = np.array([(*case.ports, *none)[:width] for case in cases], dtype=np.int64)
        self.ports = offer.rows(self.at, self.own)
        self.heard = offer.heard[self.ports]
        self.island = offer.island[self.ports]
        if width == 1:
            self.between = offer.alone[self.ports][:, :, None]
        else:
            self.between = np.empty((len(cases), width, width))
            local = np.where(self.ports < 0, -1, self.ports - offer.starts[self.at][:, None])
            for number, rows in self.numbers:
                self.between[rows] = offer.parts[number].between(local[rows])
        self.x, self.volts = offer.x[self.at], offer.volts[self.at]
        self.pushed = np.zeros(0, dtype=np.int64)
        self._drive(cases)
        self.places = self._places(cases)

    def _drive(self, cases: Sequence[Case]) -> None:
        """Add to the sound x and volts, and to what the ports hear, the amps from outside."""
        told = [(k, case.driven) for k, case in enumerate(cases) if case.driven]
        if not told:
            return
        offer = self.offer
        rows = self.pushed = np.array([k for k, _ in told])
        self.ends = self.owner.solver.rows([n for _, driven in told for n in driven[:2]]).reshape(-1, 2)
        self.amps = np.array([driven[2] for _, driven in told])
        ports = self.ports[rows]
        for number in np.unique(self.at[rows]).tolist():
            here = np.flatnonzero(self.at[rows] == number)
            base, (a, b), amps = offer.bases[number], self.ends[here].T, self.amps[here, None]
            x = base.x_by_amps[a] - base.x_by_amps[b]
            self.x[rows[here]] += amps * x
            self.volts[rows[here]] += amps * (base.impede[a] - base.impede[b])
            nodes = offer.on_nodes[ports[here], a[:, None]] - offer.on_nodes[ports[here], b[:, None]]
            curves = base.weighed[:, a].T - base.weighed[:, b].T
            heard = nodes + (offer.x_by_port[ports[here]] * curves[:, None, :]).sum(axis=2)
            self.heard[rows[here]] += amps * heard

    def _places(self, cases: Sequence[Case]) -> Ints | None:
        if not any(case.places for case in cases):
            return None
        place = self.owner._place
        places = np.repeat(self.owner._base[None, :], len(cases), axis=0)
        for row, case in enumerate(cases):
            for name, other in case.places.items():
                places[row, place[name]] = place[other]
        return places

    # from sound to settled ----------------------------------------------------------------------
    def settle(self, result: Settled) -> None:
        """Find the pieces of every case; put what comes of it into the result."""
        pieces = self.offer.pieces[self.at]
        count, curves = len(pieces), self.curves
        if self.places is not None:
            foreign = self.places != self.owner._base
            pieces[foreign] = self._locate(np.zeros((count, curves)), np.arange(count))[foreign]
        x, there = np.empty((count, curves)), np.empty((count, curves), dtype=np.int64)
        y = np.empty(self.ports.shape)
        bent: NDArray[np.bool_] = np.zeros(count, dtype=bool)
        rows = np.arange(count)
        for attempt in range(QUICK + CAREFUL):
            for few, changed in self._alike(rows, pieces):
                at = rows[few]
                bent[at] = changed.any(axis=1)
                x[at], y[at] = self._answer(at, changed, pieces[at], self.heard[at], self.x[at])
            there[rows] = self._locate(x[rows], rows)
            rows = rows[(there[rows] != pieces[rows]).any(axis=1)]
            if not len(rows):
                break
            step = there[rows] - pieces[rows]
            pieces[rows] += step if attempt < QUICK else np.sign(step)
        volts = self._volts(np.arange(count), pieces, x, y)
        # ports together, and curves on other pieces, may cut off what no port does alone
        several = bent | (self.ports.shape[1] > 1)
        island = self.island | (several[:, None] & self.offer.cut[self.ports])
        weak: NDArray[np.bool_] = (island & (np.abs(y) > WEAK_V)).any(axis=1)
        weak |= self._soft(volts) | self._at_corner(x)
        weak[rows] = False
        doubtful: NDArray[np.bool_] = np.logical_not(np.isfinite(volts).all(axis=1))
        doubtful[rows] = True
        doubtful[self._refined(np.flatnonzero(weak), pieces, x, volts)] = True
        result.volts[self.into], result.pieces[self.into] = volts, pieces
        _, _, i_at, i_by = self._lines(np.arange(count), pieces)
        result.amps[self.into] = amps = i_at + i_by * x
        if self.owner._graphs.any_upright:  # ideal parts side by side may share their amps as they like
            plan = self.owner.solver.plan
            doubtful |= np.array([bool(free_ring(plan, v, i)) for v, i in zip(volts, amps, strict=True)], dtype=bool)
        result.doubtful[self.into] = doubtful

    def _volts(self, rows: Ints, pieces: Ints, x: Floats, y: Floats) -> Floats:
        """Volts of every node: the curves' EMFs and the ports' units, beyond the sound network."""
        volts = self.volts[rows].copy()
        e_at, e_by, _, _ = self._lines(rows, pieces)
        self._spread(rows, volts, e_at + e_by * x - self.offer.emf[self.at[rows]], y)
        return volts

    def _spread(self, rows: Ints, volts: Floats, emf: Floats, y: Floats) -> None:
        """Add to volts what EMFs of curves and units of ports make of them."""
        for number, here in self._by_position(rows):
            volts[here] += emf[here] @ self.offer.bases[number].by_curves
        ports = self.ports[rows]
        for k in range(y.shape[1]):
            part = self.offer.on_nodes.take(ports[:, k], 0)
            part *= y[:, k : k + 1]
            volts -= part

    def _by_position(self, rows: Ints) -> Iterator[tuple[int, Ints]]:
        """Places in `rows`, position by position."""
        if len(rows) == len(self.at):
            yield from self.numbers
            return
        at = self.at[rows]
        for number in np.unique(at).tolist():
            yield number, np.flatnonzero(at == number)

    def _lines(self, rows: Ints, pieces: Ints) -> Floats:
        """``e_at, e_by, i_at, i_by`` of all curves of some cases."""
        places = self.owner._base if self.places is None else self.places[rows]
        lines: Floats = self.owner._tables.take(places * self.owner._width + pieces, 1)
        return lines

    def _locate(self, x: Floats, rows: Ints) -> Ints:
        """The piece that each x lies on."""
        inner = self.owner._graphs.inner
        found = np.zeros(x.shape, dtype=np.int64)
        for k in range(inner.shape[1]):
            found += x > (inner[: self.curves, k] if self.places is None else inner[:, k].take(self.places[rows]))
        return found

    def _alike(self, rows: Ints, pieces: Ints) -> Iterator[tuple[Ints, NDArray[np.bool_]]]:
        """Places in `rows` in groups of about as many changed curves, and which those are."""
        changed = pieces[rows] != self.offer.pieces[self.at[rows]]
        if self.places is not None:
            changed |= self.places[rows] != self.owner._base
        number = changed.sum(axis=1)
        size = np.where(number == 0, -1, np.searchsorted(CURVES, number))
        for step in np.unique(size).tolist():
            few = np.flatnonzero(size == step)
            yield few, changed[few]

    def _answer(
        self, rows: Ints, changed: NDArray[np.bool_], pieces: Ints, heard: Floats, x: Floats, *, bent: bool = True
    ) -> tuple[Floats, Floats]:
        """Every x of some cases for a choice of pieces, and the ports' y.

        `heard` and `x` are as with no port and the sound pieces; `x` is written over. Not `bent`: the pieces count as
        lines through 0, for a correction.
        """
        offer, ports, between = self.offer, self.ports[rows], self.between[rows]
        width, most = ports.shape[1], int(changed.sum(axis=1).max(initial=0))
        if not most:
            y = heard / between[:, :, 0] if width == 1 else solve_many(between, heard[:, :, None])[:, :, 0]
            _subtract(x, y, offer.x_by_port, ports)
            return x, y
        each = np.arange(len(rows))[:, None]
        which = np.argsort(~changed, axis=1, kind="stable")[:, :most] if most > 1 else changed.argmax(axis=1)[:, None]
        position = self.at[rows][:, None]
        places = which if self.places is None else self.places[rows][each, which]
        lines = self.owner._tables.take(places * self.owner._width + pieces[each, which], 1)
        # by how much EMF and amps of each changed curve differ from its sound piece: at x = 0, and by x
        e_at, e_by, i_at, i_by = (lines - offer.lines[:, position, which]) * changed[each, which]
        if not bent:
            e_at, i_at = np.zeros_like(e_at), np.zeros_like(i_at)
        column = position * self.curves + which  # of the curve in its position
        pe = offer.port_by_e[ports[:, :, None], which[:, None, :]]
        pi = offer.port_by_i[ports[:, :, None], which[:, None, :]]
        xe = offer.x_by_e[column[:, None, :], which[:, :, None]]
        xi = offer.x_by_i[column[:, None, :], which[:, :, None]]
        system = np.empty((len(rows), width + most, width + most))
        system[:, :width, :width] = between
        system[:, :width, width:] = pi * i_by[:, None, :] - pe * e_by[:, None, :]
        system[:, width:, :width] = offer.x_by_port[ports[:, None, :], which[:, :, None]]
        system[:, width:, width:] = xi * i_by[:, None, :] - xe * e_by[:, None, :]
        diagonal = np.arange(width, width + most)
        system[:, diagonal, diagonal] += 1.0
        right = np.empty((len(rows), width + most, 1))
        right[:, :width, 0] = heard + (pe @ e_at[:, :, None] - pi @ i_at[:, :, None])[:, :, 0]
        right[:, width:, 0] = x[each, which] + (xe @ e_at[:, :, None] - xi @ i_at[:, :, None])[:, :, 0]
        answer = solve_many(system, right)[:, :, 0]
        y, there = answer[:, :width], answer[:, width:]
        _subtract(x, y, offer.x_by_port, ports)
        _subtract(x, -e_at - e_by * there, offer.x_by_e, column)
        _subtract(x, i_at + i_by * there, offer.x_by_i, column)
        return x, y

    # what rounding has left -----------------------------------------------------------------------
    def _soft(self, volts: Floats) -> NDArray[np.bool_]:
        """Whether a node that hangs on its insulation has moved far from the sound network."""
        soft = np.zeros(len(volts), dtype=bool)
        for number, rows in self.numbers:
            nodes = self.offer.bases[number].soft
            apart = volts[rows[:, None], nodes] - self.offer.volts[number, nodes]
            soft[rows] = (np.abs(apart) > WEAK_V).any(axis=1)
        return soft

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
        graphs = self.owner._graphs
        places = self.owner._base if self.places is None else self.places[rows]
        outside: Floats = np.maximum(graphs.low[places, pieces] - x, x - graphs.high[places, pieces])
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
        shift = np.empty((len(rows), self.curves))
        step = np.empty(missing.shape)
        curves = np.empty(shift.shape)
        for number, here in self._by_position(rows):
            base = offer.bases[number]
            shift[here] = missing[here] @ base.x_by_amps - beside[here] @ base.x_by_e
            step[here] = missing[here] @ base.impede
            curves[here] = missing[here] @ base.weighed.T
        ports = self.ports[rows]
        heard = (offer.on_nodes[ports] * missing[:, None, :]).sum(axis=2)
        heard += (offer.x_by_port[ports] * curves[:, None, :] - offer.port_by_e[ports] * beside[:, None, :]).sum(axis=2)
        y = np.empty(ports.shape)
        for few, changed in self._alike(rows, pieces):
            at = rows[few]
            shift[few], y[few] = self._answer(at, changed, pieces[at], heard[few], shift[few], bent=False)
        self._spread(rows, step, self._lines(rows, pieces[rows])[1] * shift - beside, y)
        x[rows] += shift
        volts[rows] += step
        most: Floats = np.abs(step).max(axis=1)
        return most

    def _missing(self, rows: Ints, pieces: Ints, x: Floats, volts: Floats) -> tuple[Floats, Floats]:
        """Amps each node lacks, and volts each curve is beside its own."""
        engine, table = self.owner.engine, self.offer.table
        curve = engine.first_curve
        across = volts.take(engine.upper, 1) - volts.take(engine.lower, 1)
        siemens = np.array([base.position.siemens for base in self.offer.bases])[self.at[rows]]
        missing = np.zeros(volts.shape)
        each = np.arange(len(rows))
        for column in self.own[rows].T:
            cut = each[(column >= 0) & (table[column, 0] >= 0)]
            branch = table[column[cut], 0].astype(np.int64)
            less = 1.0 / (engine.base_ohm[branch] + table[column[cut], 3])
            siemens[cut, branch] = np.where(siemens[cut, branch] > 0, less, 0.0)
            join = each[(column > 0) & (table[column, 0] < 0)]
            a, b = table[column[join], 1:3].astype(np.int64).T
            flow = (volts[join, a] - volts[join, b]) / table[column[join], 3]
            missing[join, a] -= flow
            missing[join, b] += flow
        e_at, e_by, i_at, i_by = self._lines(rows, pieces)
        own = i_at + i_by * x
        beside = across[:, curve:] - (e_at + e_by * x + RHO_OHM * own)
        amps = np.concatenate([across[:, :curve] * siemens, own], axis=1)
        missing += amps @ engine.into_nodes - engine.plan.circuit.stray_siemens * volts
        pushed = np.isin(self.pushed, rows)
        if pushed.any():
            place = np.searchsorted(rows, self.pushed[pushed])
            missing[place, self.ends[pushed, 0]] += self.amps[pushed]
            missing[place, self.ends[pushed, 1]] -= self.amps[pushed]
        missing[:, 0] = 0.0
        return missing, beside


def _subtract(total: Floats, weights: Floats, columns: Floats, which: Ints) -> None:
    """From each case its rows of `columns`, weighed."""
    for k in range(which.shape[1]):
        part = columns.take(which[:, k], 0)
        part *= weights[:, k : k + 1]
        total -= part

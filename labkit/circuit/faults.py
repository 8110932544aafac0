"""Every single fault of a wiring at once, from the inverse that the healthy network already has.

An opened branch is one EMF that cancels its current, a joint between two nodes one pair of injected amps:
either adds one row to the system of a position. So for one position a fault f is three things, all read from
the base inverse in one matrix product for all faults together: `own` (what its unit disturbance does at its
own place), `on_curves` (the curves' amps it causes) and `on_nodes` (the volts it makes). The curves' system
changes by one outer product for each fault, so the healthy one's inverse serves them all (J. Sherman and W.
J. Morrison, 1950). Faults that move a curve to another piece, some two in five, are settled by stacks of
systems of the size of the curves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from labkit.circuit._engine import Engine
from labkit.circuit._explain import free_ring
from labkit.circuit._graph import RHO_OHM, Floats, Ints
from labkit.circuit._linear import solve_many
from labkit.circuit._position import ENOUGH_A, ENOUGH_V, Inexact, Position
from labkit.circuit._settle import FINE_V, Restless
from labkit.circuit.errors import CircuitError
from labkit.circuit.network import unknown_element
from labkit.circuit.solution import Solution
from labkit.circuit.solver import Solver

__all__ = ["Fault", "FaultTable", "Joined", "Opened", "fault_table", "faulted"]


@dataclass(frozen=True, slots=True)
class Opened:
    """A resistor or a switch that carries no current, whatever its position: a broken wire, a dirty contact."""

    name: str


@dataclass(frozen=True, slots=True)
class Joined:
    """A resistance between two nodes that should not be there."""

    a: str
    b: str
    ohm: float = 0.05


Fault = Opened | Joined

# Rounds of choosing pieces for the faults that move a curve, and passes with corrected figures for those that end near
# a corner; what has not settled by then is solved singly.
ROUNDS, PASSES = 8, 4


@dataclass(frozen=True, slots=True)
class FaultTable:
    """The operating point of a position under each of many faults, one at a time.

    Attributes
    ----------
    faults
        One for each row.
    volts
        Row for fault, column for node (ground first), in volt.
    pieces, curve_amps
        Row for fault, column for curve or source in the circuit's order.
    refused
        Row number and error of each fault under which the network has no single point; its rows are not a
        number.
    """

    faults: tuple[Fault, ...]
    volts: Floats
    pieces: Ints
    curve_amps: Floats
    refused: tuple[tuple[int, CircuitError], ...] = ()


def faulted(solver: Solver, key: int, *faults: Fault) -> Solution:
    """The operating point with some faults at the same time, one by one solved in full.

    Raises
    ------
    CircuitError
        If a name is unknown or the faulted network has no single operating point.
    """
    return solver.vary(
        key,
        opened=[f.name for f in faults if isinstance(f, Opened)],
        joined=[(f.a, f.b, f.ohm) for f in faults if isinstance(f, Joined)],
    )


def fault_table(solver: Solver, key: int, faults: Iterable[Fault]) -> FaultTable:
    """The operating points of one position under each fault in turn.

    Parameters
    ----------
    solver
        Its base inverse is used; nothing is kept.
    key
        The position, as ``solver.key`` counts it. Contacts stay where they are: a relay that drops because of
        the fault is a new position, for who called to ask.

    Raises
    ------
    CircuitError
        If a name is unknown.
    """
    rows = tuple(faults)
    batch = _Batch(solver, key, rows)
    try:
        with np.errstate(all="ignore"):
            volts, pieces, amps, doubtful = batch.solve()
    except (Inexact, Restless, np.linalg.LinAlgError):
        count, curves = len(rows), len(solver.plan.curves)
        volts, amps = np.empty((count, len(solver.nodes))), np.empty((count, curves))
        pieces, doubtful = np.zeros((count, curves), dtype=np.int64), np.arange(count)
    refused = []
    for row in doubtful:
        try:
            one = faulted(solver, key, rows[row])
        except CircuitError as exc:
            refused.append((int(row), exc))
            volts[row], amps[row] = np.nan, np.nan
        else:
            volts[row], pieces[row], amps[row] = one.array, one.pieces, one.curve_amps
    return FaultTable(rows, volts, pieces, amps, tuple(refused))


class _Batch:
    """One position and the three arrays of each fault in it."""

    def __init__(self, solver: Solver, key: int, faults: Sequence[Fault]) -> None:
        self.solver = solver
        engine = self.engine = solver.engine
        self.position = position = Position(engine, engine.open_branches(key), (), None)
        branch = {name: k for k, name in enumerate(solver.plan.branch_names)}
        for fault in faults:
            if isinstance(fault, Opened) and fault.name not in branch:
                raise unknown_element(fault.name, solver.circuit)
        # of each fault: the branch it opens or -1, the nodes it joins, its siemens or 0
        self.branch = np.array([branch[f.name] if isinstance(f, Opened) else -1 for f in faults], dtype=np.int64)
        ends = [(f.a, f.b) if isinstance(f, Joined) else (solver.nodes[0],) * 2 for f in faults]
        self.a, self.b = solver.rows([n for pair in ends for n in pair]).reshape(-1, 2).T
        ohm = np.array([f.ohm if isinstance(f, Joined) else np.inf for f in faults], dtype=float)
        for row in ((ohm <= 0) | np.isnan(ohm)).nonzero()[0]:
            solver.vary(key, joined=[(*ends[row], float(ohm[row]))])  # says what is wrong with it
        self.siemens = 1.0 / ohm
        self.count = len(faults)
        self._arrays(engine, position)

    def _arrays(self, engine: Engine, position: Position) -> None:
        curve, shut = engine.first_curve, position.opened
        # by branch EMF: amps of the opened branches, volts across the joints
        opens = self.branch >= 0
        broken = self.branch[opens]
        by_emf = engine.follow[self.a] - engine.follow[self.b]
        by_emf[opens] = engine.admit[broken]
        on_nodes = engine.impede[self.a] - engine.impede[self.b]
        on_nodes[opens] = engine.follow.T[broken]
        each = np.arange(self.count)
        own = on_nodes[each, self.a] - on_nodes[each, self.b]
        own[~opens] += 1.0 / self.siemens[~opens]
        own[opens] = engine.admit[broken, broken]
        # less what the open switches of the position take of it
        by_shut = by_emf[:, shut]
        taken = solve_many(position.within, np.ascontiguousarray(by_shut.T))
        spread = np.ascontiguousarray(engine.follow[:, shut])
        self.own: Floats = own - (by_shut.T * taken).sum(axis=0)
        self.on_curves: Floats = by_emf[:, curve:] - by_shut @ position.answer
        self.on_nodes: Floats = on_nodes - (spread @ taken).T
        self.by_curves: Floats = (engine.follow[:, curve:] - spread @ position.answer).T  # node volts by curve EMF
        # an open contact that opens changes nothing: no disturbance, and no division by its 0
        still = np.isin(self.branch, shut).nonzero()[0]
        self.own[still] = 1.0
        self.on_curves[still] = 0.0
        self.on_nodes[still] = 0.0
        # what an amp into a node makes of the nodes
        self.impede = engine.impede - spread @ solve_many(position.within, np.ascontiguousarray(spread.T))

    def solve(self) -> tuple[Floats, Ints, Floats, Ints]:
        """Volts, pieces and amps of the curves for every fault, and the rows that need a look of their own."""
        engine, graphs = self.engine, self.engine.graphs
        healthy = self.position.operate()[1]
        x0, table, matrix = self.position.linear(healthy, None)
        gain = np.linalg.inv(matrix) if len(x0) else matrix
        # with the curves' pieces as in the healthy network: x by a unit of the fault, and the fault's own
        # answer
        gains = self.on_curves @ gain.T
        stiff = self.own + (self.on_curves * table[1] * gains).sum(axis=1)
        x = x0 - gains * ((self.on_curves @ (table[0] + table[1] * x0)) / stiff)[:, None]

        def plainly(right: Floats) -> Floats:
            shift = right @ gain.T
            answer: Floats = shift - ((self.on_curves * table[1] * shift).sum(axis=1) / stiff)[:, None] * gains
            return answer

        every = np.arange(self.count)
        pieces = np.repeat(healthy[None, :], self.count, axis=0)
        volts = self._volts(every, pieces, x)
        small = self._correct(every, pieces, volts, x, plainly)
        # those that a fault moves to other pieces, each with a system of its own
        for attempt in range(PASSES):
            found = graphs.locate_many(x)
            beyond = (graphs.overshoot_many(x, pieces) > FINE_V).any(axis=1)
            rows = np.flatnonzero(beyond | ~small)
            if not len(rows):
                break
            pieces[rows] = found[rows]
            there, volts_there = x[rows], volts[rows]
            if attempt == 0:
                self._choose(rows, pieces)
                there = self._stack(rows, pieces, None)
                volts_there = self._volts(rows, pieces[rows], there)
            small[rows] = self._correct(rows, pieces[rows], volts_there, there, partial(self._stack, rows, pieces))
            x[rows], volts[rows] = there, volts_there
        doubtful = ~small | (graphs.overshoot_many(x, pieces) > FINE_V).any(axis=1)
        _, _, i_at, i_by = self._tables(pieces)
        amps = i_at + i_by * x
        if graphs.any_upright:
            doubtful |= [bool(free_ring(engine.plan, v, i)) for v, i in zip(volts, amps, strict=True)]
        return volts, pieces, amps, doubtful.nonzero()[0]

    def _choose(self, rows: Ints, pieces: Ints) -> None:
        """Bring some faults' pieces to where uncorrected figures settle."""
        for _ in range(ROUNDS):
            found = self.engine.graphs.locate_many(self._stack(rows, pieces, None))
            moved = (found != pieces[rows]).any(axis=1)
            rows = rows[moved]
            if not len(rows):
                return
            pieces[rows] = found[moved]

    def _tables(self, pieces: Ints) -> Floats:
        return self.engine.tables.take(self.engine.row_starts + pieces, 1)

    def _volts(self, rows: Ints, pieces: Ints, x: Floats) -> Floats:
        """Volts of every node under some faults."""
        e_at, e_by, _, _ = self._tables(pieces)
        emf = e_at + e_by * x
        inner = (self.on_curves[rows] * emf).sum(axis=1) / self.own[rows]
        volts: Floats = emf @ self.by_curves - inner[:, None] * self.on_nodes[rows]
        return volts

    def _stack(self, rows: Ints, pieces: Ints, right: Floats | None) -> Floats:
        """The x of some faults, each with its own pieces; or the shift of x that answers `right`."""
        e_at, e_by, i_at, i_by = self._tables(pieces[rows])
        on = self.on_curves[rows]
        scaled = on / self.own[rows, None]
        seen = self.position.seen - scaled[:, :, None] * on[:, None, :]
        matrix = seen * -e_by[:, None, :]
        diagonal = np.arange(matrix.shape[1])
        matrix[:, diagonal, diagonal] += i_by
        if right is None:
            right = (seen @ e_at[:, :, None])[:, :, 0] - i_at
        return solve_many(matrix, right[:, :, None])[:, :, 0]

    def _correct(
        self, rows: Ints, pieces: Ints, volts: Floats, x: Floats, answer: Callable[[Floats], Floats]
    ) -> NDArray[np.bool_]:
        """One correction of `volts` and `x` in place, as in `_position`; False where it was not small."""
        e_by = self._tables(pieces)[1]
        own, on_curves, on_nodes = self.own[rows], self.on_curves[rows], self.on_nodes[rows]
        missing, beside = self._missing(rows, pieces, volts, x)
        step = missing @ self.impede
        held = (missing * on_nodes).sum(axis=1)
        if x.shape[1]:
            back = ((on_curves * beside).sum(axis=1) - held) / own
            shift = answer(missing @ self.by_curves.T - beside @ self.position.seen + back[:, None] * on_curves)
            x += shift
            extra = e_by * shift - beside
            step += extra @ self.by_curves
            held += (on_curves * extra).sum(axis=1)
        step -= (held / own)[:, None] * on_nodes
        volts += step
        small = ((step * step).sum(axis=1) < ENOUGH_V**2) & ((missing * missing).sum(axis=1) < ENOUGH_A**2)
        return np.asarray(small, dtype=np.bool_)

    def _missing(self, rows: Ints, pieces: Ints, volts: Floats, x: Floats) -> tuple[Floats, Floats]:
        """Amps each node lacks, and volts each curve is beside its own, for some faults."""
        engine = self.engine
        curve = engine.first_curve
        e_at, e_by, i_at, i_by = self._tables(pieces)
        across = volts.take(engine.upper, 1) - volts.take(engine.lower, 1)
        amps = np.empty_like(across)
        np.multiply(across[:, :curve], self.position.siemens, out=amps[:, :curve])
        each = np.arange(len(rows))
        cut = self.branch[rows]
        amps[each[cut >= 0], cut[cut >= 0]] = 0.0
        amps[:, curve:] = i_at + i_by * x
        beside = across[:, curve:] - (e_at + e_by * x + RHO_OHM * amps[:, curve:])
        missing = amps @ engine.into_nodes
        missing -= engine.plan.circuit.stray_siemens * volts
        a, b = self.a[rows], self.b[rows]
        flow = (volts[each, a] - volts[each, b]) * self.siemens[rows]
        missing[each, a] -= flow
        missing[each, b] += flow
        missing[:, 0] = 0.0
        return missing, beside

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

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

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
        opens = [(k, branch[f.name]) for k, f in enumerate(faults) if isinstance(f, Opened)]
        joins = [(k, f) for k, f in enumerate(faults) if isinstance(f, Joined)]
        self.open_rows, self.open_branches = np.array(opens, dtype=np.int64).reshape(-1, 2).T
        self.join_rows = np.array([k for k, _ in joins], dtype=np.int64)
        self.a = solver.rows([f.a for _, f in joins])
        self.b = solver.rows([f.b for _, f in joins])
        self.ohm = np.array([f.ohm for _, f in joins], dtype=float)
        self.count = len(faults)
        self._arrays(engine, position)

    def _arrays(self, engine: Engine, position: Position) -> None:
        curve, shut = engine.first_curve, position.opened
        # by branch EMF: amps of the opened branches, volts across the joints
        by_emf = np.empty((self.count, engine.branches))
        by_emf[self.open_rows] = engine.admit[self.open_branches]
        by_emf[self.join_rows] = engine.follow[self.a] - engine.follow[self.b]
        on_nodes = np.empty((self.count, engine.nodes + 1))
        on_nodes[self.open_rows] = engine.follow.T[self.open_branches]
        on_nodes[self.join_rows] = engine.impede[self.a] - engine.impede[self.b]
        own = np.empty(self.count)
        own[self.open_rows] = engine.admit[self.open_branches, self.open_branches]
        joined = on_nodes[self.join_rows]
        each = np.arange(len(self.join_rows))
        own[self.join_rows] = joined[each, self.a] - joined[each, self.b] + self.ohm
        # less what the open switches of the position take of it
        by_shut = by_emf[:, shut]
        taken = solve_many(position.within, np.ascontiguousarray(by_shut.T))
        spread = np.ascontiguousarray(engine.follow[:, shut])
        self.own: Floats = own - (by_shut.T * taken).sum(axis=0)
        self.on_curves: Floats = by_emf[:, curve:] - by_shut @ position.answer
        self.on_nodes: Floats = on_nodes - (spread @ taken).T
        self.by_curves: Floats = (engine.follow[:, curve:] - spread @ position.answer).T  # node volts by curve EMF
        # an open contact that opens changes nothing: no disturbance, and no division by its 0
        idle = np.isin(self.open_branches, shut)
        still = self.open_rows[idle]
        self.own[still] = 1.0
        self.on_curves[still] = 0.0
        self.on_nodes[still] = 0.0
        self.live_rows, self.live_branches = self.open_rows[~idle], self.open_branches[~idle]

    def solve(self) -> tuple[Floats, Ints, Floats, Ints]:
        """Volts, pieces and amps of the curves for every fault, and the rows that need a look of their own."""
        engine, position = self.engine, self.position
        _, healthy, _ = position.operate()
        pieces = np.repeat(healthy[None, :], self.count, axis=0)
        x, doubtful = self._settle(healthy, pieces)
        table = self._tables(pieces)
        emf = table[0] + table[1] * x
        inner = (self.on_curves * emf).sum(axis=1) / self.own
        volts = emf @ self.by_curves - inner[:, None] * self.on_nodes
        doubtful |= self._correct(table, volts, x)
        doubtful |= engine.graphs.overshoot_many(x, pieces).max(axis=1, initial=0.0) > FINE_V
        amps = table[2] + table[3] * x
        if engine.graphs.any_upright:
            doubtful |= [bool(free_ring(engine.plan, v, i)) for v, i in zip(volts, amps, strict=True)]
        return volts, pieces, amps, doubtful.nonzero()[0]

    def _tables(self, pieces: Ints) -> Floats:
        return self.engine.tables.take(self.engine.row_starts + pieces, 1)

    def _settle(self, healthy: Ints, pieces: Ints) -> tuple[Floats, NDArray[np.bool_]]:
        """The x of every fault; `pieces` is brought to where each settles. True marks those that did not."""
        engine = self.engine
        graphs = engine.graphs
        x0, table, matrix = self.position.linear(healthy, None)
        self.gain = np.linalg.inv(matrix) if len(x0) else matrix
        self.gains: Floats = self.on_curves @ self.gain.T  # x by a unit of the fault, the curves' pieces held
        self.stiff: Floats = self.own + (self.on_curves * table[1] * self.gains).sum(axis=1)
        drive = self.on_curves @ (table[0] + table[1] * x0)
        x = x0 - self.gains * (drive / self.stiff)[:, None]
        found = graphs.locate_many(x)
        moved = (found != pieces).any(axis=1).nonzero()[0]
        self.moved, self.pieces = moved, pieces
        for _ in range(8):
            if not len(moved):
                break
            pieces[moved] = found[moved]
            x[moved] = self._stack(moved, pieces, None)
            found[moved] = graphs.locate_many(x[moved])
            moved = moved[(found[moved] != pieces[moved]).any(axis=1)]
        doubtful = np.zeros(self.count, dtype=np.bool_)
        doubtful[moved] = True
        return x, doubtful

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

    def _correct(self, table: Floats, volts: Floats, x: Floats) -> NDArray[np.bool_]:
        """One correction of `volts` and `x` in place, as in `_position`; True where it was not small."""
        engine, position = self.engine, self.position
        e_by = table[1]
        missing, beside = self._missing(table, volts, x)
        spread = np.ascontiguousarray(engine.follow[:, position.opened])
        impede = engine.impede - spread @ solve_many(position.within, np.ascontiguousarray(spread.T))
        step = missing @ impede
        held = (missing * self.on_nodes).sum(axis=1)
        back = ((self.on_curves * beside).sum(axis=1) - held) / self.own
        right = missing @ self.by_curves.T - beside @ position.seen + back[:, None] * self.on_curves
        if x.shape[1]:
            shift = right @ self.gain.T
            along = (self.on_curves * e_by * shift).sum(axis=1) / self.stiff
            shift -= along[:, None] * self.gains
            if len(self.moved):
                shift[self.moved] = self._stack(self.moved, self.pieces, right[self.moved])
            x += shift
            extra = e_by * shift - beside
            step += extra @ self.by_curves
            held += (self.on_curves * extra).sum(axis=1)
        step -= (held / self.own)[:, None] * self.on_nodes
        volts += step
        small = ((step * step).sum(axis=1) < ENOUGH_V**2) & ((missing * missing).sum(axis=1) < ENOUGH_A**2)
        return np.asarray(~small, dtype=np.bool_)

    def _missing(self, table: Floats, volts: Floats, x: Floats) -> tuple[Floats, Floats]:
        """Amps each node lacks, and volts each curve is beside its own, for every fault."""
        engine = self.engine
        curve = engine.first_curve
        e_at, e_by, i_at, i_by = table
        across = volts.take(engine.upper, 1) - volts.take(engine.lower, 1)
        amps = np.empty_like(across)
        np.multiply(across[:, :curve], self.position.siemens, out=amps[:, :curve])
        amps[self.live_rows, self.live_branches] = 0.0
        own = i_at + i_by * x
        amps[:, curve:] = own
        beside = across[:, curve:] - (e_at + e_by * x + RHO_OHM * own)
        missing = amps @ engine.into_nodes
        missing -= engine.plan.circuit.stray_siemens * volts
        rows = self.join_rows
        flow = (volts[rows, self.a] - volts[rows, self.b]) / self.ohm
        missing[rows, self.a] -= flow
        missing[rows, self.b] += flow
        missing[:, 0] = 0.0
        return missing, beside

"""What this room measures for ``labkit speed``: ratios taken side by side in one run."""

from __future__ import annotations

import random
import statistics
from collections.abc import Callable
from time import perf_counter
from typing import TypedDict

import numpy as np

from labkit.circuit._dense import solve_dense
from labkit.circuit._ngspice import Ngspice, ngspice
from labkit.circuit._sample import healthy_switches, sample_board
from labkit.circuit.errors import CircuitError
from labkit.circuit.solver import Solver
from labkit.circuit.spice import spice_node, to_spice

__all__ = ["BOUNDS", "SpeedRow", "rows"]

BOUNDS = {"solve_vs_ngspice": (5.0, 10.0), "solve_kept_vs_cold": (100.0, 300.0), "solve_vs_dense": (10.0, 30.0)}
"""Key -> floor and aim."""

# an open switch on ngspice's side; 1e13 ohm would still lift a wire on 1e-9 S by 2.4 mV
OPEN_OHM = 1e16


class SpeedRow(TypedDict):
    """One line of the table: `ratio` is how many times the other side takes longer; times in seconds."""

    key: str
    ratio: float | None
    floor: float
    aim: float
    ours: float | None
    other: float | None
    note: str


def rows(quick: bool) -> list[SpeedRow]:
    """The room's rows; `quick` takes fewer positions."""
    solver = Solver(sample_board())
    source = random.Random(24)
    keys = [source.getrandbits(len(solver.switches)) for _ in range(20 if quick else 100)]
    return [_against_ngspice(solver, keys), _cached(solver, keys), _against_dense(solver, keys)]


def _cold(solver: Solver, keys: list[int]) -> float:
    """Median seconds of a solve that is not kept."""
    fresh = Solver(solver.circuit)
    fresh.solve(0)
    return statistics.median(_timed(fresh.solve, key) for key in keys)


def _timed(work: Callable[..., object], *arguments: object) -> float:
    start = perf_counter()
    work(*arguments)
    return perf_counter() - start


def _against_ngspice(solver: Solver, keys: list[int]) -> SpeedRow:
    floor, aim = BOUNDS["solve_vs_ngspice"]
    row = SpeedRow(key="solve_vs_ngspice", ratio=None, floor=floor, aim=aim, ours=None, other=None, note="")
    try:
        other = _Tuned(ngspice(), solver)
    except CircuitError as exc:
        row["note"] = f"not measured: {exc.what}"
        return row
    whole, point, worst, apart = [], [], 0.0, 0
    for key in keys:
        start = perf_counter()
        other.operate(key)
        solved = perf_counter()
        found = other.volts()
        point.append(solved - start)
        whole.append(perf_counter() - start)
        other.forget()
        if found is None:
            apart += 1
        else:
            worst = max(worst, float(np.abs(found - solver.solve(key).array).max()))
    ours, median = _cold(solver, keys), statistics.median(whole)
    row["ours"], row["other"], row["ratio"] = ours, median, median / ours
    row["note"] = (
        f"{len(solver.nodes)} nodes, {len(keys)} positions, all node volts in an array: ours cold; ngspice in this "
        "process, default tolerances, nodeset at the healthy point, only changed switches altered, old results "
        f"dropped untimed; without reading its values {statistics.median(point) / ours:.1f}; "
        f"worst difference {worst:.1e} V" + (f"; {apart} positions it did not solve" if apart else "")
    )
    return row


class _Tuned:
    """ngspice at its best for this: read once, switches altered, every solve begun near the healthy point."""

    def __init__(self, spice: Ngspice, solver: Solver) -> None:
        self._spice = spice
        self._solver = solver
        circuit = solver.circuit
        netlist = to_spice(circuit, solver.switches)
        head, _ = netlist.split("\n.options ", 1)
        healthy = solver.solve(solver.key(healthy_switches())).array.tolist()
        hints = [f".nodeset V({spice_node(k)})={volts!r}" for k, volts in enumerate(healthy) if k]
        spice.load("\n".join([head, *hints, ".options gmin=1e-15 itl1=1000", ".end"]))
        ohm = {e.name: (k, e.ohm) for k, e in enumerate(circuit.elements) if hasattr(e, "ohm")}
        self._numbers = [ohm[name] for name in solver.switches]
        self._at = (1 << len(solver.switches)) - 1
        self._worked = False

    def operate(self, key: int) -> None:
        """Bring the switches to a position and solve it."""
        moved = self._at ^ key
        for bit, (number, ohm) in enumerate(self._numbers):
            if moved >> bit & 1:
                self._spice.tell(f"alter R{number} = {ohm if key >> bit & 1 else OPEN_OHM!r}")
        self._at = key
        self._worked = self._spice.operate()

    def volts(self) -> np.ndarray[tuple[int], np.dtype[np.float64]] | None:
        """Volts of every node, ground first, or None if it did not converge."""
        if not self._worked:
            return None
        names = [spice_node(k) for k in range(1, len(self._solver.nodes))]
        return np.array([0.0, *self._spice.values(names)])

    def forget(self) -> None:
        """Drop the results so far, which would slow the next solve."""
        self._spice.forget()


def _cached(solver: Solver, keys: list[int]) -> SpeedRow:
    for key in keys:
        solver.solve(key)

    def hits() -> None:
        for _ in range(100):
            for key in keys:
                solver.solve(key)

    hit = min(_timed(hits) for _ in range(3)) / (100 * len(keys))
    cold = _cold(solver, keys)
    floor, aim = BOUNDS["solve_kept_vs_cold"]
    return SpeedRow(
        key="solve_kept_vs_cold",
        ratio=cold / hit,
        floor=floor,
        aim=aim,
        ours=hit,
        other=cold,
        note="a position met again against a new one",
    )


def _against_dense(solver: Solver, keys: list[int]) -> SpeedRow:
    theirs = statistics.median(_timed(solve_dense, solver.plan, key) for key in keys[:20])
    ours = _cold(solver, keys)
    floor, aim = BOUNDS["solve_vs_dense"]
    return SpeedRow(
        key="solve_vs_dense",
        ratio=theirs / ours,
        floor=floor,
        aim=aim,
        ours=ours,
        other=theirs,
        note="against the plain engine, the whole network as one dense system for each choice of pieces",
    )

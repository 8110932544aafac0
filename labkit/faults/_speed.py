"""What this room measures for ``labkit speed``: ratios taken side by side in one run."""

from __future__ import annotations

import gc
import random
import statistics
import warnings
from time import process_time
from typing import TypedDict

import numpy as np

from labkit.board import load_board
from labkit.circuit import CircuitError
from labkit.circuit._dense import solve_dense
from labkit.circuit._graph import Floats
from labkit.circuit._ngspice import ngspice
from labkit.circuit._threads import one_thread
from labkit.faults._by_ngspice import Rival
from labkit.faults._lowrank import Points
from labkit.faults.catalogue import every_single_fault
from labkit.faults.diagnosis import Search
from labkit.faults.quick import Quick

__all__ = ["BOUNDS", "SpeedRow", "rows"]

BOUNDS = {
    "dictionary_vs_ngspice": (100.0, 200.0),
    "dictionary_vs_dense": (40.0, 70.0),
    "diagnosis_tests_vs_tree": (1.3, 1.5),
}
"""Key -> floor and aim."""

NEAR_V = 1e-3


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
    """The room's rows; `quick` takes fewer points."""
    one_thread()
    return [*_dictionary(quick), _diagnosis()]


def _dictionary(quick: bool) -> list[SpeedRow]:
    """The operating points of the dictionary, all nodes: ours all of them, the others a sample."""
    board = load_board("orchard")
    faults = every_single_fault(board)
    start = process_time()
    points = Quick(board, faults).points
    walked = process_time() - start
    ours = [_all_at_once(points)[0] for _ in range(3)][2:]
    volts = _all_at_once(points)[1]
    against = [_by_ngspice(points, volts, quick, ours), _by_dense(points, volts, 120 if quick else 600)]
    mine = statistics.median(ours) / len(points.names)
    told = f"{len(faults)} faults, {len(points.names)} points of {len(points.solver.nodes)} nodes and "
    told += f"{len(points.solver.plan.curves)} curves, dropped relays iterated; with finding them and the logic "
    told += f"{walked:.2f} s; "
    found = []
    for key, (other, note) in zip(("dictionary_vs_ngspice", "dictionary_vs_dense"), against, strict=True):
        floor, aim = BOUNDS[key]
        ratio = None if other is None else other / mine
        found.append(SpeedRow(key=key, ratio=ratio, floor=floor, aim=aim, ours=mine, other=other, note=told + note))
    return found


def _all_at_once(points: Points) -> tuple[float, Floats]:
    """Seconds from the bare network to the volts of every point, the inverse included.

    What each point changes is told beforehand, as ngspice's netlists and `alter` lines are written beforehand.
    """
    collects = gc.isenabled()
    gc.disable()  # as timeit does
    start = process_time()
    fresh = points.anew()
    took = process_time() - start
    asked = fresh.told(points.names)
    start = process_time()
    volts: Floats = fresh.settle(asked, points.names)[0]
    took += process_time() - start
    if collects:
        gc.enable()
    return took, volts


def _by_dense(points: Points, volts: Floats, count: int) -> tuple[float | None, str]:
    spent, worst = 0.0, 0.0
    here = points.solver.plan.index
    for point in random.Random(24).sample(range(len(points.names)), count):
        solver, key = points.alone(point)
        start = process_time()
        found = solve_dense(solver.plan, key)
        spent += process_time() - start
        shared = [(here[n], k) for n, k in solver.plan.index.items() if n in here]
        ours, theirs = (list(x) for x in zip(*shared, strict=True))
        worst = max(worst, float(np.abs(volts[point, ours] - found.array[theirs]).max()))
    _refuse(worst)
    return spent / count, f"against each faulted network as dense systems; worst difference {worst:.1e} V"


def _by_ngspice(points: Points, volts: Floats, quick: bool, ours: list[float]) -> tuple[float | None, str]:
    """Beside it labkit's own seconds, added to `ours`."""
    try:
        rival = Rival(ngspice(), points, volts)
    except CircuitError as exc:
        return None, f"not measured: {exc.what}"
    spent = rival.estimate(*((4, 15) if quick else (14, 40)), lambda: ours.append(_all_at_once(points)[0]))
    _refuse(rival.worst)
    each, solved = spent.total / spent.points, spent.points - spent.failed
    return each, (
        f"against ngspice in this process, started at the sound solution: {each * 1e6:.0f} us for a point, of which "
        f"reading networks in {spent.reading / spent.points * 1e6:.0f}, altering resistances "
        f"{spent.altering / spent.points * 1e6:.0f}, attempts that find no answer ({spent.failed / spent.points:.0%} "
        f"of the points) {spent.failing / spent.points * 1e6:.0f}; where it finds one, an operating point with its "
        f"volts takes {spent.answered / solved * 1e6:.0f}; worst difference {rival.worst:.1e} V"
    )


def _refuse(worst: float) -> None:
    if worst > NEAR_V:
        raise CircuitError(
            f"the two sides of a speed row differ by {worst * 1e3:.2f} mV",
            try_this="report it: one of them is wrong",
            code="circuit-speed",
        )


def _diagnosis(faults: int = 150, tests: int = 200) -> SpeedRow:
    """Expected readings of the search against those of a general tree learner, three outcomes, all alike likely."""
    floor, aim = BOUNDS["diagnosis_tests_vs_tree"]
    row = SpeedRow(key="diagnosis_tests_vs_tree", ratio=None, floor=floor, aim=aim, ours=None, other=None, note="")
    try:
        from sklearn.tree import DecisionTreeClassifier  # type: ignore[import-untyped]
    except ImportError:
        row["note"] = "not measured: scikit-learn is not installed"
        return row
    table = np.random.default_rng(150).integers(0, 3, (faults, tests))
    search = Search(
        tuple(f"f{k}" for k in range(faults)),
        (1.0,) * faults,
        tuple(f"t{k}" for k in range(tests)),
        (1.0,) * tests,
        tuple(tuple("abc"[x] for x in line) for line in table),
    )
    start = process_time()
    made = search.expected_tests(search.strategy())
    took = process_time() - start
    with warnings.catch_warnings():  # that every fault is a class of its own
        warnings.simplefilter("ignore")
        tree = DecisionTreeClassifier(criterion="entropy", random_state=0).fit(table, np.arange(faults))
    features, paths = tree.tree_.feature, tree.decision_path(table)
    splits, readings = 0, 0
    for k in range(faults):
        asked = [features[n] for n in paths.indices[paths.indptr[k] : paths.indptr[k + 1]] if features[n] >= 0]
        splits, readings = splits + len(asked), readings + len(set(asked))
    row["ratio"] = readings / faults / made
    row["note"] = (
        f"{faults} faults, {tests} tests of 3 outcomes at random, expected readings {made:.2f} (found in {took:.2f} s) "
        f"against {readings / faults:.2f} of scikit-learn's entropy tree ({splits / faults:.2f} two-way splits, two of "
        "one reading counted once)"
    )
    return row

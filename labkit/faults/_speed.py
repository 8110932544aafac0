"""What this room measures for ``labkit speed``: ratios taken side by side in one run."""

from __future__ import annotations

import random
import statistics
import warnings
from time import process_time
from typing import TypedDict

import numpy as np

from labkit.board import load_board
from labkit.circuit import CircuitError, to_spice
from labkit.circuit._dense import solve_dense
from labkit.circuit._graph import Floats
from labkit.circuit._ngspice import Ngspice, ngspice
from labkit.circuit._threads import one_thread
from labkit.circuit.spice import spice_node
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
# reltol 1e-3, ngspice's own, leaves up to 15 mV; tighter than 1e-6 only costs it time
OPTIONS = ".options gmin=1e-15 itl1=100 reltol=1e-6 gminsteps=0 srcsteps=1"
# Where its steps do not converge ngspice lets the network run in time until it stands, a quarter of a second, and does
# not get there; with no time to run it gives up at once.
BRIEF, AS_EVER = "optran 1 0 1 100n 0 0", "optran 1 1 1 100n 10u 0"


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
    return [*_dictionary(120 if quick else 600), _diagnosis()]


def _dictionary(count: int) -> list[SpeedRow]:
    """The operating points of the dictionary, all nodes: ours all of them, the others a sample, by the point."""
    board = load_board("orchard")
    faults = every_single_fault(board)
    start = process_time()
    points = Quick(board, faults).points
    walked = process_time() - start
    sample = random.Random(24).sample(range(len(points.names)), count)
    ours, volts = _all_at_once(points)
    against = [_by_ngspice(points, sample, volts), _by_dense(points, sample, volts)]
    again, _ = _all_at_once(points)  # before and after, so that a busy machine slows both sides
    mine = statistics.median([ours, again]) / len(points.names)
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
    """Seconds from the bare network to the volts of every point, the base inverse included; the better of two.

    What each point changes is told untimed, as ngspice's networks are read in.
    """
    best = np.inf
    volts: Floats = points.volts
    for _ in range(2):
        start = process_time()
        fresh = points.anew()
        took = process_time() - start
        cases = [fresh.case(*name) for name in points.names]
        start = process_time()
        volts = fresh.settle(cases, points.names)[0]
        best = min(best, took + process_time() - start)
    return best, volts


def _by_dense(points: Points, sample: list[int], volts: Floats) -> tuple[float | None, str]:
    spent, worst = 0.0, 0.0
    for point in sample:
        solver, key = points.alone(point)
        start = process_time()
        found = solve_dense(solver.plan, key)
        spent += process_time() - start
        worst = max(worst, _apart(points, point, volts, found.array))
    _refuse(worst)
    return spent / len(sample), f"against each faulted network as dense systems; worst difference {worst:.1e} V"


def _by_ngspice(points: Points, sample: list[int], volts: Floats) -> tuple[float | None, str]:
    """Each faulted network is read in untimed, with the sound solution of its position as the start."""
    try:
        spice = ngspice()
    except CircuitError as exc:
        return None, f"not measured: {exc.what}"
    spent, failed, worst, lost = 0.0, 0.0, 0.0, 0
    spice.tell(BRIEF)
    for point in sample:
        _load(spice, points, point)
        nodes = points.alone(point)[0].nodes
        start = process_time()
        theirs = [0.0, *spice.values(spice_node(k) for k in range(1, len(nodes)))] if spice.operate() else None
        took = process_time() - start
        if "Transient op" in spice.said:
            theirs = None
        spice.forget()
        if theirs is None:
            failed, lost = failed + took, lost + 1
        else:
            spent += took
            worst = max(worst, _apart(points, point, volts, np.array(theirs)))
    spice.tell(AS_EVER)
    _refuse(worst)
    mean = spent / (len(sample) - lost)
    more = (spent + failed) / len(sample) / mean
    return mean, (
        f"against ngspice in this process, started at the sound solution, a sample of {len(sample)} of which it found "
        f"no answer to {lost} (not counted; with its attempts it would be {more:.1f} times as long); worst difference "
        f"{worst:.1e} V"
    )


def _load(spice: Ngspice, points: Points, point: int) -> None:
    """Bring a point's network to ngspice, tuned."""
    wiring, _, key = points.names[point]
    solver, _ = points.alone(point)
    closed = [name for k, name in enumerate(solver.switches) if key >> k & 1]
    sound = points.alone_with((wiring, 0, key))[0].solve(key).volts
    head, _ = to_spice(solver.circuit, closed).split("\n.options ", 1)
    lines = [line for line in head.splitlines() if not line.startswith(".nodeset")]
    lines += [f".nodeset V({spice_node(k)})={sound[n]!r}" for k, n in enumerate(solver.nodes) if k and n in sound]
    spice.load("\n".join([*lines, OPTIONS, ".end"]))


def _apart(points: Points, point: int, volts: Floats, theirs: Floats) -> float:
    """The largest difference in volts of a node."""
    here, there = points.solver.plan.index, points.alone(point)[0].plan.index
    ours = volts[point, [here[n] for n in there if n in here]]
    return float(np.abs(ours - theirs[[k for n, k in there.items() if n in here]]).max())


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

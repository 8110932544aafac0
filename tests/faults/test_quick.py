"""The dictionary made all at once against the bench worked for every fault, and its points against single solves."""

from __future__ import annotations

import random

import numpy as np
import pytest

from labkit.board import load_board
from labkit.faults import Fault, FaultDictionary, build_dictionary, every_single_fault, fault, quick_dictionary
from labkit.faults import tests_of as every_test
from labkit.faults.quick import Quick

BOARD = load_board("orchard")
FAULTS = every_single_fault(BOARD)
SENSOR_FAULTS = ("wire-148-open", "wire-149-open", "A1:IC2-unseated", "swap-B2:BN-B2:BU")


@pytest.fixture(scope="module")
def quick() -> Quick:
    return Quick(BOARD, FAULTS)


def some(seed: int) -> list[Fault]:
    """One fault of every code, and a seeded third of the others."""
    first = {one.code: one for one in FAULTS}
    rest = [one for one in FAULTS if one not in first.values()]
    return [*first.values(), *random.Random(seed).sample(rest, len(rest) // 4)]


@pytest.mark.slow
def test_both_ways_to_the_dictionary_give_the_same_bands(quick: Quick, dictionary: FaultDictionary) -> None:
    """A part of the board's faults, in every situation and test; the whole board was compared when this was made.

    What is left to the bench is worked the same way by both, and so not worked here again.
    """
    faults = [one for one in some(15) if one not in quick.left]
    assert len(faults) > 70
    assert dictionary.faults == FAULTS
    slow, fast = build_dictionary(BOARD, faults), dictionary.select([one.id for one in faults])
    apart = [
        (one.id, test.id, x, y)
        for one, theirs, ours in zip(("healthy", *faults), slow.rows, fast.rows, strict=True)
        for test, x, y in zip(slow.tests, theirs, ours, strict=True)
        if x != y
    ]
    assert apart == []


def test_volts_are_those_of_each_network_built_for_itself(quick: Quick) -> None:
    points = quick.points
    # where a sensor hangs on its own diodes 1e-9 S must be told from 20 S, and an uncorrected point is off by 11 mV
    hard = [FAULTS.index(fault(BOARD, name)) + 1 for name in SENSOR_FAULTS]
    sample = random.Random(4).sample(range(len(points.names)), 700)
    sample += [point for point, (_, number, _) in enumerate(points.names) if number in hard]
    worst = 0.0
    for point in sample:
        solver, key = points.alone(point)
        found = solver.solve(key)
        rows = [(k, solver.plan.index[n]) for k, n in enumerate(points.solver.nodes) if n in solver.plan.index]
        ours, theirs = np.array(rows).T
        worst = max(worst, float(np.abs(points.volts[point, ours] - found.array[theirs]).max()))
    assert worst < 1e-4
    assert points.singly < len(points.names) / 50


def test_a_relay_that_drops_takes_its_contacts_with_it(quick: Quick) -> None:
    """50 ohm in the coil's wire: it pulls in nowhere, and feedback, seal and lamps are those of a dropped relay."""
    board = 1 + [one.id for one in FAULTS].index("wire-201-joint-50")
    coil = quick.walk.actors["K1"]
    running = quick.seen["running"]
    assert running.states[0, coil] == 1
    assert running.states[board, coil] == 0
    feedback = [channel.point for channel in quick.electrical.inputs].index("I10")
    assert running.inputs[0, feedback]
    assert not running.inputs[board, feedback]
    assert running.lit[0].tolist() != running.lit[board].tolist()


def test_what_needs_time_is_left_to_the_bench(quick: Quick) -> None:
    left = {one.id for one in quick.left}
    # a weld stays closed after its situation, a shorted suppressor trips the breaker
    assert {"K1-welded", "V1-shorted"} <= left
    assert "wire-102-open" not in left
    assert len(left) < len(FAULTS) / 8


def test_a_few_tests_of_a_few_faults() -> None:
    tests = [t for t in every_test(BOARD) if t.kind == "led" and t.situation in ("rest", "start held")]
    few = quick_dictionary(BOARD, [fault(BOARD, "wire-101-open"), fault(BOARD, "wire-102-open")], tests)
    assert few.outcome("wire-102-open", "start held: led I2") == "off"
    assert few.outcome("healthy", "start held: led I2") == "on"
    assert quick_dictionary(BOARD, [], tests).rows == (few.rows[0],)

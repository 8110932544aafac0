"""Marking: each line on a small hand-made case, and three kinds of student on a hundred hunts."""

from __future__ import annotations

import random
import statistics

import pytest

from labkit.faults import (
    Entry,
    Fault,
    FaultDictionary,
    FaultError,
    Hunt,
    Marking,
    Test,
    equally_hard,
    guessing,
    half_splitting,
    hunts,
    mark,
    wandering,
    wire_open,
)

T1, T2, T3 = (Test("rest", "volts", "A", terminal) for terminal in "XYZ")


def hunt(truth: str = "wire-3-open") -> Hunt:
    """Four breaks in a row: T2 halves them, T1 and T3 split the halves."""
    faults = tuple(wire_open(n) for n in range(1, 5))
    live, dead = "live", "dead"
    rows = (
        (live, live, live),
        (dead, dead, dead),
        (live, dead, dead),
        (live, live, dead),
        (live, live, live),
    )
    return Hunt(FaultDictionary(faults, (T1, T2, T3), rows), tuple(f.id for f in faults), truth)


def read(test: Test, truth: str = "wire-3-open", predicted: str = "") -> Entry:
    return Entry("read", test.id, hunt(truth).show(test.id), predicted)


NAME = Entry("name", "wire 3", cause="open")
AGAIN = (Entry("retest", "function"), Entry("retest", "stop"))


def points(marking: Marking) -> dict[str, float]:
    return {line.about: line.points for line in marking.lines}


def test_a_search_by_halves_with_proof_gets_everything() -> None:
    marking = mark(hunt(), [read(T2), read(T3), NAME, *AGAIN])
    assert marking.percent == 100
    assert "best search takes 2.0 minutes" in str(marking)


def test_a_right_guess_without_a_reading_earns_little() -> None:
    marking = mark(hunt(), [NAME, *AGAIN])
    got = points(marking)
    assert got["location"] == got["cause"] == 0.5
    assert got["method"] == got["readings that tell"] == 0
    assert marking.percent < 35


def test_a_reading_that_tells_nothing_is_named() -> None:
    marking = mark(hunt(), [read(T2), read(T2), read(T1), read(T3), NAME, *AGAIN])
    line = next(line for line in marking.lines if line.about == "readings that tell")
    assert line.points == 1  # the second T2, and T1: after T2 both remaining are live there
    assert line.reason.count("volts A to Y") == 1
    assert "volts A to X" in line.reason


def test_a_suspect_struck_off_too_early_and_one_ruled_out_but_named() -> None:
    marking = mark(hunt(), [read(T2), Entry("strike", "wire-4-open"), read(T3), NAME, *AGAIN])
    assert points(marking)["inference"] == 1
    marking = mark(hunt(), [read(T2), read(T3), Entry("name", "wire 1", cause="open"), *AGAIN])
    assert points(marking)["inference"] == 1
    assert points(marking)["location"] == 0


def test_a_strike_that_the_readings_bear_out_costs_nothing() -> None:
    marking = mark(hunt(), [read(T2), Entry("strike", "wire-1-open"), read(T3), NAME, *AGAIN])
    assert points(marking)["inference"] == 2


def test_swapping_before_proof_unsafe_acts_and_no_new_test() -> None:
    log = [Entry("swap", "K1"), Entry("unsafe", "ohms on a live board"), read(T2), read(T3), NAME, AGAIN[0]]
    got = points(mark(hunt(), log))
    assert got["no swapping on suspicion"] == -1
    assert got["safety"] == -2
    assert got["tested again"] == 1
    proved = points(mark(hunt(), [read(T2), read(T3), Entry("swap", "wire 3"), NAME, *AGAIN]))
    assert proved["no swapping on suspicion"] == 0


def test_predictions_count_when_they_were_asked() -> None:
    log = [read(T2, predicted="live"), read(T3, predicted="live"), NAME, *AGAIN]
    assert points(mark(hunt(), log))["prediction"] == 0.5
    assert "prediction" not in points(mark(hunt(), [read(T2), NAME]))


def test_variants_that_are_equally_hard() -> None:
    # Halving four equal suspects takes two readings whichever it is, and two suspects one; counted by hand.
    every = [hunt(f"wire-{n}-open") for n in range(1, 5)]
    assert [h.difficulty for h in every] == [2.0] * 4
    assert [h.truth for h in equally_hard(every[2], every)] == ["wire-1-open", "wire-2-open", "wire-4-open"]
    pair = Hunt(hunt().dictionary, ("wire-1-open", "wire-3-open"), "wire-1-open")
    assert pair.difficulty == 1.0
    assert equally_hard(every[2], [pair]) == ()


def test_no_fault_named() -> None:
    got = points(mark(hunt(), [read(T2), read(T3)]))
    assert got["location"] == got["cause"] == got["inference"] == 0


def test_a_test_that_is_not_there() -> None:
    with pytest.raises(FaultError, match="no rest: volts A to W"):
        mark(hunt(), [Entry("read", "rest: volts A to W", "live")])


def a_fault_is_found(one: Hunt, log: list[Entry]) -> bool:
    name = next(entry for entry in log if entry.do == "name")
    return any((name.what, name.cause) == (f.location, f.cause) for f in map(one.named, one.alike))


@pytest.mark.slow
def test_good_wandering_and_guessing_students_come_in_that_order(dictionary: FaultDictionary) -> None:
    marks = []
    for number, one in enumerate(hunts(dictionary, 100, seed=7)):
        good = half_splitting(one)
        assert a_fault_is_found(one, good)
        logs = (good, wandering(one, random.Random(number)), guessing(one, random.Random(number)))
        marks.append([mark(one, log).percent for log in logs])
    good_mean, wandering_mean, guessing_mean = (statistics.mean(column) for column in zip(*marks, strict=True))
    assert good_mean > wandering_mean + 10 > wandering_mean > guessing_mean + 10
    assert all(good >= wandered and good > guessed for good, wandered, guessed in marks)
    assert sum(wandered > guessed for _, wandered, guessed in marks) >= 85  # a lucky guess beats a lost wanderer


def test_the_same_seed_gives_the_same_hunts() -> None:
    dictionary = hunt().dictionary
    first, second = (hunts(dictionary, 20, suspects=3, seed=5) for _ in range(2))
    assert [(h.suspects, h.truth) for h in first] == [(h.suspects, h.truth) for h in second]
    assert [h.truth for h in first] != [h.truth for h in hunts(dictionary, 20, suspects=3, seed=6)]
    assert all(isinstance(h.fault, Fault) for h in first)
    with pytest.raises(FaultError, match="1 to 4 suspects"):
        hunts(dictionary, 1, suspects=5)

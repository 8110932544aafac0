"""Marking from a live bench's log: each line on a small case of its own, and three kinds of student."""

from __future__ import annotations

import random
import statistics
from collections.abc import Callable

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.board import load_board
from labkit.faults import (
    FaultDictionary,
    LiveHunt,
    Marking,
    at_rest,
    fault,
    guess_live,
    halve_live,
    hunts,
    mark_hunt,
    repair,
    strike,
    wander_live,
)

BOARD = load_board("orchard")
FRESH = at_rest(BOARD)
CHAIN = ("wire-102-open", "wire-201-open", "wire-211-open", "wire-221-open")
NAMED = ("wire 211", "open")


def hunt(truth: str = "wire-211-open") -> LiveHunt:
    return LiveHunt(FRESH, [fault(BOARD, name) for name in CHAIN], truth)


def read(bench: Bench, terminal: str, expect: float | str | None = None) -> None:
    bench.press("S2")
    bench.wait(ms(400))
    bench.meter.volts(terminal, "X1:0V", expect=expect)
    bench.wait(ms(200))
    bench.release("S2")
    bench.wait(ms(400))


def halves(bench: Bench) -> None:
    read(bench, "F3:95")  # live: not the button's wire, nor 201
    read(bench, "K1:A1")  # dead: 211; were it 221 it would be live


def mend(bench: Bench, place: str = "wire 211") -> None:
    bench.power(False)
    bench.wait(ms(1000))
    repair(bench, place)
    bench.meter.ohms("X1:24V", "X1:0V")
    bench.power(True)
    bench.wait(ms(2000))


def again(bench: Bench, *parts: str) -> None:
    for part in parts or ("S2", "S1"):
        bench.press(part, ms(300))
        bench.wait(ms(1000))


def marked(*steps: Callable[[Bench], object], named: tuple[str, str] | None = NAMED) -> Marking:
    one = hunt()
    bench = one.bench()
    for step in steps:
        step(bench)
    return mark_hunt(one, bench.log, named)


def points(marking: Marking) -> dict[str, float]:
    return {line.about: line.points for line in marking.lines}


def reason(marking: Marking, about: str) -> str:
    return next(line.reason for line in marking.lines if line.about == about)


def test_halving_mending_dead_and_trying_again_gets_everything() -> None:
    marking = marked(halves, mend, again)
    assert marking.percent == 100
    # four suspects: two readings by halving (ceil of log2 4)
    assert "2 readings and 0 looks in 2.0 minutes cut 4 suspects to 1; halving them takes 2." in str(marking)


def test_a_right_guess_without_a_reading_earns_little() -> None:
    marking = marked(mend, again)
    got = points(marking)
    assert got["location"] == got["cause"] == 0.5
    assert got["method"] == got["readings that tell"] == 0
    assert got["no swapping on suspicion"] == -1
    assert marking.percent < 25
    assert "a guess" in reason(marking, "location")


def test_what_the_repair_shows_is_not_a_proof_made_before_it() -> None:
    # the pump runs after the wire was exchanged, which proves the wire; but it was exchanged on suspicion
    got = points(marked(mend, again, halves))
    assert got["location"] == 0.5
    assert got["readings that tell"] == 0


def test_the_right_place_with_the_wrong_cause() -> None:
    got = points(marked(halves, mend, again, named=("wire 211", "bad joint, 50 ohm")))
    assert (got["location"], got["cause"]) == (2, 0)
    assert points(marked(halves, mend, again, named=("211", "Open")))["cause"] == 2


def test_nothing_named() -> None:
    got = points(marked(halves, mend, again, named=None))
    assert got["location"] == got["cause"] == got["inference"] == 0


def test_a_reading_that_tells_nothing_is_named() -> None:
    marking = marked(halves, lambda bench: read(bench, "K1:A2"), mend, again)
    assert points(marking)["readings that tell"] == 1.5
    assert "volts K1:A2 to X1:0V" in reason(marking, "readings that tell")


def test_readings_that_tell_earn_no_more_than_they_found_out() -> None:
    """One reading leaves two suspects of four: one bit of two, so half of the points, though nothing was wasted."""
    marking = marked(lambda bench: read(bench, "F3:95"), mend, again)
    assert points(marking)["readings that tell"] == 1
    assert points(marking)["method"] == 2
    assert points(marking)["location"] == 0.5


def test_more_minutes_than_needed_cost_method() -> None:
    def wander(bench: Bench) -> None:
        for terminal in ("X1:24I", "A1:I1", "P1:X1", "S3:13"):
            read(bench, terminal)

    assert points(marked(wander, halves, mend, again))["method"] == 4 * 3 / 6  # 2 minutes needed, 1 of grace, 6 spent


def test_proving_the_meter_and_the_dead_board_is_no_waste() -> None:
    def prove(bench: Bench) -> None:
        bench.meter.volts("G1:24V", "G1:0V")
        bench.power(False)
        bench.wait(ms(1000))
        bench.meter.volts("X1:24V", "X1:0V")
        bench.power(True)
        bench.wait(ms(2000))

    assert marked(prove, halves, mend, again).percent == 100


def test_struck_off_too_early() -> None:
    def too_early(bench: Bench) -> None:
        strike(bench, "wire-211-open")

    assert points(marked(too_early, halves, mend, again))["inference"] == 1
    wrong = marked(halves, lambda bench: strike(bench, "wire-221-open"), mend, again)
    assert points(wrong)["inference"] == 2  # the readings bear it out


def test_struck_off_before_the_reading_that_rules_it_out() -> None:
    """Right in the end, but nothing had been read yet: it counts what was known when it was struck off."""
    early = marked(lambda bench: strike(bench, "wire-221-open"), halves, mend, again)
    assert points(early)["inference"] == 1


def test_named_though_ruled_out() -> None:
    marking = marked(halves, mend, again, named=("wire 201", "open"))
    assert points(marking)["inference"] == 1
    assert "ruled out by the readings" in reason(marking, "inference")


def test_a_note_that_is_not_what_the_board_shows() -> None:
    marking = marked(lambda bench: bench.note("lit:P1", True), halves, mend, again)
    assert points(marking)["inference"] == 1.5
    assert "noted otherwise than the board showed it: lit:P1 True" in reason(marking, "inference")


@pytest.mark.parametrize(
    ("first", "second", "share"), [(24.0, 0.0, 1), ("live", "dead", 1), (24.0, 24.0, 0.5), (23.5, "0 V", 0.5)]
)
def test_predictions(first: float | str, second: float | str, share: float) -> None:
    def said(bench: Bench) -> None:
        read(bench, "F3:95", first)
        read(bench, "K1:A1", second)

    assert points(marked(said, mend, again))["prediction"] == share
    assert "prediction" not in points(marked(halves, mend, again))


def test_a_part_exchanged_before_proof_costs_and_after_proof_does_not() -> None:
    marking = marked(lambda bench: mend(bench, "K1"), halves, mend, again)
    assert points(marking)["no swapping on suspicion"] == -1
    assert "K1" in reason(marking, "no swapping on suspicion")
    assert points(marked(halves, mend, again))["no swapping on suspicion"] == 0


def test_unsafe_acts() -> None:
    def ohms_on_live(bench: Bench) -> None:
        bench.meter.ohms("X1:24V", "X1:0V")

    def forced(bench: Bench) -> None:
        bench.force("K1", True)

    marking = marked(ohms_on_live, halves, mend, again)
    assert points(marking)["safety"] == -2
    assert "ohms on a live board" in reason(marking, "safety")
    marking = marked(halves, lambda bench: repair(bench, "wire 211"), again)
    assert "power on (repair)" in reason(marking, "safety")
    marking = marked(halves, mend, again, forced)
    assert "left forced: K1" in reason(marking, "safety")
    assert points(marked(halves, mend, forced, lambda bench: bench.unforce("K1"), again))["safety"] == 0

    def one_of_two(bench: Bench) -> None:
        bench.force("K1", True)
        bench.force("P1", True)
        bench.unforce("K1")

    assert "left forced: P1" in reason(marked(halves, mend, again, one_of_two), "safety")


def test_power_on_without_a_reading_of_the_dead_board() -> None:
    def blind(bench: Bench) -> None:
        bench.power(False)
        bench.wait(ms(1000))
        repair(bench, "wire 211")
        bench.power(True)
        bench.wait(ms(2000))

    marking = marked(halves, blind, again)
    assert points(marking)["safety"] == -2
    assert "power on again without a reading of the dead board" in reason(marking, "safety")

    def off_and_on(bench: Bench) -> None:  # nothing was worked on: nothing to be read
        bench.power(False)
        bench.wait(ms(1000))
        bench.power(True)
        bench.wait(ms(2000))

    assert points(marked(halves, off_and_on, mend, again))["safety"] == 0


@pytest.mark.parametrize(
    ("parts", "got", "missing"),
    [
        (("S2", "S1"), 2, ""),
        (("S2",), 1, "stop"),
        (("S1",), 0, "function and stop"),
        (("S1", "S2"), 1, "stop"),
        ((), 0, "function and stop"),
    ],
)
def test_tried_again(parts: tuple[str, ...], got: int, missing: str) -> None:
    marking = marked(halves, mend, *([lambda bench: again(bench, *parts)] if parts else []))
    assert points(marking)["tested again"] == got
    assert missing in reason(marking, "tested again")


def test_trying_before_the_repair_is_not_trying_again() -> None:
    assert points(marked(again, halves, mend))["tested again"] == 0
    marking = marked(halves, lambda bench: mend(bench, "wire 201"), again)
    assert points(marking)["tested again"] == 0
    assert "not put right" in reason(marking, "tested again")


def test_against_the_best_search_where_a_dictionary_is_at_hand(dictionary: FaultDictionary) -> None:
    one = hunt()
    bench = one.bench()
    for step in (halves, mend, again):
        step(bench)
    marking = mark_hunt(one, bench.log, NAMED, dictionary=dictionary)
    assert "the best search takes" in reason(marking, "method")
    assert "halving" not in reason(marking, "method")


@pytest.mark.slow
def test_good_wandering_and_guessing_students_on_live_benches(dictionary: FaultDictionary) -> None:
    # Eight here. The hundred of seed 7, run once: 99, 71 and 4 % in the mean; the good one always above the guessing
    # one, the wandering one above the guessing one in 98. A wanderer whose first reading happens to decide can come
    # out a few points above the good one, who says beforehand what it should show and is not always right.
    marks = []
    for number, drawn in enumerate(hunts(dictionary, 8, seed=7)):
        one = LiveHunt(FRESH, [f for f in dictionary.faults if f.id in drawn.suspects], drawn.truth)
        row = []
        for student in (halve_live, wander_live, guess_live):
            bench = one.bench()
            named = student(one, dictionary, bench, random.Random(number))
            row.append(mark_hunt(one, bench.log, named, dictionary=dictionary).percent)
            if student is halve_live:
                assert named == (one.fault.location, one.fault.cause)
        marks.append(row)
    good, wandering, guessing = (statistics.mean(column) for column in zip(*marks, strict=True))
    assert good > wandering + 10 > wandering > guessing + 10
    assert all(one >= two - 5 and one > three for one, two, three in marks)
    assert sum(two > three for _, two, three in marks) >= 6

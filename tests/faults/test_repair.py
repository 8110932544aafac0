"""Mending by hand: what goes with the part or the wire, and what stays."""

from __future__ import annotations

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.board import load_board
from labkit.faults import (
    Fault,
    FaultError,
    at_rest,
    combined,
    every_single_fault,
    fault,
    faults_in,
    places,
    put_in,
    repair,
    wire_open,
)

BOARD = load_board("orchard")
FRESH = at_rest(BOARD)


@pytest.fixture
def bench() -> Bench:
    return FRESH()


def starts(bench: Bench) -> bool:
    bench.press("S2", ms(300))
    bench.wait(ms(800))
    started = bench.state("K1") == "closed"
    bench.press("S1", ms(300))
    bench.wait(ms(800))
    return started


@pytest.mark.parametrize("one", every_single_fault(BOARD), ids=lambda f: f.id)
def test_every_fault_is_mended_at_its_own_place_and_no_other(bench: Bench, one: Fault) -> None:
    put_in(bench, one)
    assert not repair(bench, "wire 3" if one.location != "wire 3" else "wire 2")
    assert faults_in(bench) == (one,)
    assert repair(bench, one.location)
    assert faults_in(bench) == ()
    assert [done.do for done in bench.log[-2:]] in (["repair", "repair"], ["repair", "swap"])


def test_after_the_repair_the_pump_starts_and_before_it_does_not(bench: Bench) -> None:
    put_in(bench, fault(BOARD, "K1-coil-open"))
    assert not starts(bench)
    repair(bench, "P2")
    assert not starts(bench)
    repair(bench, "K1")
    assert starts(bench)


# A whole button is exchanged with its contacts, a controller with its channels; a plug-on block is not part of the
# contactor below, and moved wires are not part of the sensor on which they end (trade knowledge, no source).
@pytest.mark.parametrize(
    ("name", "place", "gone"),
    [
        ("S2:13-14-open", "S2", True),
        ("S2:13-14-open", "S6", False),
        ("I2-dead", "A1", True),
        ("Q3-shorted", "A1", True),
        ("F4-open", "F4", True),
        ("K1-welded", "K1", True),
        ("K1.aux-missing", "K1", False),
        ("K1.aux-missing", "K1.aux", True),
        ("B2-leaks", "B2", True),
        ("short-A1:I2-A1:0V", "A1", False),
        ("short-A1:I2-A1:0V", "wire 102", True),
        ("V1-shorted", "K1", False),
        ("G1-low", "G1", True),
    ],
)
def test_what_goes_with_what(bench: Bench, name: str, place: str, gone: bool) -> None:
    put_in(bench, fault(BOARD, name))
    assert repair(bench, place) is gone
    assert (faults_in(bench) == ()) is gone


def test_swapping_a_part_at_the_bench_mends_what_lies_in_it(bench: Bench) -> None:
    put_in(bench, fault(BOARD, "K1-jammed"), wire_open("202"))
    bench.swap("P1")
    assert len(faults_in(bench)) == 2
    bench.swap("K1")
    assert [f.id for f in faults_in(bench)] == ["wire-202-open"]
    assert starts(bench)


@pytest.mark.parametrize("name", ["A1:IC1-unseated", "A1:IC1-mirrored"])
def test_a_block_pulled_and_seated_again_is_home(bench: Bench, name: str) -> None:
    put_in(bench, fault(BOARD, name))
    bench.pull("A1.XI2")
    bench.seat("A1.XI2")
    assert faults_in(bench)
    bench.pull("A1.XI1")
    assert faults_in(bench)
    bench.seat("A1.XI1")
    assert faults_in(bench) == ()
    bench.wait(ms(300))
    assert starts(bench)


def test_a_block_is_a_place_too(bench: Bench) -> None:
    put_in(bench, fault(BOARD, "A1:IC1-shifted"), fault(BOARD, "A1:IC2-unseated"))
    assert not repair(bench, "A1.XI1")  # landed one terminal on: the wires, not the block
    assert repair(bench, "A1.XI2")


def test_a_wire_taken_away_and_laid_anew_is_whole(bench: Bench) -> None:
    put_in(bench, wire_open("201"))
    bench.lift("201")
    bench.land("201")
    assert not starts(bench)  # the same wire, broken as ever
    bench.unwire("201")
    bench.wire("A1:Q1", "F3:95", no="201", m=0.7)
    assert faults_in(bench) == ()
    assert starts(bench)


def test_of_two_swapped_wires_each_is_put_right_for_itself(bench: Bench) -> None:
    swapped = fault(BOARD, "swap-A1:I2-A1:I3")
    put_in(bench, swapped)
    assert repair(bench, "wire 102")
    (left,) = faults_in(bench)
    assert len(left.changes) == len(swapped.changes) - 1
    assert repair(bench, "wire 103")
    assert faults_in(bench) == ()
    assert starts(bench)


def test_of_two_faults_one_repair_takes_one(bench: Bench) -> None:
    put_in(bench, combined("two", wire_open("201"), wire_open("202")))
    assert repair(bench, "wire 201")
    assert starts(bench)
    assert not bench.lit("P1")
    bench.press("S6")
    bench.wait(ms(300))
    assert not bench.lit("P1")
    assert repair(bench, "wire 202")
    bench.wait(ms(300))
    assert bench.lit("P1")


def test_an_intermittent_fault_goes_for_good(bench: Bench) -> None:
    put_in(bench, wire_open("203"), seed=3, every=ms(100))
    seen = set()
    for _ in range(40):
        bench.wait(ms(50))
        seen.add(bench.lit("P2"))
    assert seen == {True, False}
    repair(bench, "wire 203")
    for _ in range(40):
        bench.wait(ms(50))
        assert bench.lit("P2")


def test_a_place_that_is_not_there_changes_nothing(bench: Bench) -> None:
    done = len(bench.log)
    with pytest.raises(FaultError, match="no 'wire 999' on this board") as slip:
        repair(bench, "wire 999")
    assert slip.value.try_this
    assert len(bench.log) == done


def test_places_are_the_parts_the_wires_and_every_fault() -> None:
    known = places(BOARD)
    assert {"K1", "K1.aux", "wire 201", "A1:I2", "inputs of A1:IC1"} <= set(known)
    assert {f.location for f in every_single_fault(BOARD)} <= set(known)
    assert len(set(known)) == len(known)

"""Faults in a bench: what they do there, and that nothing of them stays."""

from __future__ import annotations

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.board import load_board
from labkit.faults import (
    PROGRAM,
    Fault,
    FaultError,
    combined,
    every_single_fault,
    fault,
    faults_in,
    faulty,
    joint,
    put_in,
    short,
    take_out,
    wire_open,
)

BOARD = load_board("orchard")


@pytest.fixture(scope="module")
def first() -> Bench:
    return Bench(BOARD)


@pytest.fixture
def bench(first: Bench) -> Bench:
    bench = first.again()
    bench.power_up()
    bench.load(PROGRAM)
    bench.wait(ms(300))
    return bench


def started(bench: Bench) -> str:
    bench.press("S2")
    bench.wait(ms(300))
    state = bench.state("K1")
    bench.release("S2")
    bench.wait(ms(300))
    return state


def look(bench: Bench) -> dict[str, float]:
    pairs = (("K1:A1", "X1:0V"), ("A1:I1", "X1:0V"), ("A1:Q3", "X1:0V"), ("X1:24V", "X1:PE"))
    return {a: bench.meter.peek("volts", a, b).exact for a, b in pairs}


@pytest.mark.parametrize("one", every_single_fault(BOARD)[::9], ids=lambda f: f.id)
def test_a_fault_leaves_no_trace(bench: Bench, one: Fault) -> None:
    before, states, done = look(bench), bench.states(), len(bench.log)
    wiring = bench.wiring
    put_in(bench, one)
    take_out(bench, one)
    bench.wait(ms(2500))  # a controller that lost its supply starts again
    assert bench.states() == states
    assert look(bench) == before
    assert len(bench.log) == done
    assert bench.wiring == wiring
    assert faults_in(bench) == ()


# Coil of 192 ohm behind a joint, pull-in at 0.82 x 24 V = 19.7 V: 20 ohm leaves 21.7 V, 30 ohm 20.8 V, 50 ohm 19.0 V
# (24 x 192 / (192 + R), worked by hand; the supply at load and the transistor take less than 0.15 V)
@pytest.mark.parametrize(("ohm", "volts", "pulls_in"), [(20, 21.7, True), (30, 20.8, True), (50, 19.0, False)])
def test_a_joint_in_the_coil_circuit(bench: Bench, ohm: float, volts: float, pulls_in: bool) -> None:
    put_in(bench, joint("201", ohm))
    bench.press("S2")
    bench.wait(ms(300))
    assert bench.meter.volts("K1:A1", "K1:A2") == pytest.approx(volts, abs=0.15)
    assert (bench.state("K1") == "closed") is pulls_in


def test_a_break_and_its_voltage(bench: Bench) -> None:
    put_in(bench, wire_open("221"))
    bench.press("S2")
    bench.wait(ms(300))
    assert bench.meter.volts("K1:A2", "X1:0V") > 20  # the return floats up to the live side: read on paper
    assert abs(bench.meter.volts("K1:A1", "K1:A2")) < 1


def test_a_stop_that_touches_24_v_stops_no_longer(bench: Bench) -> None:
    put_in(bench, short("A1:I1", "X1:24I"))
    assert started(bench) == "closed"
    bench.press("S1")
    bench.wait(ms(300))
    assert bench.state("K1") == "closed"


def test_a_second_earth_fault_on_a_floating_supply_starts_the_pump_by_itself(bench: Bench) -> None:
    put_in(bench, fault(BOARD, "earth-plus-floating"))
    bench.wait(ms(300))
    assert bench.state("K1") == "open"  # the first one is silent
    take_out(bench)
    put_in(bench, fault(BOARD, "earth-second-K1"))
    bench.wait(ms(300))
    assert bench.state("K1") == "closed"
    bench.press("S1")
    bench.wait(ms(300))
    assert bench.state("K1") == "closed"  # the stop is bypassed
    assert not bench.led("Q1")


def test_welded_only_while_the_fault_is_in(bench: Bench) -> None:
    welded = fault(BOARD, "K1-welded")
    with faulty(bench, welded):
        started(bench)
        bench.press("S1")  # held: let go, the program would seal in again through the welded feedback
        bench.wait(ms(500))
        assert bench.state("K1") == "closed"
    bench.wait(ms(300))
    assert bench.state("K1") == "open"


def test_wires_lifted_meanwhile_stay_lifted(bench: Bench) -> None:
    with faulty(bench, wire_open("202")):
        bench.lift("203")
    assert "203" not in [w.no for w in bench.wiring]
    assert "202" in [w.no for w in bench.wiring]
    bench.land("203")
    bench.wait(ms(300))
    assert bench.lit("P2")


def test_faults_combine_and_come_out_one_by_one(bench: Bench) -> None:
    lamp, button = fault(BOARD, "P2-burnt"), wire_open("102")
    put_in(bench, lamp, button)
    bench.wait(ms(300))
    assert not bench.lit("P2")
    assert started(bench) == "open"
    take_out(bench, button)
    assert started(bench) == "closed"
    both = combined("two", wire_open("103"), wire_open("104"))
    assert len(both.changes) == 2
    put_in(bench, both)
    assert [f.id for f in faults_in(bench)] == ["P2-burnt", "two"]


def flickers(bench: Bench, seed: int) -> list[bool]:
    put_in(bench, wire_open("203"), seed=seed, every=ms(200))
    seen = []
    for _ in range(60):
        bench.wait(ms(50))
        seen.append(bench.lit("P2"))
    take_out(bench)
    bench.wait(ms(100))
    return seen


def test_an_intermittent_fault_comes_and_goes_the_same_way_for_a_seed(first: Bench) -> None:
    runs = []
    for seed in (1, 1, 2):
        bench = first.again()
        bench.power_up()
        bench.load(PROGRAM)
        bench.wait(ms(300))
        runs.append(flickers(bench, seed))
        assert bench.lit("P2")
        before = bench.now_us
        bench.wait(ms(3000))
        assert bench.lit("P2"), f"still flickers after {before}"
    assert runs[0] == runs[1] != runs[2]
    assert {True, False} == set(runs[0])


def test_slips_are_named(bench: Bench) -> None:
    with pytest.raises(FaultError, match="no fault wire-1O2-open"):
        fault(BOARD, "wire-1O2-open")
    put_in(bench, wire_open("102"))
    with pytest.raises(FaultError, match="in this bench already"):
        put_in(bench, wire_open("102"))
    with pytest.raises(FaultError, match="not in this bench"):
        take_out(bench, wire_open("103"))
    with pytest.raises(FaultError, match="no terminal K1:A3"):
        put_in(bench, short("K1:A3", "PE"))
    assert [f.id for f in faults_in(bench)] == ["wire-102-open"]


def test_every_fault_has_its_own_id_and_a_place() -> None:
    faults = every_single_fault(BOARD)
    assert len({f.id for f in faults}) == len(faults)
    assert faults == every_single_fault(load_board("orchard"))
    assert all(f.location and f.cause and f.changes for f in faults)

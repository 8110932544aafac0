"""Every claim of the notes in datasets/faults, held against a bench with the fault in."""

from __future__ import annotations

from functools import cache

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.board import load_board
from labkit.faults import (
    Note,
    Test,
    at_rest,
    every_single_fault,
    fault,
    load_notes,
    ohm_band,
    put_in,
    volt_band,
)
from labkit.faults import tests_of as every_test
from labkit.faults.visits import bring_about

BOARD = load_board("orchard")
FRESH = at_rest(BOARD)
NOTES = load_notes()
TESTS = {test.id: test for test in every_test(BOARD)}
LOOKS = ("lit", "led", "state")
CODES = sorted(NOTES.codes)


@cache
def at_bench(name: str, situation: str, which: tuple[Test, ...]) -> tuple[str, ...]:
    """Put the fault in, bring the situation about, and see what each test shows."""
    bench = FRESH()
    if name != "healthy":
        put_in(bench, fault(BOARD, name))
        bench.wait(ms(600))
    bring_about(bench, situation)
    found = []
    for test in which:
        looks = set()
        for _ in range(7 if test.kind in LOOKS else 1):
            looks.add(look(bench, test))
            bench.wait(ms(17))
        found.append(looks.pop() if len(looks) == 1 else "flickers")
    return tuple(found)


def look(bench: Bench, test: Test) -> str:
    if test.kind == "volts":
        return volt_band(bench.meter.peek("volts", test.a, test.b))
    if test.kind == "ohms":
        reading = bench.meter.peek("ohms", test.a, test.b)
        return "live" if reading.live else ohm_band(reading)
    if test.kind == "release":
        return released(bench, test.a)
    if test.kind == "state":
        return bench.state(test.a)
    return "on" if (bench.lit(test.a) if test.kind == "lit" else bench.led(test.a)) else "off"


def released(bench: Bench, part: str) -> str:
    """Milliseconds from the coil's dying to the armature's falling; 14 and 30 are the limits of "usual"."""
    bench.press("S1")
    while bench.meter.peek("volts", f"{part}:A1", f"{part}:A2") > 9.6:
        bench.wait(ms(0.5))
    dead_us = bench.now_us
    while bench.state(part) == "closed":
        bench.wait(ms(0.5))
    took_ms = (bench.now_us - dead_us) / 1000
    return "quick" if took_ms < 14 else "usual" if took_ms < 30 else "slow"


def shown(name: str, pairs: tuple[tuple[str, str], ...]) -> dict[str, str]:
    tests = [TESTS[test] for test, _ in pairs]
    return {test.id: at_bench(name, test.situation, (test,))[0] for test in tests}


def note(code: str) -> Note:
    return NOTES.codes[code]


@pytest.mark.parametrize("code", CODES)
def test_the_example_is_of_its_code(code: str) -> None:
    assert fault(BOARD, note(code).example).code == code


@pytest.mark.parametrize("code", CODES)
def test_the_measurement_decides(code: str) -> None:
    decides = note(code).decides
    assert decides
    assert shown(note(code).example, decides) == dict(decides)
    assert shown("healthy", decides) != dict(decides)


@pytest.mark.parametrize("code", [code for code in CODES if not NOTES.codes[code].hidden])
def test_the_symptom_is_what_the_bench_shows(code: str) -> None:
    symptom = note(code).symptom
    assert symptom, "write a symptom, or hidden = true"
    assert {TESTS[test].kind for test, _ in symptom} <= set(LOOKS)
    assert shown(note(code).example, symptom) == dict(symptom)
    assert shown("healthy", symptom) != dict(symptom)


@pytest.mark.parametrize("code", [code for code in CODES if NOTES.codes[code].hidden])
def test_a_hidden_fault_changes_no_lamp_indicator_or_contactor(code: str) -> None:
    assert not note(code).symptom
    for situation in ("rest", "start held", "running", "stop held", "after stop", "S6 held", "B1 actuated"):
        looks = tuple(test for test in TESTS.values() if test.situation == situation and test.kind in LOOKS)
        assert at_bench(note(code).example, situation, looks) == at_bench("healthy", situation, looks), situation


@pytest.mark.parametrize("code", [code for code in CODES if NOTES.codes[code].mistaken])
def test_the_wrong_first_guess_is_near_and_is_told_apart(code: str) -> None:
    one = note(code)
    other = shown(one.mistaken, one.symptom)
    healthy = shown("healthy", one.symptom)
    assert [t for t, band in one.symptom if other[t] == band != healthy[t]], "nobody would guess this"
    assert shown(one.mistaken, one.decides) != dict(one.decides), "the measurement does not tell them apart"


def test_every_fault_of_the_board_has_a_note_and_every_code_of_the_trade_is_accounted_for() -> None:
    there = {f.code for f in every_single_fault(BOARD)}
    assert there == set(NOTES.codes)
    trade = {f"F{n:02}" for n in range(1, 48)}
    assert trade - there == set(NOTES.absent)
    assert not set(NOTES.absent) & there


def test_shorted_turns_take_several_times_the_current() -> None:
    # 24 V over 192 ohm is 0.125 A, over 60 ohm 0.4 A: three times (Ohm's law)
    amps = {}
    for name in ("healthy", "K1-coil-turns"):
        bench = FRESH()
        if name != "healthy":
            put_in(bench, fault(BOARD, name))
        bring_about(bench, "start held")
        assert bench.state("K1") == "closed"
        amps[name] = bench.meter.peek("amps", "201")
    assert amps["healthy"] == pytest.approx(0.125, abs=0.003)
    assert amps["K1-coil-turns"] == pytest.approx(0.4, abs=0.01)


@pytest.mark.parametrize(("limit", "comes_in"), [("G1-weak", False), ("healthy", True)])
def test_a_weak_supply_is_fine_at_rest_and_sags_under_the_coil(limit: str, comes_in: bool) -> None:
    bench = FRESH()
    if limit != "healthy":
        put_in(bench, fault(BOARD, limit))
    bench.wait(ms(1000))
    assert bench.meter.peek("volts", "G1:24V", "G1:0V") > 23.5
    bring_about(bench, "start held")
    assert (bench.state("K1") == "closed") is comes_in
    assert (bench.meter.peek("volts", "G1:24V", "G1:0V") > 23.5) is comes_in


@pytest.mark.parametrize(
    ("broken", "open_pairs"), [("healthy", set()), ("wire-311-open", {"12", "13"}), ("wire-313-open", {"13", "23"})]
)
def test_an_open_motor_lead_is_found_at_the_overload_without_a_walk_to_the_motor(
    broken: str, open_pairs: set[str]
) -> None:
    """Two windings of 15 ohm in a row between any two terminals of a star: 30 ohm three times, or OL twice."""
    bench = Bench("orchard")
    if broken != "healthy":
        put_in(bench, fault(BOARD, broken))
    load = {"1": "F3:2/T1", "2": "F3:4/T2", "3": "F3:6/T3"}
    ohms = {a + b: bench.meter.peek("ohms", load[a], load[b]) for a, b in ("12", "13", "23")}
    assert {pair for pair, ohm in ohms.items() if ohm > 1e6} == open_pairs
    assert [float(ohm) for pair, ohm in ohms.items() if pair not in open_pairs] == pytest.approx(
        [30.0] * (3 - len(open_pairs)), abs=0.5
    )

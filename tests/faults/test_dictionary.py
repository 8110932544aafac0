"""The dictionary: every fault shows, the notes say what the bench shows, what stays alike is listed."""

from __future__ import annotations

import pytest

from labkit.bench import Bench
from labkit.board import load_board
from labkit.circuit import Circuit
from labkit.faults import (
    FaultDictionary,
    FaultError,
    build_dictionary,
    every_single_fault,
    fault,
    load_notes,
    loads_notes,
    ohm_band,
    put_in,
    volt_band,
)
from labkit.faults import (
    tests_of as every_test,
)
from labkit.faults._page import faults_page

BOARD = load_board("orchard")
NOTES = load_notes()


@pytest.mark.slow
def test_every_single_fault_differs_from_healthy(dictionary: FaultDictionary) -> None:
    assert [f.id for f in dictionary.faults if not dictionary.differing(f.id)] == []


@pytest.mark.slow
def test_what_no_test_tells_apart_is_listed_with_its_reason(dictionary: FaultDictionary) -> None:
    listed = {frozenset(group.faults) for group in NOTES.alike}
    assert {frozenset(group) for group in dictionary.alike()} == listed
    assert all(group.why for group in NOTES.alike)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(len(NOTES.only)))
def test_what_only_one_kind_of_test_tells_apart_is_alike_without_it(number: int, dictionary: FaultDictionary) -> None:
    one = NOTES.only[number]
    without = dictionary.select(tests=[t.id for t in dictionary.tests if t.kind not in one.kinds])
    assert any(set(one.faults) <= set(group) for group in without.alike())
    assert not any(set(one.faults) & set(group) for group in dictionary.alike())


@pytest.mark.slow
@pytest.mark.parametrize("code", NOTES.codes)
def test_the_deciding_measurement_reads_as_the_note_says(code: str, dictionary: FaultDictionary) -> None:
    note = NOTES.codes[code]
    shown = {test: dictionary.outcome(note.example, test) for test, _ in note.decides}
    assert shown == dict(note.decides)
    assert any(dictionary.outcome("healthy", test) != band for test, band in note.decides)


@pytest.mark.slow
def test_could_this_fault_alone_explain_it(dictionary: FaultDictionary) -> None:
    seen = {"start held: led I2": "off", "start held: volts S2:14 to X1:0V": "live"}
    possible = {f.id for f in dictionary.could_be(seen)}
    assert {"wire-102-open", "I2-dead"} <= possible
    assert not possible & {"S2:13-14-open", "wire-122-open"}  # then the device's own terminal would be dead
    assert dictionary.explains("wire-102-open", seen)


def test_every_code_on_the_board_has_its_note_and_no_note_is_left_over() -> None:
    codes = {f.code for f in every_single_fault(BOARD)}
    assert codes == set(NOTES.codes)
    for code, note in NOTES.codes.items():
        assert fault(BOARD, note.example).code == code
    # F01 to F47 are either here or said to be absent
    assert {f"F{n:02}" for n in range(1, 48)} <= codes | set(NOTES.absent)
    assert not codes & set(NOTES.absent)


def test_a_relay_that_drops_is_worked_out_and_not_guessed() -> None:
    # With 50 ohm in its circuit the coil never pulls in, so the feedback, the seal and the lamps change with it.
    few = build_dictionary(BOARD, [fault(BOARD, "wire-201-joint-50")])
    shown = {
        t: few.outcome("wire-201-joint-50", t) for t in ("start held: state K1", "running: led Q1", "running: lit P1")
    }
    assert shown == {"start held: state K1": "open", "running: led Q1": "off", "running: lit P1": "off"}
    assert few.outcome("healthy", "running: lit P1") == "on"


def test_readings_are_those_of_the_bench_s_own_meter() -> None:
    # The dictionary leaves the meter's load out where it cannot matter; here every reading is made with it.
    one = fault(BOARD, "wire-14-open")
    live = [t for t in every_test(BOARD) if t.kind == "volts" and t.situation == "rest"]
    few = build_dictionary(BOARD, [one], live)
    bench = Bench(BOARD)
    put_in(bench, one)
    bench.power_up()
    from labkit.base import ms
    from labkit.faults import PROGRAM

    bench.load(PROGRAM)
    bench.wait(ms(1200))
    for test in live:
        assert few.outcome(one.id, test.id) == volt_band(bench.meter.volts(test.a, test.b).exact), test.id


@pytest.mark.parametrize("name", ["K1-coil-turns", "wire-311-open", "V1-reversed", "short-A1:I2-A1:0V"])
def test_ohms_are_those_of_the_bench_s_own_meter(name: str) -> None:
    one = fault(BOARD, name)
    dry = [t for t in every_test(BOARD) if t.situation == "dead"]
    few = build_dictionary(BOARD, [one], dry)
    bench = Bench(BOARD)
    put_in(bench, one)
    for test in dry:
        reading = bench.meter.ohms(test.a, test.b)
        assert not reading.live
        assert few.outcome(one.id, test.id) == ohm_band(reading.exact), test.id


def test_select_keeps_rows_and_columns_together() -> None:
    tests = [t for t in every_test(BOARD) if t.kind == "led" and t.situation in ("rest", "start held")]
    both = build_dictionary(BOARD, [fault(BOARD, "wire-101-open"), fault(BOARD, "wire-102-open")], tests)
    one = both.select(["wire-102-open"], ["start held: led I2"])
    assert one.rows == (("on",), ("off",))
    with pytest.raises(FaultError, match="no wire-9"):
        both.outcome("wire-9", "rest: led I1")


# 20.4 V is 85 % of 24 V and 11 and 5 V the limits of a type 3 input (IEC 61131-2); 1 V and the ohms: own choice
@pytest.mark.parametrize(
    ("volts", "band"),
    [
        (0.0, "dead"),
        (-0.9, "dead"),
        (-1.1, "reversed"),
        (4.9, "low"),
        (5.1, "undefined"),
        (11.1, "sag"),
        (20.5, "live"),
    ],
)
def test_bands_of_volts(volts: float, band: str) -> None:
    assert volt_band(volts) == band


def test_bands_of_ohms() -> None:
    shown = [ohm_band(ohms) for ohms in (0.1, 60, 192, 1200, 1e4, 1e6, float("inf"))]
    assert shown == ["joined", "few ohm", "a coil", "a lamp", "electronics", "high", "OL"]


def test_the_page_is_printed_from_the_catalogue() -> None:
    from labkit.base import data_path, read_text

    assert read_text(data_path("docs", "reference", "faults.md")) == faults_page()


def test_a_bad_notes_file_is_named() -> None:
    with pytest.raises(FaultError, match="not TOML"):
        loads_notes("schema = ")
    with pytest.raises(FaultError, match="schema = 1"):
        loads_notes("[codes]")
    with pytest.raises(FaultError, match=r"codes\.F01\.guess"):
        loads_notes('schema = 1\n[codes.F01]\ntitle = "x"\nshows = "x"\nmeasure = "x"\nexample = "x"\ndecides = []\n')


def test_a_fault_that_is_in_leaves_the_sound_network_alone() -> None:
    from labkit.board import electrify
    from labkit.faults import apply

    sound = electrify(BOARD)
    before: Circuit = sound.circuit
    for one in every_single_fault(BOARD):
        apply(sound, one.changes)
    assert sound.circuit is before

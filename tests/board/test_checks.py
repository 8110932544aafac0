"""Findings on a wiring: right ones pass whatever their routing, wrong ones are named where they are."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from board_helpers import codes, with_type

from labkit.board import Board, Wire, Wiring, check_wiring, load_board, loads_catalogue, parts_catalogue

W = load_board("orchard").wiring


def found(board: Board, wiring: Wiring) -> list[tuple[str, str]]:
    return codes(check_wiring(board, wiring))


def test_other_routings_of_the_same_thing_pass(board: Board) -> None:
    """Feeds daisy-chained from button to button, returns chained from lamp to lamp, other numbers, other order."""
    w = W.moved(122, end="X1:24I", to="S1:11").moved(123, end="X1:24I", to="S2:13")
    w = w.moved(223, end="X1:0V", to="P1:X2").moved(224, end="X1:0V", to="P2:X2")
    w = w.moved(14, end="X1:0V", to="A1:IC2").moved(222, end="X1:0V", to="G1:0V")
    w = w.without(4).with_wire(Wire("4", "X1:0V", "X1:PE", "GNYE", 1.5, 0.2))
    shuffled = list(w.renumber(500))
    random.Random(7).shuffle(shuffled)
    findings = check_wiring(board, Wiring(tuple(shuffled)))
    assert {f.severity for f in findings} == {"advice"}
    assert {f.code for f in findings} == {"chain-breaks"}, "chained feeds work, and are told"


def test_overload_contact_on_the_other_side_of_its_own_contact_pair_passes(board: Board) -> None:
    w = W.moved(201, end="F3:95", to="F3:96").moved(211, end="F3:96", to="F3:95")
    assert check_wiring(board, w) == []


@pytest.mark.parametrize(
    ("wiring", "code", "terminal"),
    [
        (W.without(14), "input-common-missing", "A1:IC1"),
        (W.without(15), "input-common-missing", "A1:IC2"),
        (W.without(16), "group-without-supply", "A1:QA+"),
        (W.without(19), "group-without-supply", "A1:QB+"),
        (W.without(18), "group-without-0v", "A1:QA0"),
        (W.without(11), "controller-without-supply", "A1:24V"),
        (W.without(12), "controller-without-supply", "A1:0V"),
        (W.without(231), "coil-without-suppression", "K1:A1"),
        (W.without(101), "point-not-wired", "A1:I1"),
        (W.without(121), "point-stays-0", "A1:I1"),
        (W.without(122), "loose-end", "S2:13"),
        (W.without(221), "load-dead", "K1:A2"),
        (W.without(211), "load-dead", "K1:A1"),
        (W.without(128), "sensor-without-supply", "B1:BN"),
        (W.without(9), "points-stay-0", "A1:I1"),
        (W.without(320), "not-bonded", "M1:PE"),
        (W.without(4), "floating-0v", "G1:0V"),
        (W.without(212 - 10, 222), "loose-device", "P1:X1"),
        (W.moved(222, end="X1:0V", to="X1:PE"), "return-through-earth", "P1:X2"),
        (W.moved(101, end="S1:12", to="S1:11"), "point-stays-1", "A1:I1"),
        (W.moved(128, end="B1:BN", to="B1:BU").moved(148, end="B1:BU", to="B1:BN"), "sensor-reversed", "B1:BN"),
        (W.moved(11, end="A1:24V", to="A1:0V").moved(12, end="A1:0V", to="A1:24V"), "supply-reversed", "A1:24V"),
        (W.moved(101, end="A1:I1", to="A1:I2").moved(102, end="A1:I2", to="A1:I1"), "point-follows-other", "A1:I1"),
        (W.with_wire(Wire("900", "S4:14", "S4:24")), "point-stays-1", "A1:I4"),  # of three positions one is wrong
        (W.with_wire(Wire("900", "S0:11", "S0:12")), "not-cut", "A1:QA+"),
        (W.with_wire(Wire("900", "A1:Q1", "K1:A1")), "not-cut", "K1:A1"),
        (W.with_wire(Wire("900", "S2:14", "A1:QA+")), "not-cut", "A1:QA+"),  # only while start is pressed
        (W.with_wire(Wire("900", "X1:24I", "X1:0V")), "short", "G1:24V"),
        (W.with_wire(Wire("900", "A1:Q3", "X1:0V")), "output-overloaded", "A1:Q3"),
        (W.with_wire(Wire("900", "X1:24I", "P1:X1")), "load-always-on", "P1:X1"),
        (W.with_wire(Wire("900", "S1:11", "S2:13"), Wire("901", "S1:11", "S3:13")), "too-many-wires", "S1:11"),
        (W.with_wire(Wire("900", "A1:Q9", "P1:X1")), "unknown-terminal", "A1:Q9"),
        (W.with_wire(Wire("900", "S1:11", "X1:24I")), "duplicate-wire", "S1:11"),
        (W.with_wire(Wire("900", "S1:11", "S3:13", mm2=0.6)), "no-such-conductor", "S1:11"),
        (Wiring((*W, replace(W.wire(1), a="F1:2"))), "duplicate-number", "F1:2"),
        (Wiring((*W, Wire("900", "S1:11", "S1:11"))), "same-terminal", "S1:11"),
    ],
)
def test_each_mistake_is_found_where_it_is(board: Board, wiring: Wiring, code: str, terminal: str) -> None:
    assert (code, terminal) in found(board, wiring)


def test_one_lifted_wire_is_always_found(board: Board) -> None:
    """Every wire of the board but those of the motor's power side, which waits for its own circuit."""
    for wire in W:
        if not wire.no.startswith("30") and not wire.no.startswith("31"):
            assert check_wiring(board, W.without(wire.no)), wire


def test_a_stop_with_a_normally_open_contact_is_a_danger(board: Board) -> None:
    """IEC 60204-1 / NFPA 79: a stop works by de-energising, so a broken wire stops (from memory)."""
    wrong = with_type(board, "S1", "button-stop-no")
    w = W.moved(101, end="S1:12", to="S1:14").moved(121, end="S1:11", to="S1:13")
    findings = check_wiring(wrong, w)
    assert codes(findings) == [("stop-not-nc", "A1:I1")]
    assert findings[0].severity == "danger"
    assert "broken wire" in findings[0].what


def test_a_sensor_of_the_wrong_type_is_told_from_a_broken_wire(board: Board) -> None:
    findings = check_wiring(with_type(board, "B1", "photo-eye-npn"))
    assert codes(findings) == [("sensor-type", "A1:I8")]
    assert "switches to minus" in findings[0].what


def test_an_emergency_stop_that_tells_by_a_normally_open_contact_is_a_danger(board: Board) -> None:
    """As for a stop; ISO 13850 asks for a direct-opening NC contact (confirmed)."""
    entry = parts_catalogue()["emergency-stop-2nc"].model_dump(mode="json")
    entry |= {"top": ["11", "23"], "bottom": ["12", "24"]}
    entry["contacts"][1] |= {"a": "23", "b": "24", "closed_when": ["pressed"]}
    part = board.part("S0")
    wrong = board.with_part(replace(part, entry=type(part.entry).model_validate(entry)))
    w = W.moved(107, end="S0:22", to="S0:24").moved(127, end="S0:21", to="S0:23")
    findings = [f for f in check_wiring(wrong, w) if f.terminal == "A1:I7"]
    assert [(f.code, f.severity) for f in findings] == [("stop-not-nc", "danger")]


def test_a_common_on_plus_is_a_common(board: Board) -> None:
    """A bidirectional channel may lie on either rail: with its common on plus it is a jumper to 0 V that lights it."""
    npn = with_type(board, "B1", "photo-eye-npn")
    plus = W.without(15).with_wire(Wire("900", "A1:IC2", "X1:24S"))
    found = {f.code for f in check_wiring(npn, plus)}
    assert "input-common-missing" not in found
    assert "points-stay-0" in found, "the devices that still give plus light nothing"
    assert codes(check_wiring(npn, W.without(15))) == [("input-common-missing", "A1:IC2")]


def test_a_two_wire_sensor_on_a_type_1_input_is_undefined_and_on_type_3_is_not(board: Board) -> None:
    """IEC 61131-2: type 3 is meant for two-wire sensors, type 1 is not (confirmed)."""
    two = with_type(board, "B2", "inductive-2wire")
    w = W.without(109, 149).with_wire(Wire("900", "B2:BU", "A1:I9"))
    assert codes(check_wiring(two, w, input_type=1)) == [("undefined-level", "A1:I9")]
    assert check_wiring(two, w, input_type=3) == []


def test_a_reversed_suppression_diode_is_found_twice(board: Board) -> None:
    diode = with_type(board, "V1", "suppressor-diode")
    assert check_wiring(diode) == []
    w = W.without(231, 241).with_wire(Wire("231", "K1:A1", "V1:-"), Wire("241", "K1:A2", "V1:+"))
    assert codes(check_wiring(diode, w)) == [("output-overloaded", "A1:Q1"), ("suppressor-reversed", "K1:A1")]


BIG = """schema = 1
[parts.supply-20a]
kind = "supply"
letter = "G"
text = "24 VDC supply, 20 A"
width_mm = 55
height_mm = 100
top = ["24V", "0V", "PE"]
volts = 24.0
ohm = 0.005
limit_a = 20.0
plus = "24V"
minus = "0V"
earth = "PE"
[parts.breaker-6a]
kind = "breaker"
letter = "F"
text = "breaker 6 A"
width_mm = 18
height_mm = 80
top = ["1"]
bottom = ["2"]
rated_a = 6.0
i2t = 60.0
ohm = 0.02
a = "1"
b = "2"
"""


def test_a_conductor_too_thin_for_its_breaker(board: Board) -> None:
    """Common practice in panels, no source: 0.5 mm2 behind 3 A, 0.75 mm2 behind 6 A, 1 mm2 behind 10 A."""
    big = {**parts_catalogue(), **loads_catalogue(BIG)}
    for designation, entry in (("G1", "supply-20a"), ("F2", "breaker-6a")):
        part = board.part(designation)
        board = board.with_part(replace(part, entry_name=entry, entry=big[entry]))
    thin = [f for f in check_wiring(board) if f.code == "conductor-too-thin"]
    assert {f.what.split(" is ")[0] for f in thin if "F2" in f.what} == {"Wire 128", "Wire 129"}
    assert all("0.5 mm2, good for 3 A, but F2 lets 6 A through" in f.what for f in thin if "F2" in f.what)
    unprotected = [f.what for f in thin if "G1" in f.what]
    assert {w.split(" is ")[0] for w in unprotected} == {"Wire 1", "Wire 5", "Wire 6", "Wire 7", "Wire 8"}


def test_findings_come_worst_first_with_a_cure(board: Board) -> None:
    order = ["danger", "fault", "advice"]
    w = W.without(4, 14, 202, 222).moved(101, end="S1:12", to="S1:11")
    findings = check_wiring(board, w)
    ranks = [order.index(f.severity) for f in findings]
    assert ranks == sorted(ranks)
    assert set(ranks) == {1, 2}
    assert all(f.what.endswith(".") and f.try_this.endswith(".") for f in findings)


def test_an_empty_board_is_judged_without_an_error(board: Board) -> None:
    assert check_wiring(board, Wiring())


def test_a_common_that_a_closed_contact_holds_up_is_missing_all_the_same(board: Board) -> None:
    """The stop button on I3: its 24 V come back through its own channel and hold the open common at the wrong rail."""
    w = W.moved(101, end="A1:I1", to="A1:I3").moved(103, end="A1:I3", to="A1:I1")
    assert ("input-common-missing", "A1:IC1") not in found(board, w)
    assert ("input-common-missing", "A1:IC1") in found(board, w.without(14))

"""Wires landed and taken away by hand: from a bare board to a working one, from Python, from CSV and from TOML."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from labkit.base import LabkitError, ms
from labkit.bench import Bench, BenchError, Stimulus
from labkit.board import Wiring, WiringError, check_wiring, load_board, load_wiring, save_wiring

SEAL_IN = "K1 := S1 AND (S2 OR K1);"


def works(bench: Bench) -> bool:
    """Whether a tap on the start button brings the contactor in."""
    bench.power_up()
    bench.load(SEAL_IN)
    bench.wait(ms(50))
    bench.press("S2", ms(60))
    bench.wait(ms(200))
    return bench.state("K1") == "closed"


def test_a_bare_board_can_be_powered_read_and_wired_to_work() -> None:
    bench = Bench("orchard", wiring=Wiring())
    bench.power(True)
    bench.wait(ms(100))
    assert bench.meter.volts("G1:24V", "G1:0V") == pytest.approx(24.0, abs=0.05)
    assert bench.meter.volts("X1:24V", "X1:0V") == pytest.approx(0.0, abs=0.05)
    assert bench.mode == "off"
    bench.power(False)
    for wire in load_board("orchard").wiring:
        bench.wire(wire.a, wire.b, no=wire.no, colour=wire.colour, mm2=wire.mm2, m=wire.m, ferrule=wire.ferrule)
    assert bench.wiring == load_board("orchard").wiring
    assert works(bench)


def test_what_was_wired_by_hand_is_played_again() -> None:
    bench = Bench("orchard")
    bench.unwire("102")
    no = bench.wire("S2:14", "A1:I3", colour="RD", mm2=1.0, m=1.25, ferrule=False)
    bench.unwire("103")
    bench.wire("S3:14", "A1:I2", no="103")
    assert no == "21", "the lowest number that no wire has"
    other = Bench("orchard")
    other.play(Stimulus.loads(Stimulus.from_log(bench.log).dumps()))
    assert other.wiring == bench.wiring
    assert {w.ends for w in other.wiring.at("A1:I2")} == {frozenset(("S3:14", "A1:I2"))}


def test_a_wire_in_the_wrong_place_does_what_the_network_says() -> None:
    bench = Bench("orchard")
    bench.unwire("102")
    bench.wire("S2:14", "A1:I3", no="102b")
    assert not works(bench)
    assert bench.led("I1")
    bench.press("S2")
    bench.wait(ms(50))
    assert (bench.led("I2"), bench.led("I3")) == (False, True)


def test_each_slip_gets_a_sentence_and_changes_nothing() -> None:
    bench = Bench("orchard")
    before = bench.wiring
    for words, says, try_this in (
        ({"a": "X1:24I", "b": "S2:13", "no": "122"}, "number 122 is already on the wire X1:24I - S2:13", "21 is free"),
        ({"a": "X1:24I", "b": "X1:24I"}, "both ends of wire 21 are on X1:24I", "another terminal"),
        ({"a": "X1:24I", "b": "S2:15"}, "no terminal S2:15 on this board", "S2:14"),
        ({"a": "X1:24I", "b": "S2:13", "colour": "BLUE"}, "no wire is 'BLUE'", "BU"),
        ({"a": "X1:24I", "b": "S2:13", "mm2": 0.8}, "no class 5 conductor of 0.8 mm2", "0.75 mm2"),
        ({"a": "X1:24I", "b": "S2:13", "m": 0}, "more than 0 m", ""),
    ):
        with pytest.raises(LabkitError) as caught:
            bench.wire(**words)  # type: ignore[arg-type]
        assert says in str(caught.value)
        assert try_this in str(caught.value)
    with pytest.raises(WiringError, match="there is no wire 999"):
        bench.unwire(999)
    assert bench.wiring == before
    assert bench.log == []
    bench.lift("102")
    with pytest.raises(WiringError, match="number 102 is already on"):
        bench.wire("X1:24I", "S2:13", no="102")


def test_a_lifted_wire_can_be_taken_away_and_its_bad_joint_goes_with_it() -> None:
    bench = Bench("orchard")
    bench.joint("211", 50.0)
    bench.lift("211")
    bench.unwire("211")
    bench.wire("F3:96", "K1:A1", no="211")
    assert works(bench), "50 ohm in the coil's feed would not have let it in"
    with pytest.raises(BenchError, match="211 is landed already"):
        bench.land("211")


def test_a_new_wire_is_told_to_what_waits_for_swaps() -> None:
    bench = Bench("orchard")
    told: list[str] = []
    bench.on_swap.append(told.append)
    bench.unwire("211")
    bench.wire("F3:96", "K1:A1", no="211")
    assert told == ["wire 211"]


@pytest.mark.parametrize("name", ["mine.csv", "mine.toml"])
def test_a_board_is_rewired_from_a_file(tmp_path: Path, name: str) -> None:
    bench = Bench("orchard", wiring=Wiring())
    path = save_wiring(load_board("orchard").wiring, tmp_path / name)
    bench.rewire(load_wiring(path, board=bench.board))
    assert bench.wiring == load_board("orchard").wiring
    assert check_wiring(bench.board, bench.wiring) == []
    again = Bench("orchard", wiring=Wiring())
    again.play(Stimulus.from_log(bench.log))
    assert again.wiring == bench.wiring
    assert works(bench)


def test_a_rewiring_is_logged_by_what_it_changes() -> None:
    bench = Bench("orchard")
    wiring = bench.board.wiring
    moved = replace(wiring.wire("102"), b="A1:I3")
    bench.rewire(wiring.without("102", "103").with_wire(moved))
    assert bench.log[-1].what["off"] == ["102", "103"]
    assert [fields[:3] for fields in bench.log[-1].what["on"]] == [["102", "S2:14", "A1:I3"]]
    other = Bench("orchard")
    other.play(Stimulus.loads(Stimulus.from_log(bench.log).dumps()))
    assert other.wiring == bench.wiring


def test_a_lifted_wire_is_told_apart_from_the_landed_ones():
    bench = Bench("orchard")
    assert not list(bench.lifted)
    bench.lift("102")
    assert [wire.no for wire in bench.lifted] == ["102"]
    assert "102" not in [wire.no for wire in bench.wiring]
    bench.land("102")
    assert not list(bench.lifted)

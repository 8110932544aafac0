"""Plug-on terminal blocks: parked they connect nothing, mis-coded they do not go in, uncoded they do harm."""

from __future__ import annotations

from itertools import permutations

import pytest

from labkit.base import ms
from labkit.bench import Bench, BenchError, Stimulus
from labkit.bench.commissioning import check_inputs
from labkit.board import Seat, electrify, load_board, why_not

ALL = ("A1.XP", "A1.XI1", "A1.XI2", "A1.XQA", "A1.XQB")


@pytest.fixture
def bench() -> Bench:
    made = Bench("orchard")
    made.power_up()
    made.load("P1 := S2; K1 := S2;")
    made.wait(ms(50))
    return made


def leds(bench: Bench) -> list[str]:
    return [f"I{n}" for n in range(1, 13) if bench.led(f"I{n}")]


def test_a_board_starts_with_every_block_seated_and_the_same_network() -> None:
    board = load_board("orchard")
    assert Bench(board).blocks == dict.fromkeys(ALL, "seated")
    poles = [pole for plug in board.plugs.values() for pole in plug.poles]
    assert sorted(poles) == sorted(t for t in board.terminals if t.startswith("A1:")), "every clamp is on one block"
    home = {name: Seat(on=name) for name in ALL}
    assert electrify(board, seats=home).circuit == electrify(board).circuit


def test_a_parked_block_connects_nothing_and_its_wires_stay_alive(bench: Bench) -> None:
    assert leds(bench) == ["I1", "I7", "I8"]
    bench.park("A1.XI1")
    bench.wait(ms(50))
    assert bench.block("A1.XI1") == "parked"
    assert leds(bench) == ["I7", "I8"]
    assert bench.meter.volts("A1:I1", "X1:0V") == pytest.approx(24, abs=0.1)
    assert bench.meter.amps("101") == pytest.approx(0, abs=1e-4), "nothing takes the current that the input took"
    bench.seat("A1.XI1")
    bench.wait(ms(50))
    assert leds(bench) == ["I1", "I7", "I8"]


def test_an_output_block_off_leaves_its_loads_dead_with_the_indicator_on(bench: Bench) -> None:
    bench.pull("A1.XQA")
    bench.press("S2", ms(200))
    bench.wait(ms(100))
    assert bench.led("Q2")
    assert not bench.lit("P1")
    assert bench.meter.volts("A1:QA+", "X1:0V") == pytest.approx(24, abs=0.1)
    assert bench.meter.volts("A1:Q2", "X1:0V") == pytest.approx(0, abs=0.1)


def test_without_its_supply_block_the_controller_is_off(bench: Bench) -> None:
    bench.park("A1.XP")
    bench.wait(ms(20))
    assert bench.mode == "off"
    assert bench.meter.volts("A1:24V", "A1:0V") == pytest.approx(24, abs=0.1)
    bench.seat("A1.XP")
    bench.wait(ms(3000))
    assert bench.mode == "run"


def test_no_block_goes_on_a_header_that_is_not_its_own() -> None:
    bench = Bench("orchard")
    for block in ALL:
        bench.park(block)
    for block, header in permutations(ALL, 2):
        with pytest.raises(BenchError, match=f"{block} (does not go on header|has . poles and header) ?{header}"):
            bench.seat(block, on=header)
    assert bench.blocks == dict.fromkeys(ALL, "parked")


def test_the_sentence_says_whose_coding_does_not_match() -> None:
    bench = Bench("orchard")
    bench.park("A1.XI1")
    bench.pull("A1.XI2")
    with pytest.raises(BenchError) as caught:
        bench.seat("A1.XI1", on="A1.XI2")
    assert caught.value.what == (
        "A1.XI1 does not go on header A1.XI2: the header's coding pin at pole 4 (A1:I9) meets no slot of the block"
    )
    assert caught.value.try_this == "A1.XI1 goes on A1.XI1; compare the labels with the terminal plan"
    with pytest.raises(BenchError, match=r"A1\.XQA sits on header A1.XQA"):
        bench.seat("A1.XI1", on="A1.XQA")


def test_uncoded_headers_let_a_wrong_block_in_and_its_inputs_move(bench: Bench) -> None:
    for header in ("A1.XI1", "A1.XI2"):
        bench.uncode(header)
        bench.park(header)
    bench.seat("A1.XI1", on="A1.XI2")
    bench.seat("A1.XI2", on="A1.XI1")
    bench.wait(ms(50))
    assert bench.seated_on("A1.XI1") == "A1.XI2"
    # S1 (clamp 2) now reads at I7; S0 and the photo-eye (clamps 2 and 3 of the other) at I1 and I2
    # the photo-eye's 1 is now the start button's bit: the pump starts, and its feedback comes in at I4
    assert bench.state("K1") == "closed"
    assert leds(bench) == ["I1", "I2", "I4", "I7"]
    bench.press("S1", ms(200))
    bench.wait(ms(100))
    assert leds(bench) == ["I1", "I2", "I4"]


def test_an_output_block_on_an_input_header_gives_absurd_readings(bench: Bench) -> None:
    bench.uncode("A1.XI1")
    bench.park("A1.XI1")
    bench.park("A1.XQA")
    bench.seat("A1.XQA", on="A1.XI1")
    bench.wait(ms(50))
    # 24 V on the common, and each load a way to 0 V for an input that takes current either way
    assert leds(bench) == ["I1", "I2", "I3", "I4", "I5", "I7", "I8"]
    bench.press("S0")
    bench.wait(ms(50))
    assert leds(bench) == ["I8"], "the emergency stop takes the supply of what was meant as a group of outputs"


def test_a_block_that_is_not_pushed_home_loses_neighbours_until_it_is(bench: Bench) -> None:
    bench.seat("A1.XI1", loose=["A1:I1", "A1:I2"])
    bench.wait(ms(50))
    assert bench.block("A1.XI1") == "seated", "it looks so"
    assert "I1" not in leds(bench)
    assert bench.meter.volts("A1:I1", "A1:IC1") == pytest.approx(24, abs=0.1), "the clamp is alive"
    dead = [p.point for p in check_inputs(bench) if not p.ok]
    assert dead == ["I1", "I2"]
    bench.seat("A1.XI1")
    assert [p.point for p in check_inputs(bench) if not p.ok] == []


def test_blocks_are_logged_and_played_again(bench: Bench) -> None:
    bench.uncode("A1.XI1")
    bench.pull("A1.XQB")
    bench.park("A1.XI1")
    bench.seat("A1.XQB", on="A1.XI1", loose=["A1:Q5"])
    other = Bench("orchard")
    other.play(Stimulus.loads(Stimulus.from_log(bench.log).dumps()))
    assert other.blocks == bench.blocks
    assert other.engine.net.electrical.circuit == bench.engine.net.electrical.circuit
    assert bench.again().blocks == dict.fromkeys(ALL, "seated")


def test_each_slip_has_a_sentence() -> None:
    bench = Bench("orchard")
    for act, says in (
        (lambda: bench.park("A1.XI3"), "no terminal block A1.XI3"),
        (lambda: bench.seat("A1.XI1"), "A1.XI1 sits on A1.XI1 already"),
        (lambda: bench.seat("A1.XI1", loose=["A1:Q1"]), "A1.XI1 has no pole A1:Q1"),
        (lambda: bench.uncode("A1"), "no terminal block A1 "),
    ):
        with pytest.raises(BenchError, match=says):
            act()
    bench.park("A1.XI1")
    with pytest.raises(BenchError, match=r"A1\.XI1 is parked already"):
        bench.park("A1.XI1")
    assert len(bench.log) == 1


def test_more_poles_than_the_header_never_go_in() -> None:
    plugs = load_board("orchard").plugs
    assert why_not(plugs["A1.XI1"], plugs["A1.XQA"], uncoded=True) == (
        "A1.XI1 has 7 poles and header A1.XQA only 6: it does not go in"
    )

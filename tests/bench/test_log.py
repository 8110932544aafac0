"""The log holds every reading with its prediction, every note and every swap; only deeds are played again."""

from __future__ import annotations

import json
import math

import pytest

from labkit.base import ms
from labkit.bench import Bench, BenchError, Stimulus


@pytest.fixture
def board() -> Bench:
    return Bench("orchard")


def readings(bench: Bench) -> list[dict]:
    return [dict(done.what) for done in bench.log if done.do == "read"]


def test_a_reading_is_logged_with_time_prediction_and_display(board: Bench) -> None:
    board.power_up()
    board.wait(ms(250))
    volts = board.meter.volts("X1:24V", "X1:0V", expect=24.0)
    assert volts > 23.9
    done = board.log[-1]
    assert (done.t_us, done.do) == (board.now_us, "read")
    assert done.what == {
        "mode": "volts",
        "red": "X1:24V",
        "black": "X1:0V",
        "shown": volts.text,
        "value": float(volts),
        "live": False,
        "expect": 24.0,
    }


def test_over_range_has_no_value_and_the_log_stays_plain_data(board: Bench) -> None:
    assert math.isinf(board.meter.ohms("K1:1/L1", "X1:PE"))
    assert readings(board) == [
        {"mode": "ohms", "red": "K1:1/L1", "black": "X1:PE", "shown": "OL", "value": None, "live": False}
    ]
    assert json.loads(json.dumps(readings(board))) == readings(board)


def test_ohms_on_a_live_board_is_logged_as_live(board: Bench) -> None:
    board.power_up()
    board.meter.ohms("X1:24V", "X1:0V")
    assert not board.meter.continuity("S1:11", "S1:12"), "a closed contact does not beep with 24 V on it"
    assert [(r["mode"], r["live"]) for r in readings(board)] == [("ohms", True), ("continuity", True)]


def test_each_mode_reads_and_logs(board: Bench) -> None:
    assert board.meter.continuity("S1:11", "S1:12", expect=True)
    # the meter's 1 mA through a coil of 24 V and 3 W, 192 ohm: the clamp across it passes nothing
    assert board.meter.diode("V1:+", "V1:-") == pytest.approx(0.192, abs=0.001)
    board.power_up()
    board.load("P1 := TRUE;")
    board.wait(ms(50))
    # a pilot lamp takes 20 mA: the reference bench of the trade, 24 V over 1.2 kohm
    assert board.meter.amps("202", expect=0.02) == pytest.approx(0.020, abs=0.0005)
    assert [r["mode"] for r in readings(board)] == ["continuity", "diode", "amps"]
    assert readings(board)[0]["shown"] == "beep"
    assert readings(board)[-1]["wire"] == "202"


def test_peek_reads_the_same_and_leaves_no_trace(board: Bench) -> None:
    board.power_up()
    before = len(board.log)
    peeked = board.meter.peek("volts", "A1:I1", "A1:IC1")
    assert len(board.log) == before
    assert board.meter.volts("A1:I1", "A1:IC1").text == peeked.text


def test_an_unknown_mode_gets_a_sentence(board: Bench) -> None:
    with pytest.raises(BenchError, match="the meter has no 'volt'") as caught:
        board.meter.peek("volt", "X1:24V", "X1:0V")
    assert "volts" in caught.value.try_this
    with pytest.raises(BenchError, match="no terminal X1:24X"):
        board.meter.volts("X1:24X", "X1:0V")
    assert board.log == [], "a reading that could not be taken is not in the log"


def test_readings_and_notes_are_not_played_again(board: Bench) -> None:
    board.power_up()
    board.meter.volts("X1:24V", "X1:0V")
    board.note("led:I1", True)
    board.press("S2", ms(45))
    stimulus = Stimulus.from_log(board.log)
    assert {step.do for step in stimulus.steps} == {"breaker", "power", "press"}
    other = Bench("orchard")
    other.play(stimulus)
    assert other.states() == board.states()


def test_a_note_says_what_was_seen(board: Bench) -> None:
    board.note("K1", "it clacks and lets go")
    assert (board.log[-1].do, dict(board.log[-1].what)) == ("note", {"what": "K1", "seen": "it clacks and lets go"})
    with pytest.raises(BenchError, match="a note says what was looked at"):
        board.note("", True)


def test_a_recording_tells_what_was_done_not_what_was_read(board: Bench) -> None:
    board.power_up()
    with board.record() as trace:
        board.meter.volts("X1:24V", "X1:0V")
        board.note("led:I1", True)
        board.press("S2", ms(45))
        board.wait(ms(100))
    assert [event.do for event in trace.events] == ["press"]


def test_a_swapped_contactor_is_not_welded_any_more(board: Bench) -> None:
    board.power_up()
    board.load("K1 := S1 AND (S2 OR K1);")
    board.weld("K1")
    board.press("S2", ms(100))
    board.wait(ms(200))
    board.press("S1", ms(100))
    board.wait(ms(300))
    assert board.state("K1") == "closed"
    told: list[str] = []
    board.on_swap.append(told.append)
    board.swap("K1")
    board.wait(ms(100))
    assert board.state("K1") == "open"
    assert told == ["K1"]
    assert board.log[-1].do == "swap"
    with pytest.raises(BenchError, match="no part K7"):
        board.swap("K7")

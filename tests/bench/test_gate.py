"""Power is let on only after a dead test on this board, and then stage by stage.

The three steps of the dead test are those of NFPA 70E 120.5; the rest of the order is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from labkit.base import LabkitError, ms
from labkit.bench import Bench, BenchError, GateRow, PowerGate, read_gate_sheet
from labkit.board import Wiring, load_board


@pytest.fixture
def bench() -> Bench:
    made = Bench("orchard")
    made.gate = PowerGate(made)
    return made


def gate_of(bench: Bench) -> PowerGate:
    assert bench.gate is not None
    return bench.gate


def do(bench: Bench, row: GateRow) -> None:
    """What the row says: its call is Python that works."""
    eval(row.call.partition(", after")[0], {"bench": bench})


def work_through(bench: Bench, until: Callable[[GateRow], bool] = lambda _: False) -> None:
    """Do each open row's call until a row is met that stays open or is asked for."""
    for row in gate_of(bench).rows:
        if until(row):
            return
        do(bench, row)


def test_each_call_that_a_row_names_ticks_it(bench: Bench) -> None:
    rows = gate_of(bench).rows
    assert not any(row.done for row in rows)
    for number, row in enumerate(rows):
        do(bench, row)
        now = gate_of(bench).rows
        assert now[number].done, row
        assert not any(later.done for later in now[number + 1 :]) or row.id == "prove before"
    assert gate_of(bench).satisfied


def test_power_stays_off_and_says_which_row_is_missing(bench: Bench) -> None:
    with pytest.raises(BenchError) as caught:
        bench.power(True)
    assert caught.value.what == "the power stays off; still to be shown: the meter on a known source, before the test"
    assert caught.value.try_this == "bench.meter.prove()"
    assert caught.value.code == "bench-gate"
    with pytest.raises(BenchError, match="F1 stays open; still to be shown: the meter on a known source, before"):
        bench.breaker("F1")
    assert bench.state("G1") == "off"
    assert bench.log == []
    work_through(bench, lambda row: row.id == "short X1:24S")
    with pytest.raises(BenchError, match="still to be shown: no short from X1:24S to X1:0V"):
        bench.power_up()


def test_a_bench_without_a_gate_has_none() -> None:
    bench = Bench("orchard")
    bench.power_up()
    assert bench.gate is None
    bench.gate = PowerGate(bench)
    assert bench.again().gate is None


def test_the_proof_comes_before_the_test_and_again_after_it(bench: Bench) -> None:
    bench.meter.volts("X1:24V", "X1:0V")
    bench.meter.prove()
    first, dead = gate_of(bench).rows[:2]
    assert not first.done
    assert "before it" in first.why
    assert not dead.done
    assert dead.why == "it was read with a meter that had not been proved"
    bench.lift("101")
    bench.land("101")  # any change to the board: the test begins anew
    tests = [row for row in gate_of(bench).rows if row.id.startswith("dead")]
    bench.meter.prove()
    bench.meter.prove()
    for row in tests:
        do(bench, row)
    after = next(row for row in gate_of(bench).rows if row.id == "prove after")
    assert not after.done
    assert after.why == "the meter could have failed during the test"
    bench.meter.prove()
    assert next(row for row in gate_of(bench).rows if row.id == "prove after").done


def test_a_change_to_the_board_voids_what_was_read(bench: Bench) -> None:
    work_through(bench)
    assert gate_of(bench).satisfied
    bench.lift("102")
    assert not any(row.done for row in gate_of(bench).rows)
    with pytest.raises(BenchError, match="the power stays off"):
        bench.power(True)


def test_pressing_and_turning_voids_nothing(bench: Bench) -> None:
    work_through(bench)
    bench.press("S0")
    bench.turn("S4", "left")
    assert gate_of(bench).satisfied


@pytest.mark.parametrize(
    ("spoil", "row", "why"),
    [
        (lambda b: b.join("A1:QA+", "X1:0V"), "short A1:QA+", "a short"),
        (lambda b: b.join("X1:24S", "X1:0V"), "short X1:24S", "a short"),
        (lambda b: (b.unwire("128"), b.wire("X1:0V", "B1:BN", no="128")), "polarity B1:BN", "not joined to there"),
        (lambda b: (b.unwire("12"), b.wire("X1:24V", "A1:0V", no="12")), "polarity A1:0V", "not joined to there"),
        (lambda b: (b.unwire("14"), b.wire("X1:PE", "A1:IC1"), b.lift("4")), "polarity A1:IC1", "not joined to there"),
        (lambda b: b.press("S1"), "rest S1:11 S1:12", "somebody holds it"),
        (lambda b: b.trip("F3"), "rest F3:95 F3:96", "it is open"),
        (lambda b: b.key("S5", True), "rest S5:13 S5:14", "it is closed"),
        (lambda b: b.pull("A1.XQA"), "block A1.XQA", "noted as 'seated' and it is off"),
        (lambda b: b.lift("4"), "bond", "not bonded"),
    ],
)
def test_each_thing_wrong_on_the_dead_board_stops_at_its_row(
    bench: Bench, spoil: Callable[[Bench], Any], row: str, why: str
) -> None:
    spoil(bench)
    work_through(bench)
    stopped = [r for r in gate_of(bench).rows if not r.done]
    assert row in [r.id for r in stopped]
    assert why in next(r.why for r in stopped if r.id == row)
    with pytest.raises(BenchError, match="the power stays off"):
        bench.power(True)


def test_a_reading_to_the_other_pole_says_so(bench: Bench) -> None:
    bench.unwire("128")
    bench.wire("X1:0V", "B1:BN", no="128")
    bench.meter.continuity("B1:BN", "X1:24S")
    bench.meter.ohms("X1:0V", "B1:BN")
    row = next(row for row in gate_of(bench).rows if row.id == "polarity B1:BN")
    assert (row.done, row.why) == (False, "it is joined to X1:0V: the wrong pole")


def test_a_block_parked_on_purpose_is_noted_so(bench: Bench) -> None:
    bench.park("A1.XQB")
    work_through(bench, lambda row: row.id == "block A1.XQB")
    bench.note("A1.XQB", "parked")
    do(bench, gate_of(bench).rows[-1])
    assert gate_of(bench).satisfied


def test_only_what_is_wired_is_asked_for() -> None:
    plan = load_board("orchard").wiring
    few = Wiring(tuple(w for w in plan if w.no in {"1", "2", "3", "4", "5", "9", "11", "12", "14", "101", "121"}))
    bench = Bench("orchard", wiring=few)
    bench.gate = PowerGate(bench)
    rows = {row.id for row in bench.gate.rows}
    assert "polarity B1:BN" not in rows
    assert "rest S1:11 S1:12" in rows
    assert "rest S0:11 S0:12" not in rows
    work_through(bench)
    assert bench.gate.satisfied


def test_stages_come_one_at_a_time_and_each_is_read(bench: Bench) -> None:
    work_through(bench)
    with pytest.raises(BenchError, match="F1 stays open while the supply is off"):
        bench.breaker("F1")
    bench.power(True)
    with pytest.raises(BenchError, match="F1 stays open: nobody has read what the supply brought") as caught:
        bench.breaker("F1")
    assert caught.value.try_this == 'bench.meter.volts("G1:24V", "X1:0V")'
    bench.meter.volts("X1:24V", "X1:0V")  # the bar reads the same as the clamp
    for part, terminal in (("F1", "X1:24I"), ("F2", "X1:24S"), ("F4", "F4:2"), ("F5", "F5:2")):
        bench.breaker(part)
        bench.wait(ms(100))
        other = "F5" if part != "F5" else "F4"
        bench.breaker(other, False)  # opening is always allowed
        with pytest.raises(BenchError, match=f"nobody has read what {part} brought"):
            bench.breaker(other)
        bench.meter.volts(terminal, "X1:0V")
    bench.wait(ms(2000))
    assert bench.mode == "stop" or bench.mode == "run"


def test_switched_off_and_on_again_needs_no_new_test_until_something_is_changed(bench: Bench) -> None:
    work_through(bench)
    bench.power(True)
    bench.meter.volts("X1:24V", "X1:0V")
    bench.breaker("F1")
    bench.power(False)
    bench.power(True)
    bench.power(False)
    bench.joint("211", 5.0)
    with pytest.raises(BenchError, match="the power stays off"):
        bench.power(True)


def test_a_short_that_comes_later_takes_the_rails_down_and_opens_its_breaker(bench: Bench) -> None:
    work_through(bench)
    bench.power(True)
    bench.meter.volts("X1:24V", "X1:0V")
    bench.join("X1:24S", "X1:0V")  # while the supply is on
    with pytest.raises(BenchError, match="F2 stays open"):
        bench.breaker("F2")  # the board was changed: the test does not hold any more
    bench.gate = None
    bench.breaker("F2")
    assert bench.meter.volts("G1:24V", "G1:0V") < 1.0, "2.5 A into a few tenths of an ohm"
    # I2t of 2 A2s at 2.5 A: 2 / 2.5^2 = 0.32 s
    bench.wait(ms(310))
    assert bench.state("F2") == "on"
    bench.wait(ms(20))
    assert bench.state("F2") == "off"
    assert bench.meter.volts("G1:24V", "G1:0V") > 23.9


def test_a_stage_that_brings_the_wrong_volts_stops_the_next(bench: Bench) -> None:
    work_through(bench)
    bench.power(True)
    bench.meter.volts("X1:24V", "X1:0V")
    bench.breaker("F4")
    bench.engine.move("F4", "off")  # it trips again by itself
    bench.engine.act(lambda: None, "trip")
    bench.meter.volts("F4:2", "X1:0V")
    with pytest.raises(BenchError, match="F1 stays open: behind F4 the meter shows") as caught:
        bench.breaker("F1")
    assert "not 20.4 to 28.8 V" in caught.value.what


# the sheet -----------------------------------------------------------------------------------------
def sheet_of(bench: Bench) -> list[dict[str, Any]]:
    """A true sheet of a dead board, taken on another bench of the same kind, times as people have them."""
    other = Bench("orchard")
    other.gate = PowerGate(other)
    work_through(other)
    rows: list[dict[str, Any]] = []
    at = 0.0
    for number, done in enumerate(other.log):
        at += 7 + (number * 5) % 4
        what = done.what
        if done.do == "note":
            rows.append({"mode": "note", "red": what["what"], "black": "", "value": what["seen"], "at_s": at})
        else:
            value = what["shown"] if what["mode"] == "continuity" else "OL" if what["value"] is None else what["value"]
            rows.append({"mode": what["mode"], "red": what["red"], "black": what["black"], "value": value, "at_s": at})
    return rows


def test_a_true_sheet_opens_the_gate(bench: Bench) -> None:
    gate_of(bench).enter(sheet_of(bench))
    assert gate_of(bench).satisfied
    bench.power(True)
    assert bench.state("G1") == "on"


def test_the_printed_sheet_filled_in_opens_the_gate(bench: Bench) -> None:
    true = sheet_of(bench)
    lines = ["no,check,mode,red,black,expected,reading,initials,time"]
    for number, row in enumerate(true, start=1):
        value, s = row["value"], int(row["at_s"])
        shown = value if isinstance(value, str) else f"{value / 1000:g} k" if value >= 1000 else f"{value:g}"
        lines.append(f"{number},,{row['mode']},{row['red']},{row['black']},,{shown},rv,14:{s // 60:02}:{s % 60:02}")
    lines.append("99,every wire tugged,,,,none moves,fine,rv,14:30:00")
    gate_of(bench).enter(read_gate_sheet("\n".join(lines)))
    assert gate_of(bench).satisfied


def test_a_sheet_that_cannot_be_read_says_where() -> None:
    head = "mode,red,black,reading,time\n"
    with pytest.raises(BenchError, match="no column time"):
        read_gate_sheet("mode,red,black,reading\n")
    with pytest.raises(BenchError, match="'noon' is no time") as caught:
        read_gate_sheet(head + "volts,unit+,unit-,24,noon\n")
    assert caught.value.where == "line 2"
    assert read_gate_sheet(head + "volts,unit+,unit-,,\n") == [], "an open row is left out"


def test_what_is_entered_is_void_after_a_change_too(bench: Bench) -> None:
    gate_of(bench).enter(sheet_of(bench))
    bench.lift("102")
    bench.land("102")
    assert not any(row.done for row in gate_of(bench).rows)


def spoiled(rows: list[dict[str, Any]], how: str) -> list[dict[str, Any]]:
    ohms = [i for i, row in enumerate(rows) if row.get("mode") == "ohms"]
    if how == "value":
        rows[ohms[0]]["value"] = 4700.0
    elif how == "volts":
        next(row for row in rows if row["red"] == "X1:24I")["value"] = 24.0
    elif how == "clock":
        for number, row in enumerate(rows):
            row["at_s"] = 10.0 * number
    elif how == "backwards":
        rows[3]["at_s"] = 1.0
    elif how == "copied":
        for i in ohms:
            rows[i]["value"] = 0.2
    elif how == "no time":
        del rows[5]["at_s"]
    elif how == "mode":
        rows[2]["mode"] = "wolts"
    elif how == "terminal":
        rows[2]["red"] = "X1:42V"
    return rows


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ("value", "cannot have read 4700.0 on this board"),
        ("volts", "cannot have read 24.0 on this board"),
        ("clock", "every row is 10 s after the one before: nobody reads like that"),
        ("backwards", "is earlier than the row above it"),
        ("copied", "ohm readings are all 0.2: copied, not read"),
        ("no time", "has no time"),
        ("mode", "the meter has no 'wolts'"),
        ("terminal", "no terminal X1:42V"),
    ],
)
def test_a_made_up_sheet_is_refused_whole(bench: Bench, how: str, says: str) -> None:
    with pytest.raises(LabkitError) as caught:
        gate_of(bench).enter(spoiled(sheet_of(bench), how))
    assert says in str(caught.value)
    assert not any(row.done for row in gate_of(bench).rows)


def test_a_sheet_of_a_sound_board_does_not_open_a_faulty_one(bench: Bench) -> None:
    bench.join("A1:QA+", "X1:0V")
    with pytest.raises(BenchError, match=r"ohms from F4:2 to X1:0V cannot have read"):
        gate_of(bench).enter(sheet_of(bench))


def test_a_sheet_is_filled_in_dead() -> None:
    bench = Bench("orchard")
    bench.power_up()
    with pytest.raises(BenchError, match="on a dead board"):
        PowerGate(bench).enter([])

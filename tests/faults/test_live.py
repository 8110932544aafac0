"""Hunts on a live bench: who is left after a log, held against working each suspect's bench by hand."""

from __future__ import annotations

import random

import pytest

from labkit.base import ms
from labkit.bench import Bench, BenchError, PowerGate
from labkit.board import load_board
from labkit.faults import (
    PROGRAM,
    Fault,
    FaultError,
    LiveHunt,
    at_rest,
    band_of,
    every_single_fault,
    fault,
    put_in,
    repair,
    strike,
    volt_band,
)
from labkit.faults.live import agrees, looked_at

BOARD = load_board("orchard")
FRESH = at_rest(BOARD)
EVERY = every_single_fault(BOARD)

# Why might a pump not start? Breaks and dead parts along the way from the button to the coil, and some beside it.
PUMP = (
    "wire-102-open", "wire-122-open", "I2-dead", "S2:13-14-open", "wire-201-open", "wire-211-open", "wire-221-open",
    "K1-coil-open", "K1-jammed", "F4-open", "wire-16-open", "wire-17-open",
)  # fmt: skip


def hunt(truth: str, suspects: tuple[str, ...] = PUMP, seed: int | None = None) -> LiveHunt:
    return LiveHunt(FRESH, [fault(BOARD, name) for name in suspects], truth, seed)


def press_and_read(bench: Bench, a: str, b: str = "X1:0V") -> None:
    bench.press("S2")
    bench.wait(ms(400))
    bench.meter.volts(a, b)
    bench.wait(ms(200))
    bench.release("S2")
    bench.wait(ms(400))


def test_halving_the_way_to_the_coil() -> None:
    # Along the chain button, input, output, coil each reading is live before the break and dead behind it: by hand.
    one = hunt("wire-211-open")
    bench = one.bench()
    assert one.left(bench.log) == PUMP
    press_and_read(bench, "A1:Q1")
    left = one.left(bench.log)
    assert set(left) == {"wire-201-open", "wire-211-open", "wire-221-open", "K1-coil-open", "K1-jammed"}
    press_and_read(bench, "F3:96")
    assert "wire-201-open" not in one.left(bench.log)
    press_and_read(bench, "K1:A1")
    assert one.left(bench.log) == ("wire-211-open",)
    out = {v.suspect: v for v in one.verdicts(bench.log)}
    assert out["wire-221-open"].would == "live"
    assert out["wire-221-open"].shown == "dead"
    assert out["wire-211-open"].at is None


def script(bench: Bench, chance: random.Random) -> list[str]:
    """Work a bench at random and read it at random; the bands as seen, by a way of its own."""
    terminals = sorted(BOARD.terminals)
    seen = []
    for _ in range(12):
        what = chance.choice(["press", "turn", "metal", "breaker", "read", "read", "read", "ohms", "look"])
        if what == "press":
            bench.press(chance.choice(["S1", "S2", "S6"]), ms(chance.choice([50, 300])))
        elif what == "turn":
            bench.turn("S3", chance.choice(["left", "right"]))
        elif what == "metal":
            bench.metal("B2", chance.choice([1.0, None]))
        elif what == "breaker":
            part = chance.choice(["F2", "F4", "F5"])
            bench.breaker(part, chance.choice([True, False]))
        elif what == "read":
            volts = bench.meter.volts(*chance.sample(terminals, 2))
            seen.append(("-" if volts < -1 else "") + volt_band(abs(volts)))
        elif what == "ohms":
            seen.append(band_of("ohms", (r := bench.meter.ohms(*chance.sample(terminals, 2))), live=r.live))
        else:
            lamp = chance.choice(["P1", "P2", "P4"])
            bench.note(f"lit:{lamp}", bench.lit(lamp))
            seen.append(str(bench.lit(lamp)))
        bench.wait(ms(400))
    return seen


def steady(name: str) -> bool:
    """No light of the board flickers by itself: at one instant a person and a script see the same."""
    return name not in ("K1.aux-wrong", "F1-open", "Q8-shorted") and "short" not in name and "weak" not in name


@pytest.mark.parametrize("seed", range(6))
def test_who_is_left_is_who_shows_the_same(seed: int) -> None:
    chance = random.Random(seed)
    names = [f.id for f in chance.sample([f for f in EVERY if steady(f.id)], 8)]
    one = hunt(names[0], tuple(names))
    bench = one.bench()
    shown = script(bench, random.Random(f"script {seed}"))
    same = []
    for name in names:
        other = FRESH()
        put_in(other, fault(BOARD, name))
        if script(other, random.Random(f"script {seed}")) == shown:
            same.append(name)
    assert one.left(bench.log) == tuple(same)
    assert names[0] in same


@pytest.mark.parametrize("one", EVERY[::17], ids=lambda f: f.id)
def test_the_truth_is_never_ruled_out(one: Fault) -> None:
    suspects = (one.id, *(f.id for f in EVERY[3::60] if f.id != one.id))
    here = hunt(one.id, suspects)
    bench = here.bench()
    script(bench, random.Random(one.id))
    assert one.id in here.left(bench.log)


def test_a_growing_log_and_a_whole_one_leave_the_same() -> None:
    step_by_step, at_once = hunt("wire-122-open"), hunt("wire-122-open")
    bench = step_by_step.bench()
    for terminal in ("A1:Q1", "A1:I2", "S2:14", "S2:13"):
        press_and_read(bench, terminal)
        left = step_by_step.left(bench.log)
    assert left == at_once.left(bench.log) == ("wire-122-open",)


def test_a_lamp_that_flickers_is_not_one_that_is_on() -> None:
    # An auxiliary block of the wrong kind makes contactor and lamp chatter; with a good one the lamp stands still.
    suspects = ("K1.aux-wrong", "wire-102-open")
    for truth in suspects:
        here = hunt(truth, suspects)
        bench = here.bench()
        bench.note("lit:P2", bench.lit("P2"))
        bench.wait(ms(500))
        assert here.left(bench.log) == (truth,)


def test_what_was_not_noted_is_no_evidence() -> None:
    here = hunt("wire-203-open", ("wire-203-open", "wire-102-open"))
    bench = here.bench()
    bench.wait(ms(1000))  # the white lamp is dark for everybody to see
    assert len(here.left(bench.log)) == 2
    bench.note("P2", "dark")
    assert here.left(bench.log) == ("wire-203-open",)


def test_a_wrong_note_rules_nobody_out_but_is_seen_to_be_wrong() -> None:
    here = hunt("wire-203-open", ("wire-203-open", "wire-102-open"))
    bench = here.bench()
    bench.note("lit:P2", True)
    assert here.left(bench.log) == ("wire-203-open",)  # what the board showed, not what was written
    (moment, _) = here.moments(here.own(bench.log))
    assert not agrees(bench.log[-1], moment.bands)
    bench.note("lit:P2", False)
    *_, moment, _ = here.moments(here.own(bench.log))
    assert agrees(bench.log[-1], moment.bands)


def test_notes_in_words() -> None:
    bench = FRESH()
    for what, about in (
        ("lit:P1", ("lit", "P1")),
        ("P9", ("lit", "P9")),
        ("led:I2", ("led", "I2")),
        ("Q1", ("led", "Q1")),
        ("K1", ("state", "K1")),
        ("pos:F4", ("state", "F4")),
        ("led:I99", None),
        ("the pump", None),
        ("bit:K1", None),
    ):
        bench.note(what, True)
        assert looked_at(bench, bench.log[-1]) == about


def test_a_part_exchanged_is_evidence_too() -> None:
    here = hunt("K1-coil-open", ("K1-coil-open", "wire-221-open", "K1-jammed"))
    bench = here.bench()
    bench.swap("K1")
    bench.press("S2")
    bench.wait(ms(400))
    bench.note("K1", "closed")
    bench.release("S2")
    assert set(here.left(bench.log)) == {"K1-coil-open", "K1-jammed"}


def test_a_repair_is_done_again_on_the_suspects_boards() -> None:
    here = hunt("wire-201-open", ("wire-201-open", "wire-211-open"))
    bench = here.bench()
    repair(bench, "wire 201")
    press_and_read(bench, "K1:A1")
    assert here.left(bench.log) == ("wire-201-open",)


def test_what_came_about_without_the_log_is_no_evidence() -> None:
    here = hunt("wire-202-open", ("wire-202-open", "wire-203-open"))
    bench = here.bench()
    bench.load("P3 := TRUE;")  # loading is not logged: what is read after it cannot be had again
    bench.wait(ms(400))
    bench.meter.volts("A1:Q4", "X1:0V")
    assert len(here.left(bench.log)) == 2


def test_wires_moved_in_the_search_are_moved_on_the_suspects_boards() -> None:
    here = hunt("wire-102-open", ("wire-102-open", "S2:13-14-open", "I2-dead"))
    bench = here.bench()
    bench.wire("X1:24I", "A1:I2", m=0.9)
    bench.wait(ms(400))
    bench.note("led:I2", bench.led("I2"))
    assert here.left(bench.log) == ("wire-102-open", "S2:13-14-open")


def test_the_power_gate_stands_for_the_student_and_not_for_the_machinery() -> None:
    def gated() -> Bench:
        bench = Bench(BOARD)
        bench.load(PROGRAM)
        bench.gate = PowerGate(bench)
        return bench

    here = LiveHunt(gated, [fault(BOARD, "wire-203-open"), fault(BOARD, "wire-202-open")], "wire-203-open")
    bench = here.bench()
    with pytest.raises(BenchError, match="power stays off"):
        bench.power(True)
    bench.gate = None  # the instructor lets them on
    bench.power_up()
    bench.meter.prove()
    bench.note("lit:P2", bench.lit("P2"))
    assert here.left(bench.log) == ("wire-203-open",)


def test_a_fault_that_comes_and_goes_is_not_ruled_out_by_a_moment_of_health() -> None:
    here = hunt("wire-203-open", ("wire-203-open", "P4-burnt"), seed=6)
    bench, seen, healthy = here.bench(), frozenset[str](), 0
    for _ in range(12):
        bench.wait(ms(300))
        bench.note("lit:P2", bench.lit("P2"))
        seen |= here.moments(here.own(bench.log))[-2].bands
        if seen == {"on"}:
            assert len(here.left(bench.log)) == 2
            healthy += 1
    assert healthy
    assert seen == {"on", "off"}
    assert here.left(bench.log) == ("wire-203-open",)


def test_clamp_diode_and_beeper_are_evidence() -> None:
    here = hunt("K1-coil-turns", ("K1-coil-turns", "K1-welded", "wire-221-open"))
    bench = here.bench()
    bench.press("S2")
    bench.wait(ms(400))
    bench.meter.amps("201")  # 24 V over 60 ohm: 0.4 A; over 192 ohm 0.125 A; none through a break (worked by hand)
    assert here.left(bench.log) == ("K1-coil-turns",)
    bench.release("S2")
    dry = hunt("V1-reversed", ("V1-reversed", "V1-missing", "V1-shorted"))
    bench = dry.bench()
    bench.power(False)
    bench.wait(ms(3000))
    bench.meter.continuity("V1:+", "V1:-")
    assert dry.left(bench.log) == ("V1-reversed", "V1-missing")
    bench.lift("231")  # the coil's 192 ohm lie beside it and take 1 mA at 0.19 V: what is behind shows only alone
    bench.meter.diode("V1:+", "V1:-")
    assert dry.left(bench.log) == ("V1-reversed",)


@pytest.mark.parametrize(
    ("mode", "value", "live", "band"),
    [
        ("volts", 24.0, False, "live"),
        ("volts", -24.0, False, "reversed live"),
        ("volts", -3.0, False, "reversed low"),
        ("volts", -0.5, False, "dead"),
        ("ohms", None, False, "OL"),
        ("ohms", 192.0, False, "a coil"),
        ("ohms", 192.0, True, "live"),
        ("continuity", 1.0, False, "beep"),
        ("continuity", 0.0, False, "silent"),
        ("diode", None, False, "OL"),
        ("diode", 0.65, False, "a diode"),
        ("amps", 0.125, False, "a coil"),
        ("amps", -0.02, False, "a lamp, backwards"),
        ("amps", 0.0, False, "none"),
    ],
)
def test_bands(mode: str, value: float | None, live: bool, band: str) -> None:
    assert band_of(mode, value, live=live) == band


def test_slips_are_named() -> None:
    with pytest.raises(FaultError, match="not among the suspects"):
        hunt("wire-1-open")
    with pytest.raises(FaultError, match="stands twice"):
        hunt("I2-dead", ("I2-dead", "I2-dead"))
    with pytest.raises(FaultError, match="no suspect wire-1-open"):
        hunt("I2-dead").named("wire-1-open")
    with pytest.raises(FaultError, match="no 'lux'"):
        band_of("lux", 1.0)


def test_striking_is_logged_and_changes_nothing() -> None:
    here = hunt("I2-dead")
    bench = here.bench()
    strike(bench, "wire-102-open")
    assert bench.log[-1].what == {"suspect": "wire-102-open"}
    assert here.left(bench.log) == PUMP

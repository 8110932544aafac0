"""The bench as a person meets it: what works, and what is said to a slip."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from labkit.base import LabkitError, ms, s
from labkit.bench import VERBS, Bench, BenchError, Stimulus
from labkit.board import load_board, parts_catalogue
from labkit.controller import Tag

HOLD = "K1 := S1 AND NOT F3_T AND (S2 OR K1); P1 := K1_A; P9 := B1; P4 := B2; P5 := S4_L OR S5;"


@pytest.fixture(scope="module")
def board():
    return load_board("orchard")


@pytest.fixture
def bench(board) -> Bench:
    bench = Bench(board)
    bench.power_up()
    bench.load(HOLD)
    bench.wait(ms(300))
    return bench


# what works ------------------------------------------------------------------------------------------


def test_a_cold_bench_is_dead_and_a_powered_one_reads_what_its_list_says(board) -> None:
    bench = Bench(board)
    assert bench.mode == "off"
    assert not any(bench.led(point) for point in bench.engine.raw)
    assert abs(bench.meter.volts("X1:24V", "X1:0V")) < 0.01
    bench.power_up()
    bench.load("Q8_SPARE := S6;")
    bench.wait(ms(300))
    for point in board.points.values():
        assert bench.led(point.point) == bool(point.rest), point.point
        assert bench.bit(point.tag) == bool(point.rest), point.tag


def test_press_and_hold_is_the_same_as_press_wait_release(board) -> None:
    ends = []
    for by_hold in (True, False):
        bench = Bench(board)
        bench.power_up()
        bench.load(HOLD)
        with bench.record() as trace:
            if by_hold:
                bench.press("S2", ms(50))
                bench.wait(ms(50))
            else:
                bench.press("S2")
                bench.wait(ms(50))
                bench.release("S2")
            bench.wait(ms(200))
        ends.append({name: signal.changes for name, signal in trace.signals.items()})
    assert ends[0] == ends[1]


def test_lamp_motor_and_meter_tell_of_a_running_motor(bench: Bench) -> None:
    """3 W at 24 V is 125 mA (reference bench); lamp and coil hang on the same output group."""
    assert bench.speed("M1") == 0
    bench.press("S2", ms(80))
    bench.wait(s(1))
    assert bench.state("K1") == "closed"
    assert bench.lit("P1")
    assert bench.speed("M1") == 1
    assert bench.meter.volts("K1:A1", "K1:A2") == pytest.approx(23.9, abs=0.2)
    assert bench.meter.amps("211") == pytest.approx(0.125, abs=0.002)
    assert not bench.meter.continuity("S2:13", "S2:14")
    assert bench.meter.ohms("K1:53", "K1:54") < 1


def test_the_emergency_stop_latches_and_takes_the_coil_from_a_frozen_program(bench: Bench) -> None:
    bench.force("K1", True)
    bench.wait(ms(100))
    assert bench.state("K1") == "closed"
    bench.press("S0")
    bench.wait(ms(100))
    assert (bench.state("S0"), bench.state("K1"), bench.led("Q1")) == ("pressed", "open", True)
    bench.release("S0")
    bench.wait(ms(100))
    assert bench.state("K1") == "closed"
    bench.unforce("K1")
    bench.wait(ms(100))
    assert bench.state("K1") == "open"


def test_a_tripped_overload_opens_the_coil_circuit_itself(bench: Bench) -> None:
    bench.force("K1", True)
    bench.wait(ms(100))
    bench.trip("F3")
    bench.wait(ms(20))
    assert bench.state("K1") == "open"
    assert bench.led("Q1")
    bench.reset("F3")
    bench.wait(ms(100))
    assert bench.state("K1") == "closed"


def test_sensors_answer_after_their_time_and_not_without_supply(bench: Bench) -> None:
    assert (bench.led("I8"), bench.led("I9")) == (True, False)
    bench.beam("B1", blocked=True)
    bench.metal("B2", 5)
    bench.wait(ms(3))
    assert (bench.led("I8"), bench.led("I9")) == (False, True)
    bench.metal("B2", 5, "copper")  # 8 mm on steel is 2.4 mm on copper
    bench.beam("B1", blocked=False)
    bench.wait(ms(3))
    assert (bench.led("I8"), bench.led("I9")) == (True, False)
    bench.breaker("F2", False)
    bench.wait(ms(3))
    assert not bench.led("I8")
    bench.breaker("F2", True)
    bench.wait(ms(3))
    assert not bench.led("I8")  # it is not ready yet
    bench.wait(ms(200))
    assert bench.led("I8")


def test_selectors_and_keys(bench: Bench) -> None:
    for do, lit in (
        (lambda: bench.turn("S4", "left"), True),
        (lambda: bench.turn("S4", "centre"), False),
        (lambda: bench.key("S5", True), True),
        (lambda: bench.turn("S5", "off"), False),
    ):
        do()
        bench.wait(ms(50))
        assert bench.lit("P5") == lit


def test_a_lifted_wire_a_bad_joint_and_a_bridge(bench: Bench) -> None:
    bench.lift(101)
    bench.wait(ms(50))
    assert not bench.bit("S1")
    assert bench.meter.volts("S1:12", "X1:0V") == pytest.approx(24, abs=0.2)
    bench.join("S1:12", "A1:I1")
    bench.wait(ms(50))
    assert bench.bit("S1")
    bench.unjoin("A1:I1", "S1:12")
    bench.land("101")
    bench.press("S2", ms(80))
    bench.wait(ms(300))
    # 192 ohm behind 50 ohm of a joint: 24 x 192 / 242 = 19.0 V, which holds and could not pull in
    bench.joint("211", 50)
    bench.wait(ms(300))
    assert bench.meter.volts("K1:A1", "K1:A2") == pytest.approx(24 * 192 / 242, abs=0.15)
    assert bench.state("K1") == "closed"
    bench.press("S1", ms(80))
    bench.wait(ms(300))
    bench.press("S2", ms(80))
    bench.wait(ms(300))
    assert (bench.bit("K1"), bench.state("K1")) == (True, "open")
    bench.joint("211", 0)
    bench.wait(ms(300))
    assert bench.state("K1") == "closed"


def lets_go_us(bench: Bench) -> int:
    """From the coil's losing its volts to the opening of the poles."""
    bench.load("K1 := S2;")
    bench.press("S2")
    bench.wait(ms(300))
    with bench.record() as trace:
        bench.release("S2")
        bench.wait(ms(300))
    coil_us = next(t_us for t_us, volts in trace.signals["coil:K1"].changes if volts < 1)
    return next(t_us for t_us, closed in trace.signals["pole:K1"].changes if not closed) - coil_us


def test_without_its_suppressor_the_coil_lets_go_sooner_and_with_a_diode_later(bench: Bench, board) -> None:
    """A two-way clamp adds 2 to 5 ms (a published accessory table), a plain diode makes it 6 to 10 times as long
    (contactor handbooks, from memory).
    """
    clamped = lets_go_us(bench)
    bench.remove("V1")
    bare = lets_go_us(bench)
    bench.fit("V1")
    assert lets_go_us(bench) == clamped
    assert 2_000 <= clamped - bare <= 5_000
    part = board.part("V1")
    diode = Bench(board.with_part(replace(part, entry=parts_catalogue()["suppressor-diode"])))
    diode.power_up()
    assert 6 <= lets_go_us(diode) / bare <= 10


def test_a_block_that_is_off_takes_its_contact_along(bench: Bench) -> None:
    bench.press("S2", ms(80))
    bench.wait(ms(300))
    assert bench.bit("K1_A")
    bench.remove("K1.aux")
    bench.wait(ms(50))
    assert (bench.bit("K1_A"), bench.state("K1"), bench.removed) == (False, "closed", {"K1.aux"})
    bench.fit("K1.aux")
    bench.wait(ms(50))
    assert bench.bit("K1_A")


def test_rewiring_to_a_known_state_solves_nothing_anew(bench: Bench) -> None:
    first = bench.engine.net
    bench.lift("101")
    assert bench.engine.net is not first
    bench.land("101")
    assert bench.engine.net is first


def test_other_families_scan_and_filter_as_asked(board) -> None:
    assert Bench(board, family="birch").scan_period_us == 50_000
    bench = Bench(board, scan=ms(20), filter=ms(1))
    assert (bench.scan_period_us, bench.family.inputs.filter_us) == (20_000, 1_000)


def test_type_1_inputs_want_more_volts_than_type_3(board) -> None:
    """IEC 61131-2 (tests/truth/input_thresholds.csv): on for certain from 15 V for type 1, from 11 V for type 3.

    A joint of 4 kilohm leaves 13 to 15 V: certain for the one, undefined for the other.
    """
    granted = {}
    for family in ("alder", "birch"):
        bench = Bench(board, family=family)
        bench.power_up()
        bench.joint("102", 4_000)
        bench.press("S2")
        channel = next(c for c in bench.engine.net.electrical.inputs if c.point == "I2")
        solution = bench.engine.now_reading().solution
        volts = solution.volt(channel.terminal, channel.common)
        assert 11 < volts < 15
        granted[channel.type_no] = channel.grade(volts, solution.amps(channel.element)), bench.led("I2")
    assert granted[3] == ("on", True)
    assert granted[1][0] == "undefined"


def test_memory_tags_can_be_written_and_programs_changed(board) -> None:
    tags = [Tag("PANEL", "memory"), Tag("K1", "output", "Q1"), Tag("S1", "input", "I1")]
    bench = Bench(board, tags=tags)
    bench.power_up()
    bench.load("K1 := PANEL AND S1;")
    bench.wait(ms(200))
    assert bench.engine.scan.asleep
    bench.set_bit("PANEL")
    bench.wait(ms(200))
    assert bench.state("K1") == "closed"
    bench.load("K1 := NOT S1;")
    bench.wait(ms(200))
    assert bench.state("K1") == "open"


def test_stop_and_run(bench: Bench) -> None:
    bench.press("S2", ms(80))
    bench.wait(ms(300))
    bench.stop()
    bench.wait(ms(100))
    assert (bench.mode, bench.state("K1")) == ("stop", "open")
    bench.run()
    bench.wait(ms(100))
    assert (bench.mode, bench.state("K1")) == ("run", "open")


def test_a_cut_controller_supply_is_a_power_cycle(bench: Bench) -> None:
    bench.press("S2", ms(80))
    bench.wait(ms(300))
    bench.power(False)
    assert bench.mode == "off"
    assert not bench.led("I1")
    bench.wait(s(1))
    bench.power(True)
    assert bench.mode == "boot"
    bench.wait(s(1.1))
    assert (bench.mode, bench.state("K1")) == ("run", "open")


def test_single_scan(bench: Bench) -> None:
    bench.wait(ms(3))
    with bench.record() as trace:
        bench.single_scan()
    assert [p.kind for p in trace.scans if p.start_us >= trace.start_us].count("solve") == 1
    assert bench.now_us == bench.next_scan_us


def test_what_was_done_is_in_the_log_and_plays_again(board) -> None:
    first = Bench(board)
    first.power_up()
    start = first.now_us
    first.load(HOLD)
    first.press("S2", ms(45.5))
    first.wait(ms(120))
    first.lift(101)
    first.turn("S4", "left")
    first.wait(ms(60))
    first.land(101)
    first.metal("B2", 3)
    first.wait(ms(100))
    stimulus = Stimulus.loads(Stimulus.from_log(first.log, start_us=start).dumps())
    second = Bench(board)
    second.power_up()
    second.load(HOLD)
    second.play(stimulus)
    second.wait_until(first.now_us)
    assert second.states() == first.states()
    assert second.log == first.log


def test_every_verb_of_a_stimulus_is_something_a_bench_can_do() -> None:
    for verb in VERBS:
        assert callable(getattr(Bench, verb)), verb


# what is said to a slip ------------------------------------------------------------------------------

SLIPS: list[tuple[str, Callable[[Bench], object], str, str]] = [
    ("no such part", lambda b: b.press("S9"), "there is no part S9 on this board", "Known here: S0, S1"),
    (
        "wrong verb",
        lambda b: b.turn("S2", "left"),
        "S2 is a push button: press or release it, you cannot turn it",
        "turn works with S3, S4, S5",
    ),
    (
        "button is no key",
        lambda b: b.key("S1"),
        "S1 is a push button: press or release it",
        "key works with S5",
    ),
    (
        "a lamp",
        lambda b: b.press("P1"),
        "P1 is a lamp: look whether it is lit, you cannot press it",
        "press works with S0, S1, S2, S6",
    ),
    ("position", lambda b: b.turn("S4", "middle"), "S4 cannot be 'middle': it is left or centre or right", ""),
    ("wrong sensor", lambda b: b.beam("B2"), "B2 is an inductive sensor: use metal", "beam works with B1"),
    ("wrong sensor 2", lambda b: b.metal("B1", 3), "B1 is a photo-eye: use beam", "metal works with B2"),
    ("no metal", lambda b: b.metal("B2", 3, "wood"), "no sensing distance is known for 'wood'", "Known here"),
    ("distance", lambda b: b.metal("B2", -1), "a distance is 0 mm or more, not -1", ""),
    (
        "terminal",
        lambda b: b.meter.volts("K1:15", "X1:0V"),
        "no terminal K1:15 on this board. K1 has",
        "",
    ),
    (
        "terminal form",
        lambda b: b.meter.volts("K1", "X1:0V"),
        "'K1' is no terminal: a terminal is written part, colon, terminal",
        "",
    ),
    ("wire", lambda b: b.lift(999), "there is no wire 999 on this board", ""),
    ("landed", lambda b: b.land(101), "wire 101 is landed already", "lifted are: none"),
    ("bridge", lambda b: b.unjoin("A1:I1", "A1:I2"), "there is no bridge between A1:I1 and A1:I2", "bridges: none"),
    ("bridge to itself", lambda b: b.join("A1:I1", "A1:I1"), "a bridge needs two terminals, not A1:I1 twice", ""),
    ("bridge of nothing", lambda b: b.join("A1:I1", "A1:I2", 0), "a bridge has more than 0 ohm, not 0", ""),
    ("block", lambda b: b.fit("K1.aux"), "K1.aux is fitted already", 'remove("K1.aux")'),
    ("no number", lambda b: b.joint(221, "x"), "a joint is a number of ohms, not 'x'", "write the bare number"),  # type: ignore[arg-type]
    ("no ohms", lambda b: b.join("K1:A1", "X1:0V", ohm=0), "a bridge has more than 0 ohm, not 0", "leave ohm= out"),
    ("no length", lambda b: b.wire("X1:24I", "S2:13", m=-1), "a wire is more than 0 m", "give the length in metres"),
    ("no wire number", lambda b: b.wire("X1:24I", "S2:13", no=" "), "' ' is no wire number", "leave no= out"),
    (
        "no prediction",
        lambda b: b.meter.volts("K1:A1", "X1:0V", expect=float("nan")),
        "nan is no prediction",
        "expect=24",
    ),
    ("lifted twice", lambda b: (b.lift(106), b.lift(106)), "wire 106 is lifted already", 'land("106")'),
    ("no program", lambda b: b.load(None), "None is no program", "give ladder text"),  # type: ignore[arg-type]
    ("a file's name", lambda b: b.load("pump.st"), "pump.st is the name of a file", "read_text"),
    ("a part is no wire", lambda b: b.lift("K1"), "there is no wire K1", "the number on its ferrules"),
    ("no block", lambda b: b.remove("K1"), "K1 is a contactor: it moves by its coil", "remove works with K1.aux, V1"),
    ("tag", lambda b: b.bit("K1A"), "there is no bit K1A in this controller", "Did you mean K1"),
    ("input bit", lambda b: b.set_bit("S1", True), "S1 is an input: its bit comes from its terminal", ""),
    ("point", lambda b: b.led("I13"), "there is no point I13", "it has I1 to I12 and Q1 to Q8"),
    ("no position", lambda b: b.state("M1"), "M1 has no position", ""),
    ("short press", lambda b: b.press("S2", ms(0)), "a press lasts longer than nothing", ""),
    (
        "estop hold",
        lambda b: b.press("S0", ms(50)),
        "S0 is an emergency stop: it latches, and nobody holds it",
        'press("S0")',
    ),
    ("bounce", lambda b: b.bounce("S2", [ms(1)]), "a bounce is an even number of gaps, each longer than nothing", ""),
    ("past", lambda b: b.wait_until(5), "it is already", "time only goes forward"),
    ("program", lambda b: b.load("K1 := S99;"), "", ""),
    ("joint", lambda b: b.joint(101, -1), "a joint has 0 ohm or more, not -1", ""),
    ("clamp", lambda b: (b.lift(101), b.meter.amps(101)), "wire 101 is lifted: there is no current to clamp", "land"),
    ("force", lambda b: b.unforce("S1"), "S1 is not forced", ""),
]


@pytest.mark.parametrize(("name", "do", "what", "cure"), SLIPS, ids=[slip[0] for slip in SLIPS])
def test_a_slip_is_answered_with_a_sentence_and_the_bench_goes_on(
    bench: Bench, name: str, do, what: str, cure: str
) -> None:
    before = bench.states()
    with pytest.raises(LabkitError) as caught:
        do(bench)
    assert caught.value.what.startswith(what)
    assert cure in caught.value.try_this
    assert bench.states() == before
    bench.wait(ms(10))
    bench.press("S2", ms(60))
    bench.wait(ms(100))
    if name != "clamp":
        assert bench.state("K1") == "closed"


def test_a_wiring_that_cannot_be_leaves_the_bench_as_it_was(bench: Bench) -> None:
    from labkit.board import Wire

    wrong = bench.wiring.with_wire(Wire("900", "K1:A1", "Z9:1"))
    with pytest.raises(LabkitError):
        bench.rewire(wrong)
    bench.lift(101)
    bench.land(101)
    assert "900" not in [wire.no for wire in bench.wiring]


def test_bare_numbers_are_no_durations(bench: Bench) -> None:
    with pytest.raises(TypeError, match=r"this wait needs a unit\n  try:   write ms\(20\) or s\(20\)"):
        bench.wait(20)  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="this hold needs a unit"):
        bench.press("S2", 45)  # type: ignore[arg-type]
    assert bench.state("S2") == "released"


def test_run_without_a_program_is_told(board) -> None:
    bench = Bench(board)
    bench.power_up()
    with pytest.raises(LabkitError, match="the controller has no program to run"):
        bench.run()
    with pytest.raises(BenchError, match="already"), bench.record(), bench.record():
        pass
    bench.wait(ms(1))


def test_a_bench_made_again_is_fresh_and_ends_alike(bench: Bench) -> None:
    bench.press("S2", ms(60))
    bench.lift(101)
    bench.wait(ms(200))
    ends = []
    for other in (bench.again(), Bench(bench.board)):
        assert (other.now_us, other.mode, other.log) == (0, "off", [])
        assert other.wiring == bench.board.wiring
        other.power_up()
        other.load(HOLD)
        other.press("S2", ms(60))
        other.wait(ms(200))
        ends.append((other.states(), other.log, other.engine.clock.waiting()))
    assert ends[0] == ends[1]
    assert ends[0][0]["K1"] == "closed"

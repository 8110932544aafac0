"""Off, boot, stop and run; what each start keeps; the first scan; forces; the panel's write."""

from __future__ import annotations

import pytest

from labkit.controller import ControllerError, Tag, TagTable, family
from labkit.logic import read_ladder, read_st

HOLD = "K1 := S1 AND (S2 OR K1);"
MEMORY = "M1 := S3 OR M1;\nM2 := S3 OR M2;"


def changed(name, table, **switches):
    """A shipped family with other settings in one table."""
    profile = family(name)
    part = getattr(profile, table)
    return profile.model_copy(update={table: part.model_copy(update=switches)})


def retaining(start, **switches):
    alder = family("alder")
    rule = getattr(alder.retention, start).model_copy(update=switches)
    return alder.model_copy(update={"retention": alder.retention.model_copy(update={start: rule})})


def test_it_comes_up_through_boot_into_run(rig):
    r = rig("alder", HOLD)
    c = r.controller
    assert c.mode == "off"
    assert c.power(True, 500) == ()
    assert (c.mode, c.boot_due_us) == ("boot", 1_000_500)
    c.wake(1_000_499)
    assert c.mode == "boot"
    c.wake(1_000_500)
    assert (c.mode, c.boot_due_us) == ("run", None)


def test_it_comes_up_into_stop_if_the_switch_says_so(rig):
    r = rig("alder", HOLD).up()
    r.stop()
    r.power(False)
    r.up()
    assert r.controller.mode == "stop"
    r.run()
    assert r.controller.mode == "run"


def test_a_dip_in_the_boot_time_starts_it_again(rig):
    r = rig("alder", HOLD)
    r.power(True)
    r.now = 900_000
    r.power(False)
    r.now = 950_000
    r.power(True)
    assert r.controller.boot_due_us == 1_950_000


def test_without_a_program_it_stays_in_stop_and_says_why(rig):
    r = rig("alder").up()
    assert r.controller.mode == "stop"
    with pytest.raises(ControllerError, match="the controller has no program to run"):
        r.run()


def test_loading_into_a_live_controller_sets_it_running(rig):
    r = rig("alder").up()
    r.controller.load(read_st("K1 := TRUE;"))
    assert r.controller.mode == "run"
    r.wait(20_000)
    assert r.terminal[-1][1:] == ("Q1", True)
    r.stop()
    r.controller.load(read_st(HOLD))
    assert r.controller.mode == "stop", "the switch is at stop"


def test_loading_gives_every_value_its_initial_one(rig):
    r = rig("alder", MEMORY).up()
    r.put("I3", True)
    r.wait(30_000)
    r.put("I3", False)
    r.wait(30_000)
    assert (r.bit("M1"), r.bit("M2")) == (1, 1)
    r.controller.load(read_st(MEMORY))
    assert (r.bit("M1"), r.bit("M2")) == (0, 0)


@pytest.mark.parametrize(("name", "drops"), [("alder", True), ("birch", False)])
def test_outputs_in_stop_drop_or_hold(rig, name, drops):
    r = rig(name, HOLD).up()
    r.put("I1", True)
    r.put("I2", True)
    r.wait(200_000)
    assert r.controller.outputs["Q1"] == 1
    r.terminal.clear()
    r.stop()
    assert r.terminal == ([(r.now + r.controller.family.outputs.delay_us, "Q1", False)] if drops else [])
    r.wait(100_000)
    assert r.controller.outputs["Q1"] == (0 if drops else 1)


def test_outputs_always_drop_with_the_supply(rig):
    for name in ("alder", "birch"):
        r = rig(name, "K1 := TRUE;").up()
        r.wait(100_000)
        r.power(False)
        assert r.terminal[-1][1:] == ("Q1", False)
        assert not any(r.controller.outputs.values())


def test_a_seal_comes_back_after_a_stop_only_where_plain_bits_are_kept(rig):
    """Stop to run with the stop button healthy and nobody at the start button."""
    for name, back in (("alder", 0), ("birch", 1)):
        r = rig(name, HOLD).up()
        r.put("I1", True)
        r.pulse("I2", 200_000)
        r.wait(200_000)
        assert r.bit("K1") == 1
        r.stop()
        r.wait(300_000)
        r.run()
        r.wait(300_000)
        assert r.bit("K1") == back, name


RETAINING = """
VAR A : BOOL := TRUE; T1 : TON; L1 : SR; END_VAR
VAR RETAIN B : BOOL; T2 : TON; END_VAR
A := A AND NOT S3;
B := S3 OR B;
M1 := S3 OR M1;
M2 := S3 OR M2;
L1(S1 := S3, R := FALSE);
T1(IN := M2, PT := T#10s);
T2(IN := M2, PT := T#10s);
"""


def worked(rig, profile, start):
    """Every value away from its initial one, then the start; the state before the first scan after it."""
    r = rig(profile, RETAINING).up()
    r.put("I3", True)
    r.wait(30_000)
    r.put("I3", False)
    r.wait(100_000)
    names = ("A", "B", "M1", "M2", "L1.Q1")
    assert [r.bit(n) for n in names] == [0, 1, 1, 1, 1]
    assert r.controller.watch("T1.ET") > 0
    assert r.controller.watch("T2.ET") > 0
    if start == "power_up":
        r.power(False)
        r.up()
    else:
        r.stop()
        r.run()
    watch = r.controller.watch
    kept = {n: r.bit(n) for n in names} | {"T1": watch("T1.ET") > 0, "T2": watch("T2.ET") > 0}
    return {name: int(value) for name, value in kept.items()}


PLAIN, RETAINED, BLOCKS = {"A": 1, "M1": 0}, {"B": 0, "M2": 0, "T2": 0}, {"L1.Q1": 0, "T1": 0}
ALL_KEPT = {"A": 0, "B": 1, "M1": 1, "M2": 1, "L1.Q1": 1, "T1": 1, "T2": 1}


@pytest.mark.parametrize("start", ["power_up", "stop_to_run"])
@pytest.mark.parametrize("plain", ["keep", "clear"])
@pytest.mark.parametrize("retained", ["keep", "clear"])
@pytest.mark.parametrize("blocks", ["keep", "clear"])
def test_each_start_keeps_what_its_rule_says(rig, start, plain, retained, blocks):
    profile = retaining(start, plain=plain, retained=retained, blocks=blocks)
    expected = dict(ALL_KEPT)
    for rule, cleared in ((plain, PLAIN), (retained, RETAINED), (blocks, BLOCKS)):
        if rule == "clear":
            expected |= cleared
    assert worked(rig, profile, start) == expected


@pytest.mark.parametrize(
    ("starts", "after_power", "after_stop"),
    [(("power-up", "stop-to-run"), 1, 1), (("power-up",), 1, 0), (("stop-to-run",), 0, 1)],
)
def test_the_first_scan_flag_is_true_for_exactly_one_scan(rig, starts, after_power, after_stop):
    """Counted by the program itself, with a counter that every scan with the flag on moves on."""
    profile = changed("alder", "start", first_scan=starts)
    r = rig(profile, "M1 := FIRST_SCAN;\nM2 := M2 OR FIRST_SCAN;").up()
    seen = []
    for _ in range(3):
        r.scan()
        seen.append(r.bit("M1"))
    assert seen == [after_power, 0, 0]
    assert r.bit("FIRST_SCAN") == 0
    r.stop()
    r.run()
    r.scan()
    assert r.bit("M1") == after_stop
    r.scan()
    assert r.bit("M1") == 0


EDGES = """
VAR E1 : R_TRIG; E2 : F_TRIG; C1 : CTU; END_VAR
E1(CLK := S2);
M1 := E1.Q;
E2(CLK := S2);
P1 := E2.Q;
C1(CU := S2, R := FALSE, PV := 1);
P2 := C1.Q;
"""


@pytest.mark.parametrize(("edges", "fires"), [("zero", 1), ("present", 0), ("kept", 1)])
def test_an_input_that_is_on_at_the_first_scan_is_an_edge_or_is_not(rig, edges, fires):
    """After loading; what is kept is then the initial value of the standard's R_TRIG, which is 0."""
    r = rig(changed("alder", "start", edges=edges), EDGES)
    r.put("I2", True)
    r.up()
    r.scan()
    assert r.bit("M1") == fires
    assert r.bit("P2") == fires, "a counter's own edge is an edge too"
    r.scan()
    assert r.bit("M1") == 0


@pytest.mark.parametrize(("edges", "fires"), [("zero", 1), ("present", 0), ("kept", 0)])
def test_an_input_held_through_a_stop(rig, edges, fires):
    """On before the stop, on after it: an edge only where the value before is taken to be 0."""
    r = rig(changed("alder", "start", edges=edges), EDGES).up()
    r.put("I2", True)
    r.wait(50_000)
    r.stop()
    r.wait(50_000)
    r.run()
    r.scan()
    assert r.bit("M1") == fires


@pytest.mark.parametrize(("edges", "counts"), [("zero", 1), ("present", 0), ("kept", 0)])
@pytest.mark.parametrize(("up", "down"), [("S1 OR S2", "FALSE"), ("S1", "S2")])
def test_each_counting_input_of_a_counter_has_its_own_edge(rig, up, down, edges, counts):
    """IEC 61131-3: CU and CD of a CTUD both count rising edges; held through a stop as an R_TRIG's input above."""
    text = f"VAR RETAIN C1 : CTUD; END_VAR\nC1(CU := {up}, CD := {down}, R := FALSE, LD := FALSE, PV := 9);"
    r = rig(changed("alder", "start", edges=edges), text).up()
    for _ in range(3):
        r.pulse("I1", 50_000)
        r.wait(50_000)
    r.put("I2", True)
    r.wait(50_000)
    before = r.controller.watch("C1.CV")
    assert before == (2 if down == "S2" else 4)
    r.stop()
    r.wait(50_000)
    r.run()
    r.scan()
    assert abs(r.controller.watch("C1.CV") - before) == counts


@pytest.mark.parametrize(("edges", "fires"), [("zero", 0), ("present", 0), ("kept", 1)])
def test_an_input_that_went_off_during_a_stop_falls_only_for_a_kept_edge(rig, edges, fires):
    r = rig(changed("alder", "start", edges=edges))
    r.controller.load(read_ladder("|  S2     M2   |\n|--|N|----(S)--|\n"))
    r.up()
    r.put("I2", True)
    r.wait(50_000)
    r.stop()
    r.put("I2", False)
    r.wait(50_000)
    r.run()
    r.scan()
    assert r.bit("M2") == fires


@pytest.mark.parametrize(("way", "left_ms"), [("freeze", 700), ("run on", 400)])
def test_a_timer_whose_value_survives_the_stop_freezes_or_runs_on(rig, way, left_ms):
    """300 ms of a second are over when it is stopped for 300 ms."""
    birch = changed("birch", "timers", while_stopped=way, resolution_us=1_000)
    r = rig(birch, "VAR T1 : TON; END_VAR\nT1(IN := S1, PT := T#1s);\nP1 := T1.Q;", scan_us=10_000)
    r.put("I1", True)
    r.up()
    r.wait(300_000)
    r.stop()
    r.wait(300_000)
    r.run()
    at = r.now
    r.wait(1_000_000)
    (done,) = [t for t, point, on in r.terminal if point == "Q2" and on]
    assert abs((done - at) - left_ms * 1_000) <= 11_000, "within a scan"


@pytest.mark.parametrize(("way", "counted_us"), [("freeze", 0), ("run on", 400_000)])
def test_time_in_stop_after_power_up_counts_where_timers_run_on(rig, way, counted_us):
    birch = changed("birch", "timers", while_stopped=way, resolution_us=1_000)
    text = "VAR RETAIN T1 : TON; END_VAR\nT1(IN := TRUE, PT := T#10s);"
    r = rig(birch, text, scan_us=10_000).up()
    r.wait(300_000)
    r.stop()
    r.power(False)
    before = r.controller.watch("T1.ET")
    r.up()
    r.wait(400_000)
    r.run()
    r.scan()
    assert 0 <= r.controller.watch("T1.ET") - before - counted_us <= 11_000


def test_time_before_a_new_program_is_not_taken_off_its_timers(rig):
    """Stopped by its watchdog with timers that freeze, then loaded anew: only the later stop stands still."""
    quick = changed("alder", "scan", watchdog_us=300)  # three rungs are solved in time, twenty are not
    r = rig(quick, "\n".join(["M1 := S1;"] * 20)).up()
    r.scan()
    assert "watchdog" in r.controller.fault
    r.wait(500_000)
    r.controller.load(read_st("VAR RETAIN T1 : TON; END_VAR\nT1(IN := TRUE, PT := T#10s);"))
    assert (r.controller.mode, r.controller.fault) == ("run", "")
    r.wait(300_000)
    r.stop()
    before = r.controller.watch("T1.ET")
    assert before > 280_000
    r.wait(200_000)
    r.run()
    r.scan()
    assert 0 <= r.controller.watch("T1.ET") - before <= 20_000


def test_inputs_and_plain_bits_read_0_without_supply(rig):
    r = rig("alder", MEMORY).up()
    r.put("I3", True)
    r.wait(50_000)
    assert (r.bit("S3"), r.bit("M1"), r.bit("M2")) == (1, 1, 1)
    r.power(False)
    assert (r.bit("S3"), r.bit("M1"), r.bit("M2")) == (0, 0, 1)


def test_an_output_that_dropped_with_the_supply_is_told_again_when_it_returns(rig):
    r = rig("alder", "K1 := TRUE;").up()
    r.wait(50_000)
    r.power(False)
    r.up()
    r.wait(50_000)
    assert [(point, on) for _, point, on in r.terminal] == [("Q1", True), ("Q1", False), ("Q1", True)]


def test_time_without_supply_never_counts(rig):
    """A block value that a family keeps through power-off stands still meanwhile."""
    birch = changed("birch", "timers", resolution_us=1_000)
    text = "VAR RETAIN T1 : TON; END_VAR\nT1(IN := S1, PT := T#1s);\nP1 := T1.Q;"
    r = rig(birch, text, scan_us=10_000)
    r.put("I1", True)
    r.up()
    r.wait(300_000)
    before = r.controller.watch("T1.ET")
    r.power(False)
    r.wait(5_000_000)
    r.up()
    r.scan(2)
    assert before <= r.controller.watch("T1.ET") <= before + 20_000


def test_a_forced_input_beats_its_wire_and_is_listed(rig):
    r = rig("alder", HOLD).up()
    r.controller.force("S1", True)
    r.controller.force("S2", True)
    r.wait(30_000)
    assert r.bit("K1") == 1
    assert dict(r.controller.forces) == {"S1": True, "S2": True}
    assert r.controller.filtered("I1") == 0, "the channel itself is as it is"
    r.controller.unforce("S1")
    r.wait(30_000)
    assert (r.bit("S1"), r.bit("K1")) == (0, 0)
    r.controller.unforce()
    assert dict(r.controller.forces) == {}


def test_a_forced_output_acts_at_the_terminal_only(rig):
    r = rig("alder", HOLD).up()
    r.controller.force("K1", True)
    r.wait(30_000)
    assert r.terminal[-1][1:] == ("Q1", True)
    assert r.bit("K1") == 0
    r.controller.unforce("K1")
    r.wait(30_000)
    assert r.terminal[-1][1:] == ("Q1", False)


def test_a_forced_output_drops_in_stop_like_any_other(rig):
    r = rig("alder", HOLD).up()
    r.controller.force("K1", True)
    r.wait(30_000)
    r.stop()
    assert r.controller.outputs["Q1"] == 0


@pytest.mark.parametrize(("name", "left"), [("alder", {}), ("birch", {"S1": True})])
def test_forces_survive_power_off_or_do_not(rig, name, left):
    r = rig(name, HOLD).up()
    r.controller.force("S1", True)
    r.power(False)
    r.up()
    r.wait(100_000)
    assert dict(r.controller.forces) == left
    assert r.bit("S1") == len(left)


def test_a_force_outlives_loading(rig):
    r = rig("alder", HOLD).up()
    r.controller.force("K1", True)
    r.controller.load(read_st("P1 := S1;"))
    r.wait(30_000)
    assert r.controller.outputs["Q1"] == 1


def test_a_panel_writes_memory_and_outputs_but_no_inputs(rig):
    r = rig("alder", "K1 := M1;").up()
    r.controller.set_bit("M1", True)
    r.scan(2)
    assert r.controller.image.outputs["K1"] == 1
    r.controller.set_bit("P1", True)
    r.scan(2)
    assert r.controller.outputs["Q2"] == 1, "no rung writes P1, so what the panel wrote stays"
    for name, what in (
        ("S1", "S1 is an input: its bit comes from its terminal"),
        ("FIRST_SCAN", "FIRST_SCAN belongs to the controller and cannot be written from outside"),
        ("M3", "there is no bit M3 in this controller"),
    ):
        with pytest.raises(ControllerError, match=what):
            r.controller.set_bit(name, True)


def test_a_panel_cannot_reach_a_controller_that_is_not_up(rig):
    r = rig("alder", HOLD)
    with pytest.raises(ControllerError, match="M1 cannot be written: the controller is off"):
        r.controller.set_bit("M1", True)
    r.power(True)
    with pytest.raises(ControllerError, match="M1 cannot be written: the controller is starting up"):
        r.controller.set_bit("M1", True)


def test_what_cannot_be_forced_or_watched_is_told(rig):
    tags = TagTable([Tag("S1", "input", "I1"), Tag("LOOSE", "input"), Tag("M1", "memory")])
    c = rig("alder", "VAR T1 : TON; END_VAR\nT1(IN := S1, PT := T#1s);", tags=tags).controller
    for act, what in (
        (lambda: c.force("M1", True), "M1 cannot be forced: only inputs and outputs with a point can"),
        (lambda: c.force("LOOSE", True), "LOOSE cannot be forced"),
        (lambda: c.unforce("S1"), "S1 is not forced"),
        (lambda: c.watch("T2.ET"), "there is no value T2.ET to watch"),
        (lambda: c.set_bit("T1.Q", True), "T1.Q belongs to a block of the program"),
        (lambda: c.bit("S9"), "there is no bit S9"),
    ):
        with pytest.raises(ControllerError, match=what):
            act()


def test_the_image_is_a_copy_by_tag(rig):
    r = rig("alder", HOLD).up()
    r.put("I1", True)
    before = r.controller.image
    r.wait(30_000)
    assert before.inputs["S1"] == 0
    assert r.controller.image.inputs == {"S1": 1, "S2": 0, "S3": 0, "K1_A": 0}
    assert list(r.controller.image.memory) == ["M1", "M2"]

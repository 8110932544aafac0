"""The scan: its phases, what it sees, when outputs change, when it is quiet, and the watchdog."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.controller import family, timetable
from labkit.logic import Program, read_st

HOLD = "K1 := S1 AND (S2 OR K1);"


def with_scan(name="alder", **changes):
    profile = family(name)
    return profile.model_copy(update={"scan": type(profile.scan)(**{**profile.scan.model_dump(), **changes})})


@given(
    st.integers(0, 3_000),
    st.integers(0, 100),
    st.integers(1, 3_000),
    st.integers(0, 3_000),
    st.integers(0, 3_000),
    st.integers(0, 400),
    st.sampled_from([0, 500, 4_000]),
    st.sampled_from([0, 5_000, 20_000]),
)
def test_phases_follow_one_another_and_fill_the_scan(read, per_rung, least, write, service, rungs, watchdog, period):
    scan = with_scan(
        kind="fixed" if period else "free", period_us=period, read_us=read, solve_us_per_rung=per_rung,
        solve_min_us=least, write_us=write, service_us=service, watchdog_us=watchdog,
    ).scan  # fmt: skip
    table = timetable(scan, rungs)
    at = 0
    for _, start, end in table.phases:
        assert start == at
        assert end >= start
        at = end
    assert at == table.period_us
    spans = {kind: (start, end) for kind, start, end in table.phases}
    assert [kind for kind, _, _ in table.phases][:3] == ["read", "solve", "write"]
    assert table.solve_us == spans["solve"][0]
    assert table.write_us == spans["write"][1]
    needed = read + max(least, per_rung * rungs) + write
    assert table.trips == (0 < watchdog < needed)
    if not table.trips:
        assert table.write_us == needed
        assert table.period_us == max(period, needed + service)


def test_a_plan_is_the_timetable_from_its_start(rig):
    r = rig("alder", HOLD)
    plan = r.controller.plan(7_000)
    assert [(p.kind, p.start_us, p.end_us) for p in plan] == [
        ("read", 7_000, 7_100),
        ("solve", 7_100, 7_200),
        ("write", 7_200, 7_300),
        ("service", 7_300, 7_500),
        ("idle", 7_500, 17_000),
    ]
    assert r.controller.scan_period_us == 10_000


def test_a_free_scan_grows_with_the_program(rig, tags):
    free = with_scan(kind="free", period_us=0)
    rung = read_st(HOLD).rungs[0]
    short, long = rig(free), rig(free)
    short.controller.load(Program("short", (rung,)))
    long.controller.load(Program("long", (rung,) * 100))
    assert short.controller.scan_period_us == 100 + 100 + 100 + 200
    assert long.controller.scan_period_us == 100 + 100 * 20 + 100 + 200


def test_an_input_is_sampled_at_the_start_of_the_read_phase(rig):
    r = rig("alder", HOLD, filter_us=0).up()
    r.put("I1", True)
    r.put("I2", True)
    r.scan()
    assert r.bit("K1") == 0, "the scan of that instant had begun"
    r.scan()
    assert r.bit("K1") == 1


def test_an_input_that_changes_inside_the_scan_is_not_seen_by_its_rungs(rig):
    r = rig("alder", "P1 := S1;\nP2 := S1;", filter_us=0).up()
    r.scan()
    r.wait(r.controller.scan_period_us - r.controller.timetable.write_us)  # the next read has just been
    r.put("I1", True)
    r.scan()
    assert (r.bit("P1"), r.bit("P2")) == (0, 0)
    r.scan()
    assert (r.bit("P1"), r.bit("P2")) == (1, 1)


def test_outputs_change_together_at_the_end_of_the_write_phase_plus_the_delay(rig):
    r = rig("birch", "K1 := S1;\nP1 := S1;").up()
    r.put("I1", True)
    r.wait(60_000)
    # the read at 2.55 s is the first one 4 ms after the change at 2.5 s
    done = 2_550_000 + 200 + 200 + 200 + 500
    assert r.terminal == [(done, "Q1", True), (done, "Q2", True)]


def test_set_and_reset_within_one_scan_never_reach_the_terminal(rig):
    r = rig("alder", "K1 := TRUE;\nK1 := FALSE;").up()
    r.wait(50_000)
    assert r.terminal == []


def test_three_coils_against_the_order_ripple_a_scan_each(rig):
    r = rig("alder", "P3 := P2;\nP2 := P1;\nP1 := S1;").up()
    r.put("I1", True)
    r.wait(9_000)
    seen = []
    for _ in range(4):
        r.scan()
        seen.append((r.bit("P1"), r.bit("P2"), r.bit("P3")))
    assert seen == [(1, 0, 0), (1, 1, 0), (1, 1, 1), (1, 1, 1)]


def test_quiet_comes_when_nothing_changes_and_goes_when_something_may(rig):
    r = rig("alder", HOLD).up()
    c = r.controller
    assert not c.quiet
    r.scan(2)
    assert c.quiet
    r.put("I1", True)
    assert c.quiet, "the filter has not let it through"
    c.settle("I1", r.now + 4_000)
    assert not c.quiet
    r.scan(3)
    assert c.quiet
    c.set_bit("M1", True)
    assert not c.quiet
    r.scan(2)
    assert c.quiet
    c.force("S2", True)
    assert not c.quiet
    r.scan(3)
    assert c.quiet
    c.unforce()
    assert not c.quiet
    r.scan(3)
    r.stop()
    assert not c.quiet


def test_the_scan_with_the_first_scan_flag_is_never_quiet(rig):
    """A is on already, so that the first scan changes nothing; the next one does, without the flag."""
    r = rig("alder", "VAR A : BOOL := TRUE; END_VAR\nA := FIRST_SCAN;").up()
    r.scan()
    assert r.bit("A") == 1
    assert not r.controller.quiet
    r.scan()
    assert r.bit("A") == 0


def test_a_running_timer_is_never_quiet(rig):
    r = rig("alder", "VAR T1 : TON; END_VAR\nT1(IN := S1, PT := T#100ms);\nP1 := T1.Q;").up()
    r.scan(3)
    assert r.controller.quiet
    r.put("I1", True)
    r.wait(20_000)
    for _ in range(8):
        r.scan()
        assert not r.controller.quiet
    r.wait(50_000)
    assert r.bit("P1") == 1
    assert r.controller.quiet
    assert r.controller.watch("T1.ET") == 100_000


LONG = 400  # rungs: 400 x 20 us is more than alder's watchdog of 8 ms


@pytest.mark.parametrize(("rungs", "trips"), [(390, False), (391, True)])
def test_a_scan_may_take_all_of_the_watchdog_s_time(rungs, trips):
    """By hand: 100 us to read, 20 us a rung, 100 us to write; 390 rungs take the 8 ms to the microsecond."""
    table = timetable(family("alder").scan, rungs)
    assert (table.trips, table.write_us) == (trips, 8_000)


def test_the_watchdog_stops_a_scan_that_takes_too_long(rig):
    r = rig("alder")
    rungs = read_st("K1 := TRUE;").rungs
    r.controller.load(Program("long", rungs * LONG))
    r.up()
    r.wait(100_000)
    assert r.controller.mode == "stop"
    assert r.controller.fault == (
        "the watchdog stopped the controller: a scan may take 8 ms and this program of 400 rungs takes longer"
    )
    assert r.terminal == [], "no output was written"
    assert r.controller.plan(0)[-1][1:] == (8_000, 8_000)
    r.run()
    assert (r.controller.mode, r.controller.fault) == ("run", "")
    r.controller.load(Program("short", rungs))
    r.wait(20_000)
    assert r.controller.mode == "run"
    assert r.terminal[0][1:] == ("Q1", True)


def test_without_a_watchdog_a_long_program_makes_a_longer_scan(rig):
    r = rig(with_scan("birch", solve_us_per_rung=400))
    r.controller.load(Program("long", read_st("K1 := TRUE;").rungs * 200))
    r.up()
    r.wait(200_000)
    assert r.controller.mode == "run"
    assert r.controller.scan_period_us == 200 + 200 * 400 + 200 + 500
    assert r.bit("K1") == 1


@pytest.mark.parametrize(("name", "delays_ms"), [("alder", {250}), ("birch", set(range(210, 301, 10)))])
def test_a_timer_counts_in_the_familys_steps(rig, name, delays_ms):
    """T#250ms at a 10 ms scan, started at each place within a 100 ms step.

    A step of 1 ms shows nothing; one of 100 ms makes 250 ms three steps, of which the first may be cut short (common
    practice for timers on a slow time base, no source).
    """
    found = set()
    for shift_us in range(0, 100_000, 10_000):
        r = rig(
            name,
            "VAR T1 : TON; END_VAR\nT1(IN := S1, PT := T#250ms);\nP1 := T1.Q;\nP2 := S1;",
            scan_us=10_000,
        ).up()
        r.wait(shift_us)
        r.put("I1", True)
        r.wait(500_000)
        on = {point: t for t, point, _ in r.terminal}
        found.add((on["Q2"] - on["Q3"]) / 1_000)
    assert found == delays_ms

"""Electricity, machine and controller together, on a small board made by hand (conftest)."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest

from labkit.bench.electric import Network
from labkit.bench.engine import Engine
from labkit.bench.errors import BenchError
from labkit.bench.recorder import Recorder
from labkit.circuit import Circuit, CircuitError


def press(engine: Engine, part: str, at_us: int, hold_us: int) -> None:
    engine.run_until(at_us)
    engine.act(partial(engine.place, part, "pressed"), "press")
    engine.run_until(at_us + hold_us)
    engine.act(partial(engine.place, part, "released"), "release")


def recorded(engine: Engine, until_us: int, do) -> dict[str, list]:
    recorder = Recorder(engine)
    engine.watch = recorder.look
    engine.scan.begin_record(recorder.look)
    do()
    engine.run_until(until_us)
    engine.watch = None
    trace = recorder.finish([])
    trace.check()
    return {name: signal.changes[1:] for name, signal in trace.signals.items()} | {"scans": trace.scans}


def test_every_stage_of_a_press_comes_when_it_must(engine: Engine) -> None:
    """4 ms filter, 10 ms scan from 1 s on, 100 us each to read, solve and write, 100 us output, 25 ms pull-in."""
    seen = recorded(engine, 1_100_000, lambda: press(engine, "S2", 1_033_000, 50_000))
    assert seen["led:I2"][0] == (1_033_000, True)
    assert seen["in:I2"][0] == (1_037_000, True)
    assert seen["bit:S2"][0] == (1_040_000, True)
    assert seen["bit:K1"][0] == (1_040_200, True)
    assert seen["out:Q1"][0] == (1_040_300, True)
    assert seen["pos:A1.Q1"][0] == (1_040_400, "on")
    assert seen["coil:K1"][0][0] == 1_040_400
    assert seen["pole:K1"][0] == (1_065_400, True)
    assert seen["in:I3"][0] == (1_069_400, True)
    assert seen["bit:K1_A"][0] == (1_070_000, True)


def test_the_response_time_rule_holds_at_every_phase(small) -> None:
    """Textbook rule: from the change at the terminal to the output, ti + Ts + to at best, ti + 2 Ts + to at worst,
    counting the scan that answers as one whole Ts (tests/truth/scan_response.csv). Ours answers in 300 us.
    """
    delays = set()
    for phase in range(0, 10_000, 250):
        engine = small.up(small.engine("K1 := S2;"))
        seen = recorded(engine, 1_080_000, lambda e=engine, p=phase: press(e, "S2", 1_020_000 + p, 40_000))
        delays.add(seen["pos:A1.Q1"][0][0] - 1_020_000 - phase)
    ti, ts, to = 4_000, 10_000, 100
    answer = 300  # read, solve and write, in place of the rule's whole scan
    assert min(delays) == ti + answer + to
    assert max(delays) < ti + ts + answer + to
    assert max(delays) >= ti + ts + answer + to - 250


def test_a_press_is_seen_for_certain_from_filter_plus_scan_on(small) -> None:
    """Confirmed rule: the shortest pulse that is certain to be seen is ti + Ts, here measured behind the filter:
    the filter passes pulses of its own length or more, and keeps their length.
    """

    def seen(length: int, phase: int) -> bool:
        engine = small.up(small.engine("K1 := S2 OR K1;"))
        press(engine, "S2", 1_020_000 + phase, length)
        engine.run_until(1_080_000)
        return engine.controller.bit("K1") == 1

    phases = range(0, 10_000, 500)
    assert all(seen(10_000, p) for p in phases)
    assert not all(seen(9_999, p + 1) for p in phases) or not all(seen(9_499, p) for p in phases)
    assert not any(seen(3_999, p) for p in phases)


def test_a_coil_that_is_cut_while_it_pulls_in_falls_back(engine: Engine) -> None:
    press(engine, "S2", 1_020_000, 30_000)
    engine.run_until(1_031_000)
    assert engine.states["A1.Q1"] == "on"
    engine.run_until(1_051_000)
    engine.act(partial(engine.move, "F4", "off"), "breaker")
    engine.run_until(1_200_000)
    assert engine.states["K1"] == "open"
    assert engine.states["A1.Q1"] == "on"


def test_a_weld_and_a_jam(engine: Engine) -> None:
    press(engine, "S2", 1_020_000, 30_000)
    engine.run_until(1_200_000)
    engine.act(partial(engine.hinder, "K1", welded=True), "weld")
    press(engine, "S1", 1_200_000, 100_000)
    engine.run_until(1_500_000)
    assert (engine.states["A1.Q1"], engine.states["K1"]) == ("off", "closed")
    engine.act(partial(engine.hinder, "K1", welded=False), "unweld")
    engine.run_until(1_515_000)
    assert engine.states["K1"] == "closed"  # what is due at this instant is still to come
    engine.run_until(1_515_001)
    assert engine.states["K1"] == "open"
    engine.act(partial(engine.hinder, "K1", jammed=True), "jam")
    press(engine, "S2", 1_600_000, 50_000)
    engine.run_until(1_800_000)
    assert (engine.states["A1.Q1"], engine.states["K1"]) == ("on", "open")


def test_a_supply_that_goes_takes_everything_with_it_and_comes_back_after_the_boot_time(engine: Engine) -> None:
    press(engine, "S2", 1_020_000, 30_000)
    engine.run_until(1_200_000)
    assert engine.states["K1"] == "closed"
    engine.act(partial(engine.move, "F1", "off"), "breaker")
    assert (engine.mode, engine.states["A1.Q1"]) == ("off", "off")  # at the same instant
    engine.run_until(1_215_001)
    assert engine.states["K1"] == "open"
    engine.act(partial(engine.move, "F1", "on"), "breaker")
    engine.run_until(2_215_001)
    assert engine.mode == "boot"
    engine.run_until(2_215_002)
    assert engine.mode == "run"
    engine.run_until(2_300_000)
    assert engine.states["A1.Q1"] == "off"  # the bit was not retained


def test_between_its_two_limits_the_controller_stays_as_it_was(small) -> None:
    """alder.toml: it starts from 20 V and gives up below 18 V; 19 V keep it up, and do not bring it back."""

    def fed(volts: float) -> Network:
        electrical = small.electrical()
        parts = tuple(replace(e, volts=volts) if e.name == "G1" else e for e in electrical.circuit.elements)
        return Network(replace(electrical, circuit=Circuit(parts, "PE")), 20.0, 18.0)

    engine = small.up(small.engine("K1 := S2;"))
    modes = [engine.mode]
    for volts in (19.2, 17.9, 19.2, 24.0):
        engine.act(partial(engine.rewire, fed(volts), frozenset()), "sag")
        modes.append(engine.mode)
    assert modes == ["boot", "boot", "off", "off", "boot"]


def test_scans_before_a_stop_are_counted_though_nothing_changed(small) -> None:
    """One every 10 ms from 1 s on; stopped 5 ms after the one of 1.3 s."""
    engine = small.up(small.engine("K1 := S2;"))

    def work() -> None:
        engine.run_until(1_305_000)
        assert engine.scan.asleep
        engine.act(partial(engine.set_switch, False), "stop")

    scans = recorded(engine, 1_500_000, work)["scans"]
    assert [phase.start_us for phase in scans if phase.kind == "read"] == list(range(1_000_000, 1_305_000, 10_000))


def test_an_output_that_was_just_written_does_not_come_on_after_the_supply_has_gone(small) -> None:
    """Written at 1 040 300, its terminal would follow 100 us later; the supply goes between the two."""
    engine = small.up(small.engine("K1 := S2;"))
    engine.run_until(1_030_000)
    engine.act(partial(engine.place, "S2", "pressed"), "press")
    engine.run_until(1_040_350)
    assert (engine.controller.outputs["Q1"], engine.states["A1.Q1"]) == (1, "off")
    engine.act(partial(engine.move, "F1", "off"), "breaker")
    engine.run_until(1_041_000)
    assert engine.states["A1.Q1"] == "off"


def test_an_overload_behind_an_output_trips_its_breaker_after_its_i2t(small) -> None:
    """Let-through energy: at I ampere, 1 A2s lasts 1/I^2 seconds."""
    engine = small.up(small.engine("K1 := S2;", small.electrical(short_ohm=12.0)))
    press(engine, "S2", 1_020_000, 20_000)  # released, so that the controller would switch off soon
    engine.run_until(1_200_000)
    engine.act(partial(engine.place, "S2", "pressed"), "press")
    seen = recorded(engine, 2_000_000, lambda: None)
    on = seen["pos:A1.Q1"][0][0]
    amps = (24 / 12 + 24 / 192 + 24 / 1200) * 0.99  # a hundredth is lost in the supply and contacts
    assert seen["pos:F4"] == [(pytest.approx(on + 1e6 / amps**2, rel=0.02), "off")]


@pytest.mark.parametrize(("on_a", "on"), [(0.004, True), (0.006, False)])
def test_a_channel_is_on_only_with_its_current_too(small, on_a, on) -> None:
    """By hand: 24 V into 5 kohm are 4.8 mA. IEC 61131-2 gives an input both a voltage and a current to be on."""
    electrical = small.electrical()
    inputs = tuple(replace(channel, on_a=on_a) for channel in electrical.inputs)
    engine = small.up(small.engine("K1 := S2;", replace(electrical, inputs=inputs)))
    engine.act(partial(engine.place, "S2", "pressed"), "press")
    assert engine.raw["I2"] is on


def test_a_breaker_that_is_switched_on_by_hand_has_its_whole_i2t_again(small) -> None:
    """Overloaded for 100 ms of about 222, off for half a second, on again: the time starts from nothing."""
    engine = small.up(small.engine("K1 := S2;", small.electrical(short_ohm=12.0)))
    engine.act(partial(engine.place, "S2", "pressed"), "press")
    engine.run_until(1_100_000)
    assert engine.now_reading().hot
    engine.act(partial(engine.switch_breaker, "F4", "off"), "breaker")
    engine.run_until(1_600_000)
    on = engine.clock.now_us
    seen = recorded(engine, 2_000_000, lambda: engine.act(partial(engine.switch_breaker, "F4", "on"), "breaker"))
    amps = (24 / 12 + 24 / 192 + 24 / 1200) * 0.99  # a hundredth is lost in the supply and contacts
    assert seen["pos:F4"] == [(on, "on"), (pytest.approx(on + 1e6 / amps**2, rel=0.02), "off")]


def test_a_dead_short_makes_the_supply_hiccup(small) -> None:
    """At its limit the supply's volts fall below the controller's; its outputs drop, the volts come back, and after
    the boot time the same begins again: about once a second, with the breaker still in.
    """
    engine = small.up(small.engine("K1 := S2;", small.electrical(short_ohm=0.5)))
    engine.run_until(1_020_000)
    seen = recorded(engine, 4_100_000, lambda: engine.act(partial(engine.place, "S2", "pressed"), "press"))
    modes = [mode for _, mode in seen["mode:A1"]]
    assert modes[:6] == ["boot", "run"] * 3
    assert engine.states["F4"] == "on"


def test_contacts_bounce_as_told_and_end_where_they_went(engine: Engine) -> None:
    engine.set_bounce("S2", (700, 300, 500, 200))
    engine.run_until(1_020_000)
    seen = recorded(engine, 1_030_000, lambda: engine.act(partial(engine.place, "S2", "pressed"), "press"))
    assert seen["led:I2"] == [
        (1_020_000, True),
        (1_020_700, False),
        (1_021_000, True),
        (1_021_500, False),
        (1_021_700, True),
    ]
    # the filter waits for 4 ms without a break
    assert seen["in:I2"] == [(1_025_700, True)]


def test_a_new_move_ends_the_bounce_of_the_last_one(engine: Engine) -> None:
    engine.set_bounce("S2", (700, 300))
    engine.run_until(1_020_000)
    engine.act(partial(engine.place, "S2", "pressed"), "press")
    engine.run_until(1_020_500)
    engine.act(partial(engine.place, "S2", "released"), "release")
    engine.run_until(1_050_000)
    assert engine.states["S2"] == "released"


def test_sleeping_through_quiet_scans_changes_nothing(small) -> None:
    """The same presses with a scan loop that is never allowed to sleep."""
    results = []
    for restless in (False, True):
        engine = small.up(small.engine("K1 := S1 AND (S2 OR K1_A);"))
        if restless:
            wake, engine.watch = engine.scan, None

            def poke(e: Engine = engine, scan=wake) -> None:
                scan.stir(3)
                e.later("poke", e.clock.now_us + 1_000, 3, lambda: poke(e, scan))

            engine.act(poke, "poke")
        recorder = Recorder(engine)
        engine.watch = recorder.look
        engine.scan.begin_record(recorder.look)
        for at, length in ((1_021_300, 45_000), (1_203_700, 12_000), (1_355_550, 30_000), (1_600_001, 26_000)):
            press(engine, "S2", at, length)
            press(engine, "S1", at + 100_123, 20_777)
        engine.run_until(2_000_000)
        engine.watch = None
        trace = recorder.finish([])
        trace.check()
        results.append(({n: s.changes for n, s in trace.signals.items()}, trace.scans))
    assert results[0][0] == results[1][0]
    assert results[0][1] == results[1][1]
    assert len([p for p in results[0][1] if p.kind == "read"]) == 100


def test_a_watcher_does_not_touch(small) -> None:
    ends = []
    for watched in (False, True):
        engine = small.up(small.engine("K1 := S1 AND (S2 OR K1_A);"))
        recorder = Recorder(engine)
        if watched:
            engine.watch = recorder.look
            engine.scan.begin_record(recorder.look)
        for at, length in ((1_021_300, 45_000), (1_203_700, 12_000)):
            press(engine, "S2", at, length)
        engine.run_until(1_250_007)
        ends.append((engine.states, engine.key, engine.clock.waiting(), engine.controller.image, engine.raw))
    assert ends[0] == ends[1]


def test_what_fails_stops_the_bench_and_is_named_with_its_time(engine: Engine) -> None:
    def broken() -> None:
        raise ZeroDivisionError("no such tooth")

    engine.later("gearbox", 1_050_000, 2, broken)
    with pytest.raises(BenchError) as caught:
        engine.run_until(1_100_000)
    assert caught.value.what == "gearbox failed: ZeroDivisionError: no such tooth"
    assert caught.value.where == "bench time 1.05 s"
    assert isinstance(caught.value.__cause__, ZeroDivisionError)
    with pytest.raises(BenchError, match="this bench has stopped: gearbox failed"):
        engine.run_until(1_200_000)
    assert engine.clock.now_us == 1_050_000


def test_a_network_without_an_answer_stops_it_too(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_answer(key: int) -> None:
        raise CircuitError("V1 and V2 chatter", where="V1, V2", try_this="turn one round", code="circuit-unsettled")

    engine.run_until(1_020_000)
    monkeypatch.setattr(engine.net.solver, "solve", no_answer)
    with pytest.raises(BenchError, match="press failed: V1 and V2 chatter"):
        engine.act(partial(engine.place, "S2", "pressed"), "press")


def test_parts_that_cut_their_own_supply_are_named(small) -> None:
    """Something that undoes itself at once: off means on, on means off, at one instant."""
    engine = small.up(small.engine())
    calls = []

    def contrary(reading: object) -> None:
        calls.append(1)
        engine.move("S2", "pressed" if engine.states["S2"] == "released" else "released")

    engine._at_once = contrary  # type: ignore[method-assign]
    with pytest.raises(BenchError, match="the board does not settle: S2 keep changing at one instant"):
        engine.act(partial(engine.move, "S1", "pressed"), "press")
    assert len(calls) == 40


def test_stop_drops_the_output_and_run_begins_anew(engine: Engine) -> None:
    press(engine, "S2", 1_020_000, 30_000)
    engine.run_until(1_200_000)
    engine.act(partial(engine.set_switch, False), "stop")
    engine.run_until(1_200_101)  # the output delay
    assert engine.states["A1.Q1"] == "off"
    assert not engine.scan.running
    engine.run_until(1_300_000)
    engine.act(partial(engine.set_switch, True), "run")
    engine.run_until(1_400_000)
    assert engine.scan.running
    assert engine.states["A1.Q1"] == "off"

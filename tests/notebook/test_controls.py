"""Selector, key switch, emergency stop, sensor, lamp and pace bar, each worked as a page would."""

from __future__ import annotations

import pytest

from labkit.base import s
from labkit.notebook import EmergencyStop, HoldButton, KeySwitch, Lamp, PaceBar, Selector, SensorSlider


def test_a_selector_stays_where_it_is_turned_to(bench, live, page_of):
    selector = Selector("S4", "Crusher", ("left", "centre", "right"), bench=bench)
    assert selector.state == "centre"
    page_of(selector).send("turn", to="right")
    assert bench.state("S4") == "right"
    assert selector.state == "right"


def test_a_selector_knows_its_positions(bench, live, page_of):
    selector = Selector("S3", "", bench=bench)
    page_of(selector).send("turn", to="sideways")
    assert bench.state("S3") == "left"
    assert "no position 'sideways'" in selector.said
    page_of(selector, "again").send("turn", to="right")
    assert selector.said == ""


def test_a_selector_without_a_bench_can_be_observed(page_of):
    selector, seen = Selector("S3", states=("hand", "auto")), []
    selector.observe(lambda change: seen.append(change.new), "state")
    page_of(selector).send("turn", to="auto")
    assert seen == ["auto"]


def test_a_key_comes_out_in_the_off_position_only(bench, live, page_of):
    switch = KeySwitch("S5", "Service", bench=bench)
    page = page_of(switch)
    page.send("key", on=True)
    assert switch.on
    page.send("insert", inserted=False)
    assert switch.inserted
    assert "off position only" in switch.said
    page.send("key", on=False)
    page.send("insert", inserted=False)
    assert not switch.inserted
    page.send("key", on=True)
    assert not switch.on
    assert "no key" in switch.said


def test_an_emergency_stop_latches_and_is_turned_free(bench, live, page_of):
    stop = EmergencyStop("S0", bench=bench)
    page = page_of(stop)
    page.send("press")
    page.send("press")
    assert stop.latched
    assert bench.state("S0") == "pressed"
    page.send("turn")
    assert not stop.latched
    assert [to for _, part, to in bench.done if part == "S0"] == ["pressed", "released"]


def test_a_hand_in_the_beam_and_metal_coming_near(bench, live, page_of):
    eye, near = SensorSlider("B1", bench=bench), SensorSlider("B2", senses="metal", most_mm=20, bench=bench)
    page_of(eye).send("beam", blocked=True)
    assert eye.blocked
    assert eye.on
    page = page_of(near)
    page.send("metal", mm=7.5, metal="brass")
    assert (near.mm, near.metal, near.on) == (7.5, "brass", True)
    assert near.in_words() == "B2, brass at 7.5 mm, its lamp lit"
    page.send("metal", mm=20)
    assert not near.on
    assert "no metal near" in near.in_words()


def test_the_pace_bar_pauses_slows_and_starts(bench, live, page_of):
    bar = PaceBar(bench)
    page = page_of(bar)
    live(1.0)
    assert bar.pace == "live"
    assert bench.now_us == pytest.approx(1_000_000, abs=1000)
    page.send("pause")
    live(1.0)
    assert bar.pace == "paused"
    assert bench.now_us == pytest.approx(1_000_000, abs=1000)
    page.send("speed", speed=0.1)
    assert bar.speed == 0.1
    live.hub._anchor()
    live(1.0)
    assert bench.now_us == pytest.approx(1_100_000, abs=1000)


@pytest.mark.parametrize("speed", [0, -1, 2, "fast"])
def test_a_speed_that_cannot_be_paced_is_refused(bench, live, page_of, speed):
    bar = PaceBar(bench)
    page_of(bar).send("speed", speed=speed)
    assert bar.speed == 1.0
    assert bar.said


def test_lost_time_is_told_and_not_caught_up(bench, live, wall):
    bar = PaceBar(bench)
    wall.now += 4.0
    live.hub.tick()
    assert bench.now_us == 0
    assert bar.late_ms == 4000
    live(0.1)
    assert bench.now_us == pytest.approx(100_000, abs=1000)


def test_time_that_a_cell_moved_is_not_waited_for(bench, live):
    live(0.1)
    bench.wait(s(5))
    live(0.1)
    assert bench.now_us == pytest.approx(5_200_000, abs=5_000)


def test_a_bench_that_fails_stops_and_says_so(bench, live):
    bar = PaceBar(bench)

    def breaks(_length):
        raise ZeroDivisionError("two parts disagree")

    bench.wait_until = breaks
    with pytest.raises(ZeroDivisionError):
        live(0.01)
    live.hub.refresh()
    assert bar.pace == "failed"
    assert "two parts disagree" in bar.said


def test_two_benches_in_one_kernel_do_not_disturb_each_other(bench, live, page_of):
    other = type(bench)()
    mine, theirs = HoldButton("S2", bench=bench), HoldButton("S2", bench=other)
    page_of(mine).send("press")
    live(0.2)
    assert bench.bit("K1")
    assert not theirs.down
    assert other.now_us == 0
    assert not other.done


@pytest.mark.parametrize(
    "widget",
    [
        HoldButton("S2", "Start"),
        Selector("S3", "Hand - Auto"),
        KeySwitch("S5", "Service"),
        EmergencyStop("S0"),
        SensorSlider("B1", "Crate"),
        SensorSlider("B2", "Gate", senses="metal", mm=5.0),
        Lamp("P1", "Run", lit=True, colour="green"),
        Lamp("P9", "Starting", kind="horn"),
    ],
    ids=lambda widget: type(widget).__name__,
)
def test_every_still_picture_is_a_whole_svg_without_script(widget):
    import xml.etree.ElementTree as ET

    tree = ET.fromstring(widget.svg())
    assert tree.tag == "{http://www.w3.org/2000/svg}svg"
    assert float(tree.get("width")) > 50
    assert not any("script" in element.tag for element in tree.iter())
    assert "0x" not in repr(widget)

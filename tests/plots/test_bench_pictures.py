"""The drawings on a real bench: a real record, a real walk, the board as it stands."""

from __future__ import annotations

import pytest

from labkit.base import ms, s
from labkit.bench import Bench
from labkit.logic import layout, read_ladder, walker
from labkit.plots import as_it_stands, bench_svg, draw_bench, input_bands, ladder_sheet, timing_sheet

SEAL = """
(* K1 holds itself *)
|   S1        S2                K1   |
|--| |---+---| |---+-----------( )---|
|        |  K1_A   |                 |
|        +---| |---+                 |
"""


@pytest.fixture(scope="module")
def bench() -> Bench:
    bench = Bench("orchard")
    bench.power_up()
    bench.load(read_ladder(SEAL, name="hold"))
    bench.run()
    bench.wait(s(1))
    return bench


@pytest.fixture(scope="module")
def trace(bench):
    with bench.record() as trace:
        bench.wait(ms(13))
        bench.press("S2", ms(45))
        bench.wait(ms(120))
    return trace


def test_a_record_of_the_bench_is_drawn_without_overlap(trace):
    sheet = timing_sheet(trace)
    assert sheet.check() == []
    assert "S2 pressed" in [t.text for t in sheet.texts("label")]


def test_scans_are_numbered_from_the_start_of_the_record_in_any_window(trace):
    whole = timing_sheet(trace, ["K1"])
    part = timing_sheet(trace, ["K1"], span=(trace.start_us + 50_000, trace.end_us))
    numbers = [[t.text for t in x.groups()["scans"].shapes if getattr(t, "role", "") == "tick"] for x in (whole, part)]
    assert numbers[0][:2] == ["1", "2"]
    assert numbers[1][0] == "6"


def test_the_trace_draws_itself_once_the_room_is_imported(trace):
    assert trace.timing(["S2", "K1"]).get_xlim()[0] < trace.start_us / 1000


def test_every_input_has_the_band_of_its_type(bench):
    # IEC 61131-2, 24 V DC type 3: off up to 5 V, on from 11 V
    bands = input_bands(bench.engine.net.electrical)
    assert len(bands) == 12
    assert set(bands.values()) == {(5.0, 11.0)}


def test_the_board_shows_the_bench_as_it_stands(bench, trace):
    shown = as_it_stands(bench)
    assert shown["states"]["K1"] == "closed"
    assert shown["states"]["A1"] == "run"
    assert {"I1", "I10", "Q1"} <= set(shown["leds"])
    assert "K1:A1" in shown["live"]
    assert "K1:A2" not in shown["live"]
    before = bench.now_us, bench.states()
    text = bench_svg(bench, follow=["211"])
    assert (bench.now_us, bench.states()) == before
    assert "K1: " in text
    assert draw_bench(bench).texts


def test_a_walk_of_the_laid_out_program_fits_its_drawing():
    plan = layout(read_ladder(SEAL, name="hold"))
    flow = walker(plan.program).scan({"S1": True, "S2": False, "K1_A": True}, 0)
    sheet = ladder_sheet(plan, flow)
    assert sheet.check() == []
    marks = [
        name
        for name, g in sheet.groups().items()
        if name.startswith("element:") and any(x.role == "live-mark" for x in g.shapes)
    ]
    stopped = {sheet.groups()[m].about for m in marks}
    assert any("S2 lets no power through" in about for about in stopped)
    assert any(about.startswith("coil K1, power") for about in stopped)

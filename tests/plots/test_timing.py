"""Timing diagrams, read as shapes."""

from __future__ import annotations

import pytest

from labkit.base import ms, s
from labkit.plots import DrawingError, Line, Polyline, Rect, Sheet, timing, timing_sheet, timing_svg


def row(sheet: Sheet, name: str):
    return sheet.groups()[f"signal:{name}"]


def of_role(shapes, *roles):
    return [x for x in shapes if getattr(x, "role", "") in roles]


def milliseconds(sheet: Sheet, x: float) -> float:
    assert sheet.frame.unit == "ms"
    return sheet.frame.origin + x * sheet.frame.per_unit


def test_edges_stand_at_the_moments_of_the_changes(record):
    sheet = timing_sheet(record, ["K1"])
    edges = of_role(row(sheet, "bit:K1").shapes, "edge")
    assert [round(milliseconds(sheet, e.x1), 6) for e in edges] == [30.2, 150.2]
    assert all(e.y2 - e.y1 > 15 for e in edges)


def test_on_is_told_by_weight_and_height_not_only_by_colour(record):
    from labkit.plots.theme import style_of

    shapes = row(timing_sheet(record, ["K1"]), "bit:K1").shapes
    (high,) = of_role(shapes, "high")
    low, _ = of_role(shapes, "low")
    assert high.y1 < low.y1 - 15
    assert style_of("high").width >= 1.5 * style_of("low").width
    assert [a.width for a in of_role(shapes, "area")] == [pytest.approx(high.x2 - high.x1)]


def test_a_bare_name_means_the_bit_then_the_device(record):
    sheet = timing_sheet(record, ["K1", "coil:K1", "M1"])
    assert [n for n in sheet.groups() if n.startswith("signal:")] == [
        "signal:bit:K1",
        "signal:coil:K1",
        "signal:motor:M1",
    ]
    del record.signals["bit:S2"]
    assert "signal:pos:S2" in timing_sheet(record, ["S2"]).groups()


def test_without_names_every_signal_that_changed_is_drawn_in_the_order_of_the_press(record):
    names = [n.removeprefix("signal:") for n in timing_sheet(record).groups() if n.startswith("signal:")]
    assert names[0] == "pos:S2"
    assert "mode:A1" not in names
    assert names.index("volts:I2") < names.index("in:I2") < names.index("bit:S2") < names.index("coil:K1")


def test_many_changed_signals_are_cut_to_sixteen_and_the_rest_is_told(record, make):
    for i in range(30):
        record.signals[f"bit:M{i:02}"] = make.Signal("", "bool", [(0, False), (i * 1000 + 500, True)])
    sheet = timing_sheet(record)
    assert len([n for n in sheet.groups() if n.startswith("signal:")]) == 16
    assert any("more signals changed" in note for note in sheet.notes)


def test_a_position_with_two_states_is_a_step_line_with_its_words(record):
    shapes = row(timing_sheet(record, ["pos:S2"]), "pos:S2").shapes
    assert [t.text for t in of_role(shapes, "tick")] == ["released", "pressed", "released"]
    assert len(of_role(shapes, "edge")) == 2


def test_a_position_with_three_states_is_boxes_with_names(record, make):
    record.signals["pos:S4"] = make.Signal("", "state", [(0, "left"), (50_000, "centre"), (150_000, "right")])
    shapes = row(timing_sheet(record, ["pos:S4"]), "pos:S4").shapes
    assert [b.role for b in of_role(shapes, "state", "state-odd")] == ["state", "state-odd", "state"]
    assert {"left", "centre", "right"} <= {t.text for t in of_role(shapes, "label")}


def test_the_threshold_band_lies_between_its_limits(record):
    # IEC 61131-2, type 3 at 24 V DC: off up to 5 V, on from 11 V
    sheet = timing_sheet(record, ["volts:I2"], bands={"volts:I2": (5, 11)})
    shapes = row(sheet, "volts:I2").shapes
    (band,) = of_role(shapes, "band")
    (line,) = [p for p in shapes if isinstance(p, Polyline)]
    ys = sorted({y for _, y in line.points})
    per_volt = (ys[1] - ys[0]) / 23.8
    assert band.height == pytest.approx(6 * per_volt)
    assert ys[1] - (band.y + band.height) == pytest.approx(5 * per_volt)
    assert {"on ≥ 11 V", "off ≤ 5 V"} <= {t.text for t in sheet.texts("tick")}


def test_a_run_up_in_fine_steps_is_a_line_and_a_flutter_is_a_hatched_stretch(record, make):
    ramp = [(0, 0.0), *((60_000 + i * 100, i / 20) for i in range(1, 21))]
    record.signals["motor:M1"] = make.Signal("motor:M1", "level", ramp)
    flutter = [(0, 0.0), *((60_000 + i * 100, float(i % 2)) for i in range(1, 21))]
    record.signals["motor:M2"] = make.Signal("motor:M2", "level", flutter)
    sheet = timing_sheet(record, ["M1", "M2"])
    assert not of_role(row(sheet, "motor:M1").shapes, "busy")
    assert len(of_role(row(sheet, "motor:M2").shapes, "busy")) == 1


def test_what_was_done_and_the_marks_stand_at_their_moments(record):
    sheet = timing_sheet(record, ["K1"], marks=[(ms(60), "read here"), (68_000, "S2 opens")])
    at = [round(milliseconds(sheet, e.x1), 6) for e in of_role(sheet.walk(), "event")]
    assert at == [23, 140]
    assert [round(milliseconds(sheet, m.x1), 6) for m in of_role(sheet.walk(), "mark")] == [60, 68]
    words = [t.text for t in sheet.texts("label", "mark-label")]
    assert {"S2 pressed", "S1 pressed", "read here", "S2 opens"} <= set(words)


def test_zero_moves_the_axis_and_the_durations_but_not_the_clock(record):
    sheet = timing_sheet(record, ["K1"], zero=ms(23), span=(ms(0), ms(60)), marks=[(ms(45), "a"), (68_000, "b")])
    marks = of_role(sheet.walk(), "mark")
    assert [round(milliseconds(sheet, m.x1), 6) for m in marks] == [45, 45]


def test_wide_scans_show_each_phase_with_its_letter(record):
    sheet = timing_sheet(record, ["K1"], span=(ms(29.8), ms(31)))
    shapes = sheet.groups()["scans"].shapes
    read, solve, write = (of_role(shapes, kind)[0] for kind in ("read", "solve", "write"))
    assert read.x + read.width == pytest.approx(solve.x)
    assert solve.x + solve.width == pytest.approx(write.x)
    assert round(milliseconds(sheet, read.x), 6) == 30.0
    assert [t.text for t in shapes if getattr(t, "bold", False)] == ["R", "S", "W"]


def test_the_phases_differ_without_any_colour(record, make):
    record.scans = make.scans(1, 2_000, (400, 400, 400, 400))
    record.end_us = 2_000
    shapes = timing_sheet(record, ["K1"]).groups()["scans"].shapes
    boxes = {kind: of_role(shapes, kind)[0] for kind in ("read", "solve", "write", "service")}
    hatches = {h.x: h.kind for h in of_role(shapes, "hatch")}
    looks = {(round(b.height), hatches.get(b.x), b.role == "solve") for b in boxes.values()}
    assert len(looks) == 4


def test_narrower_scans_are_a_block_each_with_a_number(record):
    shapes = timing_sheet(record, ["K1"]).groups()["scans"].shapes
    assert len([r for r in shapes if isinstance(r, Rect)]) == 20
    assert [t.text for t in of_role(shapes, "tick")][:3] == ["1", "2", "3"]


def test_three_thousand_scans_become_a_band_that_says_so(record, make):
    record.scans, record.end_us = make.scans(3000), 30_000_000
    sheet = timing_sheet(record, ["K1"])
    shapes = sheet.groups()["scans"].shapes
    assert any(getattr(t, "text", "") == "3 000 scans of 10 ms" for t in shapes)
    assert len(list(sheet.walk())) < 400
    assert sheet.check() == []


def test_changes_too_fast_to_draw_become_a_hatched_stretch_and_a_note(record, make):
    record.signals["bit:CLOCK"] = make.Signal("", "bool", [(i * 20, bool(i % 2)) for i in range(10_000)])
    sheet = timing_sheet(record, ["CLOCK"])
    shapes = row(sheet, "bit:CLOCK").shapes
    assert len(of_role(shapes, "busy")) == 1
    assert len(shapes) < 10
    assert any("faster" in note for note in sheet.notes)


def test_one_short_pulse_is_still_seen(record, make):
    record.signals["bit:P"] = make.Signal("", "bool", [(0, False), (100_000, True), (100_010, False)])
    edges = of_role(row(timing_sheet(record, ["P"]), "bit:P").shapes, "edge")
    assert len(edges) == 2


CROWDS = {
    "as it is": {},
    "marks at both ends": {"marks": [(ms(0), "the very beginning of it all"), (ms(200), "the very end of it all")]},
    "marks on one moment": {"marks": [(ms(60), f"reason {i}") for i in range(6)]},
    "narrow": {"width": 420.0},
    "two milliseconds": {"span": (ms(29), ms(31))},
    "fifty microseconds": {"span": (30_000, 30_050)},
    "long title": {"title": "What K1 does when S2 is pressed for 45 ms and the auxiliary block is on " * 2},
}


@pytest.mark.parametrize("options", CROWDS.values(), ids=CROWDS)
def test_nothing_overlaps_and_nothing_is_cut_off(record, make, options):
    record.signals["bit:CONVEYOR_JAM_CLEARED_BY_OPERATOR_AT_STATION_3"] = make.Signal(
        "", "bool", [(0, False), (9_000, True)]
    )
    record.signals["bit:Förderband_läuft_✓"] = make.Signal("", "bool", [(0, False), (9_000, True)])
    record.events += [make.Done(60_000 + 700 * i, "turn", {"part": "S4", "to": "left"}) for i in range(25)]
    sheet = timing_sheet(record, bands={"volts:I2": (5, 11)}, **options)
    assert sheet.check() == []


def test_events_without_room_are_counted_and_keep_their_ticks(record, make):
    record.events = [make.Done(1_000 * i, "press", {"part": "S2"}) for i in range(1, 60)]
    sheet = timing_sheet(record, ["K1"])
    named = len([t for t in sheet.texts("label") if t.text == "S2 pressed"])
    assert len(of_role(sheet.walk(), "event")) == 59
    assert f"{59 - named} more things were done" in " ".join(sheet.notes)


def test_the_svg_is_the_same_each_time_and_says_the_story_in_words(record):
    one = timing_svg(record, ["pos:S2", "K1"], marks=[(ms(60), "seal")])
    assert one == timing_svg(record, ["pos:S2", "K1"], marks=[(ms(60), "seal")])
    assert "bit:K1: starts off, on at 30.2 ms, off at 150.2 ms." in one
    assert "Done: S2 pressed at 23 ms; S1 pressed at 140 ms." in one


def test_the_axes_count_in_the_printed_unit(record):
    ax = timing(record, ["K1"])
    low, high = ax.get_xlim()
    assert low < 0 < 200 < high
    at = {label.get_text(): label.get_position()[0] for label in ax.texts}
    assert at["100"] == pytest.approx(100)


def test_a_given_axes_is_used_and_given_back(record):
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9, 4))
    ax = figure.add_subplot()
    assert timing(record, ["K1"], ax=ax) is ax
    assert figure.axes == [ax]


def test_no_pyplot_is_needed():
    import subprocess
    import sys

    code = "import sys, labkit.plots; print(any(m in sys.modules for m in ('matplotlib', 'matplotlib.pyplot')))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "False\n"


WRONG = {
    "unknown signal": (lambda r: timing_sheet(r, ["K1_B"]), "the record has no signal 'K1_B'", "Did you mean K1_A?"),
    "unknown layer": (lambda r: timing_sheet(r, ["col:K1"]), "no signal 'col:K1'", "Did you mean coil:K1?"),
    "empty span": (lambda r: timing_sheet(r, span=(ms(5), ms(5))), "not after its start", "earlier moment first"),
    "span of one": (lambda r: timing_sheet(r, span=ms(5)), "span takes two moments", "span=("),
    "bare number": (lambda r: timing_sheet(r, marks=[(0.5, "x")]), "a moment is a duration", "ms(40)"),
    "too narrow": (lambda r: timing_sheet(r, width=40), "at least 420", "420 or more"),
    "ax is a figure": (
        lambda r: timing(r, ax=__import__("matplotlib.figure").figure.Figure()),
        "got a Figure",
        "give one",
    ),
    "ax is a list": (lambda r: timing(r, ax=[1, 2]), "got 2 of them in a list", "give one"),
}


@pytest.mark.parametrize(("call", "what", "cure"), WRONG.values(), ids=WRONG)
def test_a_slip_is_named_with_its_cure(record, call, what, cure):
    with pytest.raises(DrawingError) as caught:
        call(record)
    assert what in caught.value.what
    assert cure in caught.value.try_this
    assert caught.value.code.startswith("drawing-")


def test_an_unknown_option_fails(record):
    with pytest.raises(TypeError, match="colour"):
        timing(record, colour="red")


def test_a_record_without_scans_says_so(record):
    record.scans = []
    assert any(t.text == "no scan in this time" for t in timing_sheet(record, ["K1"]).texts())
    assert "scans" not in timing_sheet(record, ["K1"], scans=False).groups()


def test_seconds_take_over_from_five_on(record):
    record.end_us = 8_000_000
    sheet = timing_sheet(record, ["K1"], marks=[(s(4), "half")])
    assert sheet.frame.unit == "s"
    (mark,) = of_role(sheet.walk(), "mark")
    assert isinstance(mark, Line)
    assert sheet.frame.origin + mark.x1 * sheet.frame.per_unit == pytest.approx(4)

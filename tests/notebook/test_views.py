"""Board, ladder, meter and rolling trace on the real bench, worked as a page would, without a browser."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from labkit.base import LabkitError, ms, s
from labkit.bench import Bench
from labkit.faults import fault, put_in
from labkit.notebook import (
    BenchView,
    HoldButton,
    KeySwitch,
    LadderView,
    Lamp,
    LiveTrace,
    MeterView,
    button,
    console,
    lamp,
    panel,
    selector,
    sensor,
)

SEAL_IN = "K1 := S1 AND (S2 OR K1_A); P1 := K1_A; P2 := NOT K1_A;"


@pytest.fixture
def bench():
    made = Bench("orchard")
    made.power_up()
    made.load(SEAL_IN)
    made.wait(ms(50))
    return made


def sent_by(widget):
    sent = []
    widget.send = lambda message, *_: sent.append(message)
    return sent


# short forms -------------------------------------------------------------------------------------
def test_short_forms_give_the_widget_that_fits_the_part(bench):
    stop, start = button(bench, "S1"), button(bench, "S2")
    assert (stop.contact, start.contact) == ("NC", "NO")
    assert isinstance(start, HoldButton)
    assert repr(button(bench, "S0")) == "EmergencyStop(S0 Emergency stop, released)"
    assert selector(bench, "S4").states == ["left", "centre", "right"]
    assert isinstance(selector(bench, "S5"), KeySwitch)
    assert lamp(bench, "P2").lit
    assert lamp(bench, "P9").kind == "horn"
    assert sensor(bench, "B2").senses == "metal"


@pytest.mark.parametrize(
    ("make", "part"), [(button, "P1"), (lamp, "S2"), (selector, "S2"), (sensor, "K1"), (button, "S99")]
)
def test_a_part_of_another_kind_is_refused_with_what_there_is(bench, make, part):
    with pytest.raises(LabkitError) as refused:
        make(bench, part)
    assert refused.value.try_this


def test_a_panel_has_every_lamp_button_switch_and_sensor(bench):
    shown = repr(panel(bench).children)
    for part in ("P1", "P9", "S0", "S1", "S2", "S6", "S3", "S4", "S5", "B1", "B2"):
        assert f"({part} " in shown
    bundle = panel(bench)._repr_mimebundle_()[0]
    assert bundle["text/plain"] == "Panel(orchard)"
    assert "P2 Pump stopped, lit" in bundle["text/html"]


# the board ---------------------------------------------------------------------------------------
def test_the_page_is_sent_only_the_pieces_that_changed(bench, page_of):
    view = BenchView(bench)
    sent = sent_by(view)
    page_of(view).send("press", part="S2")
    assert set(sent[-1]["new"]) == {"part:S2", "part:A1", "wire:102"}
    assert sent[-1]["gone"] == []
    count = len(sent)
    view.refresh()
    assert len(sent) == count


def test_pieces_put_together_are_the_whole_picture(bench, page_of):
    """A page that swapped every piece shows the same as one that came up just now."""
    view = BenchView(bench)
    sent = sent_by(view)
    shown = dict(view._shown)
    page = page_of(view)
    page.send("press", part="S2")
    bench.wait(ms(100))
    view.refresh()
    page.send("move", part="K1.aux", to="off")
    bench.wait(ms(100))
    view.refresh()
    for message in sent:
        shown |= message["new"]
        for gone in message["gone"]:
            del shown[gone]
    fresh = BenchView(bench)
    fresh.refresh()
    assert shown == fresh._shown


@pytest.mark.parametrize(
    ("part", "to", "back"),
    [
        ("S0", "pressed", "released"),
        ("S3", "right", "left"),
        ("S5", "on", "off"),
        ("G1", "off", "on"),
        ("F4", "off", "on"),
        ("F3", "tripped", "healthy"),
    ],
)
def test_parts_are_moved_in_their_places(bench, page_of, part, to, back):
    view = BenchView(bench)
    page = page_of(view)
    page.send("move", part=part, to=to)
    assert bench.state(part) == to
    assert view.states[part] == to
    page.send("move", part=part, to=back)
    assert bench.state(part) == back


def test_run_and_stop_the_block_and_the_sensors(bench, page_of):
    view = BenchView(bench)
    page = page_of(view)
    page.send("move", part="A1", to="stop")
    assert bench.mode == "stop"
    page.send("move", part="K1.aux", to="off")
    assert view.states["K1.aux"] == "pulled off"
    page.send("move", part="B2", to="there")
    bench.wait(ms(50))
    assert bench.state("B2") == "on"
    page.send("move", part="B1", to="there")
    bench.wait(ms(50))
    assert bench.state("B1") == "off"


@pytest.mark.parametrize("part", ["P1", "M1", "X1", "nobody"])
def test_what_no_hand_moves_is_refused_with_a_sentence(bench, page_of, part):
    view = BenchView(bench)
    page_of(view).send("move", part=part, to="on")
    assert view.said


def test_fault_finding_does_not_show_what_is_live(bench):
    shown, hidden = BenchView(bench).svg(), BenchView(bench, live=False).svg()
    assert 'class="wire-live"' in shown
    assert 'class="wire-live"' not in hidden


def test_a_board_with_a_fault_in_it_does_not_show_what_is_live(bench):
    put_in(bench, fault(bench.board, "I1-dead"))
    assert 'class="wire-live"' not in BenchView(bench).svg()
    assert 'class="wire-live"' in BenchView(bench, live=True).svg()


def test_terminals_lie_on_their_parts(bench):
    view = BenchView(bench)
    tree = ET.fromstring(view.svg())
    svg = "{http://www.w3.org/2000/svg}"
    for part, what in view.parts.items():
        group = next(g for g in tree.iter(svg + "g") if g.get("data-of") == f"part:{part}")
        outline = group.find(svg + "rect")
        left, top = float(outline.get("x")), float(outline.get("y"))
        right, bottom = left + float(outline.get("width")), top + float(outline.get("height"))
        for terminal in what["terminals"]:
            x, y = view.terminals[terminal]
            assert left - 0.5 <= x <= right + 0.5, terminal
            assert min(abs(y - top), abs(y - bottom)) < 1, terminal


# wires -------------------------------------------------------------------------------------------
def test_a_wire_is_lifted_landed_and_taken_back(bench, page_of):
    view = BenchView(bench)
    page = page_of(view)
    page.send("wire", a="S2:14", b="A1:I2")
    assert "102" not in [wire.no for wire in bench.wiring]
    assert view.did == "wire 102 lifted"
    page.send("wire", a="A1:I2", b="S2:14")
    assert "102" in [wire.no for wire in bench.wiring]
    page.send("undo")
    assert "102" not in [wire.no for wire in bench.wiring]
    page.send("undo")
    assert "102" in [wire.no for wire in bench.wiring]
    page.send("undo")
    assert "nothing to take back" in view.said


def test_a_bridge_is_clipped_on_and_off(bench, page_of):
    view, other = BenchView(bench), BenchView(bench)
    page = page_of(view)
    page.send("bridge", a="S2:13", b="S2:14")
    bench.wait(ms(50))
    assert bench.bit("S2")
    assert other.bridges == [["S2:13", "S2:14"]]
    page.send("bridge", a="S2:14", b="S2:13")
    bench.wait(ms(50))
    assert not bench.bit("S2")
    page.send("bridge", a="S2:13", b="S9:99")
    assert view.said


def row_of(view, no):
    return next((row for row in view.wires if row[0] == no), None)


NEW = {"a": "X1:24I", "b": "P1:X1", "wire": "77", "colour": "BU", "mm2": 0.75, "m": 0.9}


def test_a_new_wire_is_laid_lifted_landed_and_taken_away(bench, page_of):
    view, other = BenchView(bench), BenchView(bench)
    page = page_of(view)
    assert not bench.lit("P1")
    page.send("new", **NEW)
    assert row_of(view, "77") == ["77", "X1:24I", "P1:X1", "BU", 0.75, 0.9, "landed"]
    assert bench.lit("P1")
    assert bench.log[-1].what == {key: value for key, value in NEW.items() if key != "wire"} | {
        "no": "77",
        "ferrule": True,
    }
    page_of(other, "b").send("lift", wire="77")
    assert row_of(view, "77")[-1] == "lifted"
    assert not bench.lit("P1")
    page.send("wire", a="P1:X1", b="X1:24I")
    assert bench.lit("P1")
    page.send("unwire", wire="77")
    assert row_of(view, "77") is None
    for _ in range(3):
        page.send("undo")
    assert row_of(view, "77")[-1] == "landed"
    page.send("undo")
    assert row_of(view, "77") is None


@pytest.mark.parametrize("lack", [{"wire": ""}, {"colour": ""}, {"mm2": 0}, {"m": 0}, {"b": "P1:X9"}, {"wire": "102"}])
def test_a_wire_with_something_missing_is_not_laid_and_it_is_said_what(bench, page_of, lack):
    view = BenchView(bench)
    before = list(bench.wiring)
    page_of(view).send("new", **NEW | lack)
    assert view.said
    assert list(bench.wiring) == before


def test_a_lifted_wire_that_was_taken_away_comes_back_lifted(bench, page_of):
    view = BenchView(bench)
    page = page_of(view)
    page.send("lift", wire="102")
    page.send("unwire", wire="102")
    page.send("undo")
    assert row_of(view, "102")[-1] == "lifted"


def test_between_terminals_without_a_wire_nothing_is_lifted(bench, page_of):
    view = BenchView(bench)
    page_of(view).send("wire", a="S2:14", b="A1:I5")
    assert "no wire runs between" in view.said


def test_blocks_are_parked_pulled_and_seated_and_taken_back(bench, page_of):
    view = BenchView(bench)
    page = page_of(view)
    assert view.blocks["A1.XI1"] == "seated"
    page.send("block", block="A1.XI1", to="parked")
    bench.wait(ms(50))
    assert view.blocks["A1.XI1"] == "parked"
    assert not bench.bit("S1")  # the stop's contact is closed, but the block's clamps reach nothing
    page.send("block", block="A1.XI1", to="seated", on="A1.XQA")
    assert "A1.XI1" in view.said
    page.send("block", block="A1.XI1", to="seated", on="A1.XI1")
    bench.wait(ms(50))
    assert bench.bit("S1")
    page.send("undo")
    assert bench.block("A1.XI1") == "parked"
    page.send("undo")
    assert bench.block("A1.XI1") == "seated"


def test_a_wires_length_is_guessed_from_the_drawing(bench):
    view = BenchView(bench)
    board = bench.board
    one, other = board.terminals["S1:11"], board.terminals["S2:13"]
    apart = abs(view.terminals["S1:11"][0] - view.terminals["S2:13"][0]) * view.mm_per_unit
    assert apart == pytest.approx(abs(one.x_mm - other.x_mm), abs=0.5)


# the meter ---------------------------------------------------------------------------------------
def test_the_meter_reads_what_the_bench_says(bench, page_of):
    meter = MeterView(bench)
    page = page_of(meter)
    page.send("lead", lead="red", on="X1:24V")
    page.send("lead", lead="black", on="X1:0V")
    assert meter.display_text == bench.meter.volts("X1:24V", "X1:0V").text
    page.send("swap")
    assert meter.display_text == bench.meter.volts("X1:0V", "X1:24V").text
    page.send("note")
    assert meter.entries[0][1:] == ["volts", "X1:0V", "X1:24V", "", meter.display_text]


def test_a_prediction_comes_before_the_reading(bench, page_of):
    meter = MeterView(bench, predict=True)
    page = page_of(meter)
    page.send("lead", lead="red", on="X1:24V")
    page.send("lead", lead="black", on="X1:0V")
    assert meter.display_text == "----"
    page.send("note")
    assert not meter.entries
    page.send("predict", text="24 V")
    assert meter.display_text.endswith("V")
    page.send("note")
    assert meter.entries[0][4] == "24 V"
    page.send("lead", lead="red", on="K1:A1")
    assert meter.predicted == ""


def test_the_clamp_goes_around_a_wire_and_falls_off_with_it(bench, page_of):
    meter = MeterView(bench)
    page = page_of(meter)
    page.send("mode", mode="amps")
    assert meter.display_text == "----"
    page.send("clamp", on="203")  # to the lamp P2, which is lit
    assert meter.display_text == bench.meter.peek("amps", "203").text
    assert abs(bench.meter.peek("amps", "203")) > 0.005
    page.send("note")
    assert bench.log[-1].what["wire"] == "203"
    assert meter.entries[-1][2:4] == ["wire 203", ""]
    page.send("clamp", on="9999")
    assert meter.said
    assert meter.wire == "203"
    bench.lift("203")
    meter.refresh()
    assert (meter.wire, meter.display_text) == ("", "----")


def test_the_diode_range_reads_one_way_only(bench, page_of):
    """A diode's forward drop at 1 mA is 0.5 to 0.7 V, backwards it is open (common practice, no source)."""
    bench.power(False)
    bench.lift("211")
    meter = MeterView(bench)
    page = page_of(meter)
    page.send("mode", mode="diode")
    for red, black in (("A1:24V", "A1:0V"), ("A1:0V", "A1:24V")):
        page.send("lead", lead="red", on=red)
        page.send("lead", lead="black", on=black)
        assert meter.display_text == bench.meter.peek("diode", red, black).text


def test_ohms_on_a_live_circuit_warns(bench, page_of):
    meter = MeterView(bench)
    page = page_of(meter)
    page.send("lead", lead="red", on="X1:24V")
    page.send("lead", lead="black", on="X1:0V")
    page.send("mode", mode="ohms")
    assert "live" in meter.warning


def test_leads_placed_on_the_board_are_the_meters(bench, page_of):
    view, meter = BenchView(bench), MeterView(bench)
    page_of(view).send("lead", lead="red", on="K1:A1")
    assert meter.red == "K1:A1"
    page_of(view, "b").send("lead", lead="red", on="K1:A7")
    assert "K1:A7" in view.said
    assert meter.red == "K1:A1"


# the ladder --------------------------------------------------------------------------------------
def test_a_walked_scan_tells_read_solve_and_write_in_order(bench, page_of):
    view = LadderView(bench)
    page = page_of(view)
    bench.press("S2")
    bench.wait(ms(5))
    page.send("scan")
    said = [frame.say for frame in view._frames]
    assert said[0].startswith("The scan begins")
    assert said[1].startswith("Read")
    assert [line.split(":")[0] for line in said[2:-1]] == ["Solve rung 1", "Solve rung 2", "Solve rung 3"]
    assert "K1 = 1" in said[2]
    assert said[-1].startswith("Write")
    assert "K1 = 1" in said[-1]
    page.send("frame", to=2)
    assert (view.at, view.rung) == (2, 1)
    page.send("frame", to=1)
    assert ["output", "K1", 0, False] in view.rows
    page.send("frame", to=999)
    assert view.at == view.moments - 1


def test_without_scans_there_is_nothing_to_walk(page_of):
    view = LadderView(Bench("orchard"))
    page_of(view).send("scan")
    assert "makes no scans" in view.said
    assert view.in_words() == "no program is loaded"


# the rolling trace -------------------------------------------------------------------------------
def test_the_rolling_trace_keeps_what_a_recording_would(bench):
    other = Bench("orchard")
    other.power_up()
    other.load(SEAL_IN)
    other.wait(ms(50))
    names = ["pos:S2", "S2", "K1", "coil:K1", "pole:K1", "lit:P1"]
    rolling = LiveTrace(bench, names, window_s=30)
    rolling._pages = 1
    hub = console(bench)
    with other.record() as trace:
        other.press("S2", ms(200))
        other.wait(s(1))
    bench.press("S2", ms(200))
    for _ in range(100):
        hub._move(10_000)
    kept = rolling.as_trace()
    for name in names:
        full = trace.signal(name).name
        changes = trace.signals[full].changes
        mine = [c for c in kept.signals[full].changes if c[0] > rolling._from_us]
        assert mine == [c for c in changes if c[0] > changes[0][0] or c[0] > trace.start_us], name


def test_news_is_sent_in_small_pieces_and_the_past_to_a_new_page(bench, page_of):
    rolling = LiveTrace(bench, ["S2", "K1"])
    sent = sent_by(rolling)
    rolling._pages = 1
    hub = console(bench)
    bench.press("S2")
    for _ in range(10):
        hub._move(20_000)
    changes = [change for message in sent for change in message["changes"]]
    assert [(place, value) for place, _, value in changes] == [(0, True), (1, True)]
    assert len(sent) < 10
    rolling._tell_all()
    assert sent[-1]["kind"] == "past"
    assert [c for c in sent[-1]["changes"] if c[2] is True] == changes


def test_what_the_sheet_shows_is_saved_as_a_value_change_dump(bench, page_of):
    """Read back by pyvcd, a reader that is not ours (IEEE 1364 value change dump)."""
    import io

    from vcd.reader import TokenKind, tokenize

    rolling = LiveTrace(bench, ["pos:S2", "K1"], window_s=2)
    sent = sent_by(rolling)
    rolling._pages = 1
    hub = console(bench)
    begin = bench.now_us
    hub._move(500_000)
    bench.press("S2", ms(100))
    hub._move(500_000)
    page_of(rolling).send("vcd", from_us=begin + 200_000, until_us=bench.now_us)
    (text,) = [message["text"] for message in sent if message["kind"] == "vcd"]
    tokens = list(tokenize(io.BytesIO(text.encode())))
    names = {token.var.id_code: token.var.reference for token in tokens if token.kind is TokenKind.VAR}
    now, rises = 0, {}
    for token in tokens:
        if token.kind is TokenKind.CHANGE_TIME:
            now = token.time_change
        elif token.kind is TokenKind.CHANGE_SCALAR and token.scalar_change.value == "1":
            rises.setdefault(names[token.scalar_change.id_code], now)
    pressed = 300_000  # 0.5 s after `begin`, and the dump starts 0.2 s after it
    assert pressed < rises["K1"] < pressed + 30_000


def test_time_that_code_moved_is_told_as_a_gap(bench):
    rolling = LiveTrace(bench, ["S2"])
    sent = sent_by(rolling)
    rolling._pages = 1
    bench.wait(s(5))
    console(bench)._move(250_000)
    assert [c[0] for c in sent[0]["changes"]] == [-1]


def test_a_signal_that_is_not_there_is_refused(bench):
    with pytest.raises(LabkitError):
        LiveTrace(bench, ["S77"])


def test_watching_changes_nothing(bench):
    other = Bench("orchard")
    other.power_up()
    other.load(SEAL_IN)
    other.wait(ms(50))
    watching = [BenchView(bench), LadderView(bench), LiveTrace(bench, ["S2"]), panel(bench), Lamp("P1", bench=bench)]
    watching[2]._pages = 1
    hub = console(bench)
    for each in (bench, other):
        each.press("S2", ms(120))
    for _ in range(100):
        hub._move(7_300)
        hub.refresh()
    other.wait(ms(730))
    assert bench.states() == other.states()
    assert bench.now_us == other.now_us
    assert [bench.bit(tag.name) for tag in bench.tags] == [other.bit(tag.name) for tag in other.tags]

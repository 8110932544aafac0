"""A reading that is noted in the meter's view goes into the bench's log with its prediction; looking does not."""

from __future__ import annotations

import pytest

from labkit.base import s
from labkit.bench import Bench
from labkit.faults import fault, put_in
from labkit.notebook import MeterView
from labkit.notebook.meter_view import _figure


def test_noted_readings_are_in_the_log_and_glances_are_not(page_of):
    bench = Bench("orchard")
    bench.power_up()
    view = MeterView(bench, predict=True)
    page = page_of(view)
    page.send("lead", lead="red", on="X1:24V")
    page.send("lead", lead="black", on="X1:0V")
    page.send("predict", text="24 V")
    assert view.display_text.endswith(" V")
    assert not [done for done in bench.log if done.do == "read"]
    page.send("note")
    (read,) = [done for done in bench.log if done.do == "read"]
    assert (read.what["shown"], read.what["expect"], read.what["mode"]) == (view.display_text, 24.0, "volts")


def test_a_double_click_notes_a_reading_once_and_a_later_one_is_another(page_of):
    bench = Bench("orchard")
    bench.power_up()
    view = MeterView(bench)
    page = page_of(view)
    page.send("lead", lead="red", on="X1:24V")
    page.send("lead", lead="black", on="X1:0V")
    for _ in range(2):
        page.send("note")
    assert "noted just now" in view.said
    assert len(view.entries) == 1
    bench.wait(s(2))
    page.send("note")
    page.send("swap")
    page.send("note")
    assert [done.do for done in bench.log if done.do == "read"] == ["read"] * 3
    assert len(view.entries) == 3


def test_a_search_that_goes_on_has_its_readings_before_it():
    bench = Bench("orchard")
    put_in(bench, fault(bench.board, "wire-102-open"))
    bench.power_up()
    bench.meter.volts("X1:24V", "X1:0V", expect=24)
    bench.meter.amps(211)
    assert [row[1:5] for row in MeterView(bench, predict=True).entries] == [
        ["volts", "X1:24V", "X1:0V", "24"],
        ["amps", "wire 211", "", ""],
    ]
    assert MeterView(bench).entries == []


@pytest.mark.parametrize(
    ("text", "mode", "figure"),
    [
        ("24 V", "volts", 24.0),
        ("24v", "volts", 24.0),
        ("0,5", "volts", 0.5),
        ("0.3 mV", "volts", 0.0003),
        ("125 mA", "amps", 0.125),
        ("5,45 k\u03a9", "ohms", 5450.0),
        ("dead", "volts", "dead"),
        ("OL", "ohms", "OL"),
        ("", "volts", None),
        ("inf", "volts", "inf"),
    ],
)
def test_a_prediction_is_a_number_where_it_can_be(text: str, mode: str, figure: object) -> None:
    assert _figure(text, mode) == figure

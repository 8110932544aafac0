"""A reading that is noted in the meter's view goes into the bench's log with its prediction; looking does not."""

from __future__ import annotations

import pytest

from labkit.bench import Bench
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


@pytest.mark.parametrize(
    ("text", "figure"), [("24 V", 24.0), ("0,5", 0.5), ("dead", "dead"), ("", None), ("inf", "inf")]
)
def test_a_prediction_is_a_number_where_it_can_be(text: str, figure: object) -> None:
    assert _figure(text) == figure

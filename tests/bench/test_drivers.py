"""A transistor output needs its group's 0 V: its driver hangs between the group's plus and that terminal.

Common practice of sourcing output modules, no one source; what is checked is that the bench does it everywhere alike.
"""

from __future__ import annotations

import pytest

from labkit.base import ms
from labkit.bench import Bench


def _running() -> Bench:
    bench = Bench("orchard")
    bench.power_up()
    bench.load("K1 := S1 AND (S2 OR K1); P2 := TRUE; P4 := TRUE;")
    bench.press("S2", ms(60))
    bench.wait(ms(200))
    return bench


def _at(bench: Bench, terminal: str) -> str:
    """The one wire at a terminal."""
    (wire,) = bench.wiring.at(terminal)
    return wire.no


def test_without_the_0v_of_its_group_an_output_is_dead_though_its_indicator_is_lit() -> None:
    bench = _running()
    assert (bench.state("K1"), bench.lit("P2"), bench.lit("P4")) == ("closed", True, True)
    wire = _at(bench, "A1:QA0")
    bench.lift(wire)
    bench.wait(ms(100))
    assert (bench.state("K1"), bench.lit("P2")) == ("open", False)
    assert (bench.led("Q1"), bench.led("Q3")) == (True, True)
    assert bench.lit("P4")  # the other group has its own
    assert bench.meter.volts("A1:Q3", "X1:0V") == pytest.approx(0, abs=1)
    assert bench.meter.volts("A1:QA+", "X1:0V") == pytest.approx(24, abs=0.5)
    assert bench.meter.volts("A1:QA0", "X1:0V") > 20  # drifted up through the drivers
    bench.land(wire)
    bench.wait(ms(100))
    assert (bench.state("K1"), bench.lit("P2")) == ("closed", True)


def test_meter_and_trace_tell_the_same_story() -> None:
    bench = _running()
    with bench.record(["volts:Q3", "out:Q3"]) as trace:
        bench.lift(_at(bench, "A1:QA0"))
        bench.wait(ms(50))
    assert trace["out:Q3"].changes == [(trace.start_us, True)]
    assert float(trace["volts:Q3"].changes[-1][1]) < 1
    assert bench.engine.now_reading().key != bench.engine.key


def test_a_short_on_an_output_is_a_matter_of_the_supply_not_of_its_driver() -> None:
    """The supply goes into its limit (2.5 A) and the output stays on: it is not taken for a missing 0 V."""
    bench = _running()
    bench.load("P2 := TRUE;")
    bench.wait(ms(100))
    asked = bench.engine.key
    bench.join("A1:Q3", "X1:0V")
    reading = bench.engine.net.reading(asked)
    assert reading.key == asked
    assert reading.solution.volt("A1:QA+", "A1:QA0") < 10

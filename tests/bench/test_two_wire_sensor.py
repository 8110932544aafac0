"""A two-wire sensor in series with an input: what it leaks, what it keeps, and where the resistor goes."""

from __future__ import annotations

import pytest

from labkit.base import data_path, ms
from labkit.bench import Bench
from labkit.board import BoardFileError, loads_catalogue


@pytest.fixture
def bench() -> Bench:
    """The press board with a controller whose inputs are of type 1: a plain 5 kohm."""
    bench = Bench("orchard-press", family="birch")
    bench.power_up()
    bench.wait(ms(300))
    return bench


def at_input(bench: Bench) -> float:
    return float(bench.meter.peek("volts", "A1:I4", "A1:IC1"))


def test_the_leak_leaves_the_input_between_off_and_on(bench: Bench) -> None:
    """Ohm's law: 1.5 mA through 5 kohm are 7.5 V. IEC 61131-2 type 1: off up to 5 V, on from 15 V (confirmed);
    IEC 60947-5-2 grants a two-wire sensor 1.5 mA when off (from memory).
    """
    assert at_input(bench) == pytest.approx(1.5e-3 * 5000, abs=0.05)
    assert 5 < at_input(bench) < 15


def test_on_it_keeps_its_drop_and_lives_on_it(bench: Bench) -> None:
    """IEC 60947-5-2: at most 8 V (from memory); and it stays on, though less stands at it than before."""
    bench.metal("B3", 1.0)
    bench.wait(ms(300))
    kept = float(bench.meter.peek("volts", "B3:BN", "B3:BU"))
    assert 0 < kept <= 8
    assert at_input(bench) == pytest.approx(24 - kept, abs=0.1)
    assert bench.led("I4")
    bench.wait(ms(2000))
    assert bench.led("I4")


def test_a_resistor_across_the_input_makes_off_certain(bench: Bench) -> None:
    """1.5 mA through 5 and 4.7 kohm side by side: below 5 V; on stays on."""
    bench.joint(bench.wire("A1:I4", "X1:0V"), 4700)
    bench.wait(ms(300))
    assert at_input(bench) == pytest.approx(1.5e-3 * 5000 * 4700 / 9700, abs=0.05)
    bench.metal("B3", 1.0)
    bench.wait(ms(300))
    assert at_input(bench) > 15


def test_a_resistor_across_the_sensor_makes_it_worse(bench: Bench) -> None:
    """The input is on with no metal near. Sensor and resistor feed it side by side: (24 - v)/4700 + 1.5 mA = v/5000."""
    bench.joint(bench.wire("B3:BN", "B3:BU"), 4700)
    bench.wait(ms(300))
    assert at_input(bench) == pytest.approx((24 / 4700 + 1.5e-3) / (1 / 5000 + 1 / 4700), abs=0.1)
    assert bench.led("I4")


def test_a_two_wire_sensor_that_needs_more_than_it_keeps_is_refused() -> None:
    text = data_path("datasets", "parts", "sensors.toml").read_text(encoding="utf-8")
    assert "min_v = 5.0 " in text
    with pytest.raises(BoardFileError, match="lives on its own drop"):
        loads_catalogue(text.replace("min_v = 5.0 ", "min_v = 8.0 "))

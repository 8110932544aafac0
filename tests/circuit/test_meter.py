"""The meter is part of the network.

Its own figures are common practice, no source; the network's are worked by hand.
"""

from __future__ import annotations

import math

import pytest

from labkit.circuit import Circuit, Resistor, Solver, Source, Switch, diode, meter

SUPPLY = Source("G1", "p", "n", 24.0, 0.05, 2.5)
BOND = Resistor("bond", "n", "PE", 0.01)
BOARD = Circuit(
    (
        BOND,
        Switch("S", "p", "a", 0.03),
        Resistor("K1", "a", "n", 192.0),
        diode("V1", "n", "a"),
        Resistor("W", "x", "y", 0.2),
    ),
    "PE",
)
LIVE = BOARD.with_elements(SUPPLY)


def test_volts_load_the_network_with_ten_megohm() -> None:
    """24 V behind 10 Mohm reads half, but for the insulation of 1e-9 S: 24 * 1e-7 / (2e-7 + 1e-9)."""
    circuit = Circuit((Source("G", "p", "0", 24.0, 0.0, 1.0), Resistor("R", "p", "a", 10e6)), "0")
    solver = Solver(circuit)
    reading = meter.volts(solver, 0, "a", "0")
    assert reading.exact == pytest.approx(24 * 1e-7 / 2.01e-7, abs=1e-6)
    assert reading == pytest.approx(11.94)
    assert repr(reading) == "11.94 V"
    assert solver.solve(0).volts["a"] == pytest.approx(24 * 1e-7 / 1.01e-7, abs=1e-6)


def test_a_floating_wire_reads_nothing_and_swapped_probes_read_negative() -> None:
    solver = Solver(LIVE)
    assert meter.volts(solver, 0, "x", "PE") == 0.0
    key = solver.key(["S"])
    assert meter.volts(solver, key, "n", "a") == -meter.volts(solver, key, "a", "n")
    assert meter.volts(solver, key, "a", "n") == pytest.approx(23.99)  # 24 * 192 / 192.08 = 23.990 V


def test_amps_by_clamp() -> None:
    solver = Solver(LIVE)
    reading = meter.amps(solver.solve(solver.key(["S"])), "K1")
    assert reading.exact == pytest.approx(24 / 192.08, abs=1e-7)
    assert repr(reading) == "124.9 mA"


def test_ohms_of_a_coil_a_wire_and_nothing() -> None:
    assert repr(meter.ohms(BOARD, [], "a", "n")) == "192.0 ohm"
    assert meter.ohms(BOARD, [], "x", "y") == pytest.approx(0.2)
    assert meter.ohms(BOARD, [], "p", "n") == math.inf
    assert repr(meter.ohms(BOARD, [], "p", "n")) == "OL"
    assert meter.ohms(BOARD, ["S"], "p", "n") == pytest.approx(192.0)  # 192.03 in steps of 0.1
    assert meter.ohms(BOARD, [], "x", "x") == 0.0
    assert not meter.ohms(BOARD, [], "a", "n").live


@pytest.mark.parametrize(
    ("ohm", "text"),
    [
        (4.7, "4.7 ohm"),
        (470.0, "0.470 kohm"),
        (399.9, "399.9 ohm"),
        (4.7e3, "4.70 kohm"),
        (47e3, "47.0 kohm"),
        (4.7e6, "4.70 Mohm"),
        (39e6, "39.00 Mohm"),
        (41e6, "OL"),
    ],
)
def test_ranges_and_their_digits(ohm: float, text: str) -> None:
    assert repr(meter.ohms(Circuit((Resistor("R", "a", "b", ohm),), "0"), [], "a", "b")) == text


def test_ohms_on_a_live_network_are_nonsense_and_flagged() -> None:
    reading = meter.ohms(LIVE, ["S"], "a", "n")
    assert reading.live
    assert reading != pytest.approx(192.0)
    assert repr(reading).endswith("(live!)")
    # no volts between the probes, but 24 V between them and ground
    assert meter.ohms(LIVE, ["S"], "p", "a").live
    # the dead wire lies beside a live coil
    assert meter.ohms(LIVE, [], "x", "y").live is False


def test_continuity_beeps_below_fifty_ohm_on_a_dead_network() -> None:
    assert meter.continuity(BOARD, ["S"], "p", "a")
    assert not meter.continuity(BOARD, [], "p", "a")
    assert not meter.continuity(BOARD, [], "a", "n")
    assert not meter.continuity(LIVE, ["S"], "p", "a")


def test_a_diode_tests_one_way_only() -> None:
    """1 mA through 0.1 ohm behind 0.7 V: 0.700 V; the other way OL. A 192 ohm coil beside it hides both."""
    alone = Circuit((diode("V1", "a", "k"),), "0")
    assert repr(meter.diode_test(alone, [], "a", "k")) == "0.700 V"
    assert meter.diode_test(alone, [], "k", "a") == math.inf
    assert meter.diode_test(BOARD, [], "n", "a") == pytest.approx(0.192)


def test_ohms_do_not_open_a_diode() -> None:
    """The ohms function stays at 0.4 V, below the knee, so a diode reads as no joint."""
    assert meter.ohms(Circuit((diode("V1", "a", "k", off_per_ohm=1e-9),), "0"), [], "a", "k") == math.inf

"""Networks worked by hand with Ohm's and Kirchhoff's laws; the working stands beside each figure.

The insulation is set to 1e-15 S so that the hand need not count it.
"""

from __future__ import annotations

import math

import pytest

from labkit.circuit import Circuit, Curve, Element, Resistor, Solution, Solver, Source, Switch, diode


def solved(*elements: Element, closed: tuple[str, ...] = ()) -> Solution:
    solver = Solver(Circuit(elements, "0", 1e-15))
    solution = solver.solve(solver.key(closed))
    solution.check()
    return solution


def ideal(name: str, plus: str, minus: str, volts: float) -> Source:
    return Source(name, plus, minus, volts, 0.0, math.inf)


def test_a_voltage_divider() -> None:
    """12 V over 1 kohm and 2 kohm: 4 mA, so 8 V across the lower one."""
    found = solved(ideal("E", "p", "0", 12.0), Resistor("R1", "p", "m", 1e3), Resistor("R2", "m", "0", 2e3))
    assert found.volt("m", "0") == pytest.approx(8.0, abs=1e-9)
    assert found.amps("R1") == pytest.approx(4e-3, abs=1e-12)
    assert found.amps("E") == pytest.approx(4e-3, abs=1e-12)


def test_a_wheatstone_bridge_out_of_balance() -> None:
    """10 V, arms 1k/2k and 1k/3k, 100 ohm across.

    Thevenin: 10 (2/3 - 3/4) = -5/6 V behind 1k||2k + 1k||3k = 2000/3 + 750 ohm; through 100 ohm more that is
    -(5/6) / (4550/3) = -1/1820 A.
    """
    found = solved(
        ideal("E", "p", "0", 10.0),
        Resistor("R1", "p", "l", 1e3),
        Resistor("R2", "l", "0", 2e3),
        Resistor("R3", "p", "r", 1e3),
        Resistor("R4", "r", "0", 3e3),
        Resistor("G", "l", "r", 100.0),
    )
    assert found.amps("G") == pytest.approx(-1 / 1820, abs=1e-12)


def test_a_wheatstone_bridge_in_balance() -> None:
    """100/200 against 150/300: no current across, whatever the galvanometer."""
    found = solved(
        ideal("E", "p", "0", 10.0),
        Resistor("R1", "p", "l", 100.0),
        Resistor("R2", "l", "0", 200.0),
        Resistor("R3", "p", "r", 150.0),
        Resistor("R4", "r", "0", 300.0),
        Resistor("G", "l", "r", 0.001),
    )
    assert abs(found.amps("G")) < 1e-10


def test_two_sources_and_one_load() -> None:
    """14 V behind 1 ohm and 12 V behind 2 ohm feed 4 ohm.

    Millman: (14/1 + 12/2) / (1/1 + 1/2 + 1/4) = 20 / 1.75 = 80/7 V. The first gives 14 - 80/7 = 18/7 A,
    the second (12 - 80/7) / 2 = 2/7 A, the load takes 20/7 A.
    """
    found = solved(
        Source("E1", "a", "0", 14.0, 1.0, math.inf),
        Source("E2", "a", "0", 12.0, 2.0, math.inf),
        Resistor("R", "a", "0", 4.0),
    )
    assert found.volt("a", "0") == pytest.approx(80 / 7, abs=1e-9)
    assert [found.amps(n) for n in ("E1", "E2", "R")] == pytest.approx([18 / 7, 2 / 7, 20 / 7], abs=1e-9)


def test_a_supply_is_not_fed_backward() -> None:
    """The same with 8 V in place of 12 V: 14/(1 + 1/4) = 11.2 V is above 8 V, so the second gives nothing."""
    found = solved(
        Source("E1", "a", "0", 14.0, 1.0, math.inf), Source("E2", "a", "0", 8.0, 2.0, 5.0), Resistor("R", "a", "0", 4.0)
    )
    assert found.volt("a", "0") == pytest.approx(11.2, abs=1e-9)
    assert found.amps("E2") == 0.0
    assert found.source_state("E2") == "idle"
    assert found.source_state("E1") == "volts"


@pytest.mark.parametrize(
    ("ohm", "volts", "amps", "state"),
    [
        (119.95, 24.0 * 119.95 / 120.0, 0.2, "volts"),  # 24 V / (119.95 + 0.05) ohm
        (9.55, 23.875, 2.5, "volts"),  # 24 / 9.6 = 2.5 A: just at the limit
        (5.0, 12.5, 2.5, "limit"),  # 2.5 A into 5 ohm
        (0.04, 0.1, 2.5, "limit"),  # a dead short with its wire
    ],
)
def test_a_supply_holds_its_volts_and_then_its_amps(ohm: float, volts: float, amps: float, state: str) -> None:
    found = solved(Source("G1", "p", "0", 24.0, 0.05, 2.5), Resistor("R", "p", "0", ohm))
    assert found.volt("p", "0") == pytest.approx(volts, abs=1e-9)
    assert found.amps("G1") == pytest.approx(amps, abs=1e-9)
    if ohm != 9.55:
        assert found.source_state("G1") == state


def test_a_diode_opens_at_its_drop() -> None:
    """5 V over 1 kohm and a diode of 0.7 V and 10 ohm: (5 - 0.7) / 1010 A; turned round only its leak flows."""
    parts = (ideal("E", "p", "0", 5.0), Resistor("R", "p", "a", 1e3))
    on = solved(*parts, diode("V", "a", "0", on_ohm=10.0, off_per_ohm=0.0))
    assert on.amps("V") == pytest.approx(4.3 / 1010, abs=1e-12)
    assert on.segment("V") == 1
    off = solved(*parts, diode("V", "0", "a", on_ohm=10.0, off_per_ohm=1e-9))
    assert off.amps("V") == pytest.approx(-5e-9, rel=1e-5)
    assert off.segment("V") == 0


def test_an_ideal_current_limit() -> None:
    """A part that never takes more than 4 mA: at 24 V behind 1 kohm it leaves 20 V to itself."""
    limited = Curve("L", "a", "0", ((-1.0, 0.0), (0.0, 0.0), (2.0, 0.004), (3.0, 0.004)))
    found = solved(ideal("E", "p", "0", 24.0), Resistor("R", "p", "a", 1e3), limited)
    assert found.volt("a", "0") == pytest.approx(20.0, abs=1e-9)
    assert found.segment("L") == 2


def test_an_ideal_voltage() -> None:
    """A part that lets nothing pass below 5.1 V and everything at it: (12 - 5.1) / 690 = 10 mA."""
    zener = Curve("Z", "a", "0", ((-1.0, 0.0), (5.1, 0.0), (5.1, 1.0)))
    found = solved(ideal("E", "p", "0", 12.0), Resistor("R", "p", "a", 690.0), zener)
    assert found.volt("a", "0") == pytest.approx(5.1, abs=1e-12)
    assert found.amps("Z") == pytest.approx(0.010, abs=1e-12)


def test_a_switch_takes_part_only_when_closed() -> None:
    parts = (ideal("E", "p", "0", 6.0), Switch("S", "p", "a", 1.0), Resistor("R", "a", "0", 2.0))
    assert solved(*parts).amps("S") == 0.0
    assert solved(*parts, closed=("S",)).amps("S") == pytest.approx(2.0, abs=1e-9)


def test_a_floating_wire_reads_by_its_insulation() -> None:
    """24 V through a contact's 1e-9 S leak onto a wire of two nodes with 1e-9 S each: 24 / 3 = 8 V."""
    circuit = Circuit(
        (ideal("E", "p", "0", 24.0), Resistor("leak", "p", "a", 1e9), Resistor("W", "a", "b", 0.001)), "0", 1e-9
    )
    assert Solver(circuit).solve(0).volts["b"] == pytest.approx(8.0, abs=1e-6)

"""What cannot be solved is refused in the names of the parts."""

from __future__ import annotations

import math

import pytest

from labkit.base import LabkitError
from labkit.circuit import Circuit, CircuitError, Curve, Element, Resistor, Solver, Source, Switch, diode

BAD: list[tuple[Element, str]] = [
    (Resistor("R1", "a", "b", 0.0), "R1: the resistance must be above 0 ohm, not 0"),
    (Resistor("R1", "a", "b", -3.0), "R1: the resistance must be above 0 ohm, not -3"),
    (Resistor("R1", "a", "b", math.nan), "R1: the resistance must be above 0 ohm, not nan"),
    (Switch("S1", "a", "b", math.inf), "S1: the resistance must be above 0 ohm, not inf"),
    (Resistor("R1", "", "b", 1.0), "R1: a terminal has no name"),
    (Source("G1", "a", "b", math.nan, 0.1, 1.0), "G1: the voltage must be a number, not nan"),
    (Source("G1", "a", "b", 24.0, -0.1, 1.0), "G1: the inner resistance must be 0 ohm or more, not -0.1"),
    (Source("G1", "a", "b", 24.0, 0.1, 0.0), "G1: the current limit must be above 0 A, not 0"),
    (Curve("D1", "a", "b", ((0.0, 0.0),)), "D1: a curve needs at least two points"),
    (
        Curve("D1", "a", "b", ((0.0, 0.0), (1.0, 1.0), (0.5, 2.0))),
        "D1: the curve goes back in voltage, from 1 V to 0.5 V",
    ),
    (
        Curve("D1", "a", "b", ((0.0, 0.0), (1.0, 1.0), (2.0, 0.5))),
        "D1: the curve falls in current, from 1 A to 0.5 A at 2 V",
    ),
    (Curve("D1", "a", "b", ((0.0, 0.0), (0.0, 0.0))), "D1: the curve has the same point twice: 0 V, 0 A"),
    (Curve("D1", "a", "b", ((0.0, 0.0), (math.inf, 1.0))), "D1: a point of the curve is not a number"),
]


@pytest.mark.parametrize(("element", "sentence"), BAD, ids=[s for _, s in BAD])
def test_an_element_that_cannot_be(element: Element, sentence: str) -> None:
    with pytest.raises(CircuitError) as caught:
        Solver(Circuit((element,), "b"))
    assert caught.value.what == sentence
    assert caught.value.where == element.name
    assert isinstance(caught.value, LabkitError)


def test_a_name_used_twice() -> None:
    with pytest.raises(CircuitError, match="two elements are called R1"):
        Circuit((Resistor("R1", "a", "b", 1.0), Switch("R1", "a", "b", 1.0)), "b").check()


def test_a_network_without_insulation() -> None:
    with pytest.raises(CircuitError, match="the insulation of a node must leak something"):
        Circuit((Resistor("R1", "a", "b", 1.0),), "b", 0.0).check()


def test_a_diode_with_a_negative_drop() -> None:
    with pytest.raises(CircuitError, match=r"diode V1: drop_v must be 0 or more, not -0\.7"):
        diode("V1", "a", "b", drop_v=-0.7)


def test_unknown_names_are_answered_with_a_guess() -> None:
    solver = Solver(Circuit((Switch("S1", "X1:24V", "K1:A1", 0.05), Resistor("K1", "K1:A1", "PE", 192.0)), "PE"))
    found = solver.solve(0)
    for ask, guess in (
        (lambda: solver.key(["S2"]), "Known here: S1, K1."),
        (lambda: found.amps("K2"), "Known here: S1, K1."),
        (lambda: found.volt("K1:A2", "PE"), "Did you mean K1:A1?"),
        (lambda: solver.rows(["X1:24"]), "Did you mean X1:24V?"),
        (lambda: solver.vary(0, opened=["K3"]), "Known here: S1, K1."),
        (lambda: solver.circuit.without("S9"), "Known here: S1, K1."),
    ):
        with pytest.raises(CircuitError) as caught:
            ask()
        assert caught.value.try_this == guess


def test_a_join_of_no_resistance() -> None:
    solver = Solver(Circuit((Resistor("R", "a", "b", 1.0),), "b"))
    with pytest.raises(CircuitError, match="the resistance from a to b must be above 0 ohm, not 0"):
        solver.vary(0, joined=[("a", "b", 0.0)])


def test_ideal_voltages_against_each_other_are_named() -> None:
    """12 V and 5 V held by parts without resistance: no current could settle it."""
    parts = (
        Curve("Z1", "a", "0", ((12.0, -1.0), (12.0, 1.0))),
        Curve("Z2", "a", "0", ((5.0, -1.0), (5.0, 1.0))),
        Resistor("R", "a", "0", 10.0),
    )
    with pytest.raises(CircuitError) as caught:
        Solver(Circuit(parts, "0")).solve(0)
    assert caught.value.what == "Z1 and Z2 hold ideal voltages against each other with no resistance between them"
    assert caught.value.code == "circuit-conflict"


def test_a_ring_of_three_ideal_voltages_is_named_whole() -> None:
    parts = tuple(
        Curve(f"Z{k}", a, b, ((5.0, -1.0), (5.0, 1.0)))
        for k, (a, b) in enumerate((("a", "b"), ("b", "c"), ("c", "a")), 1)
    )
    with pytest.raises(CircuitError) as caught:
        Solver(Circuit((*parts, Resistor("R", "a", "0", 1.0)), "0")).solve(0)
    assert set(caught.value.where.split(", ")) == {"Z1", "Z2", "Z3"}


def test_ideal_supplies_side_by_side_settle_where_one_can_rest() -> None:
    """Neither has resistance, but a supply is never fed backward: the lower one rests."""
    circuit = Circuit(
        (
            Source("G1", "p", "0", 24.0, 0.0, 2.5),
            Source("G2", "p", "0", 23.0, 0.0, 2.5),
            Resistor("R", "p", "0", 100.0),
        ),
        "0",
    )
    found = Solver(circuit).solve(0)
    assert found.volts["p"] == pytest.approx(24.0, abs=1e-9)
    assert (found.source_state("G1"), found.source_state("G2")) == ("volts", "idle")


def test_a_supply_bridged_by_its_own_ends_gives_its_limit() -> None:
    found = Solver(Circuit((Source("G1", "p", "p", 24.0, 0.05, 2.5),), "0")).solve(0)
    assert found.amps("G1") == pytest.approx(2.5)

"""The table of faults from one inverse against each faulted network built and solved afresh."""

from __future__ import annotations

import random

import numpy as np
import pytest

from labkit.circuit import (
    Circuit,
    CircuitError,
    Curve,
    Fault,
    Joined,
    Opened,
    Resistor,
    Solver,
    Source,
    Switch,
    diode,
    fault_table,
    faulted,
)
from labkit.circuit._dense import solve_dense
from labkit.circuit._sample import sample_board


def afresh(solver: Solver, key: int, fault: Fault) -> tuple[np.ndarray, np.ndarray]:
    """Volts and curve amps of the network with the fault built in, by the plain engine."""
    closed = [s for k, s in enumerate(solver.switches) if key >> k & 1]
    if isinstance(fault, Opened):
        circuit = solver.circuit.without(fault.name)
        closed = [s for s in closed if s != fault.name]
    else:
        circuit = solver.circuit.with_elements(Resistor("joined", fault.a, fault.b, fault.ohm))
    fresh = Solver(circuit)
    found = solve_dense(fresh.plan, fresh.key(closed))
    volts = np.array([found.array[fresh.plan.index[n]] if n in fresh.plan.index else 0.0 for n in solver.nodes])
    return volts, found.curve_amps


def some_faults(solver: Solver, source: random.Random, count: int) -> list[Fault]:
    opened: list[Fault] = [Opened(name) for name in source.sample(solver.plan.branch_names, count)]
    return opened + [Joined(*source.sample(solver.nodes, 2), source.choice([0.05, 100.0])) for _ in range(count)]


@pytest.mark.parametrize("seed", range(6))
def test_every_row_is_the_faulted_network(seed: int) -> None:
    source = random.Random(seed)
    solver = Solver(sample_board())
    key = source.getrandbits(24)
    faults = some_faults(solver, source, 12)
    table = fault_table(solver, key, faults)
    assert not table.refused
    for row, fault in enumerate(faults):
        volts, amps = afresh(solver, key, fault)
        assert np.abs(table.volts[row] - volts).max() < 1e-5, fault
        assert np.abs(table.curve_amps[row] - amps).max() < 1e-8, fault


def test_a_wire_that_opens_on_an_island_keeps_its_digits() -> None:
    """Milliohm wires, and an island that is left to 1e-9 S: by hand 24 V * 1e-9 / (1e-9 + 3 * 1e-9) = 6 V."""
    circuit = Circuit(
        (
            Source("G", "p", "PE", 24.0, 0.01, 2.5),
            Resistor("W1", "a", "b", 1e-3),
            Resistor("W2", "b", "c", 1e-3),
            Resistor("W3", "c", "PE", 1e-3),
            diode("V", "c", "p", off_per_ohm=1e-9),
        ),
        "PE",
    )
    table = fault_table(Solver(circuit), 0, [Opened("W3"), Opened("W1")])
    assert table.volts[0, Solver(circuit).rows(["a", "b", "c"])] == pytest.approx(6.0, abs=1e-6)
    assert table.volts[1, Solver(circuit).rows(["a"])] == pytest.approx(0.0, abs=1e-9)


def test_a_fault_on_an_open_contact_changes_nothing() -> None:
    solver = Solver(sample_board())
    table = fault_table(solver, 0, [Opened("S3"), Opened("K1.aux")])
    healthy = solver.solve(0)
    assert np.allclose(table.volts, healthy.array, rtol=0, atol=1e-9)
    assert np.allclose(table.curve_amps, healthy.curve_amps, rtol=0, atol=1e-12)


def test_two_faults_at_once() -> None:
    solver = Solver(sample_board())
    key = solver.key(["S1", "FA", "FB"])
    found = faulted(solver, key, Opened("W1"), Joined("X1:24V.3", "A1:I5"))
    found.check()
    alone = faulted(solver, key, Joined("X1:24V.3", "A1:I5"))
    assert alone.volts["A1:I5"] > 20 > 1 > found.volts["A1:I1"] - alone.volts["A1:I1"]


def test_a_table_without_curves_and_without_faults() -> None:
    circuit = Circuit((Resistor("R1", "a", "0", 10.0), Switch("S1", "a", "b", 1.0), Resistor("R2", "b", "0", 5.0)), "0")
    solver = Solver(circuit)
    table = fault_table(solver, 1, [Opened("R1"), Joined("a", "b")])
    assert table.volts == pytest.approx(np.zeros((2, 3)))
    assert fault_table(Solver(sample_board()), 0, []).volts.shape == (0, len(Solver(sample_board()).nodes))


def test_faults_of_a_network_that_has_no_single_point_are_refused_one_by_one() -> None:
    """Two ideal 5 V parts side by side share their amps as they like; opening the wire to one of them cures it not."""
    ideal = ((5.0, -1.0), (5.0, 1.0))
    parts = (Curve("Z1", "a", "0", ideal), Curve("Z2", "a", "0", ideal), Resistor("R", "a", "0", 9.0))
    table = fault_table(Solver(Circuit(parts, "0")), 0, [Opened("R")])
    assert [row for row, _ in table.refused] == [0]
    assert table.refused[0][1].where == "Z1, Z2"
    assert np.isnan(table.volts[0]).all()


def test_an_unknown_part_is_named() -> None:
    with pytest.raises(CircuitError, match="there is no element W999 in this circuit"):
        fault_table(Solver(sample_board()), 0, [Opened("W999")])

"""Laws that hold whatever the network: superposition, reciprocity, power balance, passivity."""

from __future__ import annotations

import random

import numpy as np
import pytest

from labkit.circuit import Circuit, Curve, Resistor, Solver, Source, _settle
from labkit.circuit._sample import sample_board
from labkit.circuit.exact import solve_exact


def linear(seed: int) -> Circuit:
    source = random.Random(seed)
    nodes = ["0", *"abcdefgh"]
    parts = [Resistor(f"R{k}", *source.sample(nodes, 2), 10 ** source.uniform(-2, 5)) for k in range(14)]
    return Circuit(tuple(parts), "0")


@pytest.mark.parametrize("seed", range(8))
def test_superposition(seed: int) -> None:
    solver = Solver(linear(seed))
    a, b = solver.nodes[1], solver.nodes[-1]
    one, two = solver.vary(0, injected={a: 0.3}).array, solver.vary(0, injected={b: -0.7}).array
    both = solver.vary(0, injected={a: 0.3, b: -0.7})
    both.check()
    assert np.allclose(both.array, one + two, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_reciprocity(seed: int) -> None:
    """An ampere in at a raises b by as much as an ampere in at b raises a."""
    solver = Solver(linear(seed))
    a, b = solver.nodes[1], solver.nodes[-1]
    there = solver.vary(0, injected={a: 1.0}).volts[b]
    back = solver.vary(0, injected={b: 1.0}).volts[a]
    assert there == pytest.approx(back, rel=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_power_given_is_power_taken(seed: int) -> None:
    solver = Solver(sample_board())
    found = solver.solve(random.Random(seed).getrandbits(24))
    watts = found.watts()
    strays = float(np.square(found.array).sum()) * solver.circuit.stray_per_ohm
    assert watts["G1"] < 0
    assert sum(watts.values()) + strays == pytest.approx(0.0, abs=1e-9)
    assert all(w >= -1e-12 for name, w in watts.items() if name != "G1")


@pytest.mark.parametrize("seed", range(8))
def test_no_node_lies_outside_the_supply(seed: int) -> None:
    """Resistances and passive curves cannot raise a node above or below every source terminal."""
    found = Solver(sample_board()).solve(random.Random(seed).getrandbits(24))
    assert min(found.array) >= min(found.volts["G1:0V"], 0.0) - 1e-9
    assert max(found.array) <= found.volts["G1:24V"] + 1e-9


def test_the_walk_alone_finds_the_same_point(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the quick way shut off, every answer comes by the walk."""
    quick = Solver(sample_board())
    keys = [random.Random(seed).getrandbits(24) for seed in range(30)]
    expected = [quick.solve(key).array for key in keys]
    monkeypatch.setattr(_settle, "QUICK_ROUNDS", 0)
    walked = Solver(sample_board())
    for key, volts in zip(keys, expected, strict=True):
        assert np.allclose(walked.solve(key).array, volts, rtol=0, atol=1e-9)


def test_a_network_on_which_the_quick_way_circles() -> None:
    """A steep step seen from a high resistance: each piece's line points to the other side of the step."""
    step = Curve("step", "a", "0", ((-1.0, -1e-6), (0.0, 0.0), (1.0, 1e-6), (1.001, 1.0), (2.0, 1.0 + 1e-6)))
    back = Curve("back", "a", "b", ((-2.0, -1.0), (-1.0, -1e-6), (0.0, 0.0), (0.5, 1e-6), (0.501, 2.0)))
    circuit = Circuit(
        (
            Source("G", "p", "0", 24.0, 0.01, 2.5),
            Resistor("R1", "p", "a", 7.0),
            Resistor("R2", "b", "0", 3.0),
            step,
            back,
        ),
        "0",
    )
    exact = solve_exact(circuit, ())
    found = Solver(circuit).solve(0)
    found.check()
    for node, volts in exact.volts.items():
        assert found.volts[node] == pytest.approx(float(volts), abs=1e-6)

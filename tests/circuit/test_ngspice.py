"""Agreement with a general circuit simulator on the netlist labkit writes: 1 mV and 1 uA."""

from __future__ import annotations

import importlib.util
import random
from pathlib import Path
from types import ModuleType

import pytest

from labkit.circuit import Circuit, Curve, Resistor, Solver, Source, Switch, diode
from labkit.circuit._sample import sample_board


def _beside(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"circuit_{name}", Path(__file__).with_name(f"{name}.py"))
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


spice = _beside("spice")
pytestmark = [pytest.mark.ngspice, pytest.mark.skipif(spice.PROGRAM is None, reason=spice.WHY)]

SUPPLY = Source("G1", "p", "n", 24.0, 0.05, 2.5)
CASES: dict[str, tuple[Circuit, tuple[str, ...]]] = {
    "coil with its diode": (
        Circuit(
            (
                SUPPLY,
                Resistor("B", "n", "PE", 0.01),
                Switch("S", "p", "a", 0.03),
                Resistor("K1", "a", "n", 192.0),
                diode("V1", "n", "a"),
            ),
            "PE",
        ),
        ("S",),
    ),
    "diode turned round": (
        Circuit(
            (
                SUPPLY,
                Resistor("B", "n", "PE", 0.01),
                Switch("S", "p", "a", 0.03),
                Resistor("K1", "a", "n", 192.0),
                diode("V1", "a", "n"),
            ),
            "PE",
        ),
        ("S",),
    ),
    "supply short-circuited": (
        Circuit(
            (
                SUPPLY,
                Resistor("B", "n", "PE", 0.01),
                Resistor("short", "p", "n", 0.05),
                Resistor("P1", "p", "n", 1200.0),
            ),
            "PE",
        ),
        (),
    ),
    "supply floating": (
        Circuit((SUPPLY, Resistor("P1", "p", "n", 1200.0), Resistor("leak", "p", "PE", 1e6)), "PE"),
        (),
    ),
    "nothing joined to ground at all": (
        Circuit(
            (SUPPLY, Resistor("P1", "p", "q", 1200.0), Switch("S", "q", "n", 0.03), Resistor("W", "q", "r", 0.05)), "PE"
        ),
        (),
    ),
    "two supplies, one pushed back": (
        Circuit(
            (
                SUPPLY,
                Resistor("B", "n", "PE", 0.01),
                Source("G2", "p", "n", 12.0, 0.05, 5.0),
                Resistor("P1", "p", "n", 12.0),
            ),
            "PE",
        ),
        (),
    ),
    "two supplies that share a load": (
        Circuit(
            (
                SUPPLY,
                Resistor("B", "n", "PE", 0.01),
                Source("G2", "p", "n", 24.0, 0.05, 5.0),
                Resistor("P1", "p", "n", 4.0),
            ),
            "PE",
        ),
        (),
    ),
    "input channel on a floating wire": (
        Circuit(
            (
                SUPPLY,
                Resistor("B", "n", "PE", 0.01),
                Switch("S", "p", "i", 0.03),
                Curve("I1", "i", "n", ((-1.0, 0.0), (0.0, 0.0), (5.0, 0.0005), (11.0, 0.002), (30.0, 0.0031))),
            ),
            "PE",
        ),
        (),
    ),
}


def agree(circuit: Circuit, closed: tuple[str, ...], folder: Path) -> None:
    volts, amps = spice.ask(circuit, closed, folder)
    solver = Solver(circuit)
    found = solver.solve(solver.key(closed))
    found.check()
    for node, expected in volts.items():
        assert abs(found.volts[node] - expected) < 1e-3, f"{node}: {found.volts[node]} V, ngspice {expected} V"
    for name, expected in amps.items():
        assert abs(found.amps(name) - expected) < 1e-6, f"{name}: {found.amps(name)} A, ngspice {expected} A"


@pytest.mark.parametrize("name", CASES)
def test_small_networks_agree_with_ngspice(name: str, tmp_path: Path) -> None:
    agree(*CASES[name], tmp_path)


@pytest.mark.parametrize("seed", range(16))
def test_a_board_in_any_position_with_a_fault_agrees_with_ngspice(seed: int, tmp_path: Path) -> None:
    """Random positions; from the fourth on a wire is lifted, from the tenth on two terminals are joined."""
    source = random.Random(seed)
    circuit = sample_board()
    if seed >= 4:
        circuit = circuit.without(source.choice([e.name for e in circuit.elements if e.name.startswith("W")]))
    if seed >= 10:
        circuit = circuit.with_elements(Resistor("joined", *source.sample(circuit.nodes, 2), 0.05))
    agree(circuit, tuple(s for s in circuit.switches if source.random() < 0.5), tmp_path)

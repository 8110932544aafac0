"""Many changed networks from one inverse against each built afresh and solved by the plain engine."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from labkit.circuit import (
    Case,
    Cases,
    Circuit,
    CircuitError,
    Curve,
    Element,
    Resistor,
    Solver,
    Source,
    Switch,
    diode,
)
from labkit.circuit._dense import solve_dense
from labkit.circuit._room import together
from labkit.circuit._sample import healthy_switches, sample_board

BOARD = sample_board()
WORN = Curve("worn", "", "", ((-1.0, 0.0), (0.0, 0.0), (5.0, 0.0002), (30.0, 0.0004)))
LOW = Source("low", "", "", 17.0, 0.02, 0.5)
INPUT = next(e.name for e in BOARD.elements if isinstance(e, Curve) and e.name.startswith("A1:I"))


def afresh(circuit: Circuit, closed: list[str], nodes: tuple[str, ...]) -> np.ndarray:
    solver = Solver(circuit)
    found = solve_dense(solver.plan, solver.key(closed))
    return np.array([found.array[solver.plan.index[n]] if n in solver.plan.index else 0.0 for n in nodes])


class Draft:
    """One case told twice: as ports, and as a network of its own."""

    def __init__(self, cases: Cases, key: int) -> None:
        self.cases, self.key = cases, key
        self.elements: dict[str, Element] = {e.name: e for e in BOARD.elements}
        self.ports: list[int] = []
        self.places: dict[str, str] = {}
        self.driven: tuple[str, str, float] | None = None

    def open(self, name: str) -> None:
        self.ports.append(self.cases.added(name, math.inf))
        del self.elements[name]

    def joint(self, name: str, ohm: float) -> None:
        was = self.elements[name]
        assert isinstance(was, Resistor)
        self.ports.append(self.cases.added(name, ohm))
        self.elements[name] = Resistor(name, was.a, was.b, was.ohm + ohm)

    def join(self, a: str, b: str, ohm: float) -> None:
        self.ports.append(self.cases.joined(a, b, ohm))
        self.elements[f"join {len(self.ports)}"] = Resistor(f"join {len(self.ports)}", a, b, ohm)

    def replace(self, name: str, other: Curve | Source) -> None:
        was = self.elements[name]
        self.places[name] = other.name
        if isinstance(other, Source):
            assert isinstance(was, Source)
            self.elements[name] = Source(name, was.plus, was.minus, other.volts, other.ohm, other.limit_a)
        else:
            assert isinstance(was, Curve)
            self.elements[name] = Curve(name, was.a, was.b, other.points)

    def push(self, a: str, b: str, amps: float) -> None:
        self.driven = a, b, amps
        self.elements["push"] = Curve("push", b, a, ((-1.0, amps), (1.0, amps)))

    @property
    def case(self) -> Case:
        return Case(self.cases.position(self.key), tuple(self.ports), self.places, self.driven)

    def volts(self) -> np.ndarray:
        circuit = Circuit(tuple(self.elements.values()), BOARD.ground, BOARD.stray_per_ohm)
        switches = self.cases.solver.switches
        closed = [s for k, s in enumerate(switches) if self.key >> k & 1 and s in self.elements]
        return afresh(circuit, closed, self.cases.solver.nodes)


def drafts(source: random.Random, count: int, within_v: float) -> tuple[Cases, list[Draft]]:
    solver = Solver(BOARD)
    cases = Cases(solver, (WORN, LOW), within_v=within_v)
    wires = [e.name for e in BOARD.elements if isinstance(e, Resistor) and e.name.startswith("W")]
    made = []
    for _ in range(count):
        key = solver.key(healthy_switches()) ^ (1 << source.randrange(24)) ^ (1 << source.randrange(24))
        draft = Draft(cases, key)
        names = source.sample(wires, 6)
        for name in names[: source.randrange(4)]:
            draft.open(name)
        if source.random() < 0.3:
            draft.joint(names[5], source.choice([5.0, 5e3]))
        for _ in range(source.choice([0, 0, 1, 1, 2, 5])):
            draft.join(*source.sample(solver.nodes, 2), source.choice([0.05, 100.0, 1e7]))
        if source.random() < 0.2:
            draft.replace(INPUT, WORN)
        if source.random() < 0.2:
            draft.replace("G1", LOW)
        if source.random() < 0.2:
            draft.push(*source.sample(solver.nodes[1:], 2), source.choice([1e-6, 1e-3]))
        made.append(draft)
    return cases, made


@pytest.mark.parametrize(("seed", "within_v"), [*((seed, 1e-6) for seed in range(5)), (5, 3e-4), (6, 3e-4)])
def test_every_case_is_the_changed_network(seed: int, within_v: float) -> None:
    cases, made = drafts(random.Random(seed), 40, within_v)
    found = cases.solve([draft.case for draft in made])
    assert found.doubtful.sum() <= 2  # they say so, and are for the careful way
    for row in np.flatnonzero(~found.doubtful):
        # the plain engine is itself only good to some 0.1 mV where nodes hang on insulation
        assert np.abs(found.volts[row] - made[row].volts()).max() < 5e-4, row


@pytest.mark.parametrize("within_v", [1e-6, 3e-4])
def test_each_wire_open_and_each_joint_alone_is_the_changed_network(within_v: float) -> None:
    """Most keep to the sound pieces, and are settled without a system where that is near enough."""
    solver = Solver(BOARD)
    cases = Cases(solver, within_v=within_v)
    source, made = random.Random(41), []
    keys = [solver.key(healthy_switches()), solver.key([])]
    wires = [e.name for e in BOARD.elements if isinstance(e, Resistor) and e.name.startswith("W")]
    for key in keys:
        for name in source.sample(wires, 40):
            draft = Draft(cases, key)
            if source.random() < 0.5:
                draft.open(name)
            else:
                draft.joint(name, source.choice([0.2, 20.0, 3e3]))
            made.append(draft)
        for _ in range(40):
            draft = Draft(cases, key)
            draft.join(*source.sample(solver.nodes, 2), source.choice([0.05, 1e3, 1e8]))
            made.append(draft)
    found = cases.solve([draft.case for draft in made])
    sound = cases.solve([Case(cases.position(key)) for key in keys])
    assert not found.doubtful.any()
    stayed = (found.pieces == np.repeat(sound.pieces, 80, axis=0)).all(axis=1)
    assert 20 < stayed.sum() < 140, "both kinds are among them"
    for row, draft in enumerate(made):
        assert np.abs(found.volts[row] - draft.volts()).max() < 5e-4, row


def test_coarse_cases_are_the_fine_ones() -> None:
    """Volts, amps and pieces of single changes, corrected all and corrected where it is needed."""
    found = []
    for limit in (1e-9, 3e-4):
        cases = Cases(Solver(BOARD), within_v=limit)
        at = cases.position(cases.solver.key(healthy_switches()))
        wires = [e.name for e in BOARD.elements if isinstance(e, Resistor) and e.name.startswith("W")]
        ports = [cases.added(name, ohm) for name in wires for ohm in (math.inf, 1e3, 2.0)]
        found.append(cases.solve([Case(at, (port,)) for port in ports]))
    fine, coarse = found
    assert np.abs(fine.volts - coarse.volts).max() < 3e-4
    assert np.abs(fine.amps - coarse.amps).max() < 1e-6


@pytest.mark.parametrize("count", [3, 40_000])
def test_large_arrays_share_memory_and_small_ones_do_not(count: int) -> None:
    shapes = (count, 20), (count, 3), (7,)
    made = together(*shapes)
    assert [part.shape for part in made] == list(shapes)
    for number, part in enumerate(made):
        part[:] = number
    assert [set(part.ravel()) for part in made] == [{0.0}, {1.0}, {2.0}]
    assert np.shares_memory(made[0].base, made[1]) == (count > 3)
    assert count == 3 or made[0].ctypes.data % 2**21 == 0


def test_what_wires_cut_off_together_keeps_its_digits() -> None:
    """Neither wire alone leaves b to its 1e-9 S. By hand: 24 V through the diode's 1e-9 S to two nodes' 2e-9 S."""
    circuit = Circuit(
        (
            Source("G", "p", "PE", 24.0, 0.01, 2.5),
            Resistor("W1", "p", "b", 1e-3),
            Resistor("W2", "p", "b", 1e-3),
            Resistor("W3", "b", "c", 1e-3),
            diode("V", "b", "p", off_per_ohm=1e-9),
        ),
        "PE",
    )
    cases = Cases(Solver(circuit))
    gone = tuple(cases.added(name, math.inf) for name in ("W1", "W2"))
    found = cases.solve([Case(cases.position(0), gone)])
    assert found.volts[0, cases.solver.rows(["b", "c"])] == pytest.approx(8.0, abs=1e-6)


def test_a_resistor_that_is_out_of_a_position_stays_out_in_its_cases() -> None:
    solver = Solver(BOARD)
    cases = Cases(solver)
    key = solver.key(healthy_switches())
    position = cases.position(key, ["W1"])
    found = cases.solve([Case(position), Case(position, (cases.added("W1", 50.0),)), Case(cases.position(key))])
    bare = afresh(BOARD.without("W1"), list(healthy_switches()), solver.nodes)
    assert np.abs(found.volts[0] - bare).max() < 1e-6
    assert np.array_equal(found.volts[0], found.volts[1])
    assert np.abs(found.volts[2] - bare).max() > 0.001


def test_a_switch_that_a_port_closes_is_the_position_with_it_closed() -> None:
    solver = Solver(BOARD)
    cases = Cases(solver)
    key = solver.key(healthy_switches())
    switch = next(e for e in BOARD.elements if isinstance(e, Switch) and e.name == "S3")
    by_port = Case(cases.position(key), (cases.joined(switch.a, switch.b, switch.ohm),))
    found = cases.solve([by_port, Case(cases.position(key | solver.key(["S3"])))])
    assert np.abs(found.volts[0] - found.volts[1]).max() < 1e-6
    assert np.abs(found.amps[0] - found.amps[1]).max() < 1e-9


def test_slips_are_named() -> None:
    cases = Cases(Solver(BOARD))
    with pytest.raises(CircuitError, match="no element W999"):
        cases.added("W999", 1.0)
    with pytest.raises(CircuitError, match="above 0 ohm"):
        cases.joined("PE", "X1:0V.1", 0.0)
    with pytest.raises(CircuitError, match="no node nowhere"):
        cases.joined("PE", "nowhere", 1.0)
    assert cases.solve([]).volts.shape[0] == 0

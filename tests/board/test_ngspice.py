"""Wired boards against a general circuit simulator, node by node, to 1 mV."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from board_helpers import Solved, solved, with_type

from labkit.board import Board, Wire
from labkit.circuit import Resistor, to_spice

pytestmark = [
    pytest.mark.ngspice,
    pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not installed (apt install ngspice)"),
]

OUTPUTS = {f"A1.Q{n}": "on" for n in range(1, 9)}
RUNNING = {"A1.Q1": "on", "A1.Q2": "on", "K1": "closed", "B1": "on", "B2": "on"}


def diode_board(board: Board) -> Board:
    return with_type(board, "V1", "suppressor-diode")


def reversed_diode(board: Board) -> Solved:
    wires = (Wire("231", "K1:A1", "V1:-"), Wire("241", "K1:A2", "V1:+"))
    return solved(diode_board(board), board.wiring.without(231, 241).with_wire(*wires), {"A1.Q1": "on"})


def two_wire(board: Board) -> Solved:
    wiring = board.wiring.without(109, 149).with_wire(Wire("900", "B2:BU", "A1:I9"))
    return solved(with_type(board, "B2", "inductive-2wire"), wiring, {"B1": "on"})


def backwards(board: Board) -> Solved:
    """Controller and a sensor with their supplies reversed: diodes block."""
    w = board.wiring.moved(11, end="A1:24V", to="A1:0V").moved(12, end="A1:0V", to="A1:24V")
    w = w.moved(128, end="B1:BN", to="B1:BU").moved(148, end="B1:BU", to="B1:BN")
    return solved(board, w, {"S2": "pressed"})


STATES: dict[str, Callable[[Board], Solved]] = {
    "dead": lambda b: solved(b, None, {"G1": "off"}),
    "at rest": solved,
    "running": lambda b: solved(b, None, RUNNING),
    "running, type 3 inputs": lambda b: solved(b, None, RUNNING, input_type=3),
    "all outputs on, all hands on": lambda b: solved(
        b, None, {**OUTPUTS, "S2": "pressed", "S3": "right", "S4": "left", "S5": "on", "S6": "pressed"}
    ),
    "emergency stop pressed": lambda b: solved(b, None, {**OUTPUTS, "S0": "pressed"}),
    "coil joint of 30 ohm": lambda b: solved(b, None, RUNNING, joints={"211": 30.0}),
    "input common lifted": lambda b: solved(b, b.wiring.without(14), {"S2": "pressed"}),
    "output shorted, supply in its limit": lambda b: solved(
        b, None, {"A1.Q3": "on"}, extra=[Resistor("short", "A1:Q3", "X1:0V", 0.05)]
    ),
    "diode the right way, running": lambda b: solved(diode_board(b), None, RUNNING),
    "diode the wrong way, output on": reversed_diode,
    "floating, earth fault on plus": lambda b: solved(
        b, b.wiring.without(4), RUNNING, extra=[Resistor("earth fault", "S2:14", "PE", 1.0)], input_type=3
    ),
    "group 0 V open, lamps in series": lambda b: solved(b, b.wiring.without(2), OUTPUTS),
    "voltage on a dead group's output": lambda b: solved(
        b, b.wiring.with_wire(Wire("900", "X1:24I", "A1:Q6")), {"F5": "off", "A1.Q5": "on"}
    ),
    "NPN sensor": lambda b: solved(with_type(b, "B1", "photo-eye-npn"), None, {"B1": "on"}),
    "two-wire sensor": two_wire,
    "supplies reversed": backwards,
}


def run_ngspice(text: str, folder: Path) -> dict[str, float]:
    """Node volts of one batch run by ngspice's own node names; empty if it did not converge."""
    control = ".control\nset numdgt=12\nop\nprint all\n.endc\n.end"
    deck = folder / "board.cir"
    deck.write_text(text.replace(".op\n.end", control), encoding="utf-8")
    run = subprocess.run(
        ["ngspice", "-b", str(deck)], capture_output=True, text=True, timeout=60, check=False, cwd=folder
    )
    return {n: float(v) for n, v in re.findall(r"^(n\d+) = (\S+)$", run.stdout, re.MULTILINE)}


def by_ngspice(state: Solved, folder: Path) -> dict[str, float]:
    """Node volts by terminal, from labkit's own netlist.

    ngspice's Newton steps can swing between two pieces of a curve for ever when they start at 0 V. It is then
    started near the answer (``.nodeset``): only a start, it still has to bring every node's currents to zero, and
    the networks have one answer (all curves rise). A wrong start does not survive, see the last test.
    """
    circuit = state.electrical.circuit
    text = to_spice(circuit, [s for s in state.electrical.switches if state.solution.closed(s)])
    names = dict(re.findall(r"^\* (n\d+) is (.+)$", text, re.MULTILINE))
    found = run_ngspice(text, folder)
    if not found:
        start = " ".join(f"v({n})={state.solution.volts[name]:.3f}" for n, name in names.items())
        found = run_ngspice(text.replace(".op\n", f".nodeset {start}\n.op\n"), folder)
    assert found.keys() == names.keys(), "ngspice did not converge"
    return {names[n]: v for n, v in found.items()}


@pytest.mark.parametrize("name", STATES)
def test_every_node_is_where_ngspice_has_it(board: Board, tmp_path: Path, name: str) -> None:
    state = STATES[name](board)
    theirs = by_ngspice(state, tmp_path)
    ours = state.solution.volts
    assert len(theirs) > 100
    apart = {n: (ours[n], v) for n, v in theirs.items() if abs(ours[n] - v) > 1e-3}
    assert not apart


def test_the_states_are_different_ones(board: Board) -> None:
    """So that seventeen names are seventeen networks or positions."""
    seen = set()
    for make in STATES.values():
        solution = make(board).solution
        seen.add(tuple(round(v, 4) for v in solution.volts.values()))
    assert len(seen) == len(STATES)


def test_a_wrong_start_does_not_survive_in_ngspice(board: Board, tmp_path: Path) -> None:
    state = STATES["at rest"](board)
    text = to_spice(state.electrical.circuit, [s for s in state.electrical.switches if state.solution.closed(s)])
    names = dict(re.findall(r"^\* (n\d+) is (.+)$", text, re.MULTILINE))
    wrong = " ".join(f"v({n})={state.solution.volts[name] - 3:.3f}" for n, name in names.items())
    found = run_ngspice(text.replace(".op\n", f".nodeset {wrong}\n.op\n"), tmp_path)
    assert found
    assert all(abs(state.solution.volts[names[n]] - v) < 1e-3 for n, v in found.items())

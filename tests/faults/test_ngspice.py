"""Every single fault, in the board as it settles with start held: all nodes where a general simulator has them."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.board import load_board
from labkit.circuit import to_spice
from labkit.faults import PROGRAM, every_single_fault, put_in

pytestmark = [
    pytest.mark.ngspice,
    pytest.mark.slow,
    pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not installed (apt install ngspice)"),
]

BOARD = load_board("orchard")
CONTROL = ".control\nset numdgt=12\nop\nprint all\n.endc\n.end"


def by_ngspice(bench: Bench, folder: Path) -> dict[str, float]:
    """Node volts from labkit's own netlist; started near the answer, which it still has to prove."""
    net, key = bench.engine.net, bench.engine.now_reading().key
    closed = [name for i, name in enumerate(net.solver.switches) if key >> i & 1]
    text = to_spice(net.electrical.circuit, closed)
    names = dict(re.findall(r"^\* (n\d+) is (.+)$", text, re.MULTILINE))
    volts = net.solver.solve(key).volts
    start = " ".join(f"v({n})={volts[name]:.9f}" for n, name in names.items())
    # ngspice's steps can swing between two pieces of a curve for ever; then another way of getting there is tried
    for options in ("", ".options itl1=2000 gminsteps=0 srcsteps=0", ".options itl1=2000 gmin=1e-10"):
        deck = folder / "board.cir"
        deck.write_text(text.replace(".op\n.end", f"{options}\n.nodeset {start}\n{CONTROL}"), encoding="utf-8")
        run = subprocess.run(
            ["ngspice", "-b", str(deck)], capture_output=True, text=True, timeout=60, check=False, cwd=folder
        )
        found = {n: float(v) for n, v in re.findall(r"^(n\d+) = (\S+)$", run.stdout, re.MULTILINE)}
        if found:
            break
    return {names[n]: v for n, v in found.items()}


@pytest.mark.parametrize("part", range(8))
def test_faulted_boards_solve_as_in_ngspice(part: int, tmp_path: Path) -> None:
    first = Bench(BOARD)
    faults = every_single_fault(BOARD)
    assert len(faults) > 200  # so that the eight parts together are more than two hundred boards
    wrong: list[str] = []
    for fault in faults[part::8]:
        bench = first.again()
        put_in(bench, fault)
        bench.power_up()
        bench.load(PROGRAM)
        bench.wait(ms(300))
        bench.press("S2")
        bench.wait(ms(300))
        ours, theirs = bench.engine.now_reading().solution.volts, by_ngspice(bench, tmp_path)
        if len(theirs) < 100:
            wrong.append(f"{fault.id}: ngspice did not converge")
        apart = [f"{fault.id}: {n} {ours[n]:.6f} / {v:.6f}" for n, v in theirs.items() if abs(ours[n] - v) > 1e-3]
        wrong += apart[:2]
    assert wrong == []

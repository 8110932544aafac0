"""Asks the ngspice program for the operating point of a netlist."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

from labkit.circuit import Circuit, Resistor, Switch, to_spice

PROGRAM = shutil.which("ngspice")
WHY = "the ngspice program is not installed (apt install ngspice)"


def ask(circuit: Circuit, closed: tuple[str, ...], folder: Path) -> tuple[dict[str, float], dict[str, float]]:
    """Volts of every node and amps of every resistor and closed switch, as ngspice finds them."""
    assert PROGRAM is not None
    branches = {
        f"@r{k}[i]": e.name
        for k, e in enumerate(circuit.elements)
        if isinstance(e, Resistor) or (isinstance(e, Switch) and e.name in closed)
    }
    control = "\n".join(
        [".control", "set numdgt=14", "op", "print all", *(f"print {b}" for b in branches), ".endc", ".end", ""]
    )
    netlist = to_spice(circuit, closed).replace(".op\n.end\n", control)
    file = folder / "network.cir"
    file.write_text(netlist, "utf-8")
    done = subprocess.run([PROGRAM, "-b", str(file)], capture_output=True, text=True, timeout=60, check=False)
    found = dict(re.findall(r"^\s*(\S+)\s*=\s*([-+0-9.e]+)\s*$", done.stdout, re.MULTILINE))
    volts = {circuit.ground: 0.0}
    for k, node in enumerate(circuit.nodes):
        if k:
            assert f"n{k}" in found, done.stdout + done.stderr
            volts[node] = float(found[f"n{k}"])
    return volts, {name: float(found[b]) for b, name in branches.items()}

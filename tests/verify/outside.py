"""Outside tools on an exported question: berkeley-abc on the binary AIGER, z3 on the ASCII AIGER.

abc: R. Brayton, A. Mishchenko, "ABC: An Academic Industrial-Strength Verification Tool", CAV 2010. z3: bounded model
checking and induction over simple paths (M. Sheeran, S. Singh, G. Stalmarck, 2000). The reader of the ASCII form below
was written from the format's report and shares nothing with the writer.
"""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

ABC = "berkeley-abc"


@dataclass
class Read:
    """An AIGER file, read: names by literal, next literal by latch literal, gates, the literal of "bad"."""

    inputs: dict[int, str]
    latches: dict[int, str]
    nexts: dict[int, int]
    gates: dict[int, tuple[int, int]]
    bad: int


def read_aag(text: str) -> Read:
    """Read the ASCII form."""
    lines = text.split("\n")
    kind, *numbers = lines[0].split()
    assert kind == "aag"
    most, inputs, latches, outputs, ands = map(int, numbers)
    rows = [tuple(map(int, line.split())) for line in lines[1 : 1 + inputs + latches + outputs + ands]]
    read = Read({}, {}, {}, {}, rows[inputs + latches][0])
    names = dict(line.split(" ", 1) for line in lines[1 + len(rows) :] if re.match(r"[ilo]\d+ ", line))
    for n, (lit,) in enumerate(rows[:inputs]):
        read.inputs[lit] = names[f"i{n}"]
    for n, (lit, new) in enumerate(rows[inputs : inputs + latches]):
        read.latches[lit], read.nexts[lit] = names[f"l{n}"], new
    assert outputs == 1
    assert names["o0"] == "bad"
    for lit, a, b in rows[inputs + latches + outputs :]:
        assert lit > a >= b
        read.gates[lit] = (a, b)
    assert len(rows) == inputs + latches + outputs + ands
    assert most == inputs + latches + ands
    return read


def abc(path: Path, engine: str = "pdr", seconds: int = 60) -> tuple[str, int]:
    """``("holds", 0)`` or ``("fails", scans)``. `engine` is one of abc's commands; bmc3 alone can end undecided."""
    command = [ABC, "-q", f"read_aiger {path}; {engine}"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=seconds, check=False)
    if done.returncode:  # its decision diagrams give up on some systems with a signal: no answer from this engine
        return f"undecided: ended with {done.returncode}", 0
    said = done.stdout + done.stderr
    if found := re.search(r"was asserted in frame (\d+)", said):
        return "fails", int(found[1]) + 1
    if re.search(r"Property proved|proved unreachable|Explored all reachable|Networks are equivalent", said):
        return "holds", 0
    # a miter that is constant after reading has nothing to prove
    return ("holds", 0) if "is trivially" in said or "constant 0" in said else (f"undecided: {said}", 0)


def abc_both(path: Path, seconds: int = 20) -> tuple[str, int]:
    """Verdict and length. `reach` goes breadth first over decision diagrams, so its way to a bad state is shortest.

    Where it finds no end in `seconds`: bmc3, which unrolls scan by scan, and pdr, whose own ways need not be shortest.
    """
    for engine in (f"reach -T {seconds}", f"bmc3 -T {seconds} -F 2000", f"pdr -T {seconds}"):
        outcome, scans = abc(path, engine, 10 * seconds)
        if outcome == "holds" or (outcome == "fails" and engine[:3] != "pdr"):
            return outcome, scans
    return outcome, scans


class Unrolled:
    """An AIGER system in z3, one copy per scan."""

    def __init__(self, read: Read, way: str) -> None:
        import z3

        self.z3, self.read, self.way = z3, read, way
        self.states = [{lit: z3.Bool(f"{way}{lit}@0") for lit in read.latches}]

    def step(self, solver) -> object:
        """One scan more: "bad" in it, as a term."""
        z3, read, at = self.z3, self.read, len(self.states)
        known = {0: z3.BoolVal(False), **self.states[-1]}
        known.update((lit, z3.Bool(f"{self.way}{lit}?{at}")) for lit in read.inputs)

        def term(lit):
            return z3.Not(known[lit - 1]) if lit & 1 else known[lit]

        for lit, (a, b) in read.gates.items():
            known[lit] = z3.Bool(f"{self.way}{lit}!{at}")
            solver.add(known[lit] == z3.And(term(a), term(b)))
        new = {lit: z3.Bool(f"{self.way}{lit}@{at}") for lit in read.latches}
        solver.add(*(new[lit] == term(n) for lit, n in read.nexts.items()))
        self.states.append(new)
        return term(read.bad)


def z3_check(read: Read, most: int, induction: int = 12) -> tuple[str, int]:
    """``("fails", scans)``, ``("holds", k)`` by induction, or ``("not within", most)``."""
    import z3

    base, induct = z3.Solver(), z3.Solver()
    real, any_ = Unrolled(read, "b"), Unrolled(read, "i")
    base.add(*(z3.Not(v) for v in real.states[0].values()))
    for depth in range(1, most + 1):
        bad = real.step(base)
        if base.check(bad) == z3.sat:
            return "fails", depth
        base.add(z3.Not(bad))
        if depth > induction:
            continue
        bad = any_.step(induct)
        if induct.check(bad) == z3.unsat:
            return "holds", depth
        induct.add(z3.Not(bad))
        last = any_.states[-1]
        for old in any_.states[:-1]:  # a shortest way to a bad state meets no state twice
            induct.add(z3.Or(*(last[lit] != old[lit] for lit in read.latches)))
    return "not within", most

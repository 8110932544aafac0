"""Every circuit, form and requirement, and generated programs, against the outside tools: counts, and what differs.

Not a test by itself (it takes minutes): ``python tests/verify/outside_all.py [programs]``. The tests run a part of it.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from circuits import circuits
from generated import program, requirement
from outside import abc_both, read_aag, z3_check

from labkit.verify import ProofError, prove
from labkit.verify._aiger import to_aag, to_aig
from labkit.verify._export import system_of


def compare(flat, verdict, path: Path, count: Counter, name: str) -> None:
    """One question to both tools."""
    expected = verdict.outcome, verdict.depth if verdict.outcome == "fails" else 0
    count[verdict.outcome] += 1
    path.write_bytes(to_aig(flat))
    said = abc_both(path)
    count[f"abc {said[0].partition(':')[0]}"] += 1
    if said != expected:
        print(f"{name}: abc says {said}, we say {expected}", flush=True)
    if verdict.depth > 60:
        count["z3 not asked: deeper than 60 scans"] += 1
        return
    said = z3_check(read_aag(to_aag(flat)), verdict.depth + 2)
    count[f"z3 {said[0]}"] += 1
    if said != expected if expected[0] == "fails" else said[0] == "fails":
        print(f"{name}: z3 says {said}, we say {expected}", flush=True)


def main(programs: int) -> None:
    """Both comparisons, and the counts."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "question.aig"
        count: Counter = Counter()
        for seed in range(programs):
            rng = random.Random(seed)
            text, asked = program(rng), requirement(rng)
            compare(system_of(text, asked), prove(text, asked), path, count, f"program {seed}")
        print("generated:", dict(count), flush=True)
        count = Counter()
        for circuit in circuits():
            print(circuit.file, dict(count), flush=True)
            for form in circuit.forms.values():
                for asked in circuit.asks(form):
                    if asked.asked.endswith("can still be reached"):
                        count["not about bad states"] += 1
                        continue
                    may = None if circuit.board == "none" else (asked.may or circuit.may)
                    name = f"{circuit.file} {form.id} {asked.id}"
                    try:
                        flat = system_of(circuit.subject(form, asked), asked.asked, may=may)
                    except ProofError as wrong:
                        print(f"{name}: {wrong}", flush=True)
                        count["map too large to be written"] += 1
                        continue
                    compare(flat, circuit.verdict(form, asked), path, count, name)
        print("circuits:", dict(count))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)

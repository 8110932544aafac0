"""How fast a proof is, for ``labkit speed``: beside general-purpose model checkers, in one run, process start included.

Both sides read the same exported question from a file, so making the model counts for neither. The other side is the
quickest of berkeley-abc's pdr, bmc3 and reach and of z3 (Horn clauses, its Spacer engine) that finds an answer, and the
answers must be the same. A counterexample must be a shortest one only on our side.
"""

from __future__ import annotations

import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from labkit.base import data_path
from labkit.logic import Program, print_st, read_ladder, read_st
from labkit.verify._aiger import to_aig
from labkit.verify._bare import Bare
from labkit.verify._export import system_of
from labkit.verify._lanes import explore
from labkit.verify._model import model
from labkit.verify._nodes import Flat
from labkit.verify._search import search
from labkit.verify.prove import prove
from labkit.verify.requirements import Monitored, requirement, signals

__all__ = ["BOUNDS", "rows", "to_horn"]

SEAL = "K1 := S1 AND (S2 OR K1);"
STOP = "whenever not S1 then not K1"
STOPS = "whenever pos:S1 then not pole:K1 or not pos:S1 within 3 scans"
MAY = ("S1", "S2", "F3")
SHIPPED = ("hold-auxiliary", "hold-output", "hold-output-and-auxiliary", "hold-proving", "hold-set-reset")
BOUNDS = {
    "proof_seal_in_vs_best": (3.0, 3.0),
    **{f"proof_{name.replace('-', '_')}{end}_vs_best": (1.0, 3.0) for name in SHIPPED for end in ("", "_no_stop")},
    "proof_kit_vs_abc_spawned": (30.0, 100.0),
    "proof_gates_vs_plain": (5.0, 20.0),
}
"""Key -> floor and aim."""
TIMERS = """VAR T1, T2, T3 : TON; END_VAR
T1(IN := A, PT := T#{0}ms); T2(IN := B, PT := T#{0}ms); T3(IN := C, PT := T#{0}ms);
K := T1.Q AND T2.Q AND T3.Q;"""


def rows(quick: bool = False) -> list[dict[str, Any]]:
    """The rows of this room."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "question.aig"
        times = 5 if quick else 21
        found = [_against_best("proof_seal_in_vs_best", system_of(SEAL, STOP), path, times)]
        for name, program in _shipped():
            key = f"proof_{name.replace('-', '_')}_vs_best"
            flat = system_of(program, STOPS, board="orchard", may=MAY)
            found.append(_against_best(key, flat, path, times))
        return [*found, _from_the_kit(path, times), _plain(quick)]


def _shipped() -> Iterator[tuple[str, Program]]:
    """Every shipped program, and the same with its stop contact bridged."""
    for name in SHIPPED:
        text = (data_path("datasets") / "programs" / f"{name}.ld").read_text("utf-8")
        program = read_ladder(text, name=name)
        yield name, program
        yield f"{name}-no-stop", read_st(re.sub(r"\bS1\b", "TRUE", print_st(program)))


# the other side -----------------------------------------------------------------------------------------
def to_horn(flat: Flat) -> str:
    """The question as Horn clauses in SMT-LIB 2: satisfiable if "bad" is never reached."""
    latches, inputs = len(flat.latches), len(flat.inputs)
    first = 1 + inputs + latches

    def said(lit: int) -> str:
        if lit <= 1:
            return "true" if lit else "false"
        return f"(not v{lit >> 1})" if lit & 1 else f"v{lit >> 1}"

    state = " ".join(f"v{inputs + 1 + k}" for k in range(latches))
    declared = " ".join(f"(v{n} Bool)" for n in range(1, first + len(flat.ands)))
    gates = " ".join(f"(= v{n} (and {said(a)} {said(b)}))" for n, (a, b) in enumerate(flat.ands, first))
    following = " ".join(said(new) for new in flat.nexts)
    return f"""(set-logic HORN)
(declare-fun Met ({" ".join(["Bool"] * latches)}) Bool)
(assert (Met {" ".join(["false"] * latches)}))
(assert (forall ({declared}) (=> (and (Met {state}) {gates}) (Met {following}))))
(assert (forall ({declared}) (=> (and (Met {state}) {gates} {said(flat.outputs[0])}) false)))
(check-sat)
"""


def _engines(path: Path) -> dict[str, list[str]]:
    """Command lines by name, of what is installed."""
    found = {}
    if abc := shutil.which("berkeley-abc"):
        for engine in ("pdr", "bmc3 -F 1000", "reach"):
            found[f"abc {engine.split()[0]}"] = [abc, "-q", f"read_aiger {path}; {engine}"]
    z3 = shutil.which("z3", path=str(Path(sys.executable).parent)) or shutil.which("z3")
    if z3:
        found["z3 Spacer"] = [z3, str(path.with_suffix(".smt2"))]
    return found


def _said(text: str) -> str:
    """An engine's answer: holds, fails, or nothing."""
    if re.search(r"was asserted in frame|^unsat", text):
        return "fails"
    return "holds" if re.search(r"Property proved|proved unreachable|Explored all reachable|^sat", text) else ""


def _best(flat: Flat, path: Path, of: str = "") -> tuple[str, list[str]] | None:
    """The quickest engine that finds an answer, of two runs each; `of` names a tool."""
    path.write_bytes(to_aig(flat))
    path.with_suffix(".smt2").write_text(to_horn(flat), "ascii")
    outcome = explore(flat).outcome
    seconds = {}
    for name, command in _engines(path).items():
        if not name.startswith(of):
            continue
        try:
            for _ in (0, 1):
                start = time.perf_counter()
                done = subprocess.run(command, capture_output=True, text=True, timeout=30, check=False)
                seconds[name] = time.perf_counter() - start
        except subprocess.TimeoutExpired:
            continue
        answer = _said(done.stdout)
        if not answer:
            del seconds[name]
        elif answer != outcome:
            raise AssertionError(f"{name} says {answer}, we say {outcome}: a ratio of two answers means nothing")
    if not seconds:
        return None
    name = min(seconds, key=lambda n: seconds[n])
    return name, _engines(path)[name]


def _in_turn(ours: Callable[[], object], other: Callable[[], object], times: int) -> tuple[float, float, float]:
    """Median seconds of both, run in turn, and the median of the pairs' ratios."""
    pairs = []
    for _ in range(times):
        pair = []
        for run in (ours, other):
            start = time.perf_counter()
            run()
            pair.append(time.perf_counter() - start)
        pairs.append(pair)
    ratio = statistics.median(b / a for a, b in pairs)
    return statistics.median(a for a, _ in pairs), statistics.median(b for _, b in pairs), ratio


def _run(command: list[str]) -> None:
    subprocess.run(command, capture_output=True, check=False)


def _row(key: str, note: str, measured: tuple[float, float, float] | None) -> dict[str, Any]:
    floor, aim = BOUNDS[key]
    ours, other, ratio = measured or (None, None, None)
    return {"key": key, "ratio": ratio, "floor": floor, "aim": aim, "ours": ours, "other": other, "note": note}


def _against_best(key: str, flat: Flat, path: Path, times: int) -> dict[str, Any]:
    """Whole processes on one file: ours without site packages, and the best of the others."""
    best = _best(flat, path)
    found = explore(flat)
    size = f"{found.outcome}, {found.states} states, {len(flat.latches)} state bits, {len(flat.inputs)} input bits"
    if best is None:
        return _row(key, "neither berkeley-abc nor z3 is installed here", None)
    check = [sys.executable, "-S", "-E", str(Path(__file__).with_name("_check.py")), str(path)]
    measured = _in_turn(lambda: _run(check), lambda: _run(best[1]), times)
    return _row(key, f"{best[0]}; {size}", measured)


def _from_the_kit(path: Path, times: int) -> dict[str, Any]:
    """A proof in the running kit, the program's text to the verdict, against writing the file and spawning abc."""
    flat = system_of(SEAL, STOP)
    best = _best(flat, path, of="abc")
    if best is None:
        return _row("proof_kit_vs_abc_spawned", "berkeley-abc is not installed here", None)

    def spawned() -> None:
        path.write_bytes(to_aig(flat))
        _run(best[1])

    measured = _in_turn(lambda: prove(SEAL, STOP), spawned, times)
    return _row("proof_kit_vs_abc_spawned", f"seal-in, text to verdict; {best[0]}", measured)


# growth ---------------------------------------------------------------------------------------------------
def _plain(quick: bool) -> dict[str, Any]:
    """Gates with all inputs at once against one state after the other, on three timers counted exactly."""
    text, asked = TIMERS.format(200 if quick else 300), requirement("never K and not A")
    assert isinstance(asked, Monitored)
    names = signals(asked)
    program, order = read_st(text), {name: i for i, name in enumerate(names)}
    system = Bare(program, names, 10_000)
    flat = model(system, asked).flat()
    bounds: dict[str, Any] = {"most_states": 1_000_000, "most_scans": None}
    start = time.perf_counter()
    explore(flat)  # numpy is loaded in the first one
    ours, other, ratio = _in_turn(lambda: explore(flat), lambda: search(system, asked, order, **bounds), 1)
    states = explore(flat).states
    note = f"{states} states; growth: {_growth(quick)}; {time.perf_counter() - start:.0f} s in all"
    row = _row("proof_gates_vs_plain", note, (ours, other, ratio))
    return row | {"ours": f"{states / ours / 1e3:,.0f} k states/s", "other": f"{states / other / 1e3:,.0f} k states/s"}


def _growth(quick: bool) -> str:
    """Milliseconds by state bits (timers of growing length) and by input bits (a wide OR that merges, and a parity)."""
    said = []
    for ms in (100, 200) if quick else (100, 200, 400, 800):
        asked = requirement("never K and not A")
        flat = model(Bare(read_st(TIMERS.format(ms)), signals(asked), 10_000), asked).flat()
        start = time.perf_counter()
        found = explore(flat)
        spent = (time.perf_counter() - start) * 1e3
        said.append(f"{len(flat.latches)} state bits {found.states} states {spent:.0f} ms")
    for width in (8, 16) if quick else (8, 12, 16, 19):
        names = [f"I{n}" for n in range(width)]
        text = f"K := S1 AND ({' OR '.join(names)} OR K); N := N XOR {' XOR '.join(names)};"
        asked = requirement("never K and N and not S1")
        flat = model(Bare(read_st(text), signals(asked), 10_000), asked).flat()
        start = time.perf_counter()
        explore(flat)
        said.append(f"{len(flat.inputs)} input bits {(time.perf_counter() - start) * 1e3:.1f} ms")
    return ", ".join(said)

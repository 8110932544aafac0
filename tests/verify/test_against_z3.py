"""The circuits every course begins with, in right and wrong forms, against z3 (general solver, unrolled by hand)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest
from verify_unrolled import Circuit, check

from labkit.verify import prove

z3 = pytest.importorskip("z3", reason="z3-solver is not installed: this comparison needs it")
And, Or, Not, If = z3.And, z3.Or, z3.Not, z3.If


@dataclass
class Case:
    text: str
    asked: str
    circuit: Circuit


def _seal(form):
    def step(s, i):
        m = form(i["STOP"], i["START"], s["M"])
        return {"M": m}, And(Not(i["STOP"]), m)

    return Circuit({"M": False}, ("STOP", "START"), step)


def _both(form):
    def step(s, i):
        f, r = form(s, i)
        return {"F": f, "R": r}, And(f, r)

    return Circuit({"F": False, "R": False}, ("STOP", "FWD", "REV", "AUXF", "AUXR"), step)


def _fts(latched, within):
    """TON(M and not AUX, 30 ms) at 10 ms scans; `n` counts scans since IN rose: Q when n is 3."""

    def step(s, i):
        run = And(s["M"], Not(i["AUX"]))
        n = If(run, If(s["on"], If(s["n"] >= 3, 3, s["n"] + 1), 0), 0)
        q = And(run, n >= 3)
        fts = And(Or(q, s["FTS"]), Not(And(i["RESET"], Not(i["START"])))) if latched else q
        m = And(i["STOP"], Not(fts), Or(i["START"], s["M"]))
        waits = And(m, Not(i["AUX"]))
        w = If(waits, s["w"] + 1, 0)
        new = {"M": m, "FTS": fts, "on": run, "n": n, "w": If(w > within + 1, within + 1, w), "tripped": fts}
        again = And(s["FTS"], Not(fts), i["START"], m)  # re-tries while START is held
        return new, (w > within if within else again)

    start = {"M": False, "FTS": False, "on": False, "n": 0, "w": 0, "tripped": False}
    return Circuit(start, ("STOP", "START", "AUX", "RESET"), step)


SEAL = "whenever not STOP then not M within 0 scans"
BOTH = "never F and R"
TIMED = "whenever M and not AUX then AUX or not M within 3 scans"
FTS = """VAR T : TON; END_VAR
T(IN := M AND NOT AUX, PT := T#30ms);
FTS := (T.Q OR FTS) AND NOT (RESET AND NOT START);
M := STOP AND NOT FTS AND (START OR M);"""
UNLATCHED = """VAR T : TON; END_VAR
T(IN := M AND NOT AUX, PT := T#30ms);
FTS := T.Q;
M := STOP AND NOT FTS AND (START OR M);"""

CASES = {
    "seal-in": Case("M := STOP AND (START OR M);", SEAL, _seal(lambda stop, start, m: And(stop, Or(start, m)))),
    "start before stop": Case(
        "M := START OR (STOP AND M);", SEAL, _seal(lambda stop, start, m: Or(start, And(stop, m)))
    ),
    "stop wired as NO": Case(
        "M := NOT STOP AND (START OR M);", SEAL, _seal(lambda stop, start, m: And(Not(stop), Or(start, m)))
    ),
    "interlocked": Case(
        "F := STOP AND (FWD OR F) AND NOT R AND NOT AUXR; R := STOP AND (REV OR R) AND NOT F AND NOT AUXF;",
        BOTH,
        _both(
            lambda s, i: (
                f := And(i["STOP"], Or(i["FWD"], s["F"]), Not(s["R"]), Not(i["AUXR"])),
                And(i["STOP"], Or(i["REV"], s["R"]), Not(f), Not(i["AUXF"])),
            )
        ),
    ),
    "one interlock forgotten": Case(
        "F := STOP AND (FWD OR F) AND NOT R; R := STOP AND (REV OR R);",
        BOTH,
        _both(lambda s, i: (And(i["STOP"], Or(i["FWD"], s["F"]), Not(s["R"])), And(i["STOP"], Or(i["REV"], s["R"])))),
    ),
    "crossed by feedback only": Case(
        "F := STOP AND (FWD OR F) AND NOT AUXR; R := STOP AND (REV OR R) AND NOT AUXF;",
        BOTH,
        _both(
            lambda s, i: (
                And(i["STOP"], Or(i["FWD"], s["F"]), Not(i["AUXR"])),
                And(i["STOP"], Or(i["REV"], s["R"]), Not(i["AUXF"])),
            )
        ),
    ),
    "fail-to-start in time": Case(FTS, "whenever M and not AUX then AUX or not M within 5 scans", _fts(True, 5)),
    "fail-to-start, asked too much": Case(FTS, TIMED, _fts(True, 3)),
    "fail-to-start not latched": Case(
        UNLATCHED, "whenever M and not AUX then AUX or not M within 4 scans", _fts(False, 4)
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_same_verdict_and_length(name):
    case: Any = CASES[name]
    expected, length = check(case.circuit)
    verdict = prove(case.text, case.asked)
    assert expected != "undecided"
    assert verdict.outcome == expected
    if expected == "fails":
        assert verdict.depth == length


def test_right_and_wrong_are_both_among_them():
    outcomes = {name: check(case.circuit)[0] for name, case in CASES.items() if "T" not in case.circuit.start}
    assert outcomes["seal-in"] == outcomes["interlocked"] == "holds"
    assert outcomes["start before stop"] == outcomes["one interlock forgotten"] == "fails"

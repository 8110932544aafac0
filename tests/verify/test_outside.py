"""Verdict and length of the shortest counterexample, as outside tools find them on the exported question.

berkeley-abc (pdr, bmc3, reach) reads the binary AIGER, z3 (bounded model checking, induction) the ASCII one. What is
exported is the system before anything is explored, so they check the search and not its answer. ``python
tests/verify/outside_all.py`` does the same for every circuit and as many generated programs as one likes.
"""

from __future__ import annotations

import random
import shutil

import pytest
from verify_circuits import circuits
from verify_generated import program, requirement
from verify_outside import ABC, abc, abc_both, read_aag, z3_check

from labkit.verify import prove
from labkit.verify._aiger import to_aag, to_aig
from labkit.verify._export import system_of
from labkit.verify._lanes import explore

needs_abc = pytest.mark.skipif(not shutil.which(ABC), reason="berkeley-abc is not installed: this comparison needs it")

JOG = """M := STOP AND NOT JOG AND (START OR M);
K := STOP AND (M OR JOG);"""
JOG_SEALS = "M := STOP AND (START OR JOG OR M); K := M;"
DWELL = """VAR TF, TR : TOF; END_VAR
TF(IN := F, PT := T#40ms);
TR(IN := R, PT := T#40ms);
F := STOP AND (FWD OR F) AND NOT TR.Q AND NOT REV;
R := STOP AND (REV OR R) AND NOT TF.Q AND NOT FWD;"""
NO_DWELL = DWELL.replace("NOT TF.Q", "NOT F")
STAR = """VAR TS, TD : TON; END_VAR
M := STOP AND (START OR M);
TS(IN := M, PT := T#60ms);
Y := M AND NOT TS.Q AND NOT D;
TD(IN := M AND TS.Q AND NOT Y, PT := T#20ms);
D := M AND TD.Q AND NOT Y;"""
CASCADE = """VAR T1, T2, T3, T4 : TON; END_VAR
RUN := STOP AND (START OR RUN);
T1(IN := RUN, PT := T#50ms);
M3 := RUN AND T1.Q AND (P3 OR NOT M3);
T2(IN := M3, PT := T#40ms);
M2 := T2.Q AND M3;
T3(IN := M2, PT := T#30ms);
M1 := T3.Q AND M2;
T4(IN := M1, PT := T#30ms);
FULL := T4.Q;"""
DUTY = """VAR E : F_TRIG; A : BOOL; END_VAR
E(CLK := DEMAND);
A := A XOR E.Q;
P1 := DEMAND AND NOT F1 AND (NOT A OR F2);
P2 := DEMAND AND NOT F2 AND (A OR F1);"""
BATCH = """VAR C : CTU; E : R_TRIG; END_VAR
E(CLK := PART);
C(CU := E.Q AND RUN, R := CLEAR, PV := 12);
RUN := STOP AND NOT C.Q AND (START OR RUN);"""

# program, requirement, what it comes to (None: too deep to count by hand; the tools must agree all the same)
HAND_MADE = {
    "jog drops the seal": (JOG, "whenever JOG then not M", "holds"),
    "jog and stop": (JOG, "whenever not STOP then not K", "holds"),
    "jog does not seal": (JOG, "M only after START", "holds"),
    "jog seals": (JOG_SEALS, "M only after START", "fails"),
    "reversing, dwell": (DWELL, "whenever F then not R for 5 scans", "holds"),
    "reversing, too long a dwell asked": (DWELL, "whenever F then not R for 6 scans", "fails"),
    "reversing without dwell": (NO_DWELL, "whenever F then not R for 2 scans", "fails"),
    "star and delta": (STAR, "never Y and D", "holds"),
    "delta comes": (STAR, "never D", "fails"),
    "star before delta": (STAR, "D only after Y since not M", "holds"),
    "star comes back": (STAR, "never Y and TS.Q", "holds"),
    "cascade in order": (CASCADE, "M1 only after M3 since not RUN", "holds"),
    "cascade full": (CASCADE, "never FULL", "fails"),
    "cascade, upstream stops first": (CASCADE, "whenever not M3 then not M1 within 0 scans", "holds"),
    "cascade, wrongly asked": (CASCADE, "M3 stays until not RUN", "fails"),
    "duty and standby": (DUTY, "never P1 and P2", "holds"),
    "duty takes turns": (DUTY, "never P2 and not F1", "fails"),
    "batch of twelve": (BATCH, "never C.Q", "fails"),
    "batch ends": (BATCH, "whenever C.Q then not RUN", "holds"),
}


@needs_abc
@pytest.mark.parametrize("name", HAND_MADE)
def test_hand_made(name, tmp_path):
    text, asked, outcome = HAND_MADE[name]
    verdict = prove(text, asked)
    assert verdict.outcome == outcome
    _compare(text, asked, verdict, tmp_path / "question.aig", engines=("pdr",))


@needs_abc
@pytest.mark.parametrize("seed", range(75))
def test_generated(seed, tmp_path):
    rng = random.Random(seed)
    text, asked = program(rng), requirement(rng)
    _compare(text, asked, prove(text, asked), tmp_path / "question.aig", z3_to=60 if seed % 3 == 0 else 0)


def _asked(circuit, form):
    """One requirement per form that is a question about bad states: the first that it breaks, else the first."""
    asked = [a for a in circuit.asks(form) if not a.asked.endswith("can still be reached")]
    return min(asked, key=lambda a: a.id not in form.fails)


def _some():
    """Of each circuit a form that keeps all, and one that does not; `outside_all.py` takes them all."""
    for circuit in circuits():
        forms = {bool(form.fails): form for form in reversed(circuit.forms.values())}
        yield from ((circuit, form, _asked(circuit, form)) for form in forms.values())


CIRCUITS = list(_some())


@needs_abc
@pytest.mark.parametrize(("circuit", "form", "asked"), CIRCUITS, ids=lambda x: getattr(x, "file", None) or x.id)
def test_circuits(circuit, form, asked, tmp_path):
    may = None if circuit.board == "none" else (asked.may or circuit.may)
    flat = system_of(circuit.subject(form, asked), asked.asked, may=may)
    (tmp_path / "question.aig").write_bytes(to_aig(flat))
    outcome, scans = abc_both(tmp_path / "question.aig")
    found = explore(flat)
    assert outcome == found.outcome == ("fails" if asked.id in form.fails else "holds")
    if outcome == "fails":
        assert scans == found.depth


def _compare(text, asked, verdict, path, *, engines=(), z3_to=60):
    assert verdict.outcome != "undecided"
    flat = system_of(text, asked)
    expected = verdict.outcome, verdict.depth if verdict.outcome == "fails" else 0
    path.write_bytes(to_aig(flat))
    assert abc_both(path) == expected
    for engine in engines:
        assert abc(path, engine)[0] == verdict.outcome
    if z3_to:
        said, scans = z3_check(read_aag(to_aag(flat)), min(z3_to, verdict.depth + 2))
        if verdict.outcome == "fails":
            assert (said, scans) == expected
        else:
            assert said in ("holds", "not within")

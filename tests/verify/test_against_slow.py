"""Verdict and length of the shortest counterexample, against the slow explorer, on generated programs."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from verify_slow import explore

from labkit.logic import read_st
from labkit.verify import And, Never, Not, OnlyAfter, Or, Sign, StaysUntil, Whenever, prove

NAMES = ("A", "B", "M", "N", "K")
BLOCKS = {"T1": "TON", "T2": "TOF", "T3": "TP", "E1": "R_TRIG", "E2": "F_TRIG"}


def _expressions(names):
    leaf = st.sampled_from([*names, *(f"NOT {n}" for n in names)])
    return st.recursive(
        leaf,
        lambda inner: st.tuples(inner, st.sampled_from([" AND ", " OR ", " XOR "]), inner).map(
            lambda p: f"({p[0]}{p[1]}{p[2]})"
        ),
        max_leaves=4,
    )


@st.composite
def programs(draw):
    used = draw(st.lists(st.sampled_from(sorted(BLOCKS)), max_size=2, unique=True))
    names = (*NAMES, *(f"{b}.Q" for b in used))
    lines = [f"{target} := {draw(_expressions(names))};" for target in draw(st.permutations(["M", "N", "K"]))]
    for b in used:
        kind = BLOCKS[b]
        pin = "CLK" if "TRIG" in kind else "IN"
        tail = "" if "TRIG" in kind else f", PT := T#{draw(st.sampled_from([10, 15, 20, 30]))}ms"
        call = f"{b}({pin} := {draw(_expressions(NAMES))}{tail});"
        lines.insert(draw(st.integers(0, len(lines))), call)
    head = "VAR " + " ".join(f"{b} : {BLOCKS[b]};" for b in used) + " END_VAR\n" if used else ""
    return head + "\n".join(lines)


_sign = st.sampled_from(("M", "N", "K")).map(Sign)
_some = st.one_of(
    _sign,
    _sign.map(Not),
    st.tuples(_sign, _sign.map(Not)).map(And),
    st.tuples(_sign, _sign).map(Or),
)
requirements = st.one_of(
    _some.map(Never),
    st.builds(Whenever, _some, _some, st.integers(0, 4)),
    st.builds(OnlyAfter, _some, _some, st.one_of(st.none(), _some)),
    st.builds(StaysUntil, _some, _some),
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(programs(), requirements)
def test_same_verdict_and_same_length(text, asked):
    program = read_st(text)
    expected = explore(program, asked)
    assume(expected is not None)
    verdict = prove(program, asked)
    assert verdict.outcome == expected[0]
    if expected[0] == "fails":
        assert verdict.depth == expected[1]
        assert verdict.story.scans == expected[1]


@pytest.mark.parametrize(
    ("text", "asked", "outcome", "scans"),
    [
        # trade practice: a stop contact in the path of every branch; counted by hand
        ("K := A AND (B OR K);", Whenever(Not(Sign("A")), Not(Sign("K"))), "holds", None),
        ("K := B OR (A AND K);", Whenever(Not(Sign("A")), Not(Sign("K"))), "fails", 1),
        # TON of 30 ms at 10 ms scans: IN true in scan 1, Q true in scan 4
        ("VAR T : TON; END_VAR T(IN := A, PT := T#30ms); K := T.Q;", Never(Sign("K")), "fails", 4),
        ("VAR T : TON; END_VAR T(IN := A, PT := T#25ms); K := T.Q;", Never(Sign("K")), "fails", 4),
        # CTU to 3 needs three rising edges: on, off, on, off, on
        ("VAR C : CTU; END_VAR C(CU := A, R := FALSE, PV := 3); K := C.Q;", Never(Sign("K")), "fails", 5),
        ("VAR C : CTU; END_VAR C(CU := A, R := A, PV := 3); K := C.Q;", Never(Sign("K")), "holds", None),
    ],
)
def test_counted_by_hand(text, asked, outcome, scans):
    verdict = prove(text, asked)
    assert verdict.outcome == outcome
    if scans is not None:
        assert verdict.depth == scans

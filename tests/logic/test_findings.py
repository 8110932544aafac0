"""Findings and the cross-reference: values that name rung and column."""

from __future__ import annotations

import pytest

from labkit.logic import cross_reference, findings, read_ladder, read_st


def codes(text, **more):
    return [(f.code, f.name, f.rung) for f in findings(read_st(text), **more)]


def test_the_same_coil_on_two_rungs():
    found = findings(read_ladder("|   S1     K1  |\n|--| |----( )--|\n|   S2     K1  |\n|--| |----( )--|"))
    assert len(found) == 1
    assert (found[0].code, found[0].name, found[0].rung, found[0].line, found[0].column) == (
        "written-twice",
        "K1",
        2,
        4,
        11,
    )
    assert [(u.rung, u.line) for u in found[0].others] == [(1, 2)]
    assert "rungs 1, 2" in found[0].what


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("K1 := S1;", []),
        ("K1 := S1 AND (S2 OR K1);", []),  # a hold in its own rung is no slip
        ("K1 := S1 AND M1; M1 := S2;", [("read-above-written", "M1", 1)]),
        ("M1 := S2; K1 := S1 AND M1;", []),
        ("VAR T1 : TON; END_VAR\nK1 := T1.Q; T1(IN := S1, PT := T#1s);", []),
    ],
)
def test_read_above_its_coil(text, want):
    assert codes(text) == want


def test_an_input_that_the_program_writes():
    assert codes("S1 := S2; K1 := S1;", inputs=["S1", "S2"]) == [("input-written", "S1", 1)]
    assert codes("s1 := S2;", inputs=["S1"]) == [("input-written", "s1", 1)]
    assert codes("S1 := S2; K1 := S1;") == []


def test_set_and_reset():
    ladder = "|  S1     M1  |\n|--| |---(S)--|\n"
    reset = "|  S2     M1  |\n|--| |---(R)--|\n"
    plain = "|  S2     M1  |\n|--| |---( )--|\n"
    assert [f.code for f in findings(read_ladder(ladder))] == ["set-without-reset"]
    assert [f.code for f in findings(read_ladder(reset))] == ["reset-without-set"]
    assert [f.code for f in findings(read_ladder(ladder + reset))] == []
    assert [f.code for f in findings(read_ladder(ladder + plain))] == ["coil-and-latch"]


def test_the_cross_reference():
    table = cross_reference(read_st("VAR E : R_TRIG; END_VAR\nE(CLK := S1, Q => M1);\nK1 := M1 AND E.Q;"))
    assert list(table) == ["S1", "M1", "E.Q", "K1"]
    assert [(u.how, u.rung, u.line) for u in table["M1"]] == [("written", 1, 2), ("read", 2, 3)]
    assert [(u.how, u.rung, u.column) for u in table["E.Q"]] == [("read", 2, 14)]

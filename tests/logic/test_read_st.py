"""Structured Text: precedence, calls, declarations, comments."""

from __future__ import annotations

import pytest

from labkit.logic import (
    Block,
    Coil,
    Constant,
    Contact,
    Not,
    Parallel,
    Preset,
    Series,
    SlipError,
    Variable,
    Xor,
    read_program,
    read_st,
)


def tree(text):
    return read_st(text).rungs[0].network


def c(name, element, kind=""):
    return Contact(name, kind, element)


@pytest.mark.parametrize(
    ("loose", "tight"),
    [  # IEC 61131-3 operator precedence: NOT, AND and &, XOR, OR (from memory)
        ("A OR B AND C", "A OR (B AND C)"),
        ("A AND B OR C", "(A AND B) OR C"),
        ("A XOR B AND C", "A XOR (B AND C)"),
        ("A OR B XOR C", "A OR (B XOR C)"),
        ("A XOR B OR C", "(A XOR B) OR C"),
        ("NOT A AND B", "(NOT A) AND B"),
        ("NOT A XOR B", "(NOT A) XOR B"),
        ("A & B OR C", "(A AND B) OR C"),
        ("A and B or not C", "(A AND B) OR (NOT C)"),
        ("A AND (B AND C)", "(A AND B) AND C"),
        ("A XOR B XOR C", "A XOR (B XOR C)"),
        ("NOT NOT A", "A"),
        ("NOT (NOT (A OR B))", "A OR B"),
        ("((A))", "A"),
    ],
)
def test_precedence(loose, tight):
    def spelt(text):
        return tree(f"K := {text};")

    assert spelt(loose) == spelt(tight)


def test_the_tree_of_an_assignment():
    assert tree("K1 := S1 AND (S2 OR NOT K1_A);") == Series(
        (c("S1", 0), Parallel((c("S2", 1), c("K1_A", 2, "/"))), Coil("K1", "", 3))
    )
    assert tree("K1 := NOT (S1 AND S2);") == Series((Not(Series((c("S1", 0), c("S2", 1)))), Coil("K1", "", 2)))
    assert tree("K1 := S1 XOR S2;") == Series((Xor((c("S1", 0), c("S2", 1))), Coil("K1", "", 2)))
    assert tree("K1 := NOT TRUE;") == Series((Constant(False, 0), Coil("K1", "", 1)))


def test_a_block_call():
    program = read_st(
        "VAR T1 : TON; C1 : CTUD; END_VAR\n"
        "T1(IN := K1 AND NOT K1_A, PT := T#200ms);\nC1(LD := S1, CU := S2, PV := INT#7, QD => P1);\n"
        "K1 := T1.Q AND C1.qu;"
    )
    assert program.rungs[0].network == Series(
        (c("K1", 0), c("K1_A", 1, "/"), Block("T1", "TON", (), (("PT", Preset(200_000, "T#200ms")),), (), 2))
    )
    assert program.rungs[1].network == Series(
        (
            c("S2", 3),
            Block("C1", "CTUD", (("LD", c("S1", 4)),), (("PV", Preset(7, "INT#7")),), (("QD", "P1"),), 5),
        )
    )
    assert program.reads() == ("K1", "K1_A", "S2", "S1")
    assert program.writes() == ("P1", "K1")
    assert program.instances() == {"T1": "TON", "C1": "CTUD"}
    assert program.variables() == ("K1", "K1_A", "S2", "S1", "P1")


@pytest.mark.parametrize(
    ("text", "us"),
    [  # IEC 61131-3 duration literals; T#1s500ms = T#1.5s = T#1500ms (from memory)
        ("T#1s500ms", 1_500_000),
        ("T#1.5s", 1_500_000),
        ("T#1500ms", 1_500_000),
        ("TIME#1500ms", 1_500_000),
        ("t#1S500MS", 1_500_000),
        ("T#1m30s", 90_000_000),
        ("T#1h_2m", 3_720_000_000),
        ("T#1d", 86_400_000_000),
        ("T#0s", 0),
        ("T#250us", 250),
        ("T#0.25ms", 250),
        ("T#100m", 6_000_000_000),
    ],
)
def test_time_literals(text, us):
    network = tree(f"VAR T1 : TON; END_VAR\nT1(IN := S1, PT := {text});")
    assert network.items[1].presets == (("PT", Preset(us, text)),)


@pytest.mark.parametrize("text", ["T#5", "T#s", "T#1s1m", "T#1.5m30s", "T#1ms_", "T#1__s", "T#9999999d", "T#1x"])
def test_times_that_are_none(text):
    with pytest.raises(SlipError) as caught:
        read_st(f"VAR T1 : TON; END_VAR\nT1(IN := S1, PT := {text});")
    assert caught.value.code == "time-wrong"
    assert caught.value.line == 2


def test_declarations():
    program = read_st(
        "VAR\n  A, B : BOOL := TRUE;\n  D : TIME := T#2s;\nEND_VAR\nVAR RETAIN\n  M : SR; // kept\nEND_VAR\n"
        "var constant n : int := 5; end_var\nK := A;"
    )
    assert program.declarations == (
        Variable("A", "BOOL", False, 1),
        Variable("B", "BOOL", False, 1),
        Variable("D", "TIME", False, 2_000_000),
        Variable("M", "SR", True, 0),
        Variable("n", "INT", False, 5, True),
    )


def test_comments_belong_to_the_statement_below_inside_or_behind():
    program = read_st("(* One *)\nK1 := S1; // behind one\n// Two\n// more\nK2 :=\n  S2 (* inside *)\n;\nK3 := S3;")
    assert [(r.title, r.comment) for r in program.rungs] == [("One", "behind one"), ("Two", "more\ninside"), ("", "")]


def test_a_statement_may_run_over_lines_and_a_line_may_hold_several():
    program = read_st("K1 :=\n  S1\n  AND S2;K2:=S1;;K3:=K2;")
    assert program.writes() == ("K1", "K2", "K3")


def test_names_are_the_same_in_capitals_and_small_letters():
    program = read_st("K1 := s1 AND S1 OR k1;")
    assert program.variables() == ("s1", "K1")


def test_read_program_knows_which_language_it_is():
    assert read_program("K1 := S1;").language == "st"
    assert read_program("VAR T1 : TON; END_VAR (* | *)\nK1 := S1;").language == "st"
    assert read_program("(* K1 := S1; *)\n|   S1     K1  |\n|--| |----( )--|").language == "ladder"
    assert read_program("VAR A : BOOL; END_VAR\n|   S1     K1  |\n|--| |----( )--|").language == "ladder"


def test_equality_does_not_ask_where_things_stand():
    assert read_st("K1 := S1;") == read_st("\n\n  K1  :=  S1 ;")
    assert read_st("K1 := S1;") != read_st("K1 := S2;")

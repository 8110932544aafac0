"""Ladder text: the same tree as Structured Text, however loosely it is drawn."""

from __future__ import annotations

import textwrap

import pytest

from labkit.logic import (
    Block,
    Coil,
    Contact,
    Parallel,
    Preset,
    Series,
    SlipError,
    Variable,
    print_st,
    read_ladder,
    read_st,
)

HOLD = """
  (* K1 holds itself through its own auxiliary *)
|   S1        S2                K1   |
|--| |---+---| |---+-----------( )---|
|        |  K1_A   |                 |
|        +---| |---+                 |
"""
HOLD_ST = "K1 := S1 AND (S2 OR K1_A);"


def same(text, st):
    got, want = read_ladder(textwrap.dedent(text)), read_st(st)
    assert [r.network for r in got.rungs] == [r.network for r in want.rungs]
    return got


def test_the_hold():
    program = same(HOLD, HOLD_ST)
    assert program.rungs[0].title == "K1 holds itself through its own auxiliary"
    assert program.language == "ladder"
    assert program.text == HOLD


@pytest.mark.parametrize(
    "text",
    [
        # no right rail: IEC 61131-3 lets it be implied
        "|   S1        S2          K1\n|--| |---+---| |---+-----( )---\n|        |  K1_A   |\n|        +---| |---+",
        # the coil ends the line
        "|   S1        S2          K1\n|--| |---+---| |---+-----( )\n|        |  K1_A   |\n|        +---| |---+",
        # no rails on the other lines
        "    S1        S2          K1\n|--| |---+---| |---+-----( )---|\n         |  K1_A   |\n         +---| |---+",
        # indented, with blanks at the end
        "    |   S1        S2                K1   |   \n    |--| |---+---| |---+-----------( )---|  \n"
        "    |        |  K1_A   |                 |  \n    |        +---| |---+                 |",
        # names left-aligned and names off by some columns
        "|  S1       S2                   K1  |\n|--| |---+---| |---+-----------( )---|\n"
        "|        |     K1_A|                 |\n|        +---| |---+                 |",
        # a bar one column beside its plus
        "|   S1        S2                K1   |\n|--| |---+---| |---+-----------( )---|\n"
        "|       |   K1_A   |                 |\n|        +---| |---+                 |",
        # the branch drawn with bars where wires meet
        "|   S1        S2                K1   |\n|--| |---|---| |---|-----------( )---|\n"
        "|        |  K1_A   |                 |\n|        |---| |---|                 |",
        # the branch ends on the wire without a plus
        "|   S1        S2                K1   |\n|--| |-------| |---------------( )---|\n"
        "|        |  K1_A   |                 |\n|        +---| |---+                 |",
        # blanks in the contacts, contact beside contact, no lead at the rail
        "|  S1        S2                 K1   |\n|| / |---+---|  |---+----------(   )-|\n".replace(" / ", "   ")
        + "|        |  K1_A    |                |\n|        +---|  |---+                |",
        # an empty line in the drawing that only the rails cross
        "|   S1        S2                K1   |\n|                                    |\n"
        "|--| |---+---| |---+-----------( )---|\n"
        "|        |         |                 |\n|        |  K1_A   |                 |\n"
        "|        +---| |---+                 |",
        # the rail one column off
        "|   S1        S2                K1   |\n |-| |---+---| |---+-----------( )---|\n"
        "|        |  K1_A   |                 |\n |       +---| |---+                  |",
        # the right rail of the names too far out
        "|   S1        S2                K1      |\n|--| |---+---| |---+-----------( )---|\n"
        "|        |  K1_A   |              |\n|        +---| |---+                 |",
        # the rail drawn with a plus
        "|   S1        S2                K1   |\n+--| |---+---| |---+-----------( )---+\n"
        "|        |  K1_A   |                 |\n|        +---| |---+                 |",
        # small letters for a name written twice, line ends of another system, a comment beside
        HOLD.replace("\n", "\r\n"),
        HOLD.replace("K1   |\n|--", "K1   | (* here *)\n|--"),
    ],
)  # fmt: skip
def test_a_loosely_drawn_hold_is_the_hold(text):
    same(text, HOLD_ST)


def test_tabs_are_widened():
    text = "|\tS1\tS2\t\tK1\n|--| |---| |-----( )"
    program = read_ladder(text)
    assert program.reads() == ("S1", "S2")


def test_branches_to_any_depth_and_several_coils():
    program = read_ladder(
        textwrap.dedent(
            """
            |   A        B        C                 K1   |
            |--| |--+---| |--+---| |---+------+----( )---|
            |       |        |   D     |      |     K2   |
            |       |        +---|/|---+      +----(S)---|
            |       |   E              |      |     K3   |
            |       +---| |--+---------+      +----( )---|
            |       |   F    |                           |
            |       +---| |--+                           |
            """
        )
    )
    a, mid, coils = program.rungs[0].network.items
    assert a == Contact("A", "", 0)
    assert mid == Parallel(
        (
            Series((Contact("B", "", 1), Parallel((Contact("C", "", 2), Contact("D", "/", 3))))),
            Contact("E", "", 4),
            Contact("F", "", 5),
        )
    )
    assert coils == Parallel((Coil("K1", "", 6), Coil("K2", "S", 7), Coil("K3", "", 8)))


def test_branches_with_conditions_of_their_own_before_their_coils():
    program = read_ladder(
        textwrap.dedent(
            """
            |   A            B       K1   |
            |--| |----+-----| |-----( )---|
            |         |      C       K2   |
            |         +-----|/|-----( )---|
            |         |              K3   |
            |         +-------------( )---|
            """
        )
    )
    want = Series(
        (
            Contact("A", "", 0),
            Parallel(
                (
                    Series((Contact("B", "", 1), Coil("K1", "", 2))),
                    Series((Contact("C", "/", 3), Coil("K2", "", 4))),
                    Coil("K3", "", 5),
                )
            ),
        )
    )
    assert program.rungs[0].network == want


def test_coils_in_series_hand_on_their_power():
    program = read_ladder("|   A     K1    K2   |\n|--| |---( )---(R)--|")
    assert program.rungs[0].network == Series((Contact("A", "", 0), Coil("K1", "", 1), Coil("K2", "R", 2)))


def test_a_branch_that_starts_at_the_left_rail():
    same(
        """
        |   S2            K1   |
        |--| |-----+-----( )---|
        |   K1     |           |
        |--| |-----+           |
        """,
        "K1 := S2 OR K1;",
    )


def test_rungs_need_no_empty_line_between_them():
    same(
        """
        |   S1         K1   |
        |--| |--------( )---|
        |   S2         K2   |
        |--|/|--------( )---|
        """,
        "K1 := S1; K2 := NOT S2;",
    )


def test_comments_belong_to_the_rung_below_or_beside():
    program = read_ladder(
        textwrap.dedent(
            """
            (* First
               why it is there *)
            |   S1         K1   |
            |--| |--------( )---|   (* beside *)

            // Second
            |   S2         K2   |
            |--|/|--------( )---|
            """
        )
    )
    assert [(r.title, r.comment) for r in program.rungs] == [("First", "why it is there\nbeside"), ("Second", "")]


BOX = """
VAR
  D : TIME := T#1m30s;
END_VAR
|                T1                      |
|            +-------+                   |
|    S1      |  TON  |      S2     K1    |
|---| |------|IN    Q|------| |----( )---|
|        D---|PT   ET|                   |
|            +-------+                   |
"""


def test_a_block_in_the_power_flow():
    program = read_ladder(BOX)
    block = Block("T1", "TON", (), (("PT", Preset(90_000_000, "D")),), (), 1)
    assert program.rungs[0].network == Series((Contact("S1", "", 0), block, Contact("S2", "", 2), Coil("K1", "", 3)))
    assert program.declarations == (Variable("D", "TIME", False, 90_000_000),)
    assert program.instances() == {"T1": "TON"}


def test_a_block_with_its_type_in_the_upper_edge_and_a_constant_without_lead():
    program = read_ladder(
        textwrap.dedent(
            """
            |             C1              |
            |          +--CTU--+          |
            |   S1     |       |     K1   |
            |--| |-----|CU    Q|----( )---|
            |   RESET--|R    CV|          |
            |        5 |PV     |          |
            |          +-------+          |
            """
        )
    )
    block = Block("C1", "CTU", (("R", Contact("RESET", "", 1)),), (("PV", Preset(5, "5")),), (), 2)
    assert program.rungs[0].network == Series((Contact("S1", "", 0), block, Coil("K1", "", 3)))


def test_networks_on_the_further_pins_of_a_block():
    program = read_ladder(
        textwrap.dedent(
            """
            |                    M1             |
            |                 +------+          |
            |   S1            |  SR  |     K1   |
            |--| |------------|S1  Q1|----( )---|
            |   S2      S3    |      |          |
            |--| |--+--| |----|R     |          |
            |   S4  |         |      |          |
            |--|/|--+         +------+          |
            """
        )
    )
    assert print_st(program).splitlines()[-2:] == ["M1(S1 := S1, R := (S2 OR NOT S4) AND S3);", "K1 := M1.Q1;"]


def test_a_tag_on_an_output_pin_is_written():
    program = read_ladder(
        textwrap.dedent(
            """
            |            E1               |
            |        +--------+           |
            |        | R_TRIG |           |
            |  S1----|CLK    Q|----M1     |
            |        +--------+           |
            """
        )
    )
    assert program.rungs[0].network == Series((Contact("S1", "", 0), Block("E1", "R_TRIG", (), (), (("Q", "M1"),), 1)))
    assert program.writes() == ("M1",)


def test_a_block_needs_no_declaration_in_a_ladder_but_may_have_one():
    assert read_ladder(BOX.replace("VAR\n", "VAR\n  T1 : TON;\n", 1)).rungs == read_ladder(BOX).rungs


def test_constants_as_contacts():
    same("|  TRUE     K1  |\n|--| |-----( )--|\n|  TRUE     K2  |\n|--|/|-----( )--|", "K1 := TRUE; K2 := FALSE;")


def test_names_are_the_same_in_capitals_and_small_letters():
    program = read_ladder(
        "|   S1      s1     k1  |\n|--| |--+--| |----( )--|\n|   K1  |              |\n|--| |--+              |"
    )
    assert program.variables() == ("S1", "k1")


def test_spans_point_at_the_elements():
    program = read_ladder(HOLD)
    s1, parallel, coil = program.rungs[0].network.items
    assert (s1.span.line, s1.span.column, s1.span.width) == (4, 4, 3)
    assert (parallel.items[1].span.line, parallel.items[1].span.column) == (6, 14)
    assert (coil.span.line, coil.span.column) == (4, 32)
    assert program.rungs[0].span == s1.span


def test_an_open_bridge_is_refused_with_the_way_out():
    with pytest.raises(SlipError, match="S3 bridges two branches") as caught:
        read_ladder(
            textwrap.dedent(
                """
                |   S1         S2               K1   |
                |--| |----+---| |---------+----( )---|
                |         |   S3          |          |
                |         +---| |--+      |          |
                |   S4             |  S5  |          |
                |--| |-------------+--| |-+          |
                """
            )
        )
    assert "memory bit" in caught.value.try_this

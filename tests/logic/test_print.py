"""What is printed reads back as the same program."""

from __future__ import annotations

from hypothesis import given, settings
from logic_engines import by_walker
from logic_strategies import ladder_programs, programs, scans, st_programs

from labkit.logic import as_ladder, print_ladder, print_st, read_ladder, read_st
from labkit.logic.nodes import elements


def same_behaviour(a, b, steps):
    """Every name the first program has takes the same values in the second."""
    one, two = by_walker(a, steps), by_walker(b, steps)
    for first, second in zip(one.bits, two.bits, strict=True):
        for x, y in zip(first, second, strict=True):
            assert {k: y[k] for k in x} == x
    assert one.values == two.values


@settings(max_examples=200, deadline=None)
@given(ladder_programs())
def test_ladder_text_of_a_ladder_is_the_same_tree(program):
    again = read_ladder(print_ladder(program))
    assert again.rungs == program.rungs
    assert print_ladder(again) == print_ladder(program)


@settings(max_examples=200, deadline=None)
@given(st_programs())
def test_structured_text_of_a_text_is_the_same_tree(program):
    again = read_st(print_st(program))
    assert again.rungs == program.rungs
    assert again.declarations == program.declarations
    assert print_st(again) == print_st(program)


@settings(max_examples=150, deadline=None)
@given(st_programs(2), scans(lanes=2))
def test_ladder_text_of_a_text_does_the_same(program, steps):
    shown = as_ladder(program)
    again = read_ladder(print_ladder(program))
    assert again.rungs == shown.rungs
    assert again.declarations == program.declarations
    same_behaviour(program, again, steps)


@settings(max_examples=200, deadline=None)
@given(ladder_programs(), scans(lanes=2))
def test_structured_text_of_a_ladder_does_the_same(program, steps):
    same_behaviour(program, read_st(print_st(program)), steps)


@settings(max_examples=50, deadline=None)
@given(programs())
def test_every_printed_line_is_plain_and_has_no_blank_end(program):
    for text in (print_ladder(program), print_st(program)):
        assert text.isascii()
        assert text.endswith("\n")
        assert not text.endswith("\n\n")
        assert all(line == line.rstrip() for line in text.split("\n"))


def test_a_ladder_keeps_its_comments_and_header():
    text = """VAR
  M1 : BOOL := TRUE;
  D : TIME := T#1m1s;
END_VAR
VAR RETAIN
  M2 : BOOL;
END_VAR
VAR CONSTANT
  N : INT := 5;
END_VAR

(* Hold
   with its own bit

   and a gap *)
|   S1        K1     |
|--| |-------( )-----|
"""
    program = read_ladder(text)
    assert program.rungs[0].title == "Hold"
    assert program.rungs[0].comment == "with its own bit\n\nand a gap"
    again = read_ladder(print_ladder(program))
    assert (again.rungs, again.declarations) == (program.rungs, program.declarations)
    assert read_st(print_st(program)).rungs == program.rungs


def test_a_comment_cannot_end_the_comment_it_is_printed_in():
    program = read_st("K1 := S1; // rung *) one")
    assert read_ladder(print_ladder(program)).rungs[0].title == "rung * ) one"


HOLD = """(* Hold *)
|  S1      S2      K1   |
|--| |--+--| |--+--( )--|
|       | K1_A  |       |
|       +--| |--+       |
"""


def test_the_printed_hold_is_what_a_person_would_draw():
    assert print_ladder(read_st("(* Hold *) K1 := S1 AND (S2 OR K1_A);")) == HOLD


def test_set_and_reset_become_assignments():
    text = "|  S1     M1  |\n|--| |---(S)--|\n|  S2     M1  |\n|--| |---(R)--|"
    assert print_st(read_ladder(text)) == "M1 := S1 OR M1;\nM1 := M1 AND NOT S2;\n"


def test_a_transition_contact_becomes_a_bit_that_remembers():
    text = "|  S1     M1  |\n|--|P|---( )--|"
    assert print_st(read_ladder(text)) == "S1_RISES := S1 AND NOT S1_WAS;\nS1_WAS := S1;\nM1 := S1_RISES;\n"


def test_a_helper_bit_takes_no_name_that_is_in_use():
    text = "|  S1  S1_WAS  S1_RISES  |\n|--|P|--|/|-----( )------|"
    program = read_st(print_st(read_ladder(text)))
    assert {"S1_WAS", "S1_WAS_2", "S1_RISES", "S1_RISES_2"} <= set(program.variables())


def test_xor_is_drawn_out_and_not_goes_to_the_contacts():
    shown = as_ladder(read_st("K1 := S1 XOR NOT (S2 AND S3);"))
    assert print_st(shown) == "K1 := S1 AND S2 AND S3 OR NOT S1 AND (NOT S2 OR NOT S3);\n"
    assert [e.element for e in elements(shown.rungs[0].network)] == list(range(7))


def test_a_condition_that_its_own_coil_changes_is_kept_in_a_helper_bit():
    """Both coils get the power of before, in series as in parallel."""
    want = "RUNG1 := NOT M1;\nM1 := RUNG1;\nK2 := RUNG1;\n"
    assert print_st(read_ladder("|   M1     M1    K2   |\n|--|/|----( )---( )---|")) == want
    branches = "|   M1        M1   |\n|--|/|---+---( )---|\n|        |    K2   |\n|        +---( )---|"
    assert print_st(read_ladder(branches)) == want


def test_a_short_condition_that_nothing_changes_is_written_twice():
    assert print_st(read_ladder("|   S1     M1    K2   |\n|--|/|----( )---( )---|")) == "M1 := NOT S1;\nK2 := NOT S1;\n"


def test_a_coil_behind_joined_branches_gets_the_power_of_before_any_coil_wrote():
    text = "|   M1     M1      K2   |\n|--|/|----( )--+--( )---|\n|   S1     K3  |        |\n|--| |----( )--+        |"
    want = "RUNG1 := NOT M1;\nM1 := RUNG1;\nK3 := S1;\nK2 := RUNG1 OR S1;\n"
    assert print_st(read_ladder(text)) == want

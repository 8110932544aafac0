"""Every engine means the same as the walker."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from logic_engines import all_agree, by_lanes
from logic_strategies import ladder_programs, scans, st_programs

from labkit.base import LabkitError
from labkit.logic import lower, read_ladder, read_program, read_st, to_lanes, to_numpy

HOLD = """
|   S1        S2                K1   |
|--| |---+---| |---+-----------( )---|
|        |  K1_A   |                 |
|        +---| |---+                 |
"""


def run(text, *rows, period_us=10_000):
    """Scan a program once per row of inputs, written as ``"S1 S2"``; every engine; the bits after each scan."""
    program = read_program(text)
    names = program.variables()
    steps = [
        (i * period_us, [{n: n in row.split() for n in names if n not in program.writes()}])
        for i, row in enumerate(rows)
    ]
    return [lanes[0] for lanes in all_agree(program, steps).bits]


def column(name, history):
    return [bits[name] for bits in history]


@settings(max_examples=150, deadline=None)
@given(ladder_programs(), scans(lanes=4))
def test_random_ladders_mean_the_same_in_every_engine(program, steps):
    all_agree(program, steps)


@settings(max_examples=150, deadline=None)
@given(st_programs(), scans(lanes=4))
def test_random_texts_mean_the_same_in_every_engine(program, steps):
    all_agree(program, steps)


@settings(max_examples=30, deadline=None)
@given(st_programs(2), scans(lanes=70, most=4))
def test_more_lanes_than_a_machine_word_has_bits(program, steps):
    all_agree(program, steps)


def test_the_hold_of_the_lessons():
    """Three-wire start and stop with the contactor's feedback as the hold."""
    assert column("K1", run(HOLD, "S1", "S1 S2", "S1 S2 K1_A", "S1 K1_A", "K1_A", "S1")) == [0, 1, 1, 1, 0, 0]


def test_a_coil_read_in_its_own_rung_is_last_scans():
    """IEC 61131-3, evaluation of networks: a feedback path uses the value of the previous evaluation (from memory)."""
    text = "|   S2          K1   |\n|--| |--+-----( )---|\n|   K1  |            |\n|--| |--+            |"
    assert column("K1", run(text, "", "S2", "", "")) == [0, 1, 1, 1]


def test_rungs_are_solved_from_top_to_bottom_and_the_lower_of_two_coils_wins():
    """IEC 61131-3: networks of one program unit are taken from top to bottom (from memory)."""
    assert column("K1", run("K1 := S1; K1 := S2;", "S1", "S2", "S1 S2")) == [0, 1, 1]


def test_a_bit_read_above_its_coil_is_one_scan_late_and_below_it_is_not():
    history = run("P1 := M1; M1 := S1; P2 := M1;", "S1", "S1", "", "")
    assert column("P1", history) == [0, 1, 1, 0]
    assert column("P2", history) == [1, 1, 0, 0]


def test_power_never_flows_from_right_to_left():
    """IEC 61131-3: power flows left to right; here B must not reach C backwards through D (from memory)."""
    text = """
|   A        B             K1   |
|--| |--+---| |---+-------( )---|
|   C   |    D    |             |
|--| |--+---| |---+             |
"""
    assert column("K1", run(text, "A", "A B", "C D", "B D", "C B", "A D")) == [0, 1, 1, 0, 1, 1]


@pytest.mark.parametrize(
    ("symbol", "want"),
    [  # S1 goes 1 1 0 0 1 0; IEC 61131-3 LD contacts and coils (2nd ed. tables 59 to 62), from memory
        ("| |", [1, 1, 0, 0, 1, 0]),
        ("|/|", [0, 0, 1, 1, 0, 1]),
        ("|P|", [1, 0, 0, 0, 1, 0]),
        ("|N|", [0, 0, 1, 0, 0, 1]),
    ],
)
def test_each_contact(symbol, want):
    text = f"|   S1        K1   |\n|--{symbol}------( )---|"
    assert column("K1", run(text, "S1", "S1", "", "", "S1", "")) == want


@pytest.mark.parametrize(
    ("symbol", "want"),
    [
        ("( )", [1, 1, 0, 0, 1, 0]),
        ("(/)", [0, 0, 1, 1, 0, 1]),
        ("(S)", [1, 1, 1, 1, 1, 1]),
        ("(R)", [0, 0, 0, 0, 0, 0]),
        ("(P)", [1, 0, 0, 0, 1, 0]),
        ("(N)", [0, 0, 1, 0, 0, 1]),
    ],
)
def test_each_coil(symbol, want):
    text = f"|   S1        K1   |\n|--| |------{symbol}---|"
    assert column("K1", run(text, "S1", "S1", "", "", "S1", "")) == want


def test_set_and_reset_keep_until_told_otherwise_and_the_lower_one_wins():
    text = "|  S1     M1  |\n|--| |---(S)--|\n|  S2     M1  |\n|--| |---(R)--|"
    assert column("M1", run(text, "", "S1", "", "S2", "", "S1 S2")) == [0, 1, 1, 0, 0, 0]


def test_a_falling_contact_does_not_fire_at_the_first_scan_but_an_f_trig_does():
    """F_TRIG by its equations pulses when first called with CLK at 0; our |N| contact takes the bit before as 0."""
    text = """
|   S1               K1   |
|--|N|--------------( )---|
|            E1           |
|        +--------+       |
|   S1   | F_TRIG |  K2   |
|--| |---|CLK    Q|-( )---|
|        +--------+       |
"""
    history = run(text, "", "", "S1", "")
    assert column("K1", history) == [0, 0, 0, 1]
    assert column("K2", history) == [1, 0, 0, 1]


def test_two_transition_contacts_on_one_name_each_remember_for_themselves():
    text = "|  S1   S2    K1  |\n|--|P|--| |---( )--|\n|  S1     K2  |\n|--|P|----( )--|"
    history = run(text, "S1", "", "S1 S2", "S1 S2")
    assert column("K1", history) == [0, 0, 1, 0]
    assert column("K2", history) == [1, 0, 1, 0]


def test_a_transition_contact_behind_an_open_contact_still_watches():
    """It senses the change since its last evaluation, and it is evaluated in every scan, with power or without."""
    text = "|  S2    S1     K1  |\n|--| |---|P|----( )--|"
    assert column("K1", run(text, "", "S1", "S1 S2", "S2", "S1 S2")) == [0, 0, 0, 0, 1]


def test_a_timer_that_starts_itself_again_gives_one_pulse_per_period():
    text = "VAR T1 : TON; END_VAR\nT1(IN := NOT T1.Q, PT := T#20ms); K1 := T1.Q;"
    assert column("K1", run(text, *[""] * 9)) == [0, 0, 1, 0, 0, 0, 1, 0, 0]


def test_several_coils_of_one_rung_see_the_power_before_any_of_them_wrote():
    text = """
|   M1            M1   |
|--|/|---+-------( )---|
|        |        K2   |
|        +-------( )---|
"""
    assert column("K2", run(text, "", "", "")) == [1, 0, 1]


def test_a_start_value_and_a_constant_preset_are_used():
    text = "VAR M1 : BOOL := TRUE; D : TIME := T#20ms; T1 : TON; END_VAR\n"
    text += "K1 := M1; M1 := S1; T1(IN := S2, PT := D); K2 := T1.Q;"
    history = run(text, "S2", "S2", "S2")
    assert column("K1", history) == [1, 0, 0]
    assert column("K2", history) == [0, 0, 1]


def test_lanes_refuse_timers_and_counters_by_name():
    timed = lower(read_st("VAR\nT1 : TON;\nEND_VAR\nK1 := S1;\nT1(IN := S1, PT := T#1s);"))
    with pytest.raises(LabkitError, match="TON block T1 keeps a time") as caught:
        to_lanes(timed)
    assert caught.value.where == "rung 2"
    assert "to_numpy" in caught.value.try_this
    counted = lower(read_st("VAR C1 : CTU; END_VAR\nC1(CU := S1, PV := 2);"))
    with pytest.raises(LabkitError, match="CTU block C1 keeps a count"):
        to_numpy(counted, words=True)


def test_lanes_take_edges_and_memories():
    text = "VAR M : SR; E : R_TRIG; F : F_TRIG; R : RS; END_VAR\n"
    text += "M(S1 := S1, R := S2); E(CLK := S1); F(CLK := S1); R(S := S1, R1 := S2);"
    program = read_st(text)
    steps = [(0, [{"S1": a, "S2": b} for a in (False, True) for b in (False, True)])] * 3
    assert by_lanes(program, steps) is not None
    all_agree(program, steps)


@given(st.integers(1, 300), st.data())
@settings(max_examples=20, deadline=None)
def test_any_number_of_lanes(count, data):
    low = lower(read_ladder(HOLD))
    s1, s2, aux = (data.draw(st.integers(0, 2**count - 1)) for _ in range(3))
    bits = [s1, s2, aux, 0]
    to_lanes(low)(bits, [], 2**count - 1)
    assert bits == [s1, s2, aux, s1 & (s2 | aux)]

"""The flat form: its text is the golden format."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from hypothesis import given, settings
from logic_strategies import programs

from labkit.logic import lower, new_bits, new_memory, print_ladder, python_source, read_ladder, read_st


def test_one_assignment():
    assert (
        repr(lower(read_st("K1 := S1 AND (S2 OR NOT K1_A);", name="hold")))
        == """(program hold
  (slots S1 S2 K1_A K1)
  (rung 1)
  %0 = (load S1)
  %1 = (load S2)
  %2 = (load K1_A)
  %3 = (not %2)
  %4 = (or %1 %3)
  %5 = (and %0 %4)
  (store K1 %5))"""
    )


def test_a_shared_condition_is_solved_once_and_edges_have_their_own_memory():
    text = """
|   S1   S2          K1   |
|--| |--|P|---+-----( )---|
|             |      M1   |
|             +-----(S)---|
|             |  S3  M2   |
|             +--|/|-(N)--|
"""
    assert (
        repr(lower(read_ladder(text, name="edges")))
        == """(program edges
  (slots S1 S2 K1 M1 S3 M2)
  (memory edge1 edge5)
  (rung 1)
  %0 = (load S1)
  %1 = (load S2)
  %2 = (rise [edge1] %1)
  %3 = (and %0 %2)
  (store K1 %3)
  (set M1 %3)
  %4 = (load S3)
  %5 = (not %4)
  %6 = (and %3 %5)
  %7 = (fall [edge5] %6)
  (store M2 %7))"""
    )


def test_a_timer_and_a_counter():
    text = "VAR T1 : TON; C1 : CTU; END_VAR\nT1(IN := S1, PT := T#200ms);\nC1(CU := T1.Q, R := S2, PV := 3, Q => K1);"
    low = lower(read_st(text, name="timed"))
    assert (
        repr(low)
        == """(program timed
  (slots S1 T1.Q S2 C1.Q K1)
  (memory T1:mode T1:since T1:et C1:cv C1:cu)
  (rung 1)
  %0 = (load S1)
  (TON T1.Q [T1:mode] [T1:since] [T1:et] %0 200000)
  (rung 2)
  %1 = (load T1.Q)
  %2 = (load S2)
  (CTU C1.Q [C1:cv] [C1:cu] %1 %2 3)
  %3 = (load C1.Q)
  (store K1 %3))"""
    )
    assert low.has_timers
    assert low.readings == (("T1.ET", 2), ("C1.CV", 3))


def test_what_a_retain_section_keeps():
    text = "VAR RETAIN M1 : BOOL := TRUE; T1 : TON; END_VAR\nVAR X : BOOL; END_VAR\n"
    text += "M1 := S1; T1(IN := S1, PT := T#1s); K1 := T1.Q;"
    low = lower(read_st(text))
    assert [low.slots[i] for i in low.retained_slots] == ["M1", "T1.Q"]
    assert [low.memory[i] for i in low.retained_cells] == ["T1:mode", "T1:since", "T1:et"]
    assert low.slots[-1] == "X"
    assert new_bits(low) == [0, 1, 0, 0, 0]
    assert new_memory(low) == [0, 0, 0]


@settings(max_examples=100, deadline=None)
@given(programs())
def test_every_result_is_made_before_it_is_used_and_made_once(program):
    low = lower(program)
    made = set()
    for op in low.ops:
        assert set(op.args) <= made
        if op.result >= 0:
            assert op.result not in made
            made.add(op.result)
        assert all(0 <= s < len(low.slots) for s in op.slots)
        assert all(0 <= c < len(low.memory) for c in op.cells)


def test_a_condition_is_not_moved_past_a_write_to_what_it_reads():
    """The generated code keeps the old value of M1 for the second coil."""
    source = python_source(
        lower(read_ladder("|   M1        M1   |\n|--|/|--+--( )---|\n|       |   K2   |\n|       +--( )---|"))
    )
    assert source.index("= not b0") < source.index("b0 =", source.index("= not b0"))


TEXT = """
VAR C1 : CTUD; T1 : TP; END_VAR
K1 := S1 XOR NOT (S2 AND S3) OR M1;
T1(IN := K1, PT := T#2s);
C1(CU := T1.Q, CD := S1, R := S2, LD := S3, PV := 4, QD => M1);
"""


@pytest.mark.parametrize("seed", ["0", "1", "4711"])
def test_nothing_depends_on_the_hash_seed(seed):
    code = (
        "from labkit.logic import *\n"
        f"p = read_st({TEXT!r})\n"
        "print(repr(lower(p)), python_source(lower(p)), print_ladder(p), print_st(p), layout(p), findings(p))"
    )
    env = {**os.environ, "PYTHONHASHSEED": seed}
    out = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True).stdout
    program = read_st(TEXT)
    assert out.startswith(repr(lower(program)))
    assert print_ladder(program) in out
    assert python_source(lower(program)) in out


def test_numpy_is_loaded_only_by_its_own_engine():
    code = (
        "import sys; from labkit.logic import *\n"
        f"p = read_st({TEXT!r}); to_python(lower(p)); layout(p)\n"
        "assert 'numpy' not in sys.modules, 'numpy'"
    )
    subprocess.run([sys.executable, "-c", code], check=True)

"""The flow drawn from the controller's bits is the flow of the walker, which is the meaning of programs."""

from __future__ import annotations

import random

import pytest

from labkit.logic import BLOCKS, read_st, walker
from labkit.notebook._flow import Solving, standing_flow

PROGRAMS = {
    "seal": "K1 := S1 AND (S2 OR K1);",
    "two rungs": "M1 := S1 AND NOT S2; K1 := M1 OR (S2 AND K1); P1 := NOT K1;",
    "exclusive": "K1 := S1 XOR S2; P1 := NOT (S1 AND K1);",
    "timer": "VAR T1 : TON; END_VAR T1(IN := S1 AND NOT K1, PT := T#30ms); K1 := T1.Q OR S2; P1 := T1.Q AND S1;",
    "latch": "VAR L1 : SR; E1 : R_TRIG; END_VAR E1(CLK := S1); L1(S1 := E1.Q, R := S2); K1 := L1.Q1;",
}


@pytest.mark.parametrize("name", PROGRAMS)
def test_rung_by_rung_the_flow_is_the_walkers(name):
    program = read_st(PROGRAMS[name], name=name)
    walk, draw = walker(program), random.Random(name)
    names = list(program.variables())
    names += [f"{i}.{pin}" for i, kind in program.instances().items() for pin in BLOCKS[kind].outputs]
    bits = dict.fromkeys(names, False)
    walk.scan(bits, 0)
    now = 0
    for _ in range(200):
        before = dict(bits) | {"S1": draw.random() < 0.6, "S2": draw.random() < 0.4}
        bits = dict(before)
        now += 10_000
        flow = walk.scan(bits, now)
        solving = Solving(program, before, bits, before, before)
        steps = list(solving.rungs())
        assert steps[-1].flow == dict(flow.elements)
        assert solving.bits == bits
        assert [step.number for step in steps] == list(range(1, len(program.rungs) + 1))


def test_edge_contacts_see_the_scan_before():
    from labkit.logic import read_ladder

    text = """
    |   S1          K1   |
    |--|P|----------( )--|
    |   K1          M1   |
    |--|N|----------( )--|
    """
    program = read_ladder("\n".join(line.strip() for line in text.strip().splitlines()))
    walk, draw = walker(program), random.Random(3)
    bits = {"S1": False, "K1": False, "M1": False}
    walk.scan(bits, 0)
    earlier = dict(bits)
    for k in range(1, 200):
        last = dict(bits)
        now = dict(bits) | {"S1": draw.random() < 0.5}
        bits = dict(now)
        flow = walk.scan(bits, k * 10_000)
        solving = Solving(program, now, bits, last, earlier)
        assert list(solving.rungs())[-1].flow == dict(flow.elements)
        earlier = last


def test_standing_flow_agrees_with_the_walker_when_nothing_changes():
    program = read_st(PROGRAMS["two rungs"])
    bits = {"S1": True, "S2": False}
    walk = walker(program)
    for k in range(3):
        flow = walk.scan(bits, k * 10_000)
    assert standing_flow(program, lambda name: bits[name]) == dict(flow.elements)

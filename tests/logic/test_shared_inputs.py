"""Lanes work out once what several rungs AND together of inputs; what a rung writes is never taken from before."""

from __future__ import annotations

import random

import pytest

from labkit.logic import lower, read_st, to_lanes, walker
from labkit.logic._emit import generate
from labkit.logic._to_lanes import _Lanes

EVERY = (1 << 64) - 1

PROGRAMS = {
    "shared": ("A := S AND NOT T AND X; B := Y AND S AND NOT T; C := NOT T AND S;", 1),
    "two groups": ("A := S AND T AND X; B := S AND T AND Y; C := S AND NOT T; D := NOT T AND X AND S;", 2),
    "written between": ("A := S AND M; M := NOT S; B := S AND M AND X;", 0),
    "written first": ("M := S; A := M AND T; B := M AND T;", 0),
    "own output": ("A := S AND T AND (U OR A); B := S AND T AND A;", 1),
    "double": ("A := S AND S; B := S AND S; C := S AND NOT S; D := NOT S AND S;", 1),
    "set": ("A := S AND T; IF_S := S AND T;", 1),
}


@pytest.mark.parametrize("name", PROGRAMS)
def test_the_lanes_do_what_the_walker_does(name: str) -> None:
    text, groups = PROGRAMS[name]
    program = read_st(text)
    lowered = lower(program)
    lines = generate(lowered, _Lanes()).lines
    assert sum(line.startswith("g") for line in lines) == groups
    scan, source = to_lanes(lowered), random.Random(3)
    bits, walk = [0] * len(lowered.slots), [walker(program) for _ in range(64)]
    written = set(program.writes())
    values = [dict.fromkeys(lowered.slots, False) for _ in range(64)]
    for t in range(20):
        for slot, slot_name in enumerate(lowered.slots):
            if slot_name not in written:
                bits[slot] = source.getrandbits(64)
                for lane in range(64):
                    values[lane][slot_name] = bool(bits[slot] >> lane & 1)
        scan(bits, [], EVERY)
        for lane in range(64):
            walk[lane].scan(values[lane], t)
            assert [values[lane][n] for n in lowered.slots] == [bool(b >> lane & 1) for b in bits]

"""A slow and obvious explorer: the walker run from copies, states in a set, requirements by their definition.

It shares nothing with the proof but the reader of programs and the records of a requirement.
"""

from __future__ import annotations

import copy
from itertools import product

from labkit.logic import Program, Walker, walker
from labkit.verify import And, Never, Not, OnlyAfter, Sign, Whenever

LONG_AGO = 40
"""Scans; every preset in the tests is far below."""


def truth(c, values) -> bool:
    if isinstance(c, Sign):
        return bool(values.get(c.name, False))
    if isinstance(c, Not):
        return not truth(c.of, values)
    parts = [truth(i, values) for i in c.items]
    return all(parts) if isinstance(c, And) else any(parts)


def judge(asked, memory, values):
    """The new memory, and whether the requirement is broken now."""
    if isinstance(asked, Never):
        return (), truth(asked.bad, values)
    if isinstance(asked, Whenever):
        # one deadline per unanswered cause: how many later scans it may still wait
        left = {n - 1 for n in memory} | ({asked.within} if truth(asked.cause, values) else set())
        if truth(asked.effect, values):
            return (), False
        return tuple(sorted(left)), 0 in left
    if isinstance(asked, OnlyAfter):
        if asked.since is not None and truth(asked.since, values):
            memory = ()
        if truth(asked.first, values):
            memory = (1,)
        return memory, not memory and truth(asked.event, values)
    now = truth(asked.lasting, values)
    return (now,), memory == (True,) and not now and not truth(asked.end, values)


def _key(walk, values, now, inputs, scan_us):
    blocks = []
    for name, block in sorted(walk._blocks.items()):
        cells = dict(vars(block))
        if isinstance(cells.get("since"), int):
            cells["since"] = min((now - cells["since"]) // scan_us, LONG_AGO)
        blocks.append(
            (name, tuple(sorted((k, repr(vars(v)) if hasattr(v, "before") else v) for k, v in cells.items())))
        )
    kept = tuple(sorted((n, v) for n, v in values.items() if n not in inputs))
    return kept, tuple(sorted(walk._before.items())), tuple(blocks)


def another(walk: Walker) -> Walker:
    """A copy of a running program that shares nothing with it but the tree, which nobody changes."""
    return copy.deepcopy(walk, {id(walk.program): walk.program})


def explore(program: Program, asked, *, scan_us: int = 10_000, most: int = 4000):
    """``("holds", None)``, ``("fails", scans)``, or None if there are too many states."""
    written = set(program.writes())
    instances = program.instances()
    inputs = sorted(n for n in program.variables() if n not in written and n.partition(".")[0] not in instances)
    met = set()
    level = [(walker(program), {}, ())]
    depth, now = 0, 0
    while level:
        depth, now = depth + 1, now + scan_us
        following = []
        for walk, values, memory in level:
            for choice in product((False, True), repeat=len(inputs)):
                other, after = another(walk), {**values, **dict(zip(inputs, choice, strict=True))}
                other.scan(after, now)
                new, broken = judge(asked, memory, after)
                if broken:
                    return "fails", depth
                key = (_key(other, after, now, inputs, scan_us), new)
                if key not in met:
                    met.add(key)
                    following.append((other, after, new))
        if len(met) > most:
            return None
        level = following
    return "holds", None

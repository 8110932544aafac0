"""A short way to solve a board, and other things that several test files ask for."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from labkit.board import Board, Electrical, Wire, Wiring, conductors, electrify, parts_catalogue
from labkit.circuit import Solution, Solver


class Solved:
    """One solved state, with the questions that the tests ask."""

    def __init__(self, electrical: Electrical, solution: Solution) -> None:
        self.electrical = electrical
        self.solution = solution

    def volts(self, terminal: str, to: str = "G1:0V") -> float:
        return self.solution.volt(terminal, to)

    def channel(self, point: str) -> tuple[float, float]:
        found = next(c for c in self.electrical.inputs if c.point == point)
        return self.solution.volt(found.terminal, found.common), self.solution.amps(found.element)

    def grade(self, point: str) -> str:
        found = next(c for c in self.electrical.inputs if c.point == point)
        return found.grade(*self.channel(point))


Solve = Callable[..., Solved]


def solved(board: Board, wiring: Wiring | None = None, moves: dict[str, str] | None = None, **how: Any) -> Solved:
    """Supply on, breakers closed, these moves, and Kirchhoff's law checked."""
    electrical = electrify(board, wiring, **how)
    solver = Solver(electrical.circuit)
    solution = solver.solve(electrical.key({**electrical.powered(), **(moves or {})}))
    solution.check()
    return Solved(electrical, solution)


def with_type(board: Board, designation: str, entry: str) -> Board:
    """The board with another catalogue part in that place."""
    part = board.part(designation)
    return board.with_part(replace(part, entry_name=entry, entry=parts_catalogue()[entry]))


def codes(findings: Iterable[Any]) -> list[tuple[str, str]]:
    """What was found and where."""
    return [(f.code, f.terminal) for f in findings]


def rerouted(board: Board, chance: random.Random) -> Wiring:
    """Each potential joined anew: any tree over its terminals that the clamps hold, any numbers, lengths, order."""
    earth = board.earth_terminals
    kept = [w for w in board.wiring if w.ends & earth and w.no != "4"]
    nets = Wiring(tuple(w for w in board.wiring if not w.ends & earth)).nets()
    new: list[Wire] = []
    for net in nets:
        mm2 = max(w.mm2 for w in board.wiring if w.a in net and w.b in net)
        room = {t: board.terminals[t].clamps for t in net}
        room |= {t: room[t] - sum(t in w.ends for w in kept) for t in net}
        waiting = chance.sample(sorted(net), len(net))
        there = [waiting.pop()]
        while waiting:
            a = chance.choice([t for t in there if room[t] > 0])
            b = waiting.pop()
            room[a], room[b] = room[a] - 1, room[b] - 1
            there.append(b)
            sizes = [s for s in conductors().sizes(5) if s >= mm2][:2]
            ends = (a, b) if chance.random() < 0.5 else (b, a)
            new.append(Wire("", *ends, chance.choice(("BU", "RD", "BK")), chance.choice(sizes), chance.uniform(0.1, 2)))
    zero = chance.choice([t for t in ("G1:0V", "X1:0V") if sum(t in w.ends for w in new) < board.terminals[t].clamps])
    wires = [*kept, *new, Wire("", zero, "X1:PE", "GNYE", 1.5, 0.3)]
    chance.shuffle(wires)
    numbers = chance.sample(range(1, 1000), len(wires))
    return Wiring(tuple(replace(w, no=str(no)) for w, no in zip(wires, numbers, strict=True)))

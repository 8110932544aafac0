"""A short way to solve a board, and other things that several test files ask for."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from labkit.board import Board, Electrical, Wiring, electrify, parts_catalogue
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

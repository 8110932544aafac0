"""The compiled program as the controller sees it: slots, cells, and a function that solves it once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache

from labkit.logic import Program, Variable, lower, new_bits, new_memory, to_python

__all__ = ["Engine", "engine_of"]

_MOST_KEPT = 64  # a class's marking goes to and fro between a lesson's programs and one student's

# Which cells of each operation remember a previous value for an edge, by their place in the operation.
_EDGE_CELLS = {"rise": (0,), "fall": (0,), "R_TRIG": (0,), "F_TRIG": (0,), "CTU": (1,), "CTD": (1,), "CTUD": (1, 2)}


class Engine:
    """One program, compiled; it holds no state.

    Parameters
    ----------
    program
        None is the empty program.
    also
        Names that need a bit whether the program uses them or not.
    """

    __slots__ = ("_lowered", "edge_cells", "has_timers", "retained_cells", "retained_slots", "scan", "slots", "values")

    def __init__(self, program: Program | None, also: Iterable[str] = ()) -> None:
        whole = program or Program("empty", ())
        # a compiled program takes a list of exactly its own slots, so every other name becomes one of them
        others = tuple(Variable(name, "BOOL") for name in also)
        self._lowered = lowered = lower(replace(whole, declarations=(*whole.declarations, *others)))
        self.scan = to_python(lowered)
        self.slots = lowered.slots
        self.has_timers = lowered.has_timers
        self.retained_slots = frozenset(lowered.retained_slots)
        self.retained_cells = frozenset(lowered.retained_cells)
        self.edge_cells = frozenset(op.cells[n] for op in lowered.ops for n in _EDGE_CELLS.get(op.do, ()))
        self.values = dict(lowered.readings)

    def new_bits(self) -> list[int]:
        """Initial values of the slots."""
        return new_bits(self._lowered)

    def new_cells(self) -> list[int]:
        """Initial values of the hidden cells."""
        return new_memory(self._lowered)

    def timing(self, cells: list[int], now_us: int) -> bool:
        """Whether a timer runs."""
        return self.has_timers and self._lowered.timing(cells, now_us)


@lru_cache(maxsize=_MOST_KEPT)
def engine_of(program: Program | None, also: tuple[str, ...]) -> Engine:
    """The compiled program; the same program with the same names is compiled once."""
    return Engine(program, also)

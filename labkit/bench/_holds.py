"""The five programs that hold a motor, and the bench that they are tried on."""

from __future__ import annotations

from dataclasses import dataclass, field

from labkit.base import Duration, data_path, ms, read_text
from labkit.bench.errors import BenchError
from labkit.bench.front import Bench
from labkit.board import Board, load_board
from labkit.controller import Family
from labkit.controller import family as load_family
from labkit.logic import Program, read_ladder

__all__ = ["HOLDS", "PROVING", "Setup", "hold_program"]

HOLDS: dict[str, tuple[str, str]] = {
    "O": ("hold-output", "output bit"),
    "A": ("hold-auxiliary", "auxiliary"),
    "OA": ("hold-output-and-auxiliary", "output bit and auxiliary"),
    "S": ("hold-proving", "output bit with proving time"),
    "L": ("hold-set-reset", "set and reset, retained"),
}
"""Column -> the shipped program, and what holds the motor in it."""

PROVING = ms(200)
"""The proving time in ``hold-proving.ld``."""

# The points of the orchard board that matter here.
OUT, AUX = "Q1", "I10"
STOP, START, CONTACTOR, AUX_BLOCK = "S1", "S2", "K1", "K1.aux"
AUX_INPUT, PLUS, COIL = "A1:I10", "X1:24V", "K1:A1"
GROUP, CONTROLLER = "F4", "F1"


def hold_program(hold: str) -> Program:
    """One of the five programs, read from its ladder file.

    Raises
    ------
    BenchError
        If there is no such column.
    """
    if hold not in HOLDS:
        raise BenchError(f"there is no way to hold called {hold}", try_this="one of " + ", ".join(HOLDS), code="hold")
    name = HOLDS[hold][0]
    return read_ladder(read_text(data_path("datasets", "programs", f"{name}.ld")), name=name)


@dataclass(frozen=True, slots=True)
class Setup:
    """The bench that an experiment is made on.

    Parameters
    ----------
    board, family
        As for a bench.
    scan, filter
        In place of the family's own.
    """

    board: Board = field(default_factory=lambda: load_board("orchard"))
    family: Family = field(default_factory=lambda: load_family("alder"))
    scan: Duration | None = None
    filter: Duration | None = None
    # one bench, once made: the others share what it has solved
    _model: list[Bench] = field(default_factory=list, init=False, repr=False, compare=False)

    def bench(self, program: Program) -> Bench:
        """A bench that is up, with this program running and nothing pressed."""
        if not self._model:
            self._model.append(Bench(self.board, family=self.family, scan=self.scan, filter=self.filter))
        bench = self._model[0].again()
        bench.power_up()
        bench.load(program)
        bench.wait(ms(100))
        return bench

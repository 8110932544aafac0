"""A wired board with its supply on, ready to be asked what it does."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field

from labkit.board.boards import Board
from labkit.board.electrical import Electrical
from labkit.board.wiring import Wiring
from labkit.circuit import Solution, Solver

__all__ = ["DEAD_V", "SUPPLY_LOW_V", "Trial", "shown"]

DEAD_V = 5.0  # below this an input of any IEC 61131-2 type is off, and no load on this board works
SUPPLY_LOW_V = 20.4  # IEC 61131-2: 24 VDC less 15 %


def shown(volts: float) -> str:
    """Volts as a message shows them."""
    return f"{round(volts, 1) + 0.0:.1f} V"


@dataclass(slots=True)
class Trial:
    """The wired board with the supply on and nobody touching it, ready for questions."""

    board: Board
    wiring: Wiring
    electrical: Electrical
    make: Callable[[Wiring, frozenset[str]], Electrical]
    """Another network of the same board: other wires, and parts that are out besides."""
    solver: Solver = field(init=False)
    on: dict[str, str] = field(init=False)
    plus: str = field(init=False)
    minus: str = field(init=False)

    def __post_init__(self) -> None:
        self.solver = Solver(self.electrical.circuit)
        self.on = self.electrical.powered()
        part, supply = self.board.supplies[0]
        self.plus, self.minus = part.terminal(supply.plus), part.terminal(supply.minus)

    def at(self, moves: Mapping[str, str], opened: Collection[str] = ()) -> Solution:
        """Solved with the supply on and these positions, and without the elements `opened`."""
        key = self.electrical.key({**self.on, **moves})
        return self.solver.vary(key, opened=opened) if opened else self.solver.solve(key)

    def again(self, wiring: Wiring, out: Iterable[str] = ()) -> Trial:
        """The same board with other wires and some parts out."""
        return Trial(self.board, wiring, self.make(wiring, frozenset(out)), self.make)

    @property
    def outputs_on(self) -> dict[str, str]:
        """Every output on."""
        return {o.actor: "on" for o in self.electrical.outputs}

    @property
    def everything(self) -> dict[str, str]:
        """Every output on and every other thing in the position that closes most of its contacts."""
        moves = self.outputs_on
        for actor in self.electrical.actors.values():
            if actor.kind not in ("supply", "breaker", "fuse", "output"):
                moves[actor.id] = max(actor.states, key=lambda s: self.electrical.bits(actor.id, s).bit_count())
        return moves

    def wired(self, terminal: str) -> bool:
        """Whether any wire is on the terminal."""
        return bool(self.wiring.at(terminal))

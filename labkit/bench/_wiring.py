"""Which wires are landed, which blocks are fitted, which bridges are clipped on; one network for each state."""

from __future__ import annotations

from labkit.base import did_you_mean
from labkit.bench.electric import Network
from labkit.bench.errors import BenchError
from labkit.board import Board, Wiring, electrify
from labkit.controller import Family

__all__ = ["Rewiring"]

_MOST_NETWORKS = 64  # a fault-finding lesson goes to and fro between a handful


class Rewiring:
    """The wiring of a bench as hands change it.

    Going back to an earlier state of wiring finds its network, with all that was solved in it.
    """

    def __init__(self, board: Board, wiring: Wiring, family: Family) -> None:
        self._board, self._family = board, family
        self._wiring = wiring
        self._lifted: frozenset[str] = frozenset()
        self._joins: tuple[tuple[str, str, float], ...] = ()
        self.removed: frozenset[str] = frozenset()
        self._networks: dict[object, Network] = {}

    def landed(self) -> Wiring:
        """The wires that are landed."""
        return self._wiring.without(*sorted(self._lifted)) if self._lifted else self._wiring

    def network(self) -> Network:
        """The network of the present state."""
        state = (self._wiring, self._lifted, self._joins, self.removed)
        found = self._networks.get(state)
        if found is None:
            electrical = electrify(
                self._board, self.landed(), removed=self.removed, input_type=self._family.inputs.type_no
            )
            supply = self._family.supply
            found = Network(electrical, self._joins, supply.restore_v, supply.brown_out_v)
            if len(self._networks) >= _MOST_NETWORKS:
                self._networks.pop(next(iter(self._networks)))
            self._networks[state] = found
        return found

    def element(self, wire: str | int) -> str:
        """The circuit's element of a landed wire."""
        no = self._wiring.wire(wire).no
        if no in self._lifted:
            raise BenchError(f"wire {no} is lifted: no current can be clamped", where=f"wire {no}", code="bench-wire")
        return self._wiring.wire(no).element

    def lift(self, wire: str | int) -> None:
        """Take a wire off."""
        no = self._wiring.wire(wire).no
        if no in self._lifted:
            raise BenchError(f"wire {no} is lifted already", where=f"wire {no}", code="bench-wire")
        self._lifted |= {no}

    def land(self, wire: str | int) -> None:
        """Put a lifted wire back."""
        no = self._wiring.wire(wire).no
        if no not in self._lifted:
            raise BenchError(
                f"wire {no} is landed already",
                where=f"wire {no}",
                try_this="lifted are: " + (", ".join(sorted(self._lifted)) or "none"),
                code="bench-wire",
            )
        self._lifted -= {no}

    def replace(self, wiring: Wiring) -> None:
        """Other wiring altogether."""
        self._wiring, self._lifted, self._joins = wiring, frozenset(), ()

    def remove(self, block: str) -> None:
        """Pull a block off."""
        if block in self.removed:
            raise BenchError(f"{block} is off already", where=block, try_this=f'fit("{block}")', code="bench-block")
        self.removed |= {block}

    def fit(self, block: str) -> None:
        """Plug it on again."""
        if block not in self.removed:
            raise BenchError(
                f"{block} is fitted already", where=block, try_this=f'remove("{block}")', code="bench-block"
            )
        self.removed -= {block}

    def join(self, a: str, b: str, ohm: float) -> None:
        """Clip a bridge on."""
        if a == b:
            raise BenchError(f"a bridge needs two terminals, not {a} twice", where=a, code="bench-bridge")
        if self._bridge(a, b):
            raise BenchError(f"there is a bridge between {a} and {b} already", where=f"{a} - {b}", code="bench-bridge")
        self._joins = (*self._joins, (a, b, ohm))

    def unjoin(self, a: str, b: str) -> None:
        """Take a bridge off."""
        bridge = self._bridge(a, b)
        if bridge is None:
            known = ", ".join(f"{x} - {y}" for x, y, _ in self._joins) or "none"
            raise BenchError(
                f"there is no bridge between {a} and {b}",
                where=f"{a} - {b}",
                try_this=did_you_mean(a, [x for x, _, _ in self._joins], most=0) or f"bridges: {known}",
                code="bench-bridge",
            )
        self._joins = tuple(j for j in self._joins if j != bridge)

    def _bridge(self, a: str, b: str) -> tuple[str, str, float] | None:
        return next((j for j in self._joins if {j[0], j[1]} == {a, b}), None)

"""Which wires are landed, what is plugged on, which bridges are clipped on; one network for each such state."""

from __future__ import annotations

from dataclasses import astuple, dataclass, replace
from typing import Any

from labkit.base import did_you_mean
from labkit.bench._blocks import Blocks
from labkit.bench.electric import Network
from labkit.bench.errors import BenchError
from labkit.board import Board, Wire, Wiring, conductors, electrify
from labkit.circuit import Resistor
from labkit.controller import Family

__all__ = ["Rewiring"]

_AT_HOME = Blocks()
_MOST_NETWORKS = 64  # a fault-finding lesson goes to and fro between a handful


@dataclass(frozen=True, slots=True)
class _State:
    wiring: Wiring
    lifted: frozenset[str] = frozenset()
    removed: frozenset[str] = frozenset()
    bridges: tuple[tuple[str, str, float], ...] = ()
    joints: tuple[tuple[str, float], ...] = ()
    blocks: Blocks = _AT_HOME

    def landed(self) -> Wiring:
        return self.wiring.without(*sorted(self.lifted)) if self.lifted else self.wiring


class Rewiring:
    """The wiring of a bench as hands change it.

    Each change gives the network that it would lead to, and is made only by :meth:`take`: a wiring that cannot
    be has changed nothing. Going back to an earlier state finds its network, with all that was solved in it.
    """

    def __init__(self, board: Board, wiring: Wiring, family: Family) -> None:
        self._board, self._family = board, family
        self._first = self._state = self._next = _State(wiring)
        self._networks: dict[_State, Network] = {}

    def fresh(self) -> Rewiring:
        """The wiring as it was at first, with every network that has been solved so far."""
        other = Rewiring(self._board, self._first.wiring, self._family)
        other._networks = self._networks
        return other

    @property
    def removed(self) -> frozenset[str]:
        """What is pulled off."""
        return self._state.removed

    def landed(self) -> Wiring:
        """The wires that are landed."""
        return self._state.landed()

    def network(self) -> Network:
        """The network of the state that the last change leads to."""
        state = self._next
        found = self._networks.get(state)
        if found is None:
            landed = state.landed()
            joints = {no: ohm for no, ohm in state.joints if no not in state.lifted}
            bridges = [Resistor(f"bridge {a} {b}", a, b, ohm) for a, b, ohm in state.bridges]
            electrical = electrify(
                self._board,
                landed,
                removed=state.removed,
                input_type=self._family.inputs.type_no,
                joints=joints,
                extra=bridges,
                seats=dict(state.blocks.seats),
            )
            supply = self._family.supply
            found = Network(electrical, supply.restore_v, supply.brown_out_v)
            if len(self._networks) >= _MOST_NETWORKS:
                self._networks.pop(next(iter(self._networks)))
            self._networks[state] = found
        return found

    def take(self) -> None:
        """Make the last change."""
        self._state = self._next

    def element(self, wire: str | int) -> str:
        """The circuit's element of a landed wire."""
        found = self._state.wiring.wire(wire)
        if found.no in self._state.lifted:
            raise BenchError(
                f"wire {found.no} is lifted: there is no current to clamp",
                where=f"wire {found.no}",
                try_this=f'land("{found.no}") first',
                code="bench-wire",
            )
        return found.element

    def wire(self, wire: Wire) -> None:
        """Land a new wire."""
        conductors().find(wire.mm2, wire.conductor_class)
        self._next = replace(self._state, wiring=self._state.wiring.with_wire(wire))

    def unwire(self, wire: str | int) -> None:
        """Take a wire away for good, and what was wrong with it."""
        state = self._state
        no = state.wiring.wire(wire).no
        self._next = replace(
            state,
            wiring=state.wiring.without(no),
            lifted=state.lifted - {no},
            joints=tuple(joint for joint in state.joints if joint[0] != no),
        )

    def every(self) -> Wiring:
        """The wires that are landed or lifted."""
        return self._state.wiring

    def free_number(self) -> str:
        """A number that no wire has, landed or lifted."""
        return self._state.wiring.free_number()

    def changes(self, wiring: Wiring) -> tuple[list[str], list[list[Any]]]:
        """What another wiring takes off and lands: numbers, and the fields of wires."""
        old, new = set(self._state.wiring), set(wiring)
        off = [wire.no for wire in self._state.wiring if wire not in new]
        return off, [list(astuple(wire)) for wire in wiring if wire not in old]

    def lift(self, wire: str | int) -> None:
        """Take a wire off."""
        state = self._state
        no = state.wiring.wire(wire).no
        if no in state.lifted:
            raise BenchError(
                f"wire {no} is lifted already", where=f"wire {no}", try_this=f'land("{no}")', code="bench-wire"
            )
        self._next = replace(state, lifted=state.lifted | {no})

    def land(self, wire: str | int) -> None:
        """Put a lifted wire back."""
        state = self._state
        no = state.wiring.wire(wire).no
        if no not in state.lifted:
            raise BenchError(
                f"wire {no} is landed already",
                where=f"wire {no}",
                try_this="lifted are: " + (", ".join(sorted(state.lifted)) or "none"),
                code="bench-wire",
            )
        self._next = replace(state, lifted=state.lifted - {no})

    def joint(self, wire: str | int, ohm: float) -> None:
        """Give a wire a bad joint of so many ohms; 0 makes it good."""
        state = self._state
        no = state.wiring.wire(wire).no
        if not 0 <= ohm < float("inf"):
            raise BenchError(
                f"a joint has 0 ohm or more, not {ohm:g}",
                where=f"wire {no}",
                try_this="for an open one lift the wire",
                code="bench-value",
            )
        others = tuple(j for j in state.joints if j[0] != no)
        self._next = replace(state, joints=(*others, (no, ohm)) if ohm else others)

    def replace(self, wiring: Wiring) -> None:
        """Other wiring altogether."""
        self._next = _State(wiring, removed=self._state.removed, blocks=self._state.blocks)

    @property
    def blocks(self) -> Blocks:
        """Where the terminal blocks are."""
        return self._state.blocks

    def put_blocks(self, blocks: Blocks) -> None:
        """Other places for the terminal blocks."""
        self._next = replace(self._state, blocks=blocks)

    def remove(self, part: str) -> None:
        """Pull something off."""
        if part in self._state.removed:
            raise BenchError(f"{part} is off already", where=part, try_this=f'fit("{part}")', code="bench-block")
        self._next = replace(self._state, removed=self._state.removed | {part})

    def fit(self, part: str) -> None:
        """Put it on again."""
        if part not in self._state.removed:
            raise BenchError(f"{part} is fitted already", where=part, try_this=f'remove("{part}")', code="bench-block")
        self._next = replace(self._state, removed=self._state.removed - {part})

    def join(self, a: str, b: str, ohm: float) -> None:
        """Clip a bridge on."""
        if a == b:
            raise BenchError(f"a bridge needs two terminals, not {a} twice", where=a, code="bench-bridge")
        if self._bridge(a, b):
            raise BenchError(f"there is a bridge between {a} and {b} already", where=f"{a} - {b}", code="bench-bridge")
        self._next = replace(self._state, bridges=(*self._state.bridges, (a, b, ohm)))

    def unjoin(self, a: str, b: str) -> None:
        """Take a bridge off."""
        bridge = self._bridge(a, b)
        if bridge is None:
            known = ", ".join(f"{x} - {y}" for x, y, _ in self._state.bridges) or "none"
            raise BenchError(
                f"there is no bridge between {a} and {b}",
                where=f"{a} - {b}",
                try_this=did_you_mean(a, [x for x, _, _ in self._state.bridges], most=0) or f"bridges: {known}",
                code="bench-bridge",
            )
        self._next = replace(self._state, bridges=tuple(j for j in self._state.bridges if j != bridge))

    def _bridge(self, a: str, b: str) -> tuple[str, str, float] | None:
        return next((j for j in self._state.bridges if {j[0], j[1]} == {a, b}), None)

"""The hand that changes wires on a live bench: two terminals at a time, and back again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from labkit.base import LabkitError

__all__ = ["WiringHand"]


class WiringHand:
    """Lifts, lands and bridges on one bench, for all its views.

    Parameters
    ----------
    bench
        The bench whose wiring it changes.
    """

    def __init__(self, bench: Any) -> None:
        self._bench = bench
        self.bridges: list[tuple[str, str]] = []
        self.did = ""
        """The last change, in words."""
        self._lifted: dict[frozenset[str], str] = {}
        self._done: list[tuple[str, Callable[[], None]]] = []

    def between(self, a: str, b: str) -> None:
        """Lift the wire between two terminals, or land the one that was; without any, clip a bridge on or off.

        Raises
        ------
        LabkitError
            If there is no such terminal, or the two are the same.
        """
        bench = self._bench
        a, b = bench.terminal(a), bench.terminal(b)
        ends = frozenset((a, b))
        there = bench.wiring.between(a, b)
        if there:
            no = there[0].no
            self._lift(ends, no)
            self._remember(f"wire {no} lifted", lambda: self._land(ends))
        elif ends in self._lifted:
            no = self._lifted[ends]
            self._land(ends)
            self._remember(f"wire {no} landed", lambda: self._lift(ends, no))
        elif any({*pair} == {a, b} for pair in self.bridges):
            self._unclip(a, b)
            self._remember(f"bridge {a} to {b} taken off", lambda: self._clip(a, b))
        else:
            self._clip(a, b)
            self._remember(f"bridge clipped on, {a} to {b}", lambda: self._unclip(a, b))

    def take_back(self) -> None:
        """Undo the last change that was made here.

        Raises
        ------
        LabkitError
            If there is none.
        """
        if not self._done:
            raise LabkitError("there is nothing to take back", code="view-undo")
        did, back = self._done.pop()
        back()
        self.did = f"taken back: {did}"

    def _remember(self, did: str, back: Callable[[], None]) -> None:
        self.did = did
        self._done.append((did, back))

    def _lift(self, ends: frozenset[str], no: str) -> None:
        self._bench.lift(no)
        self._lifted[ends] = no

    def _land(self, ends: frozenset[str]) -> None:
        self._bench.land(self._lifted[ends])
        del self._lifted[ends]

    def _clip(self, a: str, b: str) -> None:
        self._bench.join(a, b)
        self.bridges.append((a, b))

    def _unclip(self, a: str, b: str) -> None:
        self._bench.unjoin(a, b)
        self.bridges = [pair for pair in self.bridges if {*pair} != {a, b}]

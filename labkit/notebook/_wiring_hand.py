"""The hand that changes wires and blocks on a live bench, one change at a time, and back again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from labkit.base import LabkitError

__all__ = ["WiringHand"]


class WiringHand:
    """Lands, lifts, lays and bridges on one bench, for all its views.

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
        self._done: list[tuple[str, Callable[[], object]]] = []

    # wires -----------------------------------------------------------------------------------------
    def between(self, a: str, b: str) -> None:
        """Lift the wire between two terminals, or land the one that was lifted there.

        Raises
        ------
        LabkitError
            If there is no such terminal, or no wire that ends at both.
        """
        bench = self._bench
        a, b = bench.terminal(a), bench.terminal(b)
        there = bench.wiring.between(a, b)
        lifted = bench.lifted.between(a, b)
        if there:
            self.lift(there[0].no)
        elif lifted:
            self.land(lifted[0].no)
        else:
            raise LabkitError(
                f"no wire runs between {a} and {b}", try_this="lay a new one, or clip a bridge on", code="view-wire"
            )

    def lift(self, no: str) -> None:
        """Take a wire's ends off."""
        self._bench.lift(no)
        self._remember(f"wire {no} lifted", lambda: self._bench.land(no))

    def land(self, no: str) -> None:
        """Put a lifted wire back."""
        self._bench.land(no)
        self._remember(f"wire {no} landed", lambda: self._bench.lift(no))

    def lay(self, a: str, b: str, no: str, *, colour: str, mm2: float, m: float) -> None:
        """Land a new wire.

        Raises
        ------
        LabkitError
            If it has no number, or no such wire can be.
        """
        if not no:
            raise LabkitError("a wire needs a number", try_this="the one in your wire list", code="view-wire")
        self._bench.wire(a, b, no=no, colour=colour, mm2=mm2, m=m)
        self._remember(f"new wire {no} from {a} to {b}", lambda: self._bench.unwire(no))

    def take_away(self, no: str) -> None:
        """Take a wire away for good."""
        bench = self._bench
        wire = next((w for w in (*bench.wiring, *bench.lifted) if w.no == no), None)
        lifted = wire is not None and wire in tuple(bench.lifted)
        bench.unwire(no)
        assert wire is not None, "the bench knew it"

        def back() -> None:
            bench.wire(wire.a, wire.b, no=no, colour=wire.colour, mm2=wire.mm2, m=wire.m, ferrule=wire.ferrule)
            if lifted:
                bench.lift(no)

        self._remember(f"wire {no} taken away", back)

    def bridge(self, a: str, b: str) -> None:
        """Clip a bridge between two terminals on, or off if there is one.

        Raises
        ------
        LabkitError
            If there is no such terminal, or the two are the same.
        """
        a, b = self._bench.terminal(a), self._bench.terminal(b)
        if any({*pair} == {a, b} for pair in self.bridges):
            self._unclip(a, b)
            self._remember(f"bridge {a} to {b} taken off", lambda: self._clip(a, b))
        else:
            self._clip(a, b)
            self._remember(f"bridge clipped on, {a} to {b}", lambda: self._unclip(a, b))

    # terminal blocks -------------------------------------------------------------------------------
    def block(self, block: str, to: str, on: str = "") -> None:
        """Pull a plug-on terminal block ``off``, hang it ``parked``, or push it on a header, ``seated``.

        Raises
        ------
        LabkitError
            If there is no such block, or it does not go there.
        """
        was, where = self._bench.block(block), self._bench.seated_on(block)
        self._put_block(block, to, on)
        words = {
            "off": "pulled off",
            "parked": "parked beside its header",
            "seated": f"pushed onto header {on or block}",
        }
        self._remember(f"block {block} {words[to]}", lambda: self._put_block(block, was, where))

    def _put_block(self, block: str, to: str, on: str) -> None:
        bench = self._bench
        if to == "seated":
            if bench.seated_on(block) not in ("", on or block):
                bench.pull(block)  # from another's header
            bench.seat(block, on or block)
        else:
            (bench.park if to == "parked" else bench.pull)(block)

    # back ------------------------------------------------------------------------------------------
    def take_back(self) -> None:
        """Undo the last change that was made here.

        Raises
        ------
        LabkitError
            If there is none, or code has made it impossible since.
        """
        if not self._done:
            raise LabkitError("there is nothing to take back", code="view-undo")
        did, back = self._done.pop()
        back()
        self.did = f"taken back: {did}"

    def _remember(self, did: str, back: Callable[[], object]) -> None:
        self.did = did
        self._done.append((did, back))

    def _clip(self, a: str, b: str) -> None:
        self._bench.join(a, b)
        self.bridges.append((a, b))

    def _unclip(self, a: str, b: str) -> None:
        self._bench.unjoin(a, b)
        self.bridges = [pair for pair in self.bridges if {*pair} != {a, b}]

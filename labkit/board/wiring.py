"""Wires between terminals, as a value that is never changed in place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from labkit.base import did_you_mean
from labkit.board.errors import WiringError

__all__ = ["Wire", "Wiring"]


@dataclass(frozen=True, slots=True)
class Wire:
    """One conductor between two terminals.

    Parameters
    ----------
    no
        Conductor number as printed on its marker, kept as text.
    a, b
        Terminal ids, e.g. ``"K1:A1"``. Which end is `a` means nothing electrically.
    colour
        IEC 60757 letter code, e.g. ``"BU"``, ``"GNYE"``.
    mm2, m
        Cross-section in mm2 and length in metres.
    ferrule
        Whether both ends carry a ferrule.
    conductor_class
        IEC 60228 class: 5 is the flexible conductor of a panel.
    """

    no: str
    a: str
    b: str
    colour: str = "BU"
    mm2: float = 0.75
    m: float = 0.5
    ferrule: bool = True
    conductor_class: int = 5

    @property
    def element(self) -> str:
        """The name of the circuit element that this wire is."""
        return f"wire {self.no}"

    @property
    def ends(self) -> frozenset[str]:
        """Both terminal ids, without an order."""
        return frozenset((self.a, self.b))


@dataclass(frozen=True, slots=True)
class Wiring:
    """Every wire of a board, in landing order.

    Examples
    --------
    >>> w = Wiring().with_wire(Wire("1", "G1:24V", "F1:1")).with_wire(Wire("2", "F1:2", "A1:24V"))
    >>> [x.no for x in w.without("1")]
    ['2']
    """

    wires: tuple[Wire, ...] = ()

    def __iter__(self) -> Iterator[Wire]:
        return iter(self.wires)

    def __len__(self) -> int:
        return len(self.wires)

    def wire(self, no: str | int) -> Wire:
        """The wire with this number.

        Raises
        ------
        WiringError
            If no wire has it.
        """
        for wire in self.wires:
            if wire.no == str(no):
                return wire
        raise WiringError(
            f"there is no wire {no} on this board",
            where=f"wire {no}",
            try_this=(did_you_mean(str(no), [w.no for w in self.wires]) if str(no)[:1].isdigit() else "")
            or "a wire goes by the number on its ferrules; the wire list has them all",
            code="wiring-unknown-number",
        )

    def between(self, a: str, b: str) -> tuple[Wire, ...]:
        """The wires that join these two terminals directly."""
        return tuple(w for w in self.wires if w.ends == {a, b})

    def at(self, terminal: str) -> tuple[Wire, ...]:
        """The wires landed on this terminal."""
        return tuple(w for w in self.wires if terminal in (w.a, w.b))

    def without(self, *numbers: str | int) -> Wiring:
        """The wiring with these wires lifted.

        Raises
        ------
        WiringError
            If a number is not there.
        """
        gone = {self.wire(no).no for no in numbers}
        return Wiring(tuple(w for w in self.wires if w.no not in gone))

    def with_wire(self, *wires: Wire) -> Wiring:
        """The wiring with these wires landed after the others.

        Raises
        ------
        WiringError
            If a number is taken, or both ends are the same terminal.
        """
        taken = {w.no for w in self.wires}
        for wire in wires:
            if wire.no in taken:
                raise WiringError(
                    f"number {wire.no} is already on the wire {self._ends(wire.no)}",
                    where=f"wire {wire.no}",
                    try_this=f"{self.free_number()} is free",
                    code="wiring-number-taken",
                )
            if wire.a == wire.b:
                raise WiringError(
                    f"both ends of wire {wire.no} are on {wire.a}",
                    where=f"wire {wire.no}",
                    try_this="land the other end on another terminal",
                    code="wiring-same-terminal",
                )
            taken.add(wire.no)
        return Wiring(self.wires + wires)

    def moved(self, no: str | int, *, end: str, to: str) -> Wiring:
        """The wiring with one end of a wire moved from terminal `end` to terminal `to`, in place.

        Raises
        ------
        WiringError
            If the wire is not there, or has no end on `end`.
        """
        wire = self.wire(no)
        if end not in wire.ends:
            raise WiringError(
                f"wire {no} has no end on {end}: it joins {wire.a} and {wire.b}",
                where=end,
                try_this=did_you_mean(end, (wire.a, wire.b)),
                code="wiring-wrong-end",
            )
        new = replace(wire, a=to) if wire.a == end else replace(wire, b=to)
        if new.a == new.b:
            raise WiringError(
                f"both ends of wire {no} would be on {to}",
                where=to,
                try_this="move it to another terminal, or lift the wire",
                code="wiring-same-terminal",
            )
        return Wiring(tuple(new if w.no == wire.no else w for w in self.wires))

    def renumber(self, first: int = 1) -> Wiring:
        """The same wires in the same order, numbered from `first` upwards."""
        return Wiring(tuple(replace(w, no=str(first + i)) for i, w in enumerate(self.wires)))

    def free_number(self) -> str:
        """The lowest whole number that no wire has."""
        taken = {w.no for w in self.wires}
        return next(str(n) for n in range(1, len(taken) + 2) if str(n) not in taken)

    def nets(self, joined: Iterable[Iterable[str]] = ()) -> tuple[frozenset[str], ...]:
        """Terminals joined by wire (and by the groups in `joined`), in order of first mention."""
        parent: dict[str, str] = {}

        def root(t: str) -> str:
            parent.setdefault(t, t)
            while parent[t] != t:
                parent[t] = parent[parent[t]]
                t = parent[t]
            return t

        for wire in self.wires:
            parent[root(wire.b)] = root(wire.a)
        for group in joined:
            first, *rest = group
            for other in rest:
                parent[root(other)] = root(first)
        nets: dict[str, list[str]] = {}
        for t in list(parent):
            nets.setdefault(root(t), []).append(t)
        return tuple(frozenset(members) for members in nets.values())

    def _ends(self, no: str) -> str:
        return next((f"{w.a} - {w.b}" for w in self.wires if w.no == no), "just named")

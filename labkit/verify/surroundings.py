"""What may happen around a program: which positions each thing may take from scan to scan, each switched on by name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from labkit.base import did_you_mean
from labkit.bench import Bench, Network
from labkit.verify.errors import ProofError

__all__ = ["Thing", "as_found", "things"]

# kind of part: the positions it may take, rest first, and the one that a bare "pos:NAME" asks for
_POSITIONS = {
    "push_button": ("released", "pressed"),
    "emergency_stop": ("released", "pressed"),
    "key_switch": ("off", "on"),
    "breaker": ("on", "off"),
    "supply": ("on", "off"),
    "overload": ("healthy", "tripped"),
}
_WORKED = {"pressed", "on", "tripped", "blocked", "near", "missing", "lifted", "1", "welded"}


@dataclass(frozen=True, slots=True)
class Thing:
    """Something that may take one of several positions, chosen anew for every scan.

    Parameters
    ----------
    name
        As it is switched on: ``S2``, ``F4``, ``K1.aux``, ``wire:101``, ``panel:PSTART``, ``weld:K1``.
    kind
        ``part``, ``beam``, ``metal``, ``block``, ``wire``, ``panel`` or ``weld``.
    part
        What it is on the board: ``S2``, ``101``, ``PSTART``.
    positions
        The first is rest.
    """

    name: str
    kind: str
    part: str
    positions: tuple[str, ...]

    def asked(self, position: str | None) -> int:
        """The number of the position that ``pos:NAME`` or ``pos:NAME=position`` asks for; -1 if there is none."""
        if position is None:
            return next((i for i, p in enumerate(self.positions) if p in _WORKED), -1)
        return self.positions.index(position) if position in self.positions else -1


def things(bench: Bench, names: Iterable[str] | None) -> tuple[Thing, ...]:
    """The things that may move; without names, the hand-worked devices whose inputs the program reads.

    Raises
    ------
    ProofError
        If there is no such thing on this bench.
    """
    if names is None:
        names = _usual(bench)
    found = [_thing(bench, name) for name in dict.fromkeys(names)]
    return tuple(found)


def _usual(bench: Bench) -> list[str]:
    program = bench.engine.controller.program
    read = set(program.reads()) if program is not None else set()
    actors = bench.engine.net.electrical.actors
    devices = [p.device for p in bench.board.points.values() if p.direction == "input" and p.tag in read]
    kinds = {*_POSITIONS, "selector"} - {"supply", "breaker"}
    return [d for d in dict.fromkeys(devices) if (d in actors and actors[d].kind in kinds) or _sensor(bench, d)]


def _sensor(bench: Bench, part: str) -> str:
    return next((s.senses for s in bench.engine.net.electrical.sensors if s.part == part), "")


def _thing(bench: Bench, name: str) -> Thing:
    head, _, rest = name.partition(":")
    if rest and head == "wire":
        return Thing(name, "wire", bench.wiring.wire(rest).no, ("landed", "lifted"))
    if rest and head == "panel":
        program = bench.engine.controller.program
        own = [] if program is None else [n for n in program.variables() if "." not in n]
        inputs = {tag.name for tag in bench.tags if tag.kind == "input"}
        memory = [n for n in dict.fromkeys([*bench.tags.by_name, *own]) if n not in inputs]
        if rest not in memory:
            raise ProofError(
                f"a panel writes memory or output bits, and {rest} is none",
                where=name,
                try_this=did_you_mean(rest, memory),
                code="proof-thing",
            )
        return Thing(name, "panel", rest, ("0", "1"))
    electrical = bench.engine.net.electrical
    if rest and head == "weld" and rest in {coil.part for coil in electrical.coils}:
        return Thing(name, "weld", rest, ("free", "welded"))
    label = name
    if name == "power":
        name = next(a.id for a in electrical.actors.values() if a.kind == "supply")
    actor = electrical.actors.get(name)
    if senses := _sensor(bench, name):
        return Thing(name, senses, name, ("clear", "blocked") if senses == "beam" else ("away", "near"))
    if actor is not None and actor.kind == "selector":
        return Thing(name, "part", name, (actor.rest, *(s for s in actor.states if s != actor.rest)))
    if actor is not None and actor.kind in _POSITIONS:
        return Thing(label, "part", name, _POSITIONS[actor.kind])
    blocks = _blocks(bench)
    if name in blocks:
        return Thing(name, "block", name, ("fitted", "missing"))
    known = [a.id for a in electrical.actors.values() if a.kind in _POSITIONS or a.kind == "selector"]
    raise ProofError(
        f"nothing called {name} may happen at this bench",
        where=name,
        try_this=did_you_mean(name, [*known, *blocks, "power"])
        or "name a button, breaker, overload or block, or wire:NUMBER, panel:TAG, weld:CONTACTOR",
        code="proof-thing",
    )


def _blocks(bench: Bench) -> list[str]:
    return [block.id for part in bench.board.parts.values() for block in part.blocks]


def as_found(bench: Bench) -> Bench:
    """A fresh bench, wired as this one is now, with the armatures that are welded or jammed in it."""
    other = bench.as_wired()
    for part, armature in bench.engine.contactors.items():
        if armature.welded or armature.jammed:
            other.engine.hinder(part, welded=armature.welded, jammed=armature.jammed)
    return other


def network(bench: Bench, lifted: tuple[str, ...], missing: tuple[str, ...]) -> Network:
    """The bench's network with some more wires off and blocks pulled; what was solved before is kept."""
    return bench.network_with(lifted=lifted, removed=missing)

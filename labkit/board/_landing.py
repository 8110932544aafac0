"""Checks on a wiring as a list: ends, numbers, clamps, sizes. What it does is judged elsewhere."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from labkit.board._files import conductors
from labkit.board.boards import Board, Part
from labkit.board.catalogue import ContactorPart, ControllerPart, MotorPart, OverloadPart, StripPart
from labkit.board.errors import WiringError
from labkit.board.findings import Finding
from labkit.board.wiring import Wiring

__all__ = ["landed", "landing_findings"]


def landed(board: Board, wiring: Wiring) -> Wiring:
    """The wires that can be there at all: both ends known and apart, a number of their own, a made size."""
    kept, taken = [], set()
    for wire in wiring:
        if wire.no in taken or wire.a == wire.b or not wire.ends <= board.terminals.keys():
            continue
        if wire.mm2 not in conductors().sizes(wire.conductor_class):
            continue
        taken.add(wire.no)
        kept.append(wire)
    return Wiring(tuple(kept))


def landing_findings(board: Board, wiring: Wiring) -> Iterator[Finding]:
    """Everything that can be said without solving."""
    yield from _wires(board, wiring)
    yield from _clamps(board, wiring)
    yield from _loose(board, wiring)


def _wires(board: Board, wiring: Wiring) -> Iterator[Finding]:
    numbers: set[str] = set()
    pairs: dict[frozenset[str], str] = {}
    for wire in wiring:
        for end in (wire.a, wire.b):
            if end not in board.terminals:
                what, try_this = board.about_unknown(end)
                yield Finding("unknown-terminal", end, f"Wire {wire.no}: {what}", try_this, "fault")
        if wire.no in numbers:
            what = f"Number {wire.no} is on two wires; only the first is taken."
            yield Finding("duplicate-number", wire.a, what, "Give the second its own number.", "fault")
        numbers.add(wire.no)
        if wire.a == wire.b:
            what = f"Both ends of wire {wire.no} are on {wire.a}."
            yield Finding("same-terminal", wire.a, what, "Land one end elsewhere.", "fault")
        elif wire.ends in pairs:
            what = f"Wire {wire.no} joins the same terminals as wire {pairs[wire.ends]}."
            yield Finding("duplicate-wire", wire.a, what, "Lift one of them.", "advice")
        pairs.setdefault(wire.ends, wire.no)
        try:
            conductors().find(wire.mm2, wire.conductor_class)
        except WiringError as exc:
            yield Finding("no-such-conductor", wire.a, f"Wire {wire.no}: {exc.what}.", f"{exc.try_this}.", "fault")


def _clamps(board: Board, wiring: Wiring) -> Iterator[Finding]:
    ends = Counter(t for wire in wiring for t in (wire.a, wire.b))
    for terminal, count in ends.items():
        takes = board.terminals[terminal].clamps if terminal in board.terminals else count
        if count > takes:
            what = f"{count} wires are on {terminal}, which takes {takes}. A clamp holds only what it is made for."
            yield Finding("too-many-wires", terminal, what, "Use a distribution block of X1.", "fault")


def _loose(board: Board, wiring: Wiring) -> Iterator[Finding]:
    wired = {t for wire in wiring for t in (wire.a, wire.b)}
    for part in board.parts.values():
        groups = list(_belonging(part))
        if not groups:
            continue
        whole = {t for group in groups for t in group}
        if not whole & wired:
            what = f"{part.designation} ({part.label or part.entry.text}) has no wire at all."
            yield Finding("loose-device", min(whole), what, "Wire it, or leave it on purpose.", "advice")
            continue
        for group in groups:
            bare = [t for t in group if t not in wired]
            if bare and len(bare) < len(group):
                has = " and ".join(t for t in group if t in wired)
                verb = "have" if " and " in has else "has"
                what = f"{bare[0]} has no wire, but {has} {verb}: no current can go through."
                yield Finding("loose-end", bare[0], what, f"Land a wire on {bare[0]}.", "fault")


def _belonging(part: Part) -> Iterator[tuple[str, ...]]:
    """Terminals that only work together. Power poles and heaters wait for the motor's circuit."""
    entry = part.entry
    if isinstance(entry, StripPart | ControllerPart | MotorPart):
        return
    contacts = [*entry.contact_list(), *(c for b in part.blocks for c in b.entry.contact_list())]
    for contact in contacts:
        if "/" not in contact.a:
            yield (part.terminal(contact.a), part.terminal(contact.b))
    if isinstance(entry, ContactorPart):
        yield (part.terminal(entry.coil.a), part.terminal(entry.coil.b))
    elif not contacts and not isinstance(entry, OverloadPart):
        names = [entry.named()[k] for k in entry.named() if k != "earth"]
        yield tuple(part.terminal(n) for n in dict.fromkeys(names))

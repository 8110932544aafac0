"""Colours and numbers against a convention: advice, never a fault. What a wire carries is told by its net."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Literal

from labkit.board.boards import Board
from labkit.board.catalogue import MotorPart, SensorPart
from labkit.board.findings import Finding
from labkit.board.standards import COLOURS
from labkit.board.wiring import Wire, Wiring

__all__ = ["CONVENTIONS", "Convention", "convention_findings"]

Convention = Literal["IEC", "North American"]
Role = Literal["protective", "power", "0 V", "control"]

# IEC 60204-1 13.2 (recommended, but for the protective conductor) and NFPA 79 13.2. IEC has blue for both sides of
# DC control; white with blue, North America's earthed side, is let pass there, since it is told apart at a glance.
CONVENTIONS: Mapping[Convention, Mapping[Role, tuple[str, ...]]] = MappingProxyType(
    {
        "IEC": {"protective": ("GNYE",), "power": ("BK",), "0 V": ("BU", "WHBU"), "control": ("BU",)},
        "North American": {"protective": ("GNYE", "GN"), "power": ("BK",), "0 V": ("WHBU",), "control": ("BU",)},
    }
)

_RESERVED = "GNYE"
_LEADS = ("BN", "BU", "LBU", "BK", "WH")  # of a sensor's own cable, IEC 60947-5-2
_NUMBER = re.compile(r"[A-Za-z0-9]+([.-][A-Za-z0-9]+)?")
_BASE = re.compile(r"[0-9]+|[A-Za-z]+[0-9]*")


def convention_findings(board: Board, wiring: Wiring, convention: Convention) -> Iterator[Finding]:
    """What a convention advises otherwise: colours by what the wire carries, numbers by wire or by potential."""
    table = CONVENTIONS[convention]
    roles = _roles(board, wiring)
    for wire, role in zip(wiring, roles, strict=True):
        if _own_lead(board, wire):
            continue
        if role != "protective" and wire.colour == _RESERVED:
            what = (
                f"Wire {wire.no} is green and yellow but carries {role}: that colour is for the protective conductor."
            )
            yield Finding("colour-reserved", wire.a, what, f"Take {COLOURS[table[role][0]]}.", "advice")
        elif wire.colour not in table[role]:
            has = COLOURS.get(wire.colour, wire.colour)
            wants = " or ".join(COLOURS[c] for c in table[role])
            what = f"Wire {wire.no} ({role}) is {has}; the {convention} convention has {wants} there."
            yield Finding("colour-convention", wire.a, what, f"Take {wants}.", "advice")
    yield from _numbers_by_wire(wiring) if convention == "IEC" else _numbers_by_potential(wiring)


def _roles(board: Board, wiring: Wiring) -> list[Role]:
    """What each wire is part of, by where its net leads once the protective conductors are left out."""
    earth = board.earth_terminals
    minus = {part.terminal(supply.minus) for part, supply in board.supplies}
    by_terminal: dict[str, Role] = {}
    for net in Wiring(tuple(wire for wire in wiring if not wire.ends & earth)).nets():
        power = any(_is_power(board, terminal) for terminal in net)
        by_terminal |= dict.fromkeys(net, "0 V" if net & minus else "power" if power else "control")
    return ["protective" if wire.ends & earth else by_terminal[wire.a] for wire in wiring]


def _is_power(board: Board, terminal: str) -> bool:
    part, _, name = terminal.partition(":")
    entry = board.parts[part].entry if part in board.parts else None
    return "/" in name or (isinstance(entry, MotorPart) and name in entry.windings)


def _own_lead(board: Board, wire: Wire) -> bool:
    """Whether it is one of a sensor's own leads, in one of their colours."""
    parts = (board.parts.get(end.partition(":")[0]) for end in (wire.a, wire.b))
    return wire.colour in _LEADS and any(part is not None and isinstance(part.entry, SensorPart) for part in parts)


def _numbers_by_wire(wiring: Wiring) -> Iterator[Finding]:
    """Each conductor has a number of its own, the same at both ends (IEC 60204-1 13.2.1)."""
    for wire in wiring:
        if not _NUMBER.fullmatch(wire.no):
            what = f"{wire.no!r} does not read as a conductor number on a marker."
            yield Finding("number-convention", wire.a, what, "Take letters and digits, such as 14 or 14.2.", "advice")


def _numbers_by_potential(wiring: Wiring) -> Iterator[Finding]:
    """Wires of one potential share a number, told apart by what follows it; it changes across a device."""
    nets = {t: i for i, net in enumerate(wiring.nets()) for t in net}
    bases: dict[int, dict[str, Wire]] = defaultdict(dict)
    homes: dict[str, int] = {}
    for wire in wiring:
        found = _BASE.match(wire.no)
        bases[nets[wire.a]].setdefault(found[0] if found else wire.no, wire)
    for net, by_base in bases.items():
        first, *others = by_base
        if others:
            names = ", ".join(wire.no for wire in by_base.values())
            what = f"Wires {names} are one potential with {len(by_base)} numbers; the convention gives it one."
            try_this = f"Number them {first}, {first}A, {first}B ..."
            yield Finding("number-convention", by_base[first].a, what, try_this, "advice")
        for base, wire in by_base.items():
            if homes.setdefault(base, net) != net:
                what = f"Number {base} is on two potentials: it has to change where a device is between."
                yield Finding("number-convention", wire.a, what, "Give this side a number of its own.", "advice")

"""Faults as values: what is wrong where, and every single one that a board can have.

A fault's `code` groups faults that are met and found in the same way (F from wiring and devices, D a dead
part); ``datasets/faults/orchard.toml`` says for
each code how it shows, what is guessed wrongly first, and which measurement decides.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from labkit.base import did_you_mean
from labkit.board import Board, ControllerPart, OverloadPart, SensorPart, SwitchPart, Wire, electrify
from labkit.faults.changes import (
    OPEN_OHM,
    Armature,
    Burnt,
    Change,
    CoilOhm,
    ContactFault,
    InputDead,
    Joined,
    Joint,
    Moved,
    NpnStage,
    Opened,
    Supply,
    Suppressor,
)
from labkit.faults.errors import FaultError

__all__ = ["Fault", "combined", "every_single_fault", "fault", "joint", "short", "wire_open"]

COIL_JOINT_OHM = 50.0  # the coil no longer pulls in: 24 V x 192 / 242 = 19.0 V, below 0.82 x 24
INPUT_JOINT_OHM = 5000.0  # an input of type 3 ends up between its limits
FLOATING = "0 V bond"


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong.

    Parameters
    ----------
    id
        A short name that no other fault of the board has.
    code
        The kind in the catalogue, such as ``"F03"``.
    location
        What a person would point at: ``"wire 201"``, ``"K1"``, ``"A1:I2"``.
    cause
        What is wrong with it, in a word or two: ``"open"``, ``"welded"``.
    changes
        What it changes.
    weight
        How often it is met, compared with others (our own judgement, no source).
    """

    id: str
    code: str
    location: str
    cause: str
    changes: tuple[Change, ...]
    weight: float = 1.0

    @property
    def title(self) -> str:
        """Location and cause."""
        return f"{self.location}: {self.cause}"


def wire_open(wire: str | int, code: str = "F01") -> Fault:
    """A wire that carries nothing though both its ends look landed."""
    return Fault(f"wire-{wire}-open", code, f"wire {wire}", "open", (Opened(f"wire {wire}"),), 3.0)


def joint(wire: str | int, ohm: float, code: str = "F10") -> Fault:
    """A bad joint of `ohm` ohms in a wire.

    Raises
    ------
    FaultError
        If it is not above 0 ohm, or so many that it is an open wire.
    """
    if not 0 < ohm < OPEN_OHM:
        raise FaultError(f"a joint has more than 0 ohm, not {ohm:g}", where=f"wire {wire}", code="fault-value")
    cause = f"bad joint, {ohm:g} ohm"
    return Fault(f"wire-{wire}-joint-{ohm:g}", code, f"wire {wire}", cause, (Joint(f"wire {wire}", ohm),), 2.0)


def short(a: str, b: str, code: str = "F09", ohm: float = 0.05) -> Fault:
    """Two terminals that touch."""
    return Fault(f"short-{a}-{b}", code, f"{a} and {b}", "touch", (Joined(a, b, ohm),))


def combined(name: str, *faults: Fault) -> Fault:
    """Several faults as one: all there at once.

    Raises
    ------
    FaultError
        If there is none among them.
    """
    if not faults:
        raise FaultError("a combined fault is made of at least one", where=name, code="fault-value")
    return Fault(
        name,
        faults[0].code,
        " + ".join(f.location for f in faults),
        " + ".join(f.cause for f in faults),
        tuple(c for f in faults for c in f.changes),
        min(f.weight for f in faults) * 0.1,
    )


def fault(board: Board, name: str) -> Fault:
    """One of the board's single faults by its id.

    Raises
    ------
    FaultError
        If there is none.
    """
    known = {f.id: f for f in every_single_fault(board)}
    if name not in known:
        raise FaultError(
            f"{board.name} has no fault {name}", where=name, try_this=did_you_mean(name, known), code="fault-unknown"
        )
    return known[name]


def every_single_fault(board: Board) -> tuple[Fault, ...]:
    """Every single fault of the 24 V side that the catalogue knows for a board, always in the same order."""
    net = _Nets(board)
    found: dict[str, Fault] = {}
    for part in (_wires, _touches, _contacts, _swaps, _devices, _controllers, _power):
        for one in part(board, net):
            found.setdefault(one.id, one)
    return tuple(found.values())


class _Nets:
    """What a fault's code depends on: which wire leads where."""

    def __init__(self, board: Board) -> None:
        electrical = electrify(board)
        self.electrical = electrical
        self.inputs = {c.terminal: c for c in electrical.inputs}
        self.commons = {c.common for c in electrical.inputs}
        self.outputs = {o.terminal for o in electrical.outputs}
        self.group_plus = {o.group_plus for o in electrical.outputs}
        self.group_minus = {o.group_minus for o in electrical.outputs}
        self.coil_plus = {c.a for c in electrical.coils}
        self.coil_path = self._coil_path(board)
        self.coil_minus = {c.b for c in electrical.coils}
        self.load_minus = {x.b for x in electrical.lamps}
        self.feeds = {t for f in electrical.supplies for t in (f.plus, f.minus)}
        self.sensor_feeds = {t for s in electrical.sensors for t in (s.plus, s.minus)}
        power = ("contactor", "overload", "motor")
        self.power = {
            t for p in board.of_kind(*power) for t in board.terminals if board.terminals[t].part == p.designation
        }
        self.earth = board.earth_terminals
        self.breakers = {
            t for p in board.of_kind("breaker", "fuse") for t in (f"{p.designation}:1", f"{p.designation}:2")
        }
        self.group_feed = {self._other(w, t) for t in self.group_plus for w in board.wiring.at(t)}
        for rule in electrical.contacts:  # on through a contact, such as the emergency stop's
            ends = {f"{rule.switch.split(':')[0]}:{c}" for c in rule.switch.split(":")[-1].split("-")}
            if ends & self.group_feed:
                self.group_feed |= ends
        self.bonds = {w.no for w in board.wiring if self._bond(board, w)}
        self.stops = {p.point for p in board.points.values() if p.direction == "input" and p.contact == "NC"}

    def _coil_path(self, board: Board) -> frozenset[str]:
        """Numbers of the wires that carry a coil's current, also through one contact ahead of it."""
        suppressors = {p.designation for p in board.of_kind("suppressor")}
        found: set[str] = set()
        front = [t for c in self.electrical.coils for t in (c.a, c.b)]
        for terminal in front:
            for wire in board.wiring.at(terminal):
                far = self._other(wire, terminal)
                if board.terminals[far].part in suppressors or wire.no in found:
                    continue
                found.add(wire.no)
                part, _, name = far.partition(":")
                pairs = (r.switch.partition(":")[2].split("-") for r in self.electrical.contacts if r.actor == part)
                front += [f"{part}:{t}" for pair in pairs if name in pair for t in pair if t != name]
        return frozenset(found)

    @staticmethod
    def _other(wire: Wire, end: str) -> str:
        return wire.b if wire.a == end else wire.a

    @staticmethod
    def _bond(board: Board, wire: Wire) -> bool:
        earth = board.earth_terminals
        return len(wire.ends & earth) == 1

    def input_at(self, wire: Wire) -> str | None:
        """The point that a signal wire ends on."""
        return next((self.inputs[t].point for t in (wire.a, wire.b) if t in self.inputs), None)

    def open_code(self, wire: Wire) -> str:
        """How a break in this wire is met."""
        ends = wire.ends
        point = self.input_at(wire)
        if wire.no in self.bonds:
            return "F31"
        for where, code in (
            (self.commons, "F12"),
            (self.coil_plus, "F03"),
            (self.coil_minus, "F04"),
            (self.group_minus, "F13"),
            (self.load_minus, "F04"),
            (self.group_plus, "F14"),
            (self.outputs, "F03"),
            (self.earth, "D03"),
        ):
            if ends & where:
                return code
        if ends <= self.power:
            return "F42"
        if point:
            return "F02" if point in self.stops else "F01"
        if ends & (self.feeds | self.sensor_feeds):
            return "F16"
        if ends & self.breakers:
            return "F16"
        return "F14" if ends & self.group_feed else "F01"


def _wires(board: Board, net: _Nets) -> Iterator[Fault]:
    for wire in board.wiring:
        yield wire_open(wire.no, net.open_code(wire))
    for wire in board.wiring:
        if net.input_at(wire):
            yield joint(wire.no, INPUT_JOINT_OHM, "F11")
        elif wire.no in net.coil_path:
            yield joint(wire.no, COIL_JOINT_OHM, "F10")


def _touches(board: Board, net: _Nets) -> Iterator[Fault]:
    feed = net.electrical.supplies[0]
    plus, minus = feed.plus, feed.minus
    for terminal in net.inputs:
        yield short(terminal, minus, "F07")
        yield short(terminal, plus, "F08")
    terminals = list(net.inputs)
    for a, b in pairwise(terminals):
        if net.inputs[a].common == net.inputs[b].common:
            yield short(a, b, "F09")
    for terminal in sorted(net.coil_plus):
        yield short(terminal, "PE", "F34")
        yield short(terminal, plus, "F18")
    bond = next((w for w in board.wiring if w.no in net.bonds), None)
    if bond:
        lifted = Opened(bond.element)
        first = (lifted, Joined(plus, "PE"))
        yield Fault("earth-plus-floating", "F31", FLOATING, "missing, +24 V on earth", first, 0.3)
        for coil in net.electrical.coils:
            second = (*first, Joined(coil.a, "PE"))
            cause = f"missing, +24 V and {coil.a} on earth"
            yield Fault(f"earth-second-{coil.part}", "F32", FLOATING, cause, second, 0.1)


def _contacts(board: Board, net: _Nets) -> Iterator[Fault]:
    for part in board.parts.values():
        entry = part.entry
        if isinstance(entry, SwitchPart):
            for contact in entry.contact_list():
                name = f"{part.designation}:{contact.a}-{contact.b}"
                yield _contact(name, "open", "F24", "contact stays open")
                yield _contact(name, "closed", "F08", "contact stays closed")
                yield _contact(name, "inverted", "F23", "contact block of the other kind")
        elif isinstance(entry, OverloadPart):
            for contact in entry.contact_list():
                name = f"{part.designation}:{contact.a}-{contact.b}"
                yield _contact(name, "open", "F24", "contact stays open")
                yield _contact(name, "closed", "F08", "contact stays closed")
            first, second = ((f"{part.designation}:{c.a}", f"{part.designation}:{c.b}") for c in entry.contact_list())
            moves = [
                c
                for a, b in zip(first, second, strict=True)
                for f in _crossed(board, a, b, "F45", "")
                for c in f.changes
            ]
            where = f"{part.designation} contact pairs"
            yield Fault(f"{part.designation}-pairs", "F45", where, "taken for each other", tuple(moves))
        for block in part.blocks:
            names = [f"{part.designation}:{c.a}-{c.b}" for c in block.entry.contact_list()]
            missing = tuple(ContactFault(n, "open") for n in names)
            other = tuple(ContactFault(n, "inverted") for n in names)
            yield Fault(f"{block.id}-missing", "F21", block.id, "missing", missing, 1.0)
            yield Fault(f"{block.id}-wrong", "F22", block.id, "of the wrong kind", other, 1.0)
    for fuse in net.electrical.fuses:
        yield Fault(f"{fuse.actor}-open", "F16", fuse.actor, "open inside", (ContactFault(fuse.element, "open"),), 2.0)
        yield Fault(f"{fuse.actor}-bridged", "F17", fuse.actor, "bridged", (ContactFault(fuse.element, "closed"),), 0.5)


def _contact(name: str, how: str, code: str, cause: str) -> Fault:
    return Fault(f"{name}-{how}", code, name, cause, (ContactFault(name, how),), 1.0)  # type: ignore[arg-type]


def _swaps(board: Board, net: _Nets) -> Iterator[Fault]:
    terminals = list(net.inputs)
    for a, b in pairwise(terminals):
        yield from _crossed(board, a, b, "F05", f"{a} and {b}")
    for common in sorted(net.commons):
        group = [t for t in terminals if net.inputs[t].common == common]
        moves = []
        for here, there in zip(group, (*group[1:], group[0]), strict=True):
            moves += [Moved(w.element, here, there) for w in board.wiring.at(here)]
        yield Fault(f"{common}-shifted", "F06", f"inputs of {common}", "landed one terminal on", tuple(moves), 0.5)
        lifted = tuple(Opened(w.element) for t in (*group[:2], common) for w in board.wiring.at(t))
        yield Fault(f"{common}-unseated", "F35", f"inputs of {common}", "block not fully seated", lifted, 0.5)
        mirrored = tuple(
            Moved(w.element, here, there)
            for here, there in zip(group, reversed(group), strict=True)
            for w in board.wiring.at(here)
        )
        yield Fault(f"{common}-mirrored", "F36", f"inputs of {common}", "block plugged mirrored", mirrored, 0.2)


def _crossed(board: Board, a: str, b: str, code: str, where: str) -> Iterator[Fault]:
    moves = [Moved(w.element, a, b) for w in board.wiring.at(a)] + [Moved(w.element, b, a) for w in board.wiring.at(b)]
    if moves:
        yield Fault(f"swap-{a}-{b}", code, where, "swapped", tuple(moves), 1.0)


def _devices(board: Board, net: _Nets) -> Iterator[Fault]:
    for coil in net.electrical.coils:
        shorted = 60.0  # about a third of the coil's turns left
        yield Fault(f"{coil.part}-coil-open", "F37", coil.part, "coil open", (CoilOhm(coil.part, OPEN_OHM),), 2.0)
        yield Fault(f"{coil.part}-coil-turns", "F38", coil.part, "shorted turns", (CoilOhm(coil.part, shorted),), 1.0)
        yield Fault(f"{coil.part}-welded", "F19", coil.part, "welded", (Armature(coil.part, "welded"),), 1.0)
        yield Fault(f"{coil.part}-jammed", "F20", coil.part, "jammed", (Armature(coil.part, "jammed"),), 1.0)
    for lamp in net.electrical.lamps:
        yield Fault(f"{lamp.part}-burnt", "F37", lamp.part, "open inside", (Burnt(lamp.part),), 2.0)
    for part in board.of_kind("suppressor"):
        d = part.designation
        yield Fault(f"{d}-reversed", "F39", d, "diode reversed", (Suppressor(d, "reversed"),), 0.5)
        yield Fault(f"{d}-shorted", "F39", d, "shorted", (Suppressor(d, "shorted"),), 0.5)
        yield Fault(f"{d}-missing", "F40", d, "missing", (Suppressor(d, "missing"),), 0.5)
    for sensor in net.electrical.sensors:
        yield from _sensor(board, sensor.part)


def _sensor(board: Board, d: str) -> Iterator[Fault]:
    part = board.part(d)
    entry = part.entry
    assert isinstance(entry, SensorPart)
    plus, minus, out = part.terminal(entry.plus), part.terminal(entry.minus), part.terminal(entry.out)
    stage = f"{d} output"
    yield Fault(f"{d}-blind", "F25", d, "misaligned or out of range", (ContactFault(stage, "open"),), 2.0)
    yield Fault(f"{d}-inverted", "F26", d, "light/dark or NO/NC set wrong", (ContactFault(stage, "inverted"),), 0.5)
    if entry.output == "PNP":  # a two-wire sensor has no output stage that could be of the other kind
        yield Fault(f"{d}-npn", "F27", d, "NPN in place of PNP", (NpnStage(d),), 0.5)
    # 8 kohm from 24 V puts about 2.2 mA into the input, at some 6 V
    yield Fault(f"{d}-leaks", "F28", d, "leaks when off", (Joined(plus, out, 8000.0),), 0.5)
    for one in _crossed(board, plus, minus, "F15", d):
        yield Fault(one.id, "F15", d, "supply reversed", one.changes, 0.5)


def _controllers(board: Board, net: _Nets) -> Iterator[Fault]:
    for channel in net.electrical.inputs:
        dead = (InputDead(channel.point),)
        yield Fault(f"{channel.point}-dead", "D01", channel.terminal, "input channel dead", dead, 0.5)
    for part, entry in board.controllers:
        assert isinstance(entry, ControllerPart)
        for output in net.electrical.outputs:
            if output.part != part.designation or not board.wiring.at(output.terminal):
                continue
            name = f"{output.terminal} output"
            off, on = (ContactFault(name, "open"),), (ContactFault(name, "closed"),)
            yield Fault(f"{output.point}-dead", "D02", output.terminal, "output dead", off, 0.5)
            yield Fault(f"{output.point}-shorted", "F18", output.terminal, "output shorted", on, 0.5)


def _power(board: Board, net: _Nets) -> Iterator[Fault]:
    for part, entry in board.supplies:
        d = part.designation
        # 0.23 A carries the board at rest; the coil on top of it takes the volts down to 19, below its pull-in
        yield Fault(f"{d}-weak", "F29", d, "cannot carry the load", (Supply(d, limit_a=0.23),), 1.0)
        low = (Supply(d, volts=0.8 * entry.volts),)
        yield Fault(f"{d}-low", "F29", d, "volts too low", low, 1.0)
    del net

"""From a wired board to its network."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from labkit.base import as_many, did_you_mean
from labkit.board._build import Build
from labkit.board._files import conductors
from labkit.board._given import wiring_given
from labkit.board._templates import EARTH, TEMPLATES
from labkit.board.boards import Board
from labkit.board.catalogue import ContactorPart, MotorPart, OverloadPart, SuppressorPart
from labkit.board.electrical import Coil, Electrical, Motor
from labkit.board.errors import BoardError, WiringError
from labkit.board.plugs import Seat, reaches
from labkit.board.wiring import Wire, Wiring
from labkit.circuit import Circuit, Element, Resistor
from labkit.circuit.elements import terminals as ends

__all__ = ["JOINT_OHM", "electrify"]

JOINT_OHM = 0.002
"""A clamped end with a ferrule, in ohm; without one ten times as much. Common practice, no source."""

INSULATION_OHM = 1e9


def electrify(
    board: Board,
    wiring: Wiring | None = None,
    *,
    removed: Iterable[str] = (),
    input_type: int | None = None,
    joints: Mapping[str, float] | None = None,
    extra: Iterable[Element] = (),
    at_c: float = 20.0,
    seats: Mapping[str, Seat] | None = None,
) -> Electrical:
    """The network of a board with this wiring.

    Parameters
    ----------
    wiring
        The board's own if left out.
    removed
        Plug-on blocks that are off (``"K1.aux"``) and parts that are out (``"V1"``).
    input_type
        1 or 3: inputs of this IEC 61131-2 type in place of the controller's own.
    joints
        Wire number -> ohms of a bad joint in it.
    extra
        Further elements: a short between two terminals, an earth fault to ``"PE"``.
    at_c
        Conductor temperature, degrees Celsius.
    seats
        Plug-on terminal blocks that are not where they belong, by id.

    Raises
    ------
    BoardError
        If `removed` names nothing of this board.
    WiringError
        If a wire ends on a terminal that is not there, or has a size that is not made.
    """
    wiring = wiring_given(board, wiring)
    out = frozenset(as_many(removed, "a list of removed parts", "write removed=['K1.aux']"))
    _check_removed(board, out)
    build = Build(input_type, pins=reaches(board.plugs, seats) if seats else {})
    for part in board.parts.values():
        if part.designation in out:
            continue
        TEMPLATES[part.kind](part, part.entry, build)
        for block in part.blocks:
            if block.id not in out:
                for contact in block.entry.contact_list():
                    build.contact(part, contact, part.designation)
    bad = {str(no): ohm for no, ohm in (joints or {}).items()}
    for no in bad:
        wiring.wire(no)
    for wire in wiring:
        build.add(_wire(board, wire, bad.get(wire.no, 0.0), at_c))
    build.add(*extra)
    build.add(*_insulation(board, build))
    return Electrical(
        board=board,
        wiring=wiring,
        circuit=Circuit(tuple(build.elements), EARTH),
        actors=MappingProxyType(build.actors),
        contacts=tuple(build.contacts),
        inputs=tuple(build.inputs),
        outputs=tuple(build.outputs),
        coils=tuple(_with_suppression(board, wiring, out, coil) for coil in build.coils),
        lamps=tuple(build.lamps),
        fuses=tuple(build.fuses),
        supplies=tuple(build.supplies),
        sensors=tuple(build.sensors),
        motors=_motors(board, wiring),
        wires=MappingProxyType({w.no: w.element for w in wiring}),
    )


def _check_removed(board: Board, removed: frozenset[str]) -> None:
    known = [*board.parts, *(b.id for p in board.parts.values() for b in p.blocks)]
    for name in sorted(removed):
        if name not in known:
            raise BoardError(
                f"nothing called {name} can be taken off this board",
                where=name,
                try_this=did_you_mean(name, known),
                code="board-unknown-part",
            )


def _wire(board: Board, wire: Wire, joint_ohm: float, at_c: float) -> Resistor:
    for end in (wire.a, wire.b):
        if end not in board.terminals:
            what, try_this = board.about_unknown(end)
            raise WiringError(what, where=f"wire {wire.no}", try_this=try_this, code="wiring-unknown-terminal")
    copper = conductors().ohm(wire.m, wire.mm2, wire.conductor_class, at_c=at_c)
    ends_ohm = 2 * JOINT_OHM * (1 if wire.ferrule else 10)
    return Resistor(wire.element, wire.a, wire.b, copper + ends_ohm + joint_ohm)


def _insulation(board: Board, build: Build) -> list[Element]:
    """Terminals that nothing touches: a probe may, so they must be nodes."""
    touched = {node for e in build.elements for node in ends(e)}
    return [Resistor(f"{t} insulation", t, EARTH, INSULATION_OHM) for t in board.terminals if t not in touched]


def _with_suppression(board: Board, wiring: Wiring, removed: frozenset[str], coil: Coil) -> Coil:
    """The coil with the release time that what is across it gives."""
    entry = board.part(coil.part).entry
    assert isinstance(entry, ContactorPart)
    found = [form for form, forward in _across(board, wiring, removed, coil) if form != "diode" or forward]
    suppression = "diode" if "diode" in found else found[0] if found else "none"
    release_us: dict[str, int] = {form: us for form, us in entry.coil.release_us.items()}  # noqa: C416 - widens the key
    return replace(coil, suppression=suppression, release_us=release_us[suppression])


def _across(board: Board, wiring: Wiring, removed: frozenset[str], coil: Coil) -> list[tuple[str, bool]]:
    """Suppressors on the coil's two nets: form, and whether `a` is on the coil's `a`.

    A contact that is closed at rest (a trip contact) counts as joined: the current it would have to break
    is broken by the output first.
    """
    closed = [
        (part.terminal(c.a), part.terminal(c.b))
        for part in board.of_kind("overload", "push_button", "emergency_stop")
        for c in part.entry.contact_list()
        if (getattr(part.entry, "rest", None) or part.entry.states()[0]) in c.closed_when
    ]
    net_of = {t: i for i, net in enumerate(wiring.nets(closed)) for t in net}
    a, b = net_of.get(coil.a), net_of.get(coil.b)
    found: list[tuple[str, bool]] = []
    for part in board.of_kind("suppressor"):
        entry = part.entry
        if part.designation in removed or not isinstance(entry, SuppressorPart):
            continue
        sides = (net_of.get(part.terminal(entry.a)), net_of.get(part.terminal(entry.b)))
        if None not in sides and sides in ((a, b), (b, a)):
            found.append((entry.form, sides == (a, b)))
    return found


def _motors(board: Board, wiring: Wiring) -> tuple[Motor, ...]:
    """Each motor with the contactor and overload relay that all of its windings hang on."""
    net_of = {t: net for net in wiring.nets() for t in net}
    through: dict[str, tuple[str, str]] = {}  # load-side terminal -> (part, line-side terminal)
    for part in board.of_kind("overload", "contactor"):
        entry = part.entry
        pairs = entry.heaters if isinstance(entry, OverloadPart) else [(c.a, c.b) for c in entry.contact_list()]
        for line, load in pairs:
            through[part.terminal(load)] = (part.designation, part.terminal(line))
    motors = []
    for part in board.of_kind("motor"):
        entry = part.entry
        assert isinstance(entry, MotorPart)
        ways = [_way_back(part.terminal(w), net_of, through) for w in entry.windings]
        shared = [d for d in ways[0] if all(d in way for way in ways)]
        kinds = {board.part(d).kind: d for d in shared}
        motors.append(Motor(part.designation, kinds.get("contactor", ""), kinds.get("overload", "")))
    return tuple(motors)


def _way_back(terminal: str, net_of: Mapping[str, frozenset[str]], through: Mapping[str, tuple[str, str]]) -> list[str]:
    """Designations met on the way from a motor terminal towards the line."""
    met: list[str] = []
    here: str | None = terminal
    while here is not None:
        step = next((through[t] for t in sorted(net_of.get(here, frozenset((here,)))) if t in through), None)
        if step is None or step[0] in met:
            return met
        met.append(step[0])
        here = step[1]
    return met

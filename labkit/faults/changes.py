"""What a fault changes: small frozen values, and :func:`apply` that makes the changed network.

A change names elements and terminals of the board. One that finds its wire lifted changes nothing: a person
who has taken the bad wire off has taken the fault off with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from labkit.base import did_you_mean
from labkit.board import Board, Coil, ContactRule, Electrical, InputChannel, Lamp, Sensor, Wiring, electrify
from labkit.circuit import Curve, Element, Resistor, Source, Switch, diode
from labkit.circuit.elements import terminals as ends
from labkit.faults.errors import FaultError

__all__ = [
    "Armature",
    "Burnt",
    "Change",
    "CoilOhm",
    "ContactFault",
    "InputDead",
    "Joined",
    "Joint",
    "Moved",
    "NpnStage",
    "Opened",
    "Supply",
    "Suppressor",
    "apply",
]

OPEN_OHM = 1e12
"""An open wire: a thousandth of the insulation that every node has, so that a floating end reads nothing."""

NEVER_V = 1e9  # no coil pulls in, no lamp lights, no channel turns on from here


@dataclass(frozen=True, slots=True)
class Opened:
    """A wire, or another resistance, carries nothing."""

    element: str


@dataclass(frozen=True, slots=True)
class Joint:
    """A bad joint of `ohm` in a wire."""

    element: str
    ohm: float


@dataclass(frozen=True, slots=True)
class Joined:
    """Two terminals that touch; ``"PE"`` is the metalwork."""

    a: str
    b: str
    ohm: float = 0.05


@dataclass(frozen=True, slots=True)
class Moved:
    """The end of a wire that belongs on `end` is landed on `to`."""

    element: str
    end: str
    to: str


@dataclass(frozen=True, slots=True)
class ContactFault:
    """A contact (or an output's transistor) that stays ``"open"`` or ``"closed"``, or works ``"inverted"``."""

    switch: str
    how: Literal["open", "closed", "inverted"]


@dataclass(frozen=True, slots=True)
class CoilOhm:
    """A coil of another resistance: ``OPEN_OHM`` for a broken one.

    With shorted turns the ampere-turns at the same volts stay as they are (fewer turns, more current), so the
    pull-in volts do too.
    """

    part: str
    ohm: float


@dataclass(frozen=True, slots=True)
class Burnt:
    """A lamp or a horn that is open inside."""

    part: str


@dataclass(frozen=True, slots=True)
class InputDead:
    """An input channel that takes its current but never reads on."""

    point: str


@dataclass(frozen=True, slots=True)
class Suppressor:
    """A suppressor that is missing, in backwards (as a diode) or shorted."""

    part: str
    how: Literal["missing", "reversed", "shorted"]


@dataclass(frozen=True, slots=True)
class Supply:
    """A supply with other volts or a lower current limit."""

    part: str
    volts: float | None = None
    limit_a: float | None = None


@dataclass(frozen=True, slots=True)
class NpnStage:
    """A three-wire sensor whose output pulls to 0 V in place of one that gives 24 V."""

    part: str


@dataclass(frozen=True, slots=True)
class Armature:
    """A contactor whose main contacts are welded once they close, or whose armature cannot come in."""

    part: str
    how: Literal["welded", "jammed"]


Change = (
    Opened
    | Joint
    | Joined
    | Moved
    | ContactFault
    | CoilOhm
    | Burnt
    | InputDead
    | Suppressor
    | Supply
    | NpnStage
    | Armature
)


@dataclass(slots=True)
class _Draft:
    """A network while it is changed."""

    board: Board
    wiring: Wiring
    elements: dict[str, Element]
    contacts: dict[str, ContactRule]
    inputs: list[InputChannel]
    coils: list[Coil]
    lamps: list[Lamp]
    sensors: list[Sensor]
    nodes: frozenset[str]
    states: Mapping[str, tuple[str, ...]]
    joined: int = 0
    extra: list[Element] = field(default_factory=list)

    def find(self, name: str) -> Element | None:
        """The element, or None for a wire that is lifted or a part that is out."""
        found = self.elements.get(name)
        if found is None and name not in (e.name for e in electrify(self.board).circuit.elements):
            raise FaultError(
                f"this board has no {name} that could be faulty",
                where=name,
                try_this=did_you_mean(name, self.elements),
                code="fault-element",
            )
        return found

    def node(self, name: str) -> str:
        """The terminal, if it is one."""
        if name not in self.nodes:
            raise FaultError(
                f"this board has no terminal {name}",
                where=name,
                try_this=did_you_mean(name, self.nodes),
                code="fault-terminal",
            )
        return name


def _opened(draft: _Draft, change: Opened) -> None:
    found = draft.find(change.element)
    if isinstance(found, Resistor):
        draft.elements[change.element] = replace(found, ohm=OPEN_OHM)


def _joint(draft: _Draft, change: Joint) -> None:
    found = draft.find(change.element)
    if isinstance(found, Resistor):
        draft.elements[change.element] = replace(found, ohm=found.ohm + change.ohm)


def _joined(draft: _Draft, change: Joined) -> None:
    draft.joined += 1
    name = f"touch {draft.joined} {change.a} {change.b}"
    draft.extra.append(Resistor(name, draft.node(change.a), draft.node(change.b), change.ohm))


def _moved(draft: _Draft, change: Moved) -> None:
    found = draft.find(change.element)
    if isinstance(found, Resistor):
        to = draft.node(change.to)
        draft.elements[change.element] = replace(found, a=to) if found.a == change.end else replace(found, b=to)


def _contact(draft: _Draft, change: ContactFault) -> None:
    if draft.find(change.switch) is None:
        return
    rule = draft.contacts.get(change.switch)
    if rule is None:
        raise FaultError(f"{change.switch} is no contact", where=change.switch, code="fault-element")
    every = frozenset(draft.states[rule.actor])
    how = {"open": frozenset[str](), "closed": every, "inverted": every - rule.closed_when}
    draft.contacts[change.switch] = replace(rule, closed_when=how[change.how])


def _coil(draft: _Draft, change: CoilOhm) -> None:
    number = _number(draft.coils, change.part)
    coil = draft.coils[number]
    found = draft.find(coil.element)
    assert isinstance(found, Resistor)
    draft.elements[coil.element] = replace(found, ohm=change.ohm)
    dead = change.ohm >= OPEN_OHM
    draft.coils[number] = replace(
        coil,
        ohm=change.ohm,
        pick_up_v=NEVER_V if dead else coil.pick_up_v,
        drop_out_v=NEVER_V if dead else coil.drop_out_v,
    )


def _burnt(draft: _Draft, change: Burnt) -> None:
    number = _number(draft.lamps, change.part)
    lamp = draft.lamps[number]
    found = draft.find(lamp.element)
    assert isinstance(found, Resistor)
    draft.elements[lamp.element] = replace(found, ohm=OPEN_OHM)
    draft.lamps[number] = replace(lamp, lit_v=NEVER_V)


def _input_dead(draft: _Draft, change: InputDead) -> None:
    number = next((i for i, c in enumerate(draft.inputs) if c.point == change.point), None)
    if number is None:
        raise FaultError(f"this board has no input {change.point}", where=change.point, code="fault-element")
    draft.inputs[number] = replace(draft.inputs[number], on_v=NEVER_V, off_v=NEVER_V)


def _suppressor(draft: _Draft, change: Suppressor) -> None:
    found = draft.find(change.part)
    if not isinstance(found, Curve):
        return
    if change.how == "missing":
        draft.elements[change.part] = Resistor(change.part, found.a, found.b, OPEN_OHM)
        bare = electrify(draft.board, draft.wiring, removed={change.part}).coils
        draft.coils = [
            replace(coil, release_us=other.release_us, suppression=other.suppression)
            for coil, other in zip(draft.coils, bare, strict=True)
        ]
    elif change.how == "shorted":
        draft.elements[change.part] = Resistor(change.part, found.a, found.b, 0.05)
    else:
        draft.elements[change.part] = diode(change.part, found.a, found.b)


def _supply(draft: _Draft, change: Supply) -> None:
    found = draft.find(change.part)
    assert isinstance(found, Source)
    volts = found.volts if change.volts is None else change.volts
    limit = found.limit_a if change.limit_a is None else change.limit_a
    draft.elements[change.part] = replace(found, volts=volts, limit_a=limit)


def _npn(draft: _Draft, change: NpnStage) -> None:
    sensor = draft.sensors[_number(draft.sensors, change.part)]
    inner = f"{sensor.out}~"
    stage = draft.elements[f"{change.part} drop"]
    leak = draft.elements[f"{change.part} leakage"]
    switch = draft.elements[f"{change.part} output"]
    assert isinstance(stage, Curve)
    assert isinstance(leak, Resistor)
    assert isinstance(switch, Switch)
    draft.elements[leak.name] = replace(leak, a=sensor.out, b=sensor.minus)
    draft.elements[switch.name] = replace(switch, a=sensor.out, b=inner)
    draft.elements[stage.name] = replace(stage, a=inner, b=sensor.minus)


def _number(records: Iterable[Coil | Lamp | Sensor], part: str) -> int:
    names = [record.part for record in records]
    if part not in names:
        raise FaultError(
            f"{part} is not of the kind that can have this fault",
            where=part,
            try_this=did_you_mean(part, names),
            code="fault-element",
        )
    return names.index(part)


_HOW: Mapping[type, Callable[[_Draft, Change], None]] = {
    Opened: _opened,  # type: ignore[dict-item]
    Joint: _joint,  # type: ignore[dict-item]
    Joined: _joined,  # type: ignore[dict-item]
    Moved: _moved,  # type: ignore[dict-item]
    ContactFault: _contact,  # type: ignore[dict-item]
    CoilOhm: _coil,  # type: ignore[dict-item]
    Burnt: _burnt,  # type: ignore[dict-item]
    InputDead: _input_dead,  # type: ignore[dict-item]
    Suppressor: _suppressor,  # type: ignore[dict-item]
    Supply: _supply,  # type: ignore[dict-item]
    NpnStage: _npn,  # type: ignore[dict-item]
    Armature: lambda draft, change: None,  # noqa: ARG005 - of the machine, not of the network
}


def apply(electrical: Electrical, changes: Iterable[Change]) -> Electrical:
    """The network with these changes, one after the other; the given one stays as it is.

    Raises
    ------
    FaultError
        If a change names an element or a terminal that is not there.
    """
    draft = _Draft(
        board=electrical.board,
        wiring=electrical.wiring,
        elements={e.name: e for e in electrical.circuit.elements},
        contacts={rule.switch: rule for rule in electrical.contacts},
        inputs=list(electrical.inputs),
        coils=list(electrical.coils),
        lamps=list(electrical.lamps),
        sensors=list(electrical.sensors),
        nodes=frozenset(n for e in electrical.circuit.elements for n in ends(e)),
        states={actor.id: actor.states for actor in electrical.actors.values()},
    )
    for change in changes:
        _HOW[type(change)](draft, change)
    elements = (*draft.elements.values(), *draft.extra)
    kept = frozenset(n for e in elements for n in ends(e))
    bare = [n for n in sorted(draft.nodes - kept) if n != electrical.circuit.ground]
    stubs = [Resistor(f"{n} insulation", n, electrical.circuit.ground, OPEN_OHM) for n in bare]
    return replace(
        electrical,
        circuit=replace(electrical.circuit, elements=(*elements, *stubs)),
        contacts=tuple(draft.contacts.values()),
        inputs=tuple(draft.inputs),
        coils=tuple(draft.coils),
        lamps=tuple(draft.lamps),
    )

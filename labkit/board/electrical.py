"""A wired board as a network: its circuit, and who moves what in it.

These are plain records. :func:`labkit.board.electrify` makes them; a bench moves the actors, asks
:meth:`Electrical.key` for the circuit's key, solves, and reads channels, coils and lamps off the
solution. Everything a position can change is a switch of the circuit, so one key names one network.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from labkit.base import did_you_mean
from labkit.board.errors import BoardError

if TYPE_CHECKING:
    from labkit.board.boards import Board
    from labkit.board.wiring import Wiring
    from labkit.circuit import Circuit

__all__ = [
    "Actor",
    "Coil",
    "ContactRule",
    "ControllerFeed",
    "Electrical",
    "Fuse",
    "InputChannel",
    "InputLimits",
    "Lamp",
    "Motor",
    "OutputChannel",
    "Sensor",
]

Grade = Literal["on", "off", "undefined"]


@dataclass(frozen=True, slots=True)
class Actor:
    """Anything that has a position: ``S2`` (released, pressed), ``K1`` (open, closed), ``A1.Q1`` (off, on).

    Parameters
    ----------
    id
        The designation, for a channel with its part in front.
    states
        The positions it can have.
    rest
        The one it has when nothing is done to it; supplies and breakers rest ``off``.
    kind
        The kind of part, e.g. ``"push_button"``, ``"output"``.
    """

    id: str
    states: tuple[str, ...]
    rest: str
    kind: str = ""


@dataclass(frozen=True, slots=True)
class ContactRule:
    """The circuit's `switch` is closed while `actor` is in one of `closed_when`."""

    switch: str
    actor: str
    closed_when: frozenset[str]


@dataclass(frozen=True, slots=True)
class InputLimits:
    """What IEC 61131-2 asks of an input of this type; between the limits it may read either way.

    Off is granted at or below `off_max_v`, or below `off_max_a` whatever the voltage up to `on_min_v`;
    on is granted at `on_min_v` and `on_min_a` or more.
    """

    off_max_v: float
    on_min_v: float
    off_max_a: float
    on_min_a: float


@dataclass(frozen=True, slots=True)
class InputChannel:
    """One digital input between its terminal and its common.

    Parameters
    ----------
    point
        The controller's point, e.g. ``"I1"``.
    part, terminal, common, element
        Part, terminal ids, and the curve of the circuit that the channel is.
    type_no
        1 or 3, after IEC 61131-2.
    on_v, off_v
        Where this channel really switches, rising and falling, in volts: inside the undefined band.
    on_a
        The current it needs to be on, in amps.
    bidirectional
        Whether it takes current either way.
    limits
        The limits of its type.
    """

    point: str
    part: str
    terminal: str
    common: str
    element: str
    type_no: int
    on_v: float
    off_v: float
    on_a: float
    bidirectional: bool
    limits: InputLimits

    def reads(self, volts: float, was_on: bool = False) -> bool:
        """Whether the channel is on at `volts` from terminal to common, given what it was."""
        v = abs(volts) if self.bidirectional else volts
        return v >= (self.off_v if was_on else self.on_v)

    def grade(self, volts: float, amps: float) -> Grade:
        """What the standard grants at this voltage and current: on, off, or nothing."""
        v, a = (abs(volts), abs(amps)) if self.bidirectional else (volts, amps)
        if v <= self.limits.off_max_v or (v < self.limits.on_min_v and a < self.limits.off_max_a):
            return "off"
        return "on" if v >= self.limits.on_min_v and a >= self.limits.on_min_a else "undefined"


@dataclass(frozen=True, slots=True)
class OutputChannel:
    """One transistor output: it joins its group's plus terminal to its own while actor `actor` is on.

    Only while its driver has `drive_v` from the group's plus to the group's 0 V: with that wire off it stays off.
    """

    point: str
    part: str
    group: str
    actor: str
    terminal: str
    group_plus: str
    group_minus: str
    element: str
    rated_a: float
    limit_a: float
    drive_v: float = 0.0


@dataclass(frozen=True, slots=True)
class Coil:
    """A coil, and the mechanics of what it moves (actor `part`).

    `release_us` already allows for what is wired across the coil (`suppression`).
    """

    part: str
    element: str
    a: str
    b: str
    ohm: float
    pick_up_v: float
    drop_out_v: float
    operate_us: int
    release_us: int
    suppression: str


@dataclass(frozen=True, slots=True)
class Lamp:
    """A lamp or a horn: it shows (or sounds) from `lit_v` volts across it, either way round."""

    part: str
    element: str
    a: str
    b: str
    ohm: float
    lit_v: float
    colour: str
    kind: Literal["lamp", "horn"] = "lamp"


@dataclass(frozen=True, slots=True)
class Fuse:
    """A breaker or fuse: it goes to `open_state` once the heat of its current passes `i2t` (A2s).

    Below `rated_a` it carries for ever. `element` is the switch whose current heats it.
    """

    actor: str
    element: str
    rated_a: float
    i2t: float
    open_state: str
    closed_state: str


@dataclass(frozen=True, slots=True)
class ControllerFeed:
    """Where a controller gets its supply; the volts at which it starts and gives up are its family's."""

    part: str
    plus: str
    minus: str


@dataclass(frozen=True, slots=True)
class Sensor:
    """A sensor whose output stage is actor `part` (off, on) while it has `min_v` between plus and minus.

    Parameters
    ----------
    senses
        ``"beam"`` (on while the beam is whole for a light-on one) or ``"metal"``.
    on_when
        What turns the output on: ``"light"``, ``"dark"``, ``"near"`` or ``"far"``.
    range_mm, hysteresis
        Rated operating distance, and the extra fraction of it before release.
    on_us, off_us, ready_us
        Response times, and the time from power to the first true output.
    """

    part: str
    plus: str
    minus: str
    out: str
    output: Literal["PNP", "NPN", "2-wire"]
    min_v: float
    senses: Literal["beam", "metal"]
    on_when: Literal["light", "dark", "near", "far"]
    range_mm: float
    hysteresis: float
    on_us: int
    off_us: int
    ready_us: int


@dataclass(frozen=True, slots=True)
class Motor:
    """A motor by its mechanics only: it turns while actor `contactor` is closed and `overload` healthy.

    Both come from following the motor's wires back; ``""`` where they lead nowhere.
    """

    part: str
    contactor: str
    overload: str


@dataclass(frozen=True)
class Electrical:
    """A wired board as a network. All nodes are terminal ids; ground is the metalwork, ``PE``.

    Not slotted: the key tables below are made once, on first use.
    """

    board: Board
    wiring: Wiring
    circuit: Circuit
    actors: Mapping[str, Actor]
    contacts: tuple[ContactRule, ...]
    inputs: tuple[InputChannel, ...]
    outputs: tuple[OutputChannel, ...]
    coils: tuple[Coil, ...]
    lamps: tuple[Lamp, ...]
    fuses: tuple[Fuse, ...]
    supplies: tuple[ControllerFeed, ...]
    sensors: tuple[Sensor, ...]
    motors: tuple[Motor, ...] = ()
    wires: Mapping[str, str] = field(default_factory=dict)
    """Wire number -> the circuit element it is."""

    @cached_property
    def switches(self) -> tuple[str, ...]:
        """The circuit's switches in element order: bit i of a key is switch i."""
        from labkit.circuit import Switch

        return tuple(e.name for e in self.circuit.elements if isinstance(e, Switch))

    @cached_property
    def _masks(self) -> dict[str, dict[str, int]]:
        place = {name: 1 << i for i, name in enumerate(self.switches)}
        masks = {a.id: dict.fromkeys(a.states, 0) for a in self.actors.values()}
        for rule in self.contacts:
            for state in rule.closed_when:
                masks[rule.actor][state] |= place[rule.switch]
        return masks

    @cached_property
    def rest_key(self) -> int:
        """The key with every actor at rest."""
        key = 0
        for actor in self.actors.values():
            key |= self._masks[actor.id][actor.rest]
        return key

    @cached_property
    def _flips(self) -> dict[str, dict[str, int]]:
        masks = self._masks
        return {a.id: {s: masks[a.id][s] ^ masks[a.id][a.rest] for s in a.states} for a in self.actors.values()}

    def key(self, states: Mapping[str, str]) -> int:
        """The circuit key for these positions; an actor that is not named is at rest.

        Raises
        ------
        BoardError
            If there is no such actor, or it has no such position.
        """
        key, flips = self.rest_key, self._flips
        try:
            for actor, state in states.items():
                key ^= flips[actor][state]
        except KeyError:
            raise self._unknown(actor, state) from None
        return key

    def bits(self, actor: str, state: str) -> int:
        """The switches that `actor` holds closed in `state`.

        ``key ^ bits(a, old) ^ bits(a, new)`` is the key after one move.

        Raises
        ------
        BoardError
            If there is no such actor, or it has no such position.
        """
        try:
            return self._masks[actor][state]
        except KeyError:
            raise self._unknown(actor, state) from None

    def rest(self) -> dict[str, str]:
        """Every actor's rest position, in board order."""
        return {a.id: a.rest for a in self.actors.values()}

    def powered(self, **moves: str) -> dict[str, str]:
        """Every actor at rest but the supply on and the breakers closed; `moves` on top."""
        on = {a.id: "on" for a in self.actors.values() if a.kind in ("supply", "breaker")}
        return {**self.rest(), **on, **moves}

    def _unknown(self, actor: str, state: str) -> BoardError:
        if actor not in self.actors:
            return BoardError(
                f"nothing called {actor} can be moved on this board",
                where=actor,
                try_this=did_you_mean(actor, self.actors),
                code="board-unknown-actor",
            )
        states = self.actors[actor].states
        return BoardError(
            f"{actor} cannot be {state!r}: it is {' or '.join(states)}",
            where=actor,
            try_this=did_you_mean(state, states),
            code="board-unknown-position",
        )

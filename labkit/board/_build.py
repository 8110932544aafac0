"""What the templates write into: the elements and records of one wired board, in board order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from labkit.board.boards import Part
from labkit.board.catalogue import Contact
from labkit.board.electrical import (
    Actor,
    Coil,
    ContactRule,
    ControllerFeed,
    Fuse,
    InputChannel,
    Lamp,
    OutputChannel,
    Sensor,
)
from labkit.circuit import Element, Switch

__all__ = ["Build", "inner"]


def inner(terminal: str) -> str:
    """A node inside a part, beside one of its terminals; no terminal's name ends so."""
    return f"{terminal}~"


@dataclass(slots=True)
class Build:
    """Collects what the parts contribute."""

    input_type: int | None
    pins: Mapping[str, str] = field(default_factory=dict)
    """What the poles of headers reach: terminal -> clamp, or ``""``; a pole that is not named is its own clamp."""
    elements: list[Element] = field(default_factory=list)
    actors: dict[str, Actor] = field(default_factory=dict)
    contacts: list[ContactRule] = field(default_factory=list)
    inputs: list[InputChannel] = field(default_factory=list)
    outputs: list[OutputChannel] = field(default_factory=list)
    coils: list[Coil] = field(default_factory=list)
    lamps: list[Lamp] = field(default_factory=list)
    fuses: list[Fuse] = field(default_factory=list)
    supplies: list[ControllerFeed] = field(default_factory=list)
    sensors: list[Sensor] = field(default_factory=list)

    def pin(self, terminal: str) -> str:
        """The node that a pole of the controller is: the clamp plugged on it, or a pin that hangs in the air."""
        return self.pins.get(terminal, terminal) or f"{terminal} pin"

    def add(self, *elements: Element) -> None:
        """Further elements."""
        self.elements += elements

    def actor(self, name: str, states: tuple[str, ...], rest: str, kind: str) -> None:
        """Something with positions."""
        self.actors[name] = Actor(name, states, rest, kind)

    def switch(self, switch: Switch, actor: str, closed_when: Iterable[str]) -> None:
        """A switch of the circuit and who moves it."""
        self.elements.append(switch)
        self.contacts.append(ContactRule(switch.name, actor, frozenset(closed_when)))

    def contact(self, part: Part, contact: Contact, actor: str) -> None:
        """A contact of a part."""
        name = f"{part.designation}:{contact.a}-{contact.b}"
        switch = Switch(name, part.terminal(contact.a), part.terminal(contact.b), contact.ohm)
        self.switch(switch, actor, contact.closed_when)

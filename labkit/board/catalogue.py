"""The parts catalogue: one class per kind of part, with its terminals, its size and its figures.

Where a figure comes from stands beside it in ``datasets/parts``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field, model_validator

from labkit.board._shape import Amps, Microseconds, Millimetres, Ohms, Record, Volts
from labkit.board.plugs import PlugRow

__all__ = [
    "KINDS",
    "AuxBlock",
    "Bar",
    "Breaker",
    "CatalogueEntry",
    "CoilData",
    "Contact",
    "ContactorPart",
    "ControllerPart",
    "FusePart",
    "HornPart",
    "InputGroup",
    "InputKind",
    "LampPart",
    "MotorPart",
    "OutputGroup",
    "OutputKind",
    "OverloadPart",
    "SensorPart",
    "StripPart",
    "SupplyPart",
    "SuppressorPart",
    "SwitchPart",
]

Names = tuple[Annotated[str, Field(pattern=r"^[A-Z0-9][A-Za-z0-9/+.-]*$|^[+-]$")], ...]


class Contact(Record):
    """A pair of terminals that the part joins while it is in one of `closed_when`."""

    a: str
    b: str
    closed_when: frozenset[str]
    ohm: Ohms = 0.03  # some tens of milliohm: common practice, no source


class CatalogueEntry(Record):
    """What every kind of part has.

    Parameters
    ----------
    letter
        IEC 81346-2 class letter that its designation starts with.
    text
        What it is, in words of the trade.
    width_mm, height_mm
        Its size on the panel.
    top, bottom
        Terminal names along each edge, from left to right.
    """

    kind: str
    letter: str = Field(pattern=r"^[A-Z]$")
    text: str
    width_mm: Millimetres
    height_mm: Millimetres
    top: Names = ()
    bottom: Names = ()

    @property
    def terminals(self) -> tuple[str, ...]:
        """Every terminal name, top edge first."""
        return self.top + self.bottom

    def named(self) -> dict[str, str]:
        """Where in the record a terminal is named -> that name; each must be on an edge."""
        return {}

    def states(self) -> tuple[str, ...]:
        """The positions that the part itself can have; none for a part that does not move."""
        return ()

    def contact_list(self) -> tuple[Contact, ...]:
        """Its contacts."""
        return ()

    def clamps(self, terminal: str) -> int:  # noqa: ARG002 - only a strip tells its terminals apart
        """How many wires a terminal takes."""
        return 2  # common practice, no source; IEC 60204-1 13.1.1 asks for one unless the terminal is made for more

    @model_validator(mode="after")
    def _terminals_agree(self) -> CatalogueEntry:
        names = self.terminals
        twice = sorted({n for n in names if names.count(n) > 1})
        if twice:
            raise ValueError(f"terminal {twice[0]} stands twice on the edges")
        for where, name in self.named().items():
            if name not in names:
                raise ValueError(f"{where} names terminal {name}, which is on neither edge. It has {', '.join(names)}")
        for i, contact in enumerate(self.contact_list()):
            unknown = sorted(contact.closed_when - set(self.states()))
            if unknown and self.kind != "aux_block":
                raise ValueError(
                    f"contacts[{i}].closed_when has {unknown[0]!r}, but the part is {' or '.join(self.states())}"
                )
        return self


def _of_contacts(contacts: tuple[Contact, ...]) -> dict[str, str]:
    return {f"contacts[{i}].{end}": getattr(c, end) for i, c in enumerate(contacts) for end in ("a", "b")}


class SupplyPart(CatalogueEntry):
    """A supply with constant voltage up to a current limit."""

    kind: Literal["supply"]
    volts: Volts
    ohm: Ohms
    limit_a: Amps
    plus: str
    minus: str
    earth: str

    def named(self) -> dict[str, str]:
        """Its three terminals."""
        return {"plus": self.plus, "minus": self.minus, "earth": self.earth}

    def states(self) -> tuple[str, ...]:
        """The on/off switch."""
        return ("off", "on")


class _Protection(CatalogueEntry):
    rated_a: Amps
    i2t: Annotated[float, Field(gt=0)]
    ohm: Ohms
    a: str
    b: str

    def named(self) -> dict[str, str]:
        """Both ends."""
        return {"a": self.a, "b": self.b}


class Breaker(_Protection):
    """A small breaker; tripped is the same as off."""

    kind: Literal["breaker"]

    def states(self) -> tuple[str, ...]:
        """Its handle."""
        return ("off", "on")


class FusePart(_Protection):
    """A fuse in a holder."""

    kind: Literal["fuse"]

    def states(self) -> tuple[str, ...]:
        """Whole or blown."""
        return ("whole", "blown")


class SwitchPart(CatalogueEntry):
    """Anything a hand operates: push button, emergency stop, selector, key switch."""

    kind: Literal["push_button", "emergency_stop", "selector", "key_switch"]
    positions: tuple[str, ...] = Field(min_length=2)
    rest: str
    latching: bool
    colour: str
    function: Literal["start", "stop", "emergency stop", "reset", "select"]
    contacts: tuple[Contact, ...]

    def named(self) -> dict[str, str]:
        """Both ends of each contact."""
        return _of_contacts(self.contacts)

    def states(self) -> tuple[str, ...]:
        """Its positions."""
        return self.positions

    def contact_list(self) -> tuple[Contact, ...]:
        """Its contacts."""
        return self.contacts


class SensorPart(CatalogueEntry):
    """A photo-eye or an inductive sensor with two or three wires."""

    kind: Literal["sensor"]
    output: Literal["PNP", "NPN", "2-wire"]
    plus: str
    minus: str
    out: str
    quiescent_a: Amps = 0.0
    drop_v: Volts
    leak_a: Amps
    limit_a: Amps
    min_v: Volts
    senses: Literal["beam", "metal"]
    on_when: Literal["light", "dark", "near", "far"]
    range_mm: Millimetres
    hysteresis: Annotated[float, Field(ge=0, le=0.2)]  # IEC 60947-5-2: at most 20 % of the effective distance
    on_us: Microseconds
    off_us: Microseconds
    ready_us: Microseconds

    @model_validator(mode="after")
    def _lives_on_its_drop(self) -> SensorPart:
        """A two-wire sensor that is on has nothing but its own drop to live on (IEC 60947-5-2)."""
        if self.output == "2-wire" and not self.min_v < self.drop_v:
            raise ValueError("a two-wire sensor lives on its own drop: min_v must be less than drop_v")
        return self

    def named(self) -> dict[str, str]:
        """Supply and output."""
        return {"plus": self.plus, "minus": self.minus, "out": self.out}

    def states(self) -> tuple[str, ...]:
        """The output stage."""
        return ("off", "on")


class CoilData(Record):
    """A coil, and when what it moves follows.

    `release_us` by what is across the coil: ``none``, ``diode`` or ``bidirectional``.
    """

    a: str
    b: str
    volts: Volts
    ohm: Ohms
    pick_up: Annotated[float, Field(gt=0, le=1)]
    drop_out: Annotated[float, Field(gt=0, le=1)]
    operate_us: Microseconds
    release_us: Mapping[Literal["none", "diode", "bidirectional"], Microseconds]

    @model_validator(mode="after")
    def _window(self) -> CoilData:
        if self.drop_out >= self.pick_up:
            raise ValueError("drop_out must be below pick_up")
        missing = {"none", "diode", "bidirectional"} - set(self.release_us)
        if missing:
            raise ValueError(f"release_us lacks {', '.join(sorted(missing))}")
        return self


class ContactorPart(CatalogueEntry):
    """A contactor: a coil, poles, perhaps auxiliaries of its own."""

    kind: Literal["contactor"]
    coil: CoilData
    contacts: tuple[Contact, ...]

    def named(self) -> dict[str, str]:
        """The coil and each contact."""
        return {"coil.a": self.coil.a, "coil.b": self.coil.b, **_of_contacts(self.contacts)}

    def states(self) -> tuple[str, ...]:
        """The armature."""
        return ("open", "closed")

    def contact_list(self) -> tuple[Contact, ...]:
        """Poles and auxiliaries."""
        return self.contacts


class AuxBlock(CatalogueEntry):
    """A block of contacts that plugs on a contactor and follows its armature."""

    kind: Literal["aux_block"]
    contacts: tuple[Contact, ...]

    def named(self) -> dict[str, str]:
        """Both ends of each contact."""
        return _of_contacts(self.contacts)

    def contact_list(self) -> tuple[Contact, ...]:
        """Its contacts; they follow the part it is plugged on."""
        return self.contacts


class OverloadPart(CatalogueEntry):
    """An overload relay: heaters in the motor's lines, a trip contact, an alarm contact."""

    kind: Literal["overload"]
    trip_class: str
    setting_a: tuple[Amps, Amps]
    heaters: tuple[tuple[str, str], ...]
    heater_ohm: Ohms
    contacts: tuple[Contact, ...]

    def named(self) -> dict[str, str]:
        """Heaters and contacts."""
        ends = {f"heaters[{i}][{j}]": t for i, pair in enumerate(self.heaters) for j, t in enumerate(pair)}
        return {**ends, **_of_contacts(self.contacts)}

    def states(self) -> tuple[str, ...]:
        """Healthy or tripped."""
        return ("healthy", "tripped")

    def contact_list(self) -> tuple[Contact, ...]:
        """Trip and alarm contact."""
        return self.contacts


class SuppressorPart(CatalogueEntry):
    """What goes across a coil: a diode (`a` is its cathode, to the coil's plus) or a two-way clamp."""

    kind: Literal["suppressor"]
    form: Literal["diode", "bidirectional"]
    a: str
    b: str
    drop_v: Volts  # the diode's forward drop, or the clamp's voltage either way
    on_ohm: Ohms

    def named(self) -> dict[str, str]:
        """Both ends."""
        return {"a": self.a, "b": self.b}


class LampPart(CatalogueEntry):
    """A pilot lamp."""

    kind: Literal["lamp"]
    a: str
    b: str
    ohm: Ohms
    lit_v: Volts
    colour: str

    def named(self) -> dict[str, str]:
        """Both ends."""
        return {"a": self.a, "b": self.b}


class HornPart(CatalogueEntry):
    """A horn."""

    kind: Literal["horn"]
    a: str
    b: str
    ohm: Ohms
    lit_v: Volts

    def named(self) -> dict[str, str]:
        """Both ends."""
        return {"a": self.a, "b": self.b}


class MotorPart(CatalogueEntry):
    """A motor; only its windings' resistance is electrical so far."""

    kind: Literal["motor"]
    windings: tuple[str, str, str]
    winding_ohm: Ohms
    earth: str

    def named(self) -> dict[str, str]:
        """Windings and earth."""
        return {**{f"windings[{i}]": t for i, t in enumerate(self.windings)}, "earth": self.earth}


class Bar(Record):
    """One potential of a terminal strip: a terminal that takes many wires."""

    name: str
    clamps: Annotated[int, Field(ge=1, le=60)]
    earth: bool = False


class StripPart(CatalogueEntry):
    """A strip of distribution blocks; one marked `earth` is bonded to the metalwork."""

    kind: Literal["terminal_strip"]
    bars: tuple[Bar, ...]

    def named(self) -> dict[str, str]:
        """Each bar's terminal."""
        return {f"bars[{i}].name": bar.name for i, bar in enumerate(self.bars)}

    def clamps(self, terminal: str) -> int:
        """How many wires the bar takes."""
        return next((b.clamps for b in self.bars if b.name == terminal), 2)


class InputKind(Record):
    """One IEC 61131-2 input type as this controller makes it.

    `curve` is its current (amps) at its voltage (volts), rising, for current into the terminal;
    `on_v`, `off_v` and `on_a` are where it really switches.
    """

    curve: tuple[tuple[float, float], ...] = Field(min_length=2)
    on_v: Volts
    off_v: Volts
    on_a: Amps
    off_max_v: Volts
    on_min_v: Volts
    off_max_a: Amps
    on_min_a: Amps

    @model_validator(mode="after")
    def _inside_the_band(self) -> InputKind:
        if not self.off_max_v < self.off_v < self.on_v < self.on_min_v:
            raise ValueError("the thresholds must lie inside the band: off_max_v < off_v < on_v < on_min_v")
        return self


class InputGroup(Record):
    """Inputs that share a common terminal."""

    common: str
    points: tuple[str, ...]


class OutputGroup(Record):
    """Transistor outputs fed from one plus terminal; `minus` feeds their drivers."""

    name: str
    plus: str
    minus: str
    points: tuple[str, ...]
    driver_a: Amps


class OutputKind(Record):
    """One transistor output: resistance when on, its own limit, leakage when off, its reverse diode.

    Its driver needs `drive_v` from the group's plus to the group's 0 V to switch it on at all.
    """

    rated_a: Amps
    on_ohm: Ohms
    limit_a: Amps
    leak_a: Amps
    reverse_drop_v: Volts
    drive_v: Volts


class ControllerPart(CatalogueEntry):
    """A programmable controller with its inputs and outputs."""

    kind: Literal["controller"]
    plus: str
    minus: str
    earth: str
    load_a: Amps
    input_groups: tuple[InputGroup, ...]
    input_type: Literal[1, 3]
    bidirectional: bool
    input_kinds: Mapping[Literal["1", "3"], InputKind]
    output_groups: tuple[OutputGroup, ...]
    output_kind: OutputKind
    plugs: tuple[PlugRow, ...] = ()

    def named(self) -> dict[str, str]:
        """Supply, commons, points and group terminals."""
        found = {"plus": self.plus, "minus": self.minus, "earth": self.earth}
        for i, inputs in enumerate(self.input_groups):
            found[f"input_groups[{i}].common"] = inputs.common
            found |= {f"input_groups[{i}].points[{j}]": p for j, p in enumerate(inputs.points)}
        for i, outputs in enumerate(self.output_groups):
            found |= {f"output_groups[{i}].plus": outputs.plus, f"output_groups[{i}].minus": outputs.minus}
            found |= {f"output_groups[{i}].points[{j}]": p for j, p in enumerate(outputs.points)}
        return found | {
            f"plugs[{i}].poles[{j}]": p for i, plug in enumerate(self.plugs) for j, p in enumerate(plug.poles)
        }

    @property
    def input_points(self) -> tuple[str, ...]:
        """Input points in order."""
        return tuple(p for g in self.input_groups for p in g.points)

    @property
    def output_points(self) -> tuple[str, ...]:
        """Output points in order."""
        return tuple(p for g in self.output_groups for p in g.points)


KINDS: dict[str, type[CatalogueEntry]] = {
    "supply": SupplyPart,
    "breaker": Breaker,
    "fuse": FusePart,
    "push_button": SwitchPart,
    "emergency_stop": SwitchPart,
    "selector": SwitchPart,
    "key_switch": SwitchPart,
    "sensor": SensorPart,
    "contactor": ContactorPart,
    "aux_block": AuxBlock,
    "overload": OverloadPart,
    "suppressor": SuppressorPart,
    "lamp": LampPart,
    "horn": HornPart,
    "motor": MotorPart,
    "terminal_strip": StripPart,
    "controller": ControllerPart,
}
"""Kind -> the class of its records; also the list that a walking test goes through."""

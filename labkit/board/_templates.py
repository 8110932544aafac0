"""One electrical template per kind of part: its terminals in, elements and records out.

Element names are what a message may show: ``K1:A1-A2``, ``A1:Q1 output``, ``wire 14``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from labkit.board._build import Build, inner
from labkit.board._control import controller
from labkit.board.boards import Part
from labkit.board.catalogue import (
    Breaker,
    ContactorPart,
    FusePart,
    HornPart,
    LampPart,
    MotorPart,
    OverloadPart,
    SensorPart,
    StripPart,
    SupplyPart,
    SuppressorPart,
    SwitchPart,
)
from labkit.board.electrical import Coil, Fuse, Lamp, Sensor
from labkit.circuit import Curve, Resistor, Source, Switch, diode

__all__ = ["EARTH", "TEMPLATES", "Template"]

EARTH = "PE"
"""The metalwork of the board: ground of every circuit, and a place a probe can touch."""

SWITCH_OHM = 0.005  # a supply's own output switch, well below its regulation
RAIL_OHM = 0.002  # the foot of an earth block on the mounting rail: common practice, no source
OFF_S = 1e-9  # leakage of a blocked junction, as the circuit room's own diode has it

Template = Callable[[Part, Any, Build], None]


def _supply(part: Part, entry: SupplyPart, build: Build) -> None:
    plus, minus = part.terminal(entry.plus), part.terminal(entry.minus)
    name = part.designation
    build.actor(name, entry.states(), "off", entry.kind)
    build.add(Source(name, inner(plus), minus, entry.volts, entry.ohm, entry.limit_a))
    build.switch(Switch(f"{name} switch", inner(plus), plus, SWITCH_OHM), name, {"on"})


def _protection(part: Part, entry: Breaker | FusePart, build: Build) -> None:
    name = part.designation
    closed, opened = ("on", "off") if entry.kind == "breaker" else ("whole", "blown")
    build.actor(name, entry.states(), "off" if entry.kind == "breaker" else "whole", entry.kind)
    element = f"{name}:{entry.a}-{entry.b}"
    build.switch(Switch(element, part.terminal(entry.a), part.terminal(entry.b), entry.ohm), name, {closed})
    build.fuses.append(Fuse(name, element, entry.rated_a, entry.i2t, opened, closed))


def _operated(part: Part, entry: SwitchPart, build: Build) -> None:
    build.actor(part.designation, entry.states(), entry.rest, entry.kind)
    for contact in entry.contacts:
        build.contact(part, contact, part.designation)


def _sensor(part: Part, entry: SensorPart, build: Build) -> None:
    name = part.designation
    plus, minus, out = part.terminal(entry.plus), part.terminal(entry.minus), part.terminal(entry.out)
    build.actor(name, entry.states(), "off", entry.kind)
    if entry.output == "2-wire":
        # the leakage is a constant current from 4 V on: what its own electronics need
        leak = entry.leak_a
        flat = ((-1.0, -OFF_S), (0.0, 0.0), (4.0, 0.99 * leak), (16.5, leak), (29.0, 1.01 * leak))
        build.add(Curve(f"{name} leakage", plus, minus, flat))
        _stage(build, name, (plus, inner(out), minus), entry)
    else:
        quiet = entry.quiescent_a
        # nothing when reversed; nearly all of its current from 6 V on
        takes = ((-0.3, -0.3 * OFF_S), (0.7, 0.7 * OFF_S), (6.0, 0.9 * quiet), (24.0, quiet))
        build.add(Curve(f"{name} electronics", plus, minus, takes))
        high, low = (plus, out) if entry.output == "PNP" else (out, minus)
        build.add(Resistor(f"{name} leakage", high, low, 24.0 / entry.leak_a))
        _stage(build, name, (high, inner(out), low), entry)
    build.sensors.append(
        Sensor(
            part=name,
            plus=plus,
            minus=minus,
            out=out,
            output=entry.output,
            min_v=entry.min_v,
            senses=entry.senses,
            on_when=entry.on_when,
            range_mm=entry.range_mm,
            hysteresis=entry.hysteresis,
            on_us=entry.on_us,
            off_us=entry.off_us,
            ready_us=entry.ready_us,
        )
    )


def _stage(build: Build, name: str, nodes: tuple[str, str, str], entry: SensorPart) -> None:
    """An output stage from high to low: it conducts one way, with a drop, up to its limit."""
    high, middle, low = nodes
    build.switch(Switch(f"{name} output", high, middle, 0.05), name, {"on"})
    drop, limit = entry.drop_v, entry.limit_a
    curve = (
        (-1.0, -OFF_S),
        (0.0, 0.0),
        (0.9 * drop, 1e-6),
        (drop, 0.005),
        (drop + 0.5, limit),
        (drop + 30.0, limit + 1e-3),
    )
    build.add(Curve(f"{name} drop", middle, low, curve))


def _contactor(part: Part, entry: ContactorPart, build: Build) -> None:
    name, coil = part.designation, entry.coil
    a, b = part.terminal(coil.a), part.terminal(coil.b)
    element = f"{name}:{coil.a}-{coil.b}"
    build.actor(name, entry.states(), "open", entry.kind)
    build.add(Resistor(element, a, b, coil.ohm))
    for contact in entry.contacts:
        build.contact(part, contact, name)
    build.coils.append(
        Coil(
            name,
            element,
            a,
            b,
            coil.ohm,
            pick_up_v=coil.pick_up * coil.volts,
            drop_out_v=coil.drop_out * coil.volts,
            operate_us=coil.operate_us,
            release_us=coil.release_us["none"],
            suppression="none",
        )
    )


def _overload(part: Part, entry: OverloadPart, build: Build) -> None:
    build.actor(part.designation, entry.states(), "healthy", entry.kind)
    for a, b in entry.heaters:
        name = f"{part.designation}:{a}-{b}"
        build.add(Resistor(name, part.terminal(a), part.terminal(b), entry.heater_ohm))
    for contact in entry.contacts:
        build.contact(part, contact, part.designation)


def _suppressor(part: Part, entry: SuppressorPart, build: Build) -> None:
    name, a, b = part.designation, part.terminal(entry.a), part.terminal(entry.b)
    if entry.form == "diode":
        build.add(diode(name, b, a, drop_v=entry.drop_v, on_ohm=entry.on_ohm))
        return
    clamp, knee = entry.drop_v, entry.drop_v * OFF_S
    far = clamp + entry.on_ohm
    build.add(Curve(name, a, b, ((-far, -knee - 1.0), (-clamp, -knee), (clamp, knee), (far, knee + 1.0))))


def _indicator(part: Part, entry: LampPart | HornPart, build: Build) -> None:
    name = f"{part.designation}:{entry.a}-{entry.b}"
    a, b = part.terminal(entry.a), part.terminal(entry.b)
    build.add(Resistor(name, a, b, entry.ohm))
    colour = entry.colour if isinstance(entry, LampPart) else ""
    build.lamps.append(Lamp(part.designation, name, a, b, entry.ohm, entry.lit_v, colour, entry.kind))


def _motor(part: Part, entry: MotorPart, build: Build) -> None:
    star = inner(part.terminal("star"))
    for winding in entry.windings:
        build.add(Resistor(f"{part.designation}:{winding}", part.terminal(winding), star, entry.winding_ohm))


def _strip(part: Part, entry: StripPart, build: Build) -> None:
    for bar in entry.bars:
        if bar.earth:
            build.add(Resistor(f"{part.designation}:{bar.name} foot", part.terminal(bar.name), EARTH, RAIL_OHM))


def _operators(kinds: Sequence[str]) -> dict[str, Template]:
    return dict.fromkeys(kinds, _operated)


TEMPLATES: dict[str, Template] = {
    "supply": _supply,
    "breaker": _protection,
    "fuse": _protection,
    **_operators(("push_button", "emergency_stop", "selector", "key_switch")),
    "sensor": _sensor,
    "contactor": _contactor,
    "overload": _overload,
    "suppressor": _suppressor,
    "lamp": _indicator,
    "horn": _indicator,
    "motor": _motor,
    "terminal_strip": _strip,
    "controller": controller,
}
"""Kind of part -> its template. A plug-on block has none: its contacts go to the part it sits on."""

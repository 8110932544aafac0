"""One reading or look at a bench: what it shows, in which band, how near a student's figure is, and why it is so."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeGuard

from labkit.base import LabkitError
from labkit.bench import Bench
from labkit.faults import ohm_band, volt_band
from labkit.lessons._document import RowsTask
from labkit.lessons._setups import Look, Mode
from labkit.lessons.errors import LessonError

__all__ = ["OL", "UNITS", "Seen", "alike", "choices", "look_at", "near", "place", "probes", "why_volts"]

OL = "OL"
UNITS: dict[str, str] = {"volts": "V", "ohms": "ohm", "diode": "V", "amps": "A"}
SEEN = ("on", "off")
BEEPS = ("beep", "silent")

# Currents that a person tells apart on a 24 V board: nothing, inputs and sensors, lamps, a coil (own choice).
_AMPS = ((0.0005, "none"), (0.012, "a few mA"), (0.06, "a lamp"), (0.25, "a coil"), (math.inf, "too much"))
_ACROSS_V = 1.0  # a contact or a wire that carries current drops less
_FULL_V = 15.0  # more than this across one place is nearly the whole supply


@dataclass(frozen=True, slots=True)
class Seen:
    """What a look shows.

    Parameters
    ----------
    mode
        Of the look.
    value
        Volts, ohms or amperes; a word for a look; None where the meter shows OL.
    text
        As displayed.
    live
        Ohms were asked of a live circuit: the figure means nothing.
    """

    mode: Mode
    value: float | str | None
    text: str
    live: bool = False

    @property
    def band(self) -> str:
        """The band in which a person tells this reading from others."""
        if self.mode == "volts" and not isinstance(self.value, str):
            return volt_band(self.value or 0.0)
        if self.value is None:
            return OL
        if isinstance(self.value, str):
            return self.value
        if self.mode == "ohms":
            return ohm_band(self.value)
        if self.mode == "amps":
            return next(name for limit, name in _AMPS if abs(self.value) <= limit)
        return "joined" if self.value < 0.1 else "a diode"


def look_at(bench: Bench, look: Look) -> Seen:
    """Take the reading, without a line in the bench's log.

    Raises
    ------
    LessonError
        If the bench has no such place.
    """
    try:
        if look.mode in ("led", "lit", "bit"):
            on = {"led": bench.led, "lit": bench.lit, "bit": bench.bit}[look.mode](look.at)
            return Seen(look.mode, "on" if on else "off", "on" if on else "off")
        if look.mode == "state":
            state = bench.state(look.at)
            return Seen("state", state, state)
        amps = look.mode == "amps"
        reading = bench.meter.peek(look.mode, look.wire if amps else look.red, "" if amps else look.black)
    except LabkitError as exc:
        raise LessonError(
            exc.what, where=f"{look.mode} {place(look)}", try_this=exc.try_this, code="lesson-look"
        ) from None
    if look.mode == "continuity":
        return Seen("continuity", reading.text, reading.text, reading.live)
    value = None if math.isinf(reading) else round(float(reading.exact), 6) + 0.0
    return Seen(look.mode, value, reading.text, reading.live)


def place(look: Look) -> str:
    """Where the probes or the eyes go, in words."""
    if look.mode == "amps":
        return f"clamp around wire {look.wire}"
    if look.mode == "led":
        return f"indicator of {look.at}"
    if look.mode in ("lit", "state", "bit"):
        return look.at if look.mode != "bit" else f"bit {look.at}"
    return f"red on {look.red}, black on {look.black}"


def probes(look: Look) -> tuple[str, ...]:
    """The same as names: the wire in the clamp, what the eyes are on, or the red and the black terminal."""
    if look.mode == "amps":
        return (look.wire,)
    return (look.at,) if look.mode in ("led", "lit", "state", "bit") else (look.red, look.black)


def choices(states: Mapping[str, tuple[str, ...]], look: Look) -> tuple[str, ...]:
    """The words to choose from, where the answer is a word; `states` are the positions of each part."""
    if look.mode == "continuity":
        return BEEPS
    if look.mode in ("led", "lit", "bit"):
        return SEEN
    return states.get(look.at, ()) if look.mode == "state" else ()


def _number(value: object) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool)


def near(task: RowsTask, seen: Seen, said: float | str) -> bool:
    """Whether a figure said is as near as the task wants."""
    if not _number(said) or not _number(seen.value):
        return said == (OL if seen.value is None else seen.value)
    floor = {"volts": task.tolerance_volts, "diode": task.tolerance_volts, "ohms": task.tolerance_ohms}
    allowed = max(floor.get(seen.mode, task.tolerance_amps), abs(seen.value) * task.tolerance_percent / 100)
    return abs(said - seen.value) <= allowed + 1e-9


def alike(seen: Seen, said: float | str, band_volts: float) -> bool:
    """Whether a prediction is right: near in volts, otherwise in the same band."""
    if seen.mode == "volts" and _number(said) and _number(seen.value):
        return abs(said - seen.value) <= band_volts + 1e-9
    value = None if said == OL else said
    return Seen(seen.mode, value, "").band == seen.band


def why_volts(bench: Bench, red: str, black: str) -> str:
    """The physical reason of a volts reading, as far as the network between the probes tells it; else ``""``."""
    volts = float(bench.meter.peek("volts", red, black).exact)
    electrical = bench.engine.net.electrical
    for rule in electrical.contacts:
        part, _, pair = rule.switch.partition(":")
        if {red, black} != {f"{part}:{end}" for end in pair.split("-")}:
            continue
        if bench.state(rule.actor) in rule.closed_when and abs(volts) < _ACROSS_V:
            return f"{rule.switch} is closed, and a closed contact drops next to nothing."
        if abs(volts) > _FULL_V:
            return (
                f"{rule.switch} is open and no current flows, so nothing else in its circuit drops anything: "
                f"the full {abs(volts):.1f} V stand across the one open place."
            )
        if abs(volts) < _ACROSS_V:
            return f"{rule.switch} is open, and yet both its sides are alike: {_levels(bench, red, black)}."
    if any({red, black} == wire.ends for wire in bench.wiring):
        if abs(volts) < _ACROSS_V:
            return "A whole wire drops next to nothing."
        return f"{abs(volts):.1f} V across a wire: it is open, or its joint is bad."
    return f"{_levels(bench, red, black)}."


def _levels(bench: Bench, red: str, black: str) -> str:
    zero = _zero(bench)
    ends = [t for t in (red, black) if t != zero]
    return " and ".join(
        f"{t} is at {float(bench.meter.peek('volts', t, zero).exact) + 0.0:.1f} V to {zero}" for t in ends
    )


def _zero(bench: Bench) -> str:
    part, supply = bench.board.supplies[0]
    return str(part.terminal(supply.minus))

"""Operating situations of a board, and what a person can look at or measure in each.

A situation is set up from rest and undone again, so that each starts from the same place. The program of the
dictionary makes every device show: the pump seals in, the lamps and the horn have a lamp test.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from labkit.bench import Bench
from labkit.board import Board, Coil, Electrical, Lamp, Point, electrify

__all__ = ["MINUTES", "PROGRAM", "Situation", "Test", "situations", "tests_of"]

PROGRAM = """\
K1 := S1 AND S0 AND NOT F3_T AND (S2 OR K1_A);
P1 := K1_A OR S6;
P2 := NOT K1_A OR S6;
P3 := F3_T OR S6;
P4 := NOT B1 OR S6;
P5 := F3_T OR S6;
P9 := S6;
"""

Steps = tuple[tuple[str, ...], ...]
Kind = Literal["led", "lit", "state", "volts", "ohms", "release"]

MINUTES: dict[str, float] = {"led": 0.2, "lit": 0.2, "state": 0.2, "volts": 1.0, "ohms": 2.0, "release": 5.0}
"""What a test takes: a look, a reading on the live board, a reading with the power off and proved dead
(our own judgement, no source)."""


@dataclass(frozen=True, slots=True)
class Situation:
    """A state of work that a person brings about.

    Parameters
    ----------
    name
        E.g. ``"running"``.
    do, undo
        Bench verbs with their arguments, a pause after each.
    point
        The input it is about, if it is about one.
    """

    name: str
    do: tuple[tuple[str, ...], ...] = ()
    undo: tuple[tuple[str, ...], ...] = ()
    point: str = ""


@dataclass(frozen=True, slots=True)
class Test:
    """One look or one reading in one situation."""

    __test__ = False  # no test case, whatever its name makes a collector think

    situation: str
    kind: Kind
    a: str
    b: str = ""

    @property
    def id(self) -> str:
        """A name such as ``"running: volts K1:A1 to X1:0V"``."""
        return f"{self.situation}: {self.kind} {self.a}" + (f" to {self.b}" if self.b else "")

    @property
    def minutes(self) -> float:
        """What it takes."""
        return MINUTES[self.kind] + (1.0 if "off" in self.situation or "out" in self.situation else 0.0)


def situations(board: Board) -> tuple[Situation, ...]:
    """The situations of a board with a start button S2 and a stop button S1, in the order of work."""
    start = (("press", "S2"), ("release", "S2"))
    stop = (("press", "S1"), ("release", "S1"))
    found = [
        Situation("rest"),
        Situation("start held", (("press", "S2"),), (("release", "S2"), *stop), "I2"),
        Situation("running", start, stop, "I10"),
        Situation("stop held", (*start, ("press", "S1")), (("release", "S1"), *stop), "I1"),
        Situation("after stop", (*start, *stop), stop),
    ]
    for point in board.points.values():
        if point.direction == "input" and point.on_when:
            found += _actuated(board, point, start, stop)
    found.append(Situation("letting go", start))
    signals = tuple(w.no for w in board.wiring if w.ends & _inputs(board))
    found.append(Situation("signal wires off", (("lift_all", *signals),), (("land_all",),)))
    off = tuple(("breaker_off", part.designation) for part in board.of_kind("breaker", "fuse"))
    found += [Situation("breakers off", off), Situation("dead", (*off, ("power_off",)))]
    out = tuple(("remove", part.designation) for part in board.of_kind("suppressor"))
    found.append(Situation("suppressors out, dead", out))
    return tuple(found)


def _inputs(board: Board) -> frozenset[str]:
    """The input terminals of the board's controllers."""
    return frozenset(
        part.terminal(point)
        for part, entry in board.controllers
        for group in entry.input_groups
        for point in group.points
    )


def _actuated(board: Board, one: Point, start: Steps, stop: Steps) -> Iterator[Situation]:
    device, point = one.device, one.point
    kind = board.part(device).kind
    if kind in ("selector", "key_switch"):
        state = next(iter(one.on_when.values()))
        entry = board.part(device).entry
        yield Situation(f"{device} {state}", (("turn", device, state),), (("turn", device, entry.rest),), point)  # type: ignore[attr-defined]
    elif kind == "sensor":
        verb = "beam" if board.part(device).entry.senses == "beam" else "metal"  # type: ignore[attr-defined]
        yield Situation(f"{device} actuated", ((verb, device, "on"),), ((verb, device, "off"),), point)
    elif kind == "overload":
        undo = (("reset", device), *stop)
        yield Situation(f"{device} tripped", (*start, ("trip", device)), undo, point)
    elif kind == "emergency_stop":
        yield Situation(f"{device} pressed", (*start, ("press", device)), (("release", device), *stop), point)
    elif kind == "push_button" and device not in ("S1", "S2"):
        yield Situation(f"{device} held", (("press", device),), (("release", device),), point)


def perform(bench: Bench, step: tuple[str, ...]) -> None:
    """Do one step of a situation."""
    verb, *words = step
    if verb == "beam":
        bench.beam(words[0], words[1] == "on")
    elif verb == "metal":
        bench.metal(words[0], 1.0 if words[1] == "on" else None)
    elif verb == "breaker_off":
        bench.breaker(words[0], False)
    elif verb == "lift_all":  # in one go: one network in place of twelve
        bench.rewire(bench.wiring.without(*words))
    elif verb == "land_all":
        bench.rewire(bench.board.wiring)
    elif verb == "power_off":
        bench.power(False)
    else:
        getattr(bench, verb)(*words)


def tests_of(board: Board) -> tuple[Test, ...]:
    """What there is to look at and to measure, in the order of the situations."""
    net = electrify(board)
    return tuple(dict.fromkeys(test for situation in situations(board) for test in _tests_in(board, net, situation)))


def _tests_in(board: Board, net: Electrical, situation: Situation) -> Iterator[Test]:
    name = situation.name
    if name == "dead":
        for a, b in _dry_pairs(board, net):
            yield Test(name, "ohms", a, b)
        return
    if name == "suppressors out, dead":
        for coil in net.coils:
            yield Test(name, "ohms", coil.a, "X1:0V")
            yield Test(name, "ohms", coil.a, coil.b)
        return
    if name == "letting go":
        for coil in net.coils:
            yield Test(name, "release", coil.part)
        return
    if name == "signal wires off":
        for channel in net.inputs:
            yield Test(name, "volts", channel.terminal, "X1:0V")
        for sensor in net.sensors:
            yield Test(name, "volts", sensor.plus, sensor.out)
        return
    for channel in net.inputs:
        yield Test(name, "led", channel.point)
    for output in net.outputs:
        yield Test(name, "led", output.point)
    for lamp in net.lamps:
        yield Test(name, "lit", lamp.part)
    for coil in net.coils:
        yield Test(name, "state", coil.part)
    for fuse in net.fuses:
        yield Test(name, "state", fuse.actor)
    for a, b in _live_pairs(board, net, situation):
        yield Test(name, "volts", a, b)


def _live_pairs(board: Board, net: Electrical, situation: Situation) -> Iterator[tuple[str, str]]:
    zero = "X1:0V"
    wide = situation.name in ("rest", "start held", "running", "S6 held")
    for channel in net.inputs:
        if wide or channel.point == situation.point:
            yield channel.terminal, zero
            yield channel.terminal, channel.common
            for wire in board.wiring.at(channel.terminal):
                yield (wire.b if wire.a == channel.terminal else wire.a), zero
    for coil in net.coils:
        yield coil.a, zero
        yield coil.a, coil.b
    if not wide and situation.name not in ("breakers off", "S0 pressed", "F3 tripped"):
        return
    for common in dict.fromkeys(c.common for c in net.inputs):
        yield common, zero
    for plus in dict.fromkeys(o.group_plus for o in net.outputs):
        yield plus, zero
    for minus in dict.fromkeys(o.group_minus for o in net.outputs):
        yield minus, zero
    for output in net.outputs:
        yield output.terminal, zero
        for wire in board.wiring.at(output.terminal):
            yield output.terminal, (wire.b if wire.a == output.terminal else wire.a)
    for load in _loads(net):
        yield load.a, zero
        yield load.b, zero
        yield load.a, load.b
    yield from _rails(board, net, zero)


def _loads(net: Electrical) -> tuple[Coil | Lamp, ...]:
    return (*net.coils, *net.lamps)


def _rails(board: Board, net: Electrical, zero: str) -> Iterator[tuple[str, str]]:
    for part, entry in board.supplies:
        yield part.terminal(entry.plus), part.terminal(entry.minus)
    yield "X1:24V", zero
    yield "X1:24V", "X1:PE"
    yield zero, "X1:PE"
    for fuse in net.fuses:
        a, b = (f"{fuse.actor}:{t}" for t in fuse.element.split(":")[1].split("-"))
        yield a, zero
        yield b, zero
        yield a, b
    for feed in net.supplies:
        yield feed.plus, feed.minus
        yield feed.plus, zero
        yield feed.minus, zero
    for sensor in net.sensors:
        yield sensor.plus, sensor.minus
        yield sensor.plus, zero
        yield sensor.minus, zero
        yield sensor.out, zero


def _dry_pairs(board: Board, net: Electrical) -> Iterator[tuple[str, str]]:
    zero = "X1:0V"
    for load in _loads(net):
        yield load.a, load.b
        yield load.a, zero
    for part in board.of_kind("suppressor"):
        a, b = (part.terminal(t) for t in ("+", "-"))
        yield a, b
        yield b, a
    for rule in net.contacts:
        name, _, pair = rule.switch.partition(":")
        if "-" in pair:
            a, b = (f"{name}:{t}" for t in pair.split("-"))
            yield a, b
    for channel in net.inputs:
        yield channel.terminal, zero
    for wire in board.wiring:
        if any(board.terminals[t].part[0] in "FMK" for t in wire.ends) or wire.ends & board.earth_terminals:
            yield wire.a, wire.b
    yield "X1:24V", zero
    yield "X1:24V", "X1:PE"
    yield zero, "X1:PE"

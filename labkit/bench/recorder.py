"""Writes down what changes at a bench. It only looks: nothing at the bench knows that it is there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from labkit.base import did_you_mean
from labkit.bench.electric import Network, Reading
from labkit.bench.engine import Engine
from labkit.bench.errors import BenchError
from labkit.bench.machine import Motor
from labkit.bench.trace import LAYERS, Done, Signal, Trace, Value
from labkit.logic import Program, lower

__all__ = ["Recorder"]

_SPEED_STEPS = 20  # a run-up or a coasting is drawn in so many steps


class Recorder:
    """Looks at an engine after each thing that happened and notes what is new.

    Parameters
    ----------
    engine
        What to look at.
    only
        What to note: signals (``"bit:K1"``), whole layers (``"volts"``), or names (``"K1"``: every layer of
        it). None notes everything. What is not asked for is not looked at and costs nothing.

    Raises
    ------
    BenchError
        If this bench has nothing of such a name.
    """

    def __init__(self, engine: Engine, only: Iterable[str] | None = None) -> None:
        self._engine = engine
        self._only = None if only is None else frozenset(only)
        bare = self._only is not None and any(":" not in name and name not in LAYERS for name in self._only)
        self._layers = LAYERS.keys() if self._only is None or bare else {n.partition(":")[0] for n in self._only}
        self._program: Program | None = None
        self._net: Network | None = None
        self._last: dict[str, Value] = {}
        self._moves = -1
        self._reading: Reading | None = None
        self._seen_bits: list[int] = []
        self._seen_channels: list[int] = []
        self._seen_raw: dict[str, bool] = {}
        self._seen_outputs: dict[str, int] = {}
        self._seen_powered: bool | None = None
        self.trace = Trace(start_us=engine.clock.now_us, end_us=engine.clock.now_us)
        self._choose()
        if self._only is not None:
            self._refuse_unknown(self._only)
        for part, ramp in self._ramps.items():
            self._put(f"motor:{part}", "level", engine.clock.now_us, ramp.speed(engine.clock.now_us))
        self.look()

    # what is looked at ----------------------------------------------------------------------------
    def _wants(self, layer: str, name: str) -> bool:
        only = self._only
        return only is None or f"{layer}:{name}" in only or layer in only or name in only

    def _pairs(self, names: Iterable[str], *layers: str) -> list[tuple[str, str, str]]:
        """The signals of these names in these layers that are asked for: layer, signal, name."""
        asked = [layer for layer in layers if layer in self._layers]
        return [
            (layer, f"{layer}:{name}", name)
            for name in (names if asked else ())
            for layer in asked
            if self._wants(layer, name)
        ]

    def _choose(self) -> None:
        """Sort out, once, what of the bench is asked for."""
        engine, pairs = self._engine, self._pairs
        self._positions = pairs(engine.states, "pos")
        self._poles = pairs(engine.contactors, "pole", "aux")
        self._inputs = pairs(engine.raw, "led", "in")
        self._outputs = pairs(engine.controller.outputs, "out")
        self._mode = bool(pairs(["A1"], "mode"))
        now = engine.clock.now_us
        self._ramps = {part: _Ramp(engine.motors[part], now) for _, _, part in pairs(engine.motors, "motor")}
        self._choose_bits([tag.name for tag in engine.controller.tags])

    def _choose_bits(self, names: Sequence[str]) -> None:
        slot = self._engine.controller.slot
        self._bits = [(signal, slot(name)) for _, signal, name in self._pairs(names, "bit")]
        self._seen_bits = []

    def _choose_volts(self, net: Network) -> None:
        """The network has come, or was wired otherwise."""
        self._net = net
        electrical = net.electrical
        ends = {c.point: (c.terminal, c.common) for c in electrical.inputs}
        ends |= {o.point: (o.terminal, o.group_minus) for o in electrical.outputs}
        coils = {c.part: (c.a, c.b) for c in electrical.coils}
        self._volts = [(signal, *ends[point]) for _, signal, point in self._pairs(ends, "volts")]
        self._volts += [(signal, *coils[part]) for _, signal, part in self._pairs(coils, "coil")]
        number = {lamp.part: i for i, lamp in enumerate(electrical.lamps)}
        self._lamps = [(signal, number[part]) for _, signal, part in self._pairs(number, "lit")]

    def _refuse_unknown(self, only: frozenset[str]) -> None:
        known = set(_names(self._engine))
        bare = {*LAYERS, *(name.partition(":")[2] for name in known)}
        for name in sorted(only):
            if name not in known and name not in bare:
                raise BenchError(
                    f"this bench has nothing called {name} to record",
                    where="only",
                    try_this=did_you_mean(name, sorted(known if ":" in name else bare)),
                    code="bench-record-name",
                )

    # looking --------------------------------------------------------------------------------------
    def look(self) -> None:
        """Note what has changed since the last look."""
        engine = self._engine
        if engine.moves != self._moves:
            self._moves = engine.moves
            self._look_at_positions()
        if engine.reading is not None and engine.reading is not self._reading:
            self._reading = engine.reading
            if self._net is not engine.net:
                self._choose_volts(engine.net)
            self._look_at_volts(engine.reading)
        self._look_at_controller()
        for part, ramp in self._ramps.items():
            self._follow(part, ramp)

    def finish(self, events: Sequence[Done]) -> Trace:
        """Look once more, close the trace and return it."""
        self.look()
        now = self._engine.clock.now_us
        for part, ramp in self._ramps.items():
            self._put(f"motor:{part}", "level", now, ramp.speed(now))
        self.trace.end_us = now
        self.trace.scan_runs = self._engine.scan.end_record()
        self.trace.events = [done for done in events if done.t_us >= self.trace.start_us]
        return self.trace

    # ----------------------------------------------------------------------------------------------
    def _look_at_positions(self) -> None:
        engine, note = self._engine, self._note
        for _, name, actor in self._positions:
            note(name, "state", engine.states[actor])
        for layer, name, part in self._poles:
            closed = engine.states[part] == "closed"
            note(name, "bool", closed and (layer == "pole" or f"{part}.aux" not in engine.removed))

    def _look_at_volts(self, reading: Reading) -> None:
        volt, note = reading.solution.volt, self._note
        for name, a, b in self._volts:
            note(name, "volts", round(volt(a, b), 3) + 0.0)
        for name, number in self._lamps:
            note(name, "bool", reading.lit[number])

    def _look_at_controller(self) -> None:
        engine, controller, note = self._engine, self._engine.controller, self._note
        if self._inputs and (
            engine.raw != self._seen_raw
            or controller.channels != self._seen_channels
            or engine.powered is not self._seen_powered
        ):
            self._seen_raw, self._seen_channels = dict(engine.raw), list(controller.channels)
            self._seen_powered = engine.powered
            for layer, name, point in self._inputs:
                on = engine.raw[point] and engine.powered if layer == "led" else bool(controller.filtered(point))
                note(name, "bool", on)
        if self._outputs and controller.outputs != self._seen_outputs:
            self._seen_outputs = dict(controller.outputs)
            for _, name, point in self._outputs:
                note(name, "bool", bool(self._seen_outputs[point]))
        if controller.program is not self._program and controller.program is not None:
            self._program = controller.program
            tags = [tag.name for tag in controller.tags]
            self._choose_bits(list(dict.fromkeys([*tags, *lower(self._program).slots])))
        bits = controller.bits
        if bits != self._seen_bits and self._bits:
            self._seen_bits = list(bits)
            for name, slot in self._bits:
                note(name, "bool", bool(bits[slot]))
        if self._mode:
            note("mode:A1", "state", engine.mode)

    def _note(self, name: str, kind: str, value: Value) -> None:
        if self._last.get(name) == value:
            return
        self._last[name] = value
        self._put(name, kind, self._engine.clock.now_us, value)

    def _put(self, name: str, kind: str, t_us: int, value: Value) -> None:
        signal = self.trace.signals.get(name)
        if signal is None:
            signal = self.trace.signals[name] = Signal(name, kind)
            if self.trace.start_us < t_us:  # something that appeared later, such as a tag of a new program
                signal.changes.append(
                    (self.trace.start_us, "" if kind == "state" else False if kind == "bool" else 0.0)
                )
        changes = signal.changes
        if len(changes) > 1 and changes[-1][0] == t_us:
            changes.pop()  # at one instant only the last value counts; what was there at the start stays
            if changes and changes[-1][1] == value:
                return
        if not changes or changes[-1][1] != value:
            changes.append((t_us, value))

    def _follow(self, part: str, ramp: _Ramp) -> None:
        """Put the steps of a motor's speed that have passed by now."""
        motor, now = self._engine.motors[part], self._engine.clock.now_us
        for t_us, speed in ramp.passed(now):
            self._put(f"motor:{part}", "level", t_us, speed)
        if not ramp.is_of(motor):
            self._put(f"motor:{part}", "level", motor.since_us, ramp.speed(motor.since_us))
            self._ramps[part] = _Ramp(motor, now)


class _Ramp:
    """A motor's speed from when it was last fed or cut: equal steps on a grid of its own, whoever looks when."""

    __slots__ = ("_length_us", "_motor", "_next")

    def __init__(self, motor: Motor, after_us: int) -> None:
        self._motor = replace(motor)
        self._length_us = motor.settled_us() - motor.since_us
        self._next = 1
        while self._next <= _SPEED_STEPS and self._at(self._next) <= after_us:
            self._next += 1

    def is_of(self, motor: Motor) -> bool:
        """Whether the motor has been neither fed nor cut since."""
        return (motor.since_us, motor.fed) == (self._motor.since_us, self._motor.fed)

    def speed(self, t_us: int) -> float:
        """The speed, to a thousandth."""
        return round(self._motor.speed(t_us), 3)

    def passed(self, until_us: int) -> Iterator[tuple[int, float]]:
        """The steps that nobody has asked for yet, up to a time."""
        while self._next <= _SPEED_STEPS and (t_us := self._at(self._next)) <= until_us:
            self._next += 1
            if self._length_us:
                yield t_us, self.speed(t_us)

    def _at(self, step: int) -> int:
        return self._motor.since_us + self._length_us * step // _SPEED_STEPS


def _names(engine: Engine) -> Iterator[str]:
    """Every signal that this bench has now."""
    electrical, controller = engine.net.electrical, engine.controller
    by_layer: dict[str, Iterable[str]] = {
        "pos": engine.states,
        "pole": engine.contactors,
        "aux": engine.contactors,
        "volts": [*engine.raw, *(output.point for output in electrical.outputs)],
        "coil": [coil.part for coil in electrical.coils],
        "lit": [lamp.part for lamp in electrical.lamps],
        "led": engine.raw,
        "in": engine.raw,
        "out": controller.outputs,
        "bit": controller.slots,
        "motor": engine.motors,
        "mode": ["A1"],
    }
    for layer, names in by_layer.items():
        yield from (f"{layer}:{name}" for name in names)

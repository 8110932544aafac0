"""Writes down what changes at a bench. It only looks: nothing at the bench knows that it is there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from labkit.bench.electric import Reading
from labkit.bench.engine import Engine
from labkit.bench.machine import Motor
from labkit.bench.trace import Done, Signal, Trace, Value
from labkit.logic import Program, lower

__all__ = ["Recorder"]

_SPEED_STEPS = 20  # a run-up or a coasting is drawn in steps of a twentieth of full speed


class Recorder:
    """Looks at an engine after each thing that happened and notes what is new.

    Parameters
    ----------
    engine
        What to look at.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._program: Program | None = None
        self._bits: tuple[str, ...] = tuple(tag.name for tag in engine.controller.tags)
        self.trace = Trace(start_us=engine.clock.now_us, end_us=engine.clock.now_us)
        self._last: dict[str, Value] = {}
        self._moves = -1
        self._reading: Reading | None = None
        self._ramps = {part: replace(motor) for part, motor in engine.motors.items()}
        """Each motor as it was when its present ramp began."""
        for part, motor in engine.motors.items():
            self._put(f"motor:{part}", "level", engine.clock.now_us, _speed(motor, engine.clock.now_us))
        self.look()

    def look(self) -> None:
        """Note what has changed since the last look."""
        engine = self._engine
        if engine.moves != self._moves:
            self._moves = engine.moves
            self._look_at_positions()
        if engine.reading is not None and engine.reading is not self._reading:
            self._reading = engine.reading
            self._look_at_volts(engine.reading)
        self._look_at_controller()
        for part, motor in engine.motors.items():
            known = self._ramps[part]
            if (motor.since_us, motor.fed) != (known.since_us, known.fed):
                self._draw_ramp(known)
                self._ramps[part] = replace(motor)

    def finish(self, events: Sequence[Done]) -> Trace:
        """Look once more, close the trace and return it."""
        self.look()
        for motor in self._ramps.values():
            self._draw_ramp(motor)
        self.trace.end_us = self._engine.clock.now_us
        self.trace.scan_runs = self._engine.scan.end_record()
        self.trace.events = [done for done in events if done.t_us >= self.trace.start_us]
        return self.trace

    # ----------------------------------------------------------------------------------------------
    def _look_at_positions(self) -> None:
        engine = self._engine
        for actor, state in engine.states.items():
            self._note(f"pos:{actor}", "state", state)
        for part in engine.contactors:
            closed = engine.states[part] == "closed"
            self._note(f"pole:{part}", "bool", closed)
            self._note(f"aux:{part}", "bool", closed and f"{part}.aux" not in engine.removed)

    def _look_at_volts(self, reading: Reading) -> None:
        electrical, volt = self._engine.net.electrical, reading.solution.volt
        for channel in electrical.inputs:
            self._note(f"volts:{channel.point}", "volts", round(volt(channel.terminal, channel.common), 3) + 0.0)
        for output in electrical.outputs:
            self._note(f"volts:{output.point}", "volts", round(volt(output.terminal, output.group_minus), 3) + 0.0)
        for coil in electrical.coils:
            self._note(f"coil:{coil.part}", "volts", round(volt(coil.a, coil.b), 3) + 0.0)
        for lamp, lit in zip(electrical.lamps, reading.lit, strict=True):
            self._note(f"lit:{lamp.part}", "bool", lit)

    def _look_at_controller(self) -> None:
        engine, controller = self._engine, self._engine.controller
        note = self._note
        for point, on in engine.raw.items():
            note(f"led:{point}", "bool", on and engine.powered)
            note(f"in:{point}", "bool", bool(controller.filtered(point)))
        for point, told in controller.outputs.items():
            note(f"out:{point}", "bool", bool(told))
        if controller.program is not self._program and controller.program is not None:
            self._program = controller.program
            tags = [tag.name for tag in controller.tags]
            self._bits = tuple(dict.fromkeys([*tags, *lower(self._program).slots]))
        for tag in self._bits:
            note(f"bit:{tag}", "bool", bool(controller.bit(tag)))
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

    def _draw_ramp(self, motor: Motor) -> None:
        """Put the steps of a motor's speed from when its ramp began until now."""
        begin = max(motor.since_us, self.trace.start_us)
        end = min(self._engine.clock.now_us, motor.settled_us())
        for step in range(_SPEED_STEPS + 1):
            if end > begin:
                t_us = begin + (end - begin) * step // _SPEED_STEPS
                self._put(f"motor:{motor.part}", "level", t_us, _speed(motor, t_us))


def _speed(motor: Motor, t_us: int) -> float:
    return round(motor.speed(t_us), 3)

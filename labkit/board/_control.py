"""The electrical template of a controller: its supply, input channels, transistor outputs."""

from __future__ import annotations

from labkit.board._build import Build, inner
from labkit.board.boards import Part
from labkit.board.catalogue import ControllerPart, InputKind, OutputGroup
from labkit.board.electrical import ControllerFeed, InputChannel, InputLimits, OutputChannel
from labkit.board.errors import BoardError
from labkit.circuit import Curve, Resistor, Switch, diode

__all__ = ["controller"]

OFF_S = 1e-9
SWITCH_OHM = 1e-3  # the transistor's resistance is in its curve


def controller(part: Part, entry: ControllerPart, build: Build) -> None:
    """Supply, inputs and outputs of one controller."""
    plus, minus = build.pin(part.terminal(entry.plus)), build.pin(part.terminal(entry.minus))
    build.add(Curve(f"{part.designation} electronics", plus, minus, _one_way(entry.load_a)))
    build.supplies.append(ControllerFeed(part.designation, plus, minus))
    _inputs(part, entry, build)
    for group in entry.output_groups:
        _outputs(part, entry, group, build)


def _one_way(amps_at_24v: float) -> tuple[tuple[float, float], ...]:
    """Electronics behind a reverse-polarity diode."""
    return ((-0.3, -0.3 * OFF_S), (0.7, 0.7 * OFF_S), (24.0, amps_at_24v))


def _inputs(part: Part, entry: ControllerPart, build: Build) -> None:
    type_no = build.input_type or entry.input_type
    if type_no not in (1, 3):
        raise BoardError(
            f"{part.designation} has no inputs of type {type_no}",
            where=part.designation,
            try_this="types 1 and 3 of IEC 61131-2 are here",
            code="board-input-type",
        )
    kind = entry.input_kinds["1" if type_no == 1 else "3"]
    limits = InputLimits(kind.off_max_v, kind.on_min_v, kind.off_max_a, kind.on_min_a)
    curve = _both_ways(kind) if entry.bidirectional else ((-1.0, -OFF_S), *kind.curve)
    for group in entry.input_groups:
        common = build.pin(part.terminal(group.common))
        for point in group.points:
            terminal, element = build.pin(part.terminal(point)), f"{part.designation}:{point} input"
            build.add(Curve(element, terminal, common, curve))
            build.inputs.append(
                InputChannel(
                    point,
                    part.designation,
                    terminal,
                    common,
                    element,
                    type_no,
                    on_v=kind.on_v,
                    off_v=kind.off_v,
                    on_a=kind.on_a,
                    bidirectional=entry.bidirectional,
                    limits=limits,
                )
            )


def _both_ways(kind: InputKind) -> tuple[tuple[float, float], ...]:
    forward = tuple(point for point in kind.curve if point != (0.0, 0.0))
    return (*((-v, -i) for v, i in reversed(forward)), (0.0, 0.0), *forward)


def _outputs(part: Part, entry: ControllerPart, group: OutputGroup, build: Build) -> None:
    plus, minus = build.pin(part.terminal(group.plus)), build.pin(part.terminal(group.minus))
    kind = entry.output_kind
    build.add(Curve(f"{part.terminal(group.plus)} drivers", plus, minus, _one_way(group.driver_a)))
    knee_v = kind.on_ohm * kind.limit_a
    # resistive up to its limit, then nearly constant current: 1 mA more for each volt
    curve = ((-kind.on_ohm, -1.0), (knee_v, kind.limit_a), (knee_v + 30.0, kind.limit_a + 0.03))
    for point in group.points:
        name, actor = part.terminal(point), f"{part.designation}.{point}"
        terminal, element = build.pin(name), f"{name} limit"
        build.actor(actor, ("off", "on"), "off", "output")
        build.switch(Switch(f"{name} output", plus, inner(name), SWITCH_OHM), actor, {"on"})
        build.add(
            Curve(element, inner(name), terminal, curve),
            Resistor(f"{name} leakage", plus, terminal, 24.0 / kind.leak_a),
            # the transistor's own diode: a voltage on a dead output feeds the rest of its group
            diode(f"{name} reverse", terminal, plus, drop_v=kind.reverse_drop_v, on_ohm=kind.on_ohm),
        )
        build.outputs.append(
            OutputChannel(
                point,
                part.designation,
                group.name,
                actor,
                terminal,
                group_plus=plus,
                group_minus=minus,
                element=element,
                rated_a=kind.rated_a,
                limit_a=kind.limit_a,
                drive_v=kind.drive_v,
            )
        )

"""Checks of inputs by what they do: commons, sensors' supplies, and whether each point follows its device."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from labkit.board._trial import DEAD_V, Trial, shown
from labkit.board.boards import Point
from labkit.board.catalogue import SwitchPart
from labkit.board.electrical import Grade, InputChannel
from labkit.board.findings import Finding

__all__ = ["commons", "points", "sensors"]

FIRM_V = 1.0  # a common that is wired to a rail is not moved as far as this by what one input brings
_SHARED = "Look for what feeds those devices, and where their common leads."
MANY = 4  # points that fail together from one cause rather than each from its own


def commons(trial: Trial) -> Iterator[Finding]:
    """Commons that lead to neither rail."""
    key = trial.electrical.key(trial.on)
    seen = set()
    for channel in trial.electrical.inputs:
        if channel.common in seen or not trial.wired(channel.terminal):
            continue
        seen.add(channel.common)
        best, stands = 0.0, []
        # its own wires off: a closed device would hold the terminal on its rail, and the jumper short it
        own = [wire.element for wire in trial.wiring.at(channel.terminal)]
        for rail in (trial.plus, trial.minus):
            jumped = trial.solver.vary(key, opened=own, joined=((rail, channel.terminal, 1.0),))
            best = max(best, abs(jumped.volt(channel.terminal, channel.common)))
            stands.append(jumped.volt(channel.common, trial.minus))
        # a closed contact of the group holds an open common at its own rail, but not firmly
        if best < channel.limits.on_min_v or abs(stands[0] - stands[1]) > FIRM_V:
            members = [c.point for c in trial.electrical.inputs if c.common == channel.common]
            what = f"{channel.common} leads to neither rail: {members[0]} to {members[-1]} can never be on."
            yield Finding("input-common-missing", channel.common, what, f"Join {channel.common} to 0 V.", "fault")


def sensors(trial: Trial) -> Iterator[Finding]:
    """Sensors whose supply is reversed or missing."""
    rest = trial.at({})
    for sensor in trial.electrical.sensors:
        if sensor.output == "2-wire" or not (trial.wired(sensor.plus) or trial.wired(sensor.minus)):
            continue
        volts = rest.volt(sensor.plus, sensor.minus)
        if volts < -DEAD_V:
            what = f"{sensor.part} has its supply reversed: {shown(volts)} from {sensor.plus} to {sensor.minus}."
            yield Finding("sensor-reversed", sensor.plus, what, "Brown is plus, blue is minus.", "fault")
        elif volts < sensor.min_v:
            what = f"{sensor.part} has {shown(volts)} from {sensor.plus} to {sensor.minus}; needs {sensor.min_v:g} V."
            yield Finding("sensor-without-supply", sensor.plus, what, "Feed brown from plus, blue from 0 V.", "fault")


def points(trial: Trial, dead_commons: set[str]) -> Iterator[Finding]:
    """Points that do not follow their device; those of a dead common are not told one by one."""
    channels = {c.point: c for c in trial.electrical.inputs}
    starved = {f.terminal.partition(":")[0] for f in sensors(trial)}
    asleep: list[tuple[Point, Finding]] = []
    for point in trial.board.points.values():
        channel = channels.get(point.point)
        if channel is None or not point.on_when or channel.common in dead_commons or point.device in starved:
            continue
        if not trial.wired(channel.terminal):
            what = f"{point.point} ({point.tag}) has no wire."
            try_this = f"Bring {point.device} to {channel.terminal}."
            yield Finding("point-not-wired", channel.terminal, what, try_this, "fault")
            continue
        for finding in _follows(trial, point, channel):
            if finding.code == "point-stays-0":
                asleep.append((point, finding))
            else:
                yield finding
    if len(asleep) < MANY:
        yield from (finding for _, finding in asleep)
    else:
        names = ", ".join(f"{p.point} ({p.tag})" for p, _ in asleep)
        what = f"{names} stay 0 whatever their devices do. So many at once share a feed or a common."
        yield Finding("points-stay-0", asleep[0][1].terminal, what, _SHARED, "fault")


def _follows(trial: Trial, point: Point, channel: InputChannel) -> Iterator[Finding]:
    """Whether the channel is on with its device in the position of the I/O list, and off in every other."""
    on, on_v = _grade(trial, channel, point.on_when)
    others = [_grade(trial, channel, {actor: other}) for actor, other in _other_positions(trial, point)]
    off, off_v = max(others, key=lambda o: abs(o[1]), default=("off", 0.0))
    if on == "on" and off == "off":
        return
    name, terminal = f"{point.point} ({point.tag})", channel.terminal
    if on == "off" and off == "on":
        yield _inverted(trial, point, terminal)
    elif "undefined" in (on, off):
        volts = on_v if on == "undefined" else off_v
        low, high = channel.limits.off_max_v, channel.limits.on_min_v
        what = f"{name} stands at {shown(volts)}, between {low:g} and {high:g} V: it may read either way."
        yield Finding("undefined-level", terminal, what, "Find what takes or leaks the voltage.", "fault")
    else:
        yield _stays(trial, point, channel, "0" if on == "off" else "1")


def _inverted(trial: Trial, point: Point, terminal: str) -> Finding:
    entry = trial.board.parts[point.device].entry
    place = ", ".join(f"{a} {s}" for a, s in point.on_when.items())
    what = f"{point.point} ({point.tag}) is 0 with {place} and 1 otherwise, the wrong way round."
    try_this = f"Use an {point.contact} contact." if point.contact else "Use the other contact."
    if isinstance(entry, SwitchPart) and entry.function in ("stop", "emergency stop"):
        what += " A broken wire would read as a healthy stop: the motor could not be stopped."
        return Finding("stop-not-nc", terminal, what, try_this, "danger")
    return Finding("point-inverted", terminal, what, try_this, "fault")


def _stays(trial: Trial, point: Point, channel: InputChannel, state: str) -> Finding:
    """A point that does not follow its device: the likeliest reason that the network shows."""
    name, terminal = f"{point.point} ({point.tag})", channel.terminal
    what = f"{name} stays {state} whatever {point.device} does."
    for other in trial.board.points.values():
        for actor, position in _other_positions(trial, other):
            moved = _grade(trial, channel, other.on_when)[0], _grade(trial, channel, {actor: position})[0]
            if other.device != point.device and moved == ("on", "off"):
                what += f" It follows {other.device}."
                return Finding("point-follows-other", terminal, what, "Swap the two wires, or mend the list.", "fault")
    for sensor in trial.electrical.sensors:
        direct = any(sensor.out in net and terminal in net for net in trial.wiring.nets())
        if sensor.part == point.device and direct and sensor.output in ("PNP", "NPN"):
            pole = "minus" if sensor.output == "NPN" else "plus"
            what += f" {sensor.part} is {sensor.output}: it switches to {pole}, where {channel.common} is already."
            return Finding("sensor-type", terminal, what, "Take the other type, or move the common.", "fault")
    try_this = f"Follow the wire from {terminal} to {point.device} and on to its feed."
    return Finding(f"point-stays-{state}", terminal, what, try_this, "fault")


def _grade(trial: Trial, channel: InputChannel, moves: Mapping[str, str]) -> tuple[Grade, float]:
    solution = trial.at(moves)
    volts = solution.volt(channel.terminal, channel.common)
    return channel.grade(volts, solution.amps(channel.element)), volts


def _other_positions(trial: Trial, point: Point) -> Iterator[tuple[str, str]]:
    for actor, state in point.on_when.items():
        if actor in trial.electrical.actors:
            yield from ((actor, s) for s in trial.electrical.actors[actor].states if s != state)

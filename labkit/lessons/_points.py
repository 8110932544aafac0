"""Which points of a wired bench work: each device is worked once, and everything that answers is noted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from labkit.base import LabkitError, ms
from labkit.bench import Bench
from labkit.bench.commissioning import check_inputs
from labkit.board import Point

__all__ = ["PointSeen", "devices_of", "work_points"]

_MODES = ("run", "stop")
_RISEN_V = 5.0  # a common that is wired back to 0 V is far below this
_PAUSE = ms(200)  # longer than armature, filter and scan together


@dataclass(frozen=True, slots=True)
class PointSeen:
    """What came of working one point's device.

    Parameters
    ----------
    point, tag
        The point and its tag.
    ok
        Whether it answered, and nothing else did.
    text
        The row of the checkout: what was done, volts before and after, what followed.
    why
        What is wrong, in one sentence; ``""`` if it works.
    """

    point: str
    tag: str
    ok: bool
    text: str
    why: str = ""


def devices_of(points: Mapping[str, Point]) -> tuple[str, ...]:
    """The points of an I/O list that have a device."""
    return tuple(name for name, point in points.items() if point.device)


def work_points(bench: Bench) -> dict[str, PointSeen]:
    """Power a bench up, work every device of its I/O list, and tell which points answer as they should.

    A bench that does not come up, or fails on the way, has no point that works.
    """
    points = bench.board.points
    try:
        bench.power_up()
        if bench.mode not in _MODES:
            feed = bench.engine.net.electrical.supplies[0]
            shown = bench.meter.peek("volts", feed.plus, feed.minus).text
            why = f"{feed.part} does not start: {shown} from {feed.plus} to {feed.minus}"
            return {name: _dead(points[name], why) for name in devices_of(points)}
        found = _inputs(bench)
        return found | _outputs(bench)
    except LabkitError as exc:
        why = f"the board cannot be worked: {exc.what}"
        return {name: _dead(points[name], why) for name in devices_of(points)}


def _dead(point: Point, why: str) -> PointSeen:
    return PointSeen(point.point, point.tag, False, f"{point.point} {point.tag}: not seen", why)


def _inputs(bench: Bench) -> dict[str, PointSeen]:
    found = {}
    for row in check_inputs(bench):
        text = f"{row.point} {row.tag}, {row.act}: {row.before} then {row.after}"
        text += f", indicator {'follows' if row.indicator else 'stays'}" + (
            f", also {', '.join(row.also)}" * bool(row.also)
        )
        why = ""
        if not row.ok:
            why = f"{row.point} ({row.tag}) does not follow its device ({row.act}): {row.before}, then {row.after}"
            if row.also:
                why += f"; {', '.join(row.also)} moved in its place"
            else:
                why += _block_off(bench, row.point) or _common_lost(bench, row.point)
        elif row.also:
            why = f"{row.point} ({row.tag}): {row.act} moves {', '.join(row.also)} as well"
        found[row.point] = PointSeen(row.point, row.tag, row.ok and not row.also, text, why)
    return found


def _outputs(bench: Bench) -> dict[str, PointSeen]:
    """Each output forced on alone: its load works, its feedback answers, and no other load or input moves."""
    points = bench.board.points.values()
    inputs = [p for p in points if p.direction == "input"]
    loads = {p.device: p for p in points if p.direction == "output" and p.device}
    found: dict[str, PointSeen] = {}
    for point in loads.values():
        was = {p.tag: bench.bit(p.tag) for p in inputs}
        before = _volts(bench, point)
        idle = _works(bench, point.device)
        bench.force(point.tag, True)
        bench.wait(_PAUSE)
        after, works = _volts(bench, point), _works(bench, point.device)
        others = [p.device for p in loads.values() if p.device != point.device and _works(bench, p.device)]
        moved = [p for p in inputs if bench.bit(p.tag) != was[p.tag]]
        bench.unforce(point.tag)
        bench.wait(_PAUSE)
        others += [p.tag for p in moved if p.device != point.device]
        text = f"{point.point} {point.tag}, forced on: {before} then {after}, {point.device}"
        text += f" {'works' if works else 'does nothing'}" + (f", also {', '.join(others)}" * bool(others))
        if idle:
            why = f"{point.point} ({point.tag}): {point.device} works before the output is on"
        elif not works:
            why = f"{point.point} ({point.tag}): {point.device} does nothing with the output on; terminal {after}"
            why += f"; {', '.join(others)} works in its place" if others else _block_off(bench, point.point)
        else:
            why = f"{point.point} ({point.tag}) moves {', '.join(others)} as well" if others else ""
        found[point.point] = PointSeen(point.point, point.tag, not why, text, why)
        for back in inputs:
            if back.device == point.device:
                answers = back in moved
                why = "" if answers else f"{back.point} ({back.tag}) does not answer when {point.device} comes in"
                text = (
                    f"{back.point} {back.tag}, {point.device} comes in: {'answers' if answers else 'does not answer'}"
                )
                found[back.point] = PointSeen(back.point, back.tag, answers, text, why)
    return found


def _block_off(bench: Bench, point: str) -> str:
    """Says so if the point's terminal block is not on its header."""
    for block in bench.board.plugs.values():
        if any(pole.endswith(f":{point}") for pole in block.poles) and bench.block(block.id) != "seated":
            return f"; block {block.id} is {bench.block(block.id)}, not seated"
    return ""


def _common_lost(bench: Bench, point: str) -> str:
    """Says so if the point's common is not held at 0 V: it has no wire, or closed inputs of its group pull it up."""
    channel = next(c for c in bench.engine.net.electrical.inputs if c.point == point)
    zero = bench.engine.net.electrical.supplies[0].minus
    if channel.common not in bench.board.terminals:
        return ""
    if not list(bench.wiring.at(channel.common)):
        return f"; its common {channel.common} has no wire, so no current can go back to 0 V"
    shown = bench.meter.peek("volts", channel.common, zero)
    if abs(shown) > _RISEN_V:
        return f"; its common {channel.common} stands at {shown.text} to {zero}: no current can go back to 0 V"
    return ""


def _works(bench: Bench, device: str) -> bool:
    if bench.board.parts[device].kind == "contactor":
        return bench.state(device) == "closed"
    return bench.lit(device)


def _volts(bench: Bench, point: Point) -> str:
    channel = next(o for o in bench.engine.net.electrical.outputs if o.point == point.point)
    if {channel.terminal, channel.group_minus} <= bench.board.terminals.keys():
        return bench.meter.peek("volts", channel.terminal, channel.group_minus).text
    return "no volts, its block is not on"  # the controller's pin is bare: no probe of a person gets at it

"""Checks of the ways that current takes: a common 0 V, the drop on the way, chains that a removed device breaks."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace

from labkit.board._files import conductors
from labkit.board._trial import SUPPLY_LOW_V, Trial, shown
from labkit.board.findings import Finding
from labkit.board.wiring import Wiring

__all__ = ["MOST_DROP", "chains", "drops", "one_zero"]

MOST_DROP = 0.05
"""Of the supply's volts, from the supply to a load in normal operation: IEC 60204-1 12.5, from memory."""

JOINED_OHM = 1.0  # two 0 V terminals joined by wire are well below: common practice, no source
BRIDGED_OHM = 1e6  # a consumer between two supplies is below, the insulation of a whole board above
TEST_A = 1e-5
STRAIGHT_M = 1e-6  # a wire of no length: what is lost with it is not lost in conductors
BONDED_OHM = 1.0


def one_zero(trial: Trial) -> Iterator[Finding]:
    """Push a small current from one supply's 0 V to another's and see how far they drift apart."""
    first, *others = [part.terminal(supply.minus) for part, supply in trial.board.supplies]
    key = trial.electrical.key(trial.electrical.rest())
    for (part, supply), other in zip(trial.board.supplies[1:], others, strict=True):
        drift = trial.solver.vary(key, injected={other: TEST_A, first: -TEST_A}).volt(other, first)
        ohm = abs(drift) / TEST_A
        if ohm < JOINED_OHM:
            continue
        what = f"{first} and {other} are the 0 V of two supplies, and nothing joins them"
        if any(_bridged(trial, end, first) for end in (part.terminal(supply.plus), other)):
            what += ": what one supply sends into the other's circuits has no way back, so inputs stay off or float."
            yield Finding("zero-not-joined", other, what, f"Join {other} to {first}.", "fault")
        else:
            what += ". As long as the two circuits touch nowhere, that may be meant."
            yield Finding("zero-not-joined", other, what, f"Join {other} to {first} unless it is meant.", "advice")


def _bridged(trial: Trial, a: str, b: str) -> bool:
    """Whether anything conducts between the ends of two supplies, with everything switched on but themselves."""
    key = trial.electrical.key({**trial.electrical.rest(), **_closed(trial)})
    ohms = []
    for sign in (1.0, -1.0):
        volts = trial.solver.vary(key, injected={a: sign * TEST_A, b: -sign * TEST_A}).volt(a, b)
        ohms.append(abs(volts) / TEST_A)
    return min(ohms) < BRIDGED_OHM


def _closed(trial: Trial) -> dict[str, str]:
    """Every contact closed that can be, the breakers too, but no supply on."""
    supplies = {part.designation for part, _ in trial.board.supplies}
    return {actor: state for actor, state in {**trial.on, **trial.everything}.items() if actor not in supplies}


def drops(trial: Trial) -> Iterator[Finding]:
    """Compare each load's volts, everything on, with what it would have behind wires of no length."""
    near = Wiring(tuple(replace(wire, m=STRAIGHT_M) for wire in trial.wiring))
    ideal = trial.again(near)
    real, best = trial.at(trial.everything), ideal.at(ideal.everything)
    supply_v = trial.board.supplies[0][1].volts
    for name, a, b in _loads(trial):
        full, lost = abs(best.volt(a, b)), abs(best.volt(a, b)) - abs(real.volt(a, b))
        if full < SUPPLY_LOW_V or lost <= MOST_DROP * supply_v:
            continue
        across = {wire.no: abs(real.volt(wire.a, wire.b)) for wire in trial.wiring}
        worst = max(trial.wiring, key=lambda wire: (across[wire.no], wire.no))
        least = worst.mm2 * lost / (MOST_DROP * supply_v)
        size = next((s for s in conductors().sizes(worst.conductor_class) if s >= least), None)
        cure = f"take {size:g} mm2 or more" if size else "take a shorter way or a higher voltage"
        what = (
            f"{name} loses {shown(lost)} of {supply_v:g} V ({100 * lost / supply_v:.1f} %) in its conductors; "
            f"{100 * MOST_DROP:g} % is the most. Wire {worst.no}, {worst.m:g} m of {worst.mm2:g} mm2, "
            f"costs {shown(across[worst.no])} of it."
        )
        yield Finding("conductor-too-long", worst.a, what, f"For wire {worst.no} {cure}.", "fault")


def _loads(trial: Trial) -> Iterator[tuple[str, str, str]]:
    electrical = trial.electrical
    yield from ((lamp.part, lamp.a, lamp.b) for lamp in electrical.lamps)
    yield from ((coil.part, coil.a, coil.b) for coil in electrical.coils)
    yield from ((feed.part, feed.plus, feed.minus) for feed in electrical.supplies)
    yield from ((sensor.part, sensor.plus, sensor.minus) for sensor in electrical.sensors if sensor.output != "2-wire")


def chains(trial: Trial) -> Iterator[Finding]:
    """Take each device out that has two wires under one clamp, its wires hanging apart, and see what dies with it."""
    for part in trial.board.parts.values():
        if part.kind == "terminal_strip":
            continue
        own = {t for t in trial.board.terminals if t.startswith(f"{part.designation}:")}
        off = {part.designation} if part.kind != "controller" else set()
        needed = part.kind in ("controller", "supply")  # nothing works without them anyway
        together, works = None, None
        for terminal in sorted(t for t in own if _passes_on(trial.wiring, t)):
            carries_earth = any(wire.ends & trial.board.earth_terminals for wire in trial.wiring.at(terminal))
            if needed and not carries_earth:
                continue
            together = together or trial.again(trial.wiring, off)
            apart = [wire.element for wire in trial.wiring.at(terminal)]  # every wire here hanging by itself
            earths = _bonded(together) - _bonded(together, apart) - own if carries_earth else set()
            if earths:
                what = (
                    f"The protective conductor of {', '.join(sorted(earths))} runs over {terminal}: "
                    f"with {part.designation} out, a fault there would make it live."
                )
                yield Finding("chain-of-earth", terminal, what, "Bring each to the PE bar by itself.", "danger")
            if needed:
                continue
            works = _works(together) if works is None else works
            still = _works(together, apart)
            lost = [name for name in works if name not in still and name != part.designation]
            if lost:
                what = (
                    f"With {part.designation} taken out, {', '.join(lost)} would be dead too: {terminal} passes it on."
                )
                try_this = "Feed each from a terminal strip if the board must go on without it."
                yield Finding("chain-breaks", terminal, what, try_this, "advice")


def _passes_on(wiring: Wiring, terminal: str) -> bool:
    """Whether two wires meet here that nothing else joins."""
    at = wiring.at(terminal)
    if len(at) < 2:
        return False
    rest = wiring.without(*(wire.no for wire in at))
    net_of = {t: i for i, net in enumerate(rest.nets()) for t in net}
    ends = [wire.b if wire.a == terminal else wire.a for wire in at]
    return len({net_of.get(end, end) for end in ends}) > 1


def _works(trial: Trial, opened: Collection[str] = ()) -> list[str]:
    """What does its work without the elements `opened`: points that follow their devices, loads that come on."""
    found = []
    channels = {c.point: c for c in trial.electrical.inputs}
    for point in trial.board.points.values():
        channel = channels.get(point.point)
        if channel is not None and point.on_when and set(point.on_when) <= trial.electrical.actors.keys():
            solution = trial.at(point.on_when, opened)
            volts = solution.volt(channel.terminal, channel.common)
            if channel.grade(volts, solution.amps(channel.element)) == "on":
                found.append(point.tag)
    everything = trial.at(trial.everything, opened)
    needs = [(lamp.part, lamp.a, lamp.b, lamp.lit_v) for lamp in trial.electrical.lamps]
    needs += [(coil.part, coil.a, coil.b, coil.pick_up_v) for coil in trial.electrical.coils]
    found += [part for part, a, b, least in needs if abs(everything.volt(a, b)) >= least]
    return list(dict.fromkeys(found))


def _bonded(trial: Trial, opened: Collection[str] = ()) -> set[str]:
    key = trial.electrical.key(trial.electrical.rest())
    return {
        terminal
        for terminal in trial.board.earth_terminals
        if trial.solver.vary(key, opened=opened, injected={terminal: 0.01}).volts[terminal] / 0.01 < BONDED_OHM
    }

"""Checks of supply and conductors by what they do: shorts, feeds, earth, size against protection."""

from __future__ import annotations

from collections.abc import Iterator

from labkit.board._files import conductors
from labkit.board._trial import DEAD_V, SUPPLY_LOW_V, Trial, shown
from labkit.board.findings import Finding

__all__ = ["bonds", "earth_return", "feeds", "short_at_rest", "thin"]

EARTH_OHM = 1.0  # a bond to the metalwork is well below: common practice, no source
EARTH_A = 0.001  # more than insulation and leakage together can bring


def short_at_rest(trial: Trial) -> Iterator[Finding]:
    """Supplies that are in their limit with nothing switched on."""
    rest = trial.at({})
    for part, _ in trial.board.supplies:
        if rest.source_state(part.designation) == "limit":
            hot = [f.actor for f in trial.electrical.fuses if abs(rest.amps(f.element)) > f.rated_a]
            by = f" It flows through {', '.join(hot)}." if hot else " No breaker is in its way."
            what = f"{part.designation} is in its current limit with nothing switched on: there is a short.{by}"
            try_this = "Open every breaker and close them one by one; nothing else was judged."
            yield Finding("short", trial.plus, what, try_this, "danger")


def feeds(trial: Trial) -> Iterator[Finding]:
    """The controller's own supply: reversed, or too low."""
    rest = trial.at({})
    for feed in trial.electrical.supplies:
        volts = rest.volt(feed.plus, feed.minus)
        if volts < -DEAD_V:
            what = f"{feed.part} has its supply reversed: {shown(volts)} from {feed.plus} to {feed.minus}."
            yield Finding("supply-reversed", feed.plus, what, "Swap the two wires.", "danger")
        elif volts < SUPPLY_LOW_V:
            what = f"{feed.part} has {shown(volts)} from {feed.plus} to {feed.minus}; it needs {SUPPLY_LOW_V:g} V."
            end = feed.plus if rest.volt(feed.plus, trial.minus) < SUPPLY_LOW_V else feed.minus
            yield Finding("controller-without-supply", end, what, f"Follow the wire at {end}.", "fault")


def earth_return(trial: Trial) -> Iterator[Finding]:
    """Load current that goes back through the protective conductor."""
    earth = trial.board.earth_terminals
    minus = {part.terminal(s.minus) for part, s in trial.board.supplies}
    solution = trial.at(trial.everything)
    for wire in trial.wiring:
        # the bond of the only supply carries what a load sends through PE, and that load's own wire is told
        if len(wire.ends & earth) != 1 or (wire.ends & minus and len(minus) == 1):
            continue
        amps = abs(solution.amps(wire.element))
        if amps > EARTH_A:
            end = wire.b if wire.a in earth else wire.a
            what = f"{amps * 1000:.0f} mA return from {end} through the protective conductor (wire {wire.no})."
            yield Finding("return-through-earth", end, what, "Return it to 0 V; PE carries no current.", "danger")


def bonds(trial: Trial) -> Iterator[Finding]:
    """Push a current into each earth terminal and see where it rises to."""
    key = trial.electrical.key(trial.electrical.rest())
    for terminal in sorted(trial.board.earth_terminals):
        ohm = trial.solver.vary(key, injected={terminal: 0.01}).volts[terminal] / 0.01
        if ohm > EARTH_OHM:
            what = f"{terminal} is not bonded to the metalwork: a fault there would make it live."
            yield Finding("not-bonded", terminal, what, f"Join {terminal} to the PE bar.", "danger")
    ohm = trial.solver.vary(key, injected={trial.minus: 0.01}).volts[trial.minus] / 0.01
    if ohm > EARTH_OHM:
        what = "0 V is not bonded to PE: the supply floats, and a first earth fault stays unseen."
        yield Finding("floating-0v", trial.minus, what, "Bond it at the supply unless floating is meant.", "advice")


def thin(trial: Trial) -> Iterator[Finding]:
    """Short each net to 0 V and see which breaker has to carry it."""
    skip = {part.terminal(s.minus) for part, s in trial.board.supplies} | trial.board.earth_terminals
    for net in trial.wiring.nets():
        if net & skip:
            continue
        amps, by = _protection(trial, min(net))
        if amps is None:
            continue
        for wire in trial.wiring:
            most = conductors().find(wire.mm2, wire.conductor_class).max_protection_a
            if wire.a in net and amps > most:
                what = f"Wire {wire.no} is {wire.mm2:g} mm2, good for {most:g} A, but {by} lets {amps:g} A through."
                yield Finding("conductor-too-thin", wire.a, what, "Take a thicker wire or a smaller breaker.", "danger")


def _protection(trial: Trial, terminal: str) -> tuple[float | None, str]:
    """What limits the current of a short at a terminal: amps, and by which part."""
    for moves in ({}, trial.everything):
        key = trial.electrical.key({**trial.on, **moves})
        shorted = trial.solver.vary(key, joined=((terminal, trial.minus, 0.01),))
        amps = shorted.volt(terminal, trial.minus) / 0.01
        if amps < 1.0:
            continue  # not fed in these positions
        carries = [f for f in trial.electrical.fuses if abs(shorted.amps(f.element)) > 0.8 * amps]
        if carries:
            least = min(carries, key=lambda f: f.rated_a)
            return least.rated_a, least.actor
        part, supply = trial.board.supplies[0]
        return supply.limit_a, part.designation
    return None, ""

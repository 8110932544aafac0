"""Checks of outputs by what they do: loads, coils at switch-off, and what must be dead."""

from __future__ import annotations

from collections.abc import Iterator

from labkit.board._trial import DEAD_V, SUPPLY_LOW_V, Trial, shown
from labkit.board.findings import Finding
from labkit.circuit import Solver, Source

__all__ = ["coils", "groups", "loads", "rules"]

COIL_OHM = 200.0  # a load like a coil's tells a live terminal from a floating one
TEST_V = 300.0  # what an unprotected coil throws up, cut short
SUPPRESSED_V = 100.0  # every suppressor clamps well below


def groups(trial: Trial) -> Iterator[Finding]:
    """Output groups without their plus or their 0 V."""
    rest = trial.at({})
    seen = set()
    for out in trial.electrical.outputs:
        used = any(trial.wired(o.terminal) for o in trial.electrical.outputs if o.group_plus == out.group_plus)
        if out.group_plus in seen or not used:
            continue
        seen.add(out.group_plus)
        plus, across = rest.volt(out.group_plus, trial.minus), rest.volt(out.group_plus, out.group_minus)
        if plus < SUPPLY_LOW_V:
            what = f"Output group {out.group} has {shown(plus)} on {out.group_plus}: lights come on, loads do not."
            yield Finding("group-without-supply", out.group_plus, what, "Feed it from its breaker.", "fault")
        elif across < SUPPLY_LOW_V:
            what = f"{out.group_minus} of output group {out.group} is not on 0 V, so its drivers have {shown(across)}."
            yield Finding("group-without-0v", out.group_minus, what, f"Join {out.group_minus} to 0 V.", "fault")


def loads(trial: Trial) -> Iterator[Finding]:
    """Outputs whose load takes too much, gets too little, or is fed by something else."""
    needs = {lamp.part: (lamp.a, lamp.b, lamp.lit_v) for lamp in trial.electrical.lamps}
    needs |= {coil.part: (coil.a, coil.b, coil.pick_up_v) for coil in trial.electrical.coils}
    rest = trial.at({})
    for out in trial.electrical.outputs:
        point = trial.board.points.get(out.point)
        solution = trial.at({out.actor: "on"})
        amps = abs(solution.amps(out.element))
        if amps > out.rated_a:
            what = f"{out.point} gives {amps:.1f} A when it is on; it is rated {out.rated_a:g} A. There is a short."
            try_this = "Measure ohms to 0 V with the power off; look for a reversed suppressor."
            yield Finding("output-overloaded", out.terminal, what, try_this, "danger")
            continue
        if point is None or point.device not in needs or rest.volt(out.group_plus, trial.minus) < SUPPLY_LOW_V:
            continue
        a, b, least = needs[point.device]
        volts = abs(solution.volt(a, b))
        if volts < least:
            what = f"{point.device} has {shown(volts)} with {out.point} on; it needs {least:.1f} V."
            end = a if abs(solution.volt(a, trial.minus)) < least else b
            yield Finding("load-dead", end, what, f"Follow the wire at {end}.", "fault")
        if abs(rest.volt(a, b)) >= least:
            what = f"{point.device} has {shown(abs(rest.volt(a, b)))} with {out.point} off: something else feeds it."
            yield Finding("load-always-on", a, what, f"Follow the wire at {a}.", "danger")


def coils(trial: Trial) -> Iterator[Finding]:
    """Drive each coil's current on after its supply has gone, and see whether anything takes it."""
    dead = trial.electrical.rest()
    for coil in trial.electrical.coils:
        if not (trial.wired(coil.a) and trial.wired(coil.b)):
            continue
        amps = 24.0 / coil.ohm
        bare = trial.electrical.circuit.without(coil.element)
        volts = []
        for plus, minus in ((coil.b, coil.a), (coil.a, coil.b)):
            solver = Solver(bare.with_elements(Source(" coil current", plus, minus, TEST_V, 1.0, amps)))
            volts.append(solver.solve(trial.electrical.key(dead)).volt(plus, minus))
        if volts[1] < DEAD_V:
            what = f"Something across {coil.part} shorts it: a suppression diode the wrong way round, or a shorted one."
            yield Finding("suppressor-reversed", coil.a, what, "The diode's ring (cathode) goes to plus.", "danger")
        elif volts[0] > SUPPRESSED_V:
            what = (
                f"Nothing takes the current of {coil.part}'s coil when it is switched off: the spike hits the output."
            )
            yield Finding("coil-without-suppression", coil.a, what, f"Put a suppressor across {coil.part}.", "fault")


def rules(trial: Trial) -> Iterator[Finding]:
    """Terminals that stay live in a position in which they must be dead."""
    for rule in trial.board.must_be_dead:
        forced = {rule.actor: rule.state}
        for moves in (trial.outputs_on, trial.everything):
            key = trial.electrical.key({**trial.on, **moves, **forced})
            volts = trial.solver.loaded(key, rule.terminal, trial.minus, COIL_OHM).volt(rule.terminal, trial.minus)
            if abs(volts) > DEAD_V:
                what = f"{rule.terminal} still has {shown(volts)} with {rule.actor} {rule.state}, but {rule.why}."
                try_this = f"Put the contact of {rule.actor} into the feed of {rule.terminal}."
                yield Finding("not-cut", rule.terminal, what, try_this, "danger")
                break

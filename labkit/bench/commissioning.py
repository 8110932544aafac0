"""From a wired board to a checked one: dead test, staged power, every point in and out.

The order is the trade's (common practice, no source): prove the meter, test, prove it again; look for shorts dead;
close one breaker at a time, the emergency stop still pressed; check inputs before outputs; leave nothing forced.
A real board is proved dead with a proving unit and an approved tester by someone entitled to do it.
"""

from __future__ import annotations

from dataclasses import dataclass

from labkit.base import Duration, ms
from labkit.bench.front import Bench
from labkit.circuit import Circuit, Solver, Source
from labkit.circuit import meter as circuit_meter

__all__ = ["Check", "PointCheck", "check_inputs", "check_outputs", "power_in_stages", "prove_dead"]

DEAD_V = 0.5
"""Below this the simulated board counts as dead (common practice, no source: "0 V" on the meter's lowest step)."""

HALF_SECOND = ms(500)

LEAST_OHM = 5.0
"""A supply's rails must not read less: a short (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Check:
    """One reading and whether it is as expected.

    Parameters
    ----------
    what
        What was read, in words.
    reading
        As displayed.
    expected
        In words.
    ok
        Whether the reading is as expected.
    """

    what: str
    reading: str
    expected: str
    ok: bool


@dataclass(frozen=True, slots=True)
class PointCheck:
    """One row of the checkout sheet.

    Parameters
    ----------
    point, tag, act
        The point, its tag, and what was done.
    before, after
        Terminal volts before and after, as displayed.
    indicator, bit
        Whether the channel's indicator and the bit (of an output: its load or feedback) stood right at rest and
        followed.
    also
        Other points that changed with it: a cross-effect, or an expected feedback.
    """

    point: str
    tag: str
    act: str
    before: str
    after: str
    indicator: bool
    bit: bool
    also: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether the whole path followed."""
        return self.indicator and self.bit


def prove_dead(bench: Bench, *, known_v: float = 24.0) -> tuple[Check, ...]:
    """Prove, test, prove: the meter on a known source, every supply terminal dead, the meter again; then shorts.

    Parameters
    ----------
    bench
        With its power off.
    known_v
        Volts of the proving unit, a separate known source.
    """
    meter = bench.meter
    rows = [_proof(known_v)]
    live = [t for t in ("X1:24V", "X1:24I", "X1:24S", "A1:QA+", "A1:QB+") if _has(bench, t)]
    for terminal in live:
        for reference in ("X1:0V", "X1:PE"):
            volts = meter.peek("volts", terminal, reference)
            rows.append(Check(f"{terminal} to {reference}", volts.text, "0 V", abs(volts.exact) < DEAD_V))
    rows.append(_proof(known_v))
    for terminal in live:
        ohms = meter.peek("ohms", terminal, "X1:0V")
        fine = not ohms.live and ohms.exact > LEAST_OHM
        rows.append(Check(f"{terminal} to X1:0V, short test", ohms.text, f"more than {LEAST_OHM:g} ohm", fine))
    bond = meter.peek("ohms", "X1:0V", "X1:PE")
    rows.append(Check("0 V bond, X1:0V to X1:PE", bond.text, "about 0 ohm (bonded)", bond.exact < 1))
    return tuple(rows)


def _proof(known_v: float) -> Check:
    """The meter on a source of its own: it reads what it should before a reading of nothing is believed."""
    unit = Circuit((Source("unit", "unit+", "unit-", known_v, 1.0, 0.05),), ground="unit-")
    read = circuit_meter.volts(Solver(unit), 0, "unit+", "unit-")
    return Check("meter on the proving unit", read.text, f"{known_v:g} V", abs(read.exact - known_v) < 0.05 * known_v)


def power_in_stages(bench: Bench, *, between: Duration = HALF_SECOND) -> tuple[Check, ...]:
    """Close one thing at a time with the emergency stop pressed, and read what each stage should bring.

    Ends with the board live, the emergency stop released and nothing moving.
    """
    rows: list[Check] = []

    def stage(what: str, a: str, low: float, high: float) -> None:
        bench.wait(between)
        volts = bench.meter.peek("volts", a, "X1:0V")
        expected = f"{low:g} to {high:g} V" if high > 1 else "0 V"
        rows.append(Check(f"{what}: {a}", volts.text, expected, low <= volts.exact <= high))

    for part in ("F1", "F2", "F4", "F5"):
        bench.breaker(part, False)
    bench.press("S0")
    bench.power(True)
    stage("supply on", "X1:24V", 23.5, 24.5)
    for part, terminal in (("F1", "X1:24I"), ("F2", "X1:24S"), ("F5", "A1:QB+")):
        bench.breaker(part, True)
        stage(f"{part} closed", terminal, 23.0, 24.5)
    bench.breaker("F4", True)
    stage("F4 closed, emergency stop still pressed", "A1:QA+", -DEAD_V, DEAD_V)
    bench.release("S0")
    stage("emergency stop released", "A1:QA+", 23.0, 24.5)
    still = bench.state("K1") == "open"
    rows.append(Check("nothing moved: K1", bench.state("K1"), "open", still))
    return tuple(rows)


def check_inputs(bench: Bench) -> tuple[PointCheck, ...]:
    """Actuate each input's device once and watch volts, indicator, bit and every other point.

    The contactor's feedback is checked with its output, in :func:`check_outputs`.
    """
    _run_test_routine(bench)
    rows = []
    inputs = [p for p in bench.board.points.values() if p.direction == "input" and p.on_when]
    for point in inputs:
        ((actor, on_state),) = point.on_when.items()
        if bench.board.parts[actor].kind == "contactor":
            continue
        other_tags = [p.tag for p in inputs if p.tag != point.tag]
        before, was = _volts(bench, point.point), {tag: bench.bit(tag) for tag in other_tags}
        at_rest = bench.led(point.point) == bool(point.rest), bench.bit(point.tag) == bool(point.rest)
        undo = _actuate(bench, actor, on_state, to_on=not point.rest)
        bench.wait(ms(200))
        wanted = not point.rest
        rows.append(
            PointCheck(
                point.point,
                point.tag,
                undo.what,
                before,
                _volts(bench, point.point),
                at_rest[0] and bench.led(point.point) == wanted,
                at_rest[1] and bench.bit(point.tag) == wanted,
                tuple(tag for tag in other_tags if bench.bit(tag) != was[tag]),
            )
        )
        undo.do(bench)
        bench.wait(ms(200))
    return tuple(rows)


def check_outputs(bench: Bench) -> tuple[PointCheck, ...]:
    """Force each output on and off again and watch its terminal, its load and its feedback; no force is left."""
    _run_test_routine(bench)
    rows = []
    for point in bench.board.points.values():
        if point.direction != "output" or not point.device:
            continue
        inputs = [p.tag for p in bench.board.points.values() if p.direction == "input"]
        before, was = _volts(bench, point.point), {tag: bench.bit(tag) for tag in inputs}
        bench.force(point.tag, True)
        bench.wait(ms(200))
        rows.append(
            PointCheck(
                point.point,
                point.tag,
                "force on",
                before,
                _volts(bench, point.point),
                bench.led(point.point),
                _load_works(bench, point.device),
                tuple(tag for tag in inputs if bench.bit(tag) != was[tag]),
            )
        )
        bench.unforce(point.tag)
        bench.wait(ms(200))
    return tuple(rows)


def _run_test_routine(bench: Bench) -> None:
    """A program that scans and moves nothing, so that images are read; outputs are then tried one by one."""
    spare = [p for p in bench.board.points.values() if p.direction == "output"]
    spare.sort(key=lambda p: bool(p.device))
    bench.load(f"{spare[0].tag} := FALSE;")
    bench.run()
    bench.wait(ms(200))


@dataclass(frozen=True, slots=True)
class _Undo:
    """What was done, and how to take it back."""

    what: str
    part: str
    verb: str
    back: object = None

    def do(self, bench: Bench) -> None:
        act = getattr(bench, self.verb)
        act(self.part) if self.back is None else act(self.part, self.back)


def _actuate(bench: Bench, actor: str, on_state: str, *, to_on: bool) -> _Undo:
    kind = bench.board.parts[actor].kind
    if kind in {"push_button", "emergency_stop"}:
        bench.press(actor)
        return _Undo("press", actor, "release")
    if kind == "selector":
        was = bench.state(actor)
        bench.turn(actor, on_state)
        return _Undo(f"turn {on_state}", actor, "turn", was)
    if kind == "key_switch":
        bench.key(actor, True)
        return _Undo("key on", actor, "key", False)
    if kind == "overload":
        bench.trip(actor)
        return _Undo("trip", actor, "reset")
    if actor in bench.engine.eyes:
        bench.beam(actor, not to_on)
        return _Undo("block the beam", actor, "beam", False)
    bench.metal(actor, 1.0)
    return _Undo("metal at 1 mm", actor, "metal")


def _load_works(bench: Bench, device: str) -> bool:
    kind = bench.board.parts[device].kind
    return bench.state(device) == "closed" if kind == "contactor" else bench.lit(device)


def _volts(bench: Bench, point: str) -> str:
    common = {
        p: part.terminal(g.common) for part, c in bench.board.controllers for g in c.input_groups for p in g.points
    }
    return bench.meter.peek("volts", f"A1:{point}", common.get(point, "X1:0V")).text


def _has(bench: Bench, terminal: str) -> bool:
    return terminal in bench.board.terminals

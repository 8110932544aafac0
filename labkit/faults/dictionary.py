"""The fault dictionary: what every fault shows in every situation, in bands that a person can tell apart.

Each fault is put into a bench and the bench is worked through the situations: relays that drop, breakers that
trip and a controller that restarts are there because the bench has them, not because a formula was extended.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from labkit.base import LabkitError, did_you_mean, ms
from labkit.bench import Bench
from labkit.board import Board, load_board
from labkit.circuit import Resistor, Solver, Source, Switch, meter
from labkit.circuit.elements import terminals as ends
from labkit.faults.catalogue import Fault, every_single_fault
from labkit.faults.errors import FaultError
from labkit.faults.inject import put_in
from labkit.faults.situations import PROGRAM, Situation, Test, perform, situations, tests_of

__all__ = ["FaultDictionary", "build_dictionary", "ohm_band", "volt_band"]

HEALTHY = "healthy"
STEP = ms(150)  # longer than any relay, filter and scan of a shipped family together
SETTLE = ms(600)
STIFF_OHM = 10.0  # a meter of 10 megohm across a few of these reads less than one part in 100,000 too little
QUICK_US, SLOW_US = 14_000, 30_000  # release with no suppression, and with a plain diode, lie outside
LOOKS, BETWEEN = 7, ms(17)  # a light that changes within these looks is said to flicker

# Bands of volts. 20.4 V is 85 % of 24 V, the least that IEC 61131-2 lets a supply fall to; 11 and 5 V are the
# limits of a type 3 input; 1 V is what a long wire may drop.
VOLT_BANDS = ((1.0, "dead"), (5.0, "low"), (11.0, "undefined"), (20.4, "sag"), (math.inf, "live"))
# Bands of ohms: a beep, a winding with shorted turns, a coil, a lamp, electronics, insulation (own choice).
_OHMS = ((2.0, "joined"), (100.0, "few ohm"), (300.0, "a coil"), (2e3, "a lamp"), (1e5, "electronics"), (4e7, "high"))


def volt_band(volts: float) -> str:
    """The band of a voltage; below -1 V it is ``"reversed"``."""
    if volts < -1.0:
        return "reversed"
    return next(name for limit, name in VOLT_BANDS if abs(volts) <= limit)


def ohm_band(ohms: float) -> str:
    """The band of a resistance on a dead board."""
    return next((name for limit, name in _OHMS if ohms <= limit), "OL")


@dataclass(frozen=True)
class FaultDictionary:
    """Faults x tests, with the healthy board first.

    Parameters
    ----------
    faults
        The faults, in rows 1 and up.
    tests
        The columns.
    rows
        For the healthy board and then each fault: the band of every test.
    """

    faults: tuple[Fault, ...]
    tests: tuple[Test, ...]
    rows: tuple[tuple[str, ...], ...]

    @cached_property
    def _row(self) -> dict[str, int]:
        return {HEALTHY: 0, **{fault.id: i for i, fault in enumerate(self.faults, 1)}}

    @cached_property
    def _column(self) -> dict[str, int]:
        return {test.id: i for i, test in enumerate(self.tests)}

    def outcome(self, fault: str, test: str) -> str:
        """The band that a test shows with a fault in (``"healthy"`` for none).

        Raises
        ------
        FaultError
            If there is no such fault or test.
        """
        for name, known in ((fault, self._row), (test, self._column)):
            if name not in known:
                raise FaultError(
                    f"the dictionary has no {name}",
                    where=name,
                    try_this=did_you_mean(name, known),
                    code="fault-unknown",
                )
        return self.rows[self._row[fault]][self._column[test]]

    def differing(self, fault: str, other: str = HEALTHY) -> tuple[Test, ...]:
        """The tests that tell two faults (or a fault and the healthy board) apart."""
        one, two = self.rows[self._row[fault]], self.rows[self._row[other]]
        return tuple(test for test, x, y in zip(self.tests, one, two, strict=True) if x != y)

    def alike(self) -> tuple[tuple[str, ...], ...]:
        """Groups of faults (and the healthy board) that no test tells apart."""
        groups: dict[tuple[str, ...], list[str]] = {}
        for name, number in self._row.items():
            groups.setdefault(self.rows[number], []).append(name)
        return tuple(tuple(group) for group in groups.values() if len(group) > 1)

    def select(self, faults: Iterable[str] | None = None, tests: Iterable[str] | None = None) -> FaultDictionary:
        """The dictionary of some of the faults, or some of the tests."""
        names = [f.id for f in self.faults] if faults is None else list(faults)
        columns = list(range(len(self.tests))) if tests is None else [self._column[t] for t in tests]
        numbers = [self._row[name] for name in names]
        return FaultDictionary(
            tuple(self.faults[n - 1] for n in numbers),
            tuple(self.tests[c] for c in columns),
            tuple(tuple(self.rows[n][c] for c in columns) for n in (0, *numbers)),
        )

    def could_be(self, seen: Mapping[str, str]) -> tuple[Fault, ...]:
        """The faults that each alone explain what was seen: test id -> band."""
        return tuple(f for f in self.faults if all(self.outcome(f.id, t) == band for t, band in seen.items()))

    def explains(self, fault: str, seen: Mapping[str, str]) -> bool:
        """Whether this fault alone explains what was seen."""
        return all(self.outcome(fault, test) == band for test, band in seen.items())


def build_dictionary(
    board: Board | str = "orchard", faults: Sequence[Fault] | None = None, tests: Sequence[Test] | None = None
) -> FaultDictionary:
    """Work the bench through every situation once for each fault.

    Parameters
    ----------
    faults
        Every single fault of the board if left out.
    tests
        All that there are if left out.

    Raises
    ------
    FaultError
        If the bench cannot be worked with a fault in; the fault is named.
    """
    board = load_board(board) if isinstance(board, str) else board
    faults = every_single_fault(board) if faults is None else tuple(faults)
    tests = tests_of(board) if tests is None else tuple(tests)
    bench = Bench(board)
    rows = [_work(bench.again(), tests)]
    for fault in faults:
        here = bench.again()
        try:
            put_in(here, fault)
            rows.append(_work(here, tests))
        except LabkitError as exc:
            raise FaultError(
                f"with {fault.title} the bench cannot be worked: {exc.what}", where=fault.id, code="fault-bench"
            ) from exc
    return FaultDictionary(tuple(faults), tuple(tests), tuple(rows))


def _work(bench: Bench, tests: Sequence[Test]) -> tuple[str, ...]:
    """The bands of all tests, in the order of `tests`."""
    wanted: dict[str, list[Test]] = {}
    for test in tests:
        wanted.setdefault(test.situation, []).append(test)
    found: dict[Test, str] = {}
    bench.power_up()
    bench.load(PROGRAM)
    bench.wait(SETTLE)
    for situation in situations(bench.board):
        if situation.name in wanted:
            _set_up(bench, situation)
            found |= _observe(bench, wanted[situation.name])
            for step in situation.undo:
                _step(bench, step)
    return tuple(found[test] for test in tests)


def _set_up(bench: Bench, situation: Situation) -> None:
    """From rest, with every breaker in again, to the situation."""
    for part in bench.board.of_kind("breaker"):
        if bench.state(part.designation) == "off":
            bench.breaker(part.designation, True)
            bench.wait(SETTLE)
    for step in situation.do:
        _step(bench, step)
    bench.wait(SETTLE)


def _step(bench: Bench, step: tuple[str, ...]) -> None:
    perform(bench, step)
    bench.wait(STEP)


def _observe(bench: Bench, tests: Sequence[Test]) -> dict[Test, str]:
    looks = [t for t in tests if t.kind in ("led", "lit", "state")]
    seen: dict[Test, set[str]] = {test: set() for test in looks}
    for _ in range(LOOKS):
        for test in looks:
            seen[test].add(_look(bench, test))
        bench.wait(BETWEEN)
    found = {test: "flickers" if len(bands) > 1 else next(iter(bands)) for test, bands in seen.items()}
    dry = _dry(bench) if any(test.kind == "ohms" for test in tests) else None
    stiff = _stiff(bench) if any(test.kind == "volts" for test in tests) else frozenset()
    for test in tests:
        if test.kind == "volts":
            found[test] = _volts(bench, test, stiff)
        elif test.kind == "release":
            found[test] = _release(bench, test.a)
        elif test.kind == "ohms":
            found[test] = _ohms(bench, test, dry)
    return found


def _look(bench: Bench, test: Test) -> str:
    if test.kind == "led":
        return "on" if bench.led(test.a) else "off"
    return ("on" if bench.lit(test.a) else "off") if test.kind == "lit" else bench.state(test.a)


def _volts(bench: Bench, test: Test, stiff: frozenset[str]) -> str:
    """The band of a voltage, with the meter's own load where it can matter.

    Its 10 megohm only ever pull a reading towards 0 V, so a pair that is dead without the meter is dead with it;
    and between two points that closed contacts and wires tie to a supply they change next to nothing.
    """
    engine = bench.engine
    bare = engine.now_reading().solution.volt(test.a, test.b)
    if abs(bare) <= 1.0:
        return volt_band(bare)
    clear = volt_band(bare * 0.999) == volt_band(bare)
    if clear and {test.a, test.b} <= stiff:
        return volt_band(bare)
    return volt_band(meter.volts(engine.net.solver, engine.now_reading().key, test.a, test.b).exact)


def _dry(bench: Bench) -> Solver | None:
    """A solver for ohms on this network, as the meter has it; None if the board is not dead."""
    engine = bench.engine
    solution = engine.now_reading().solution
    touched = (t for t in engine.net.electrical.board.terminals if t in solution.volts)
    if any(abs(solution.volts[t]) > meter.LIVE_V for t in touched):
        return None
    return Solver(replace(engine.net.electrical.circuit, stray_per_ohm=meter.DRY_PER_OHM))


def _ohms(bench: Bench, test: Test, dry: Solver | None) -> str:
    """The band of a resistance. What the meter does, but for one short cut: a pair that is beyond the highest
    range is not tried in the others. A live board is left to the meter itself.
    """
    if dry is None:
        reading = bench.meter.peek("ohms", test.a, test.b)
        return "live" if reading.live else ohm_band(reading.exact)
    key = bench.engine.now_reading().key

    def reads(current: float) -> float:
        pushed = dry.vary(key, injected={test.a: current, test.b: -current})
        return abs(pushed.volt(test.a, test.b)) / current

    highest, least_a = meter.OHM_RANGES[-1]
    if (most := reads(least_a)) > highest:
        return "OL"
    tried = ((reads(current), full) for full, current in meter.OHM_RANGES)
    return ohm_band(next((ohms for ohms, full in tried if ohms <= full), most))


def _stiff(bench: Bench) -> frozenset[str]:
    """The nodes that wires and closed contacts alone tie to a terminal of a supply."""
    engine = bench.engine
    circuit = engine.net.electrical.circuit
    key = engine.now_reading().key
    closed = {name for i, name in enumerate(engine.net.solver.switches) if key >> i & 1}
    near: dict[str, list[str]] = {}
    for element in circuit.elements:
        ties = element.name in closed if isinstance(element, Switch) else isinstance(element, Resistor)
        if ties and element.ohm < STIFF_OHM:  # type: ignore[union-attr]
            a, b = ends(element)
            near.setdefault(a, []).append(b)
            near.setdefault(b, []).append(a)
    front = [node for element in circuit.elements if isinstance(element, Source) for node in ends(element)]
    reached = set(front)
    while front:
        fresh = [n for n in near.get(front.pop(), ()) if n not in reached]
        reached.update(fresh)
        front += fresh
    return frozenset(reached)


def _release(bench: Bench, part: str) -> str:
    """How long a contactor takes to let go once its coil is dead, after a stop."""
    coil = next(c for c in bench.engine.net.electrical.coils if c.part == part)
    if bench.state(part) != "closed":
        return "not in"
    bench.press("S1")
    dead_us = None
    for _ in range(300):
        bench.wait(ms(1))
        if dead_us is None and abs(bench.engine.now_reading().solution.volt(coil.a, coil.b)) < coil.drop_out_v:
            dead_us = bench.now_us
        if bench.state(part) == "open":
            break
    bench.release("S1")
    if bench.state(part) == "closed" or dead_us is None:
        return "stays in"
    took_us = bench.now_us - dead_us
    return "quick" if took_us < QUICK_US else "usual" if took_us < SLOW_US else "slow"

"""How much of what can happen a list of tests has visited, so that the tests themselves can be marked.

Each test is done on a real bench. What was done by hand is then read scan by scan, and the model of the proof follows
it: the states and transitions that it passes are counted against all that can be reached. The rest is counted on the
bench: positions, wires taken off, opposing commands together, a loss of power while something runs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from labkit.base import ms
from labkit.bench import Bench, Done, Stimulus, Trace
from labkit.board import Wiring
from labkit.verify._bare import NeedsImage
from labkit.verify._systems import MOST_SETS, Board
from labkit.verify.errors import ProofError
from labkit.verify.expressions import And, Condition, Sign, holds_in
from labkit.verify.requirements import Never, Requirement, requirement, signals
from labkit.verify.surroundings import Thing, as_found, things

__all__ = ["Coverage", "Tally", "coverage"]

MOST_STATES = 50_000
"""Reachable states at which the count gives up, and says so."""

TAIL = ms(200)  # after the last step, long enough for relay, filter and scan of a shipped family


@dataclass(frozen=True, slots=True)
class Tally:
    """So many of so many; `of` is None where a bound was hit before all were counted."""

    seen: int
    of: int | None

    @property
    def part(self) -> float | None:
        """From 0 to 1."""
        return None if self.of is None else self.seen / self.of if self.of else 1.0

    def __str__(self) -> str:
        return f"{self.seen} of {'more than can be counted' if self.of is None else self.of}"


@dataclass(frozen=True, slots=True, repr=False)
class Coverage:
    """What a list of tests has visited, and what it has not.

    Parameters
    ----------
    states, transitions
        Of the model: distinct states, and distinct pairs of a state and the next.
    exercised
        Per requirement whether its cause came true: what never happens in a test is not tested by it.
    positions
        Per thing that may move the positions that it never took.
    wires
        Wires of the used inputs and outputs that were never off.
    together
        Pairs of buttons that were never pressed together.
    power_cycle
        Whether the supply was lost while an output was on, and came back.
    scans, followed
        Scans of all tests, and those that the model could follow: what is done twice within a scan is outside.
    """

    states: Tally
    transitions: Tally
    exercised: tuple[tuple[Requirement, bool], ...]
    positions: Mapping[str, tuple[str, ...]]
    wires: tuple[str, ...]
    together: tuple[tuple[str, str], ...]
    power_cycle: bool
    scans: int
    followed: int

    @property
    def missing(self) -> tuple[str, ...]:
        """What nobody has tried, in sentences: the list of negative tests that are still to be written."""
        said = [f"never happened: the cause of '{one!r}'" for one, seen in self.exercised if not seen]
        said += [f"{name} was never {' or '.join(left)}" for name, left in self.positions.items() if left]
        said += [f"{a} and {b} were never pressed together" for a, b in self.together]
        said += [f"wire {no} was never off" for no in self.wires]
        if not self.power_cycle:
            said.append("power was never lost while an output was on")
        return tuple(said)

    def __repr__(self) -> str:
        hit = sum(seen for _, seen in self.exercised)
        return (
            f"states {self.states}, transitions {self.transitions}, requirements {hit} of {len(self.exercised)} "
            f"exercised, {len(self.missing)} things never tried"
        )


def coverage(
    bench: Bench,
    tests: Iterable[Stimulus | Sequence[Mapping[str, Any]]],
    requirements: Iterable[Requirement | str] = (),
    *,
    may: Iterable[str] | None = None,
) -> Coverage:
    """Do each test on a fresh bench, and count what they have visited together.

    Parameters
    ----------
    bench
        With the program. It is not touched.
    tests
        Stimuli, or lists of steps. One that does not switch the power on itself begins on a bench that runs.
    requirements
        What the tests are for.
    may
        What is counted as able to happen, as for :func:`prove`; without it the hand-worked devices whose inputs
        the program reads. What a test does beside these can be done, and is followed as far as the rest allows.

    Raises
    ------
    ProofError
        If the bench has no program, or a name is unknown.
    LabkitError
        If a test cannot be done at this bench.
    """
    program = bench.engine.controller.program
    if program is None:
        raise ProofError("the bench has no program", try_this="load one first", code="proof-program")
    moving = things(bench, may)
    asked = tuple(requirement(one) for one in requirements)
    order = {name: i for i, name in enumerate(dict.fromkeys(n for one in asked for n in signals(one)))}
    system = Board(bench, moving, tuple(order))
    runs = [_run(bench, one if isinstance(one, Stimulus) else Stimulus.of(one)) for one in tests]
    try:
        walk = _walk(system, runs)
        reachable = _reachable(system)
    except NeedsImage:
        system.keep_image()
        walk = _walk(system, runs)
        reachable = _reachable(system)
    everything = None if reachable is None else set(reachable)
    pairs = None if reachable is None else {(a, b) for a, after in reachable.items() for b in after}
    return Coverage(
        Tally(len(walk.states), None if everything is None else len(everything)),
        Tally(len(walk.pairs), None if pairs is None else len(pairs)),
        tuple((one, _exercised(one, walk.views, order)) for one in asked),
        _positions(moving, walk.at),
        _wires(bench, runs),
        _together(moving, walk.at),
        any(_cycled(trace) for _, trace in runs),
        walk.scans,
        walk.followed,
    )


# a test on the bench ------------------------------------------------------------------------------------------
_Run = tuple[Bench, Trace]


def _run(bench: Bench, test: Stimulus) -> _Run:
    other = as_found(bench)
    program = bench.engine.controller.program
    assert program is not None
    other.load(program)
    begins_itself = next((bool(step.what["on"]) for step in test.steps if step.do == "power"), False)
    with other.record(only=("pos", "bit", "out", "mode")) as trace:
        if not begins_itself:
            for part in other.board.parts.values():
                if part.kind == "breaker":
                    other.breaker(part.designation)
            other.power(True)
            other.wait_until(other.now_us + other.family.supply.boot_us)
            other.wait(ms(20) if other.engine.controller.scan_period_us <= 20_000 else TAIL)
        other.play(test)
        other.wait(TAIL)
    return other, trace


class _Hands:
    """Where each thing was at any time of a run."""

    def __init__(self, moving: tuple[Thing, ...], log: Sequence[Done], trace: Trace) -> None:
        self.moving, self.trace = moving, trace
        self.changes = {t.name: [(0, 0), *_moves(t, log)] for t in moving if t.kind != "part"}

    def at(self, t_us: int) -> tuple[int, ...]:
        """A position each, as numbers."""
        return tuple(self._one(thing, t_us) for thing in self.moving)

    def _one(self, thing: Thing, t_us: int) -> int:
        if thing.kind == "part":
            place = self.trace.at(f"pos:{thing.part}", t_us)
            return thing.positions.index(str(place)) if str(place) in thing.positions else 0
        return next(value for t, value in reversed(self.changes[thing.name]) if t <= t_us)


_TO = {"remove": 1, "fit": 0, "lift": 1, "land": 0, "weld": 1, "unweld": 0}
_KINDS = {"block": ("remove", "fit"), "wire": ("lift", "land"), "weld": ("weld", "unweld")}


def _moves(thing: Thing, log: Sequence[Done]) -> list[tuple[int, int]]:
    found = []
    for done in log:
        what = done.what
        name = str(what.get("part", what.get("wire", what.get("tag", ""))))
        if name != thing.part:
            continue
        if thing.kind == "beam" and done.do == "beam":
            found.append((done.t_us, int(bool(what["blocked"]))))
        elif thing.kind == "metal" and done.do == "metal":
            found.append((done.t_us, int(what.get("mm") is not None)))
        elif thing.kind == "panel" and done.do == "set_bit":
            found.append((done.t_us, int(bool(what["value"]))))
        elif done.do in _KINDS.get(thing.kind, ()):
            found.append((done.t_us, _TO[done.do]))
    return found


# the model follows ------------------------------------------------------------------------------------------
@dataclass(slots=True)
class _Walk:
    states: set[Any]
    pairs: set[tuple[Any, Any]]
    views: list[tuple[int, ...]]
    at: list[tuple[int, ...]]
    scans: int = 0
    followed: int = 0


def _walk(system: Board, runs: Sequence[_Run]) -> _Walk:
    walk = _Walk(set(), set(), [], [])
    for bench, trace in runs:
        _follow(system, bench, trace, walk)
    return walk


def _follow(system: Board, bench: Bench, trace: Trace, walk: _Walk) -> None:
    hands = _Hands(system.things, bench.log, trace)
    filter_us = bench.family.inputs.filter_us
    bits = [(i, name) for i, name in enumerate(system.signals) if ":" not in name and f"bit:{name}" in trace.signals]
    state, lost = system.first(), True
    walk.states.add(state)
    dark = [t for t, mode in trace["mode:A1"].changes if mode == "off"] if "mode:A1" in trace else []
    along = True
    for phase in (p for p in trace.scans if p.kind == "read"):
        read_us = phase.start_us
        if dark and dark[0] < read_us:
            gone = [t for t in dark if t < read_us]
            dark = dark[len(gone) :]
            if not lost and along:  # without supply the model makes one step, however long it takes
                state = _step(system, state, hands.at(gone[-1]), walk)
        lost = False
        walk.scans += 1
        at = hands.at(read_us - filter_us)
        walk.at.append(at)
        if not along:
            continue
        new, view = system.follow(state, (*at, *(0 for _ in system._times), 0))
        seen = read_us + system.scan_us - 1
        if any(trace.at(f"bit:{name}", seen) != bool(view[i]) for i, name in bits):
            along = False  # done twice within a scan, or something that is not among the things
            continue
        walk.followed += 1
        walk.views.append(view)
        walk.pairs.add((state, new))
        walk.states.add(new)
        state = new


def _step(system: Board, state: Any, at: tuple[int, ...], walk: _Walk) -> Any:
    new, view = system.follow(state, (*at, *(0 for _ in system._times), 0))
    walk.pairs.add((state, new))
    walk.states.add(new)
    walk.views.append(view)
    walk.at.append(at)
    return new


def _reachable(system: Board) -> dict[Any, set[Any]] | None:
    """Every state with what can follow it; None beyond the bound."""
    if system.combinations > MOST_SETS:
        return None
    first = system.first()
    found: dict[Any, set[Any]] = {first: set()}
    waiting = [first]
    while waiting:
        state = waiting.pop()
        for new, _, _ in system.after(state):
            found[state].add(new)
            if new not in found:
                if len(found) >= MOST_STATES:
                    return None
                found[new] = set()
                waiting.append(new)
    return found


# what was tried ------------------------------------------------------------------------------------------------
def _parts(one: Requirement) -> tuple[Condition, ...]:
    """What must have been true at some time for the requirement to have been put to the test."""
    if isinstance(one, Never):
        return one.bad.items if isinstance(one.bad, And) else ()
    return one.conditions if one.trigger is None else (one.trigger,)


def _exercised(one: Requirement, views: Sequence[tuple[int, ...]], order: Mapping[str, int]) -> bool:
    parts = [holds_in(part, order) for part in _parts(one)]
    if not parts:
        assert isinstance(one, Never)
        names = [Sign(name) for name in signals(one)]
        parts = [holds_in(name, order) for name in names]
    return all(any(part(view) for view in views) for part in parts)


def _positions(moving: tuple[Thing, ...], at: Sequence[tuple[int, ...]]) -> dict[str, tuple[str, ...]]:
    taken = [{place[i] for place in at} for i in range(len(moving))]
    return {t.name: tuple(p for n, p in enumerate(t.positions) if n not in taken[i]) for i, t in enumerate(moving)}


def _together(moving: tuple[Thing, ...], at: Sequence[tuple[int, ...]]) -> tuple[tuple[str, str], ...]:
    buttons = [i for i, t in enumerate(moving) if t.positions[1:] == ("pressed",)]
    return tuple(
        (moving[a].name, moving[b].name)
        for a, b in combinations(buttons, 2)
        if not any(place[a] and place[b] for place in at)
    )


def _wires(bench: Bench, runs: Sequence[_Run]) -> tuple[str, ...]:
    """Wires at the inputs that the program reads and the outputs that it writes, never off in any test."""
    program = bench.engine.controller.program
    assert program is not None
    used = {*program.reads(), *program.writes()}
    wiring: Wiring = bench.wiring
    points = {p.point for p in bench.board.points.values() if p.tag in used}
    electrical = bench.engine.net.electrical
    ends = {c.terminal for c in electrical.inputs if c.point in points}
    ends |= {c.terminal for c in electrical.outputs if c.point in points}
    off = {str(done.what["wire"]) for other, _ in runs for done in other.log if done.do == "lift"}
    return tuple(w.no for w in wiring if w.ends & ends and w.no not in off)


def _cycled(trace: Trace) -> bool:
    """Whether the controller went dark with an output on, and scanned again."""
    modes = trace["mode:A1"].changes if "mode:A1" in trace else []
    outputs = [name for name in trace.signals if name.startswith("out:")]
    for number, (t, mode) in enumerate(modes[1:], 1):
        on = any(trace.at(name, t - 1) is True for name in outputs)
        if mode == "off" and on and any(later == "run" for _, later in modes[number:]):
            return True
    return False

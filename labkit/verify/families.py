"""Whether two controller families behave the same with one program on one board, each with its own scan.

Both are taken through the same hands. First exactly: the two models side by side, hands moving once per window (a
whole number of scans of either), outputs compared whenever both have come to rest. Then on the benches, with taps
shorter than a window and the controller stopped and started, which the models leave out. What tells them apart is
done on both benches in any case, and a cause is what makes the difference go when one family borrows it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import combinations, product
from typing import Any, Literal, NamedTuple

from labkit.base import Duration, LabkitError, as_us, ms, us
from labkit.bench import Bench, Stimulus, Trace
from labkit.board import Board as WiredBoard
from labkit.controller import Family
from labkit.controller import family as load_family
from labkit.logic import Program, read_program
from labkit.verify._rows import row, say
from labkit.verify._systems import DARK_US, Board
from labkit.verify._systems import State as _Model
from labkit.verify.errors import ProofError
from labkit.verify.surroundings import Thing, things

__all__ = ["Difference", "FamilyComparison", "compare_families"]

MOST_STATES = 20_000
MOST_TRIES = 400
AFTER_ACT_US = 2_000  # hands move when the outputs of both have changed, and before the next read can see them
SETTLE = ms(400)
PRESS = ms(80)
"""A quick press of a person (80 to 200 ms, common experience, no source)."""
_ASPECTS = ("scan", "inputs", "outputs", "retention", "start", "timers", "supply")
_WORDS = {
    "scan": "the scan: {0.scan.period_us} us with {0.name} and {1.scan.period_us} us with {1.name}",
    "inputs": "the inputs: type {0.inputs.type_no}, filter {0.inputs.filter_us} us with {0.name}, and "
    "type {1.inputs.type_no}, filter {1.inputs.filter_us} us with {1.name}",
    "outputs": "the outputs: {0.outputs.when_not_running} while stopped with {0.name}, and "
    "{1.outputs.when_not_running} with {1.name}",
    "retention": "what a start keeps: after a stop, plain bits {0.retention.stop_to_run.plain} with {0.name} and "
    "{1.retention.stop_to_run.plain} with {1.name}; after power-up {0.retention.power_up.plain} with {0.name} and "
    "{1.retention.power_up.plain} with {1.name}",
    "start": "the first scan: an edge takes the past for {0.start.edges} with {0.name} and {1.start.edges} "
    "with {1.name}",
    "timers": "the timers: steps of {0.timers.resolution_us} us with {0.name} and {1.timers.resolution_us} us "
    "with {1.name}",
    "supply": "the supply: starts {0.supply.boot_us} us after power-up with {0.name} and {1.supply.boot_us} us "
    "with {1.name}",
}


@dataclass(frozen=True, slots=True)
class Difference:
    """The first lasting difference on the benches.

    Parameters
    ----------
    t_us
        When it was there to see, in microseconds after the first step of the stimulus; both are at rest.
    signal
        As in a trace: ``bit:K1``, ``pole:K1``, ``lit:P1``.
    values
        What it is with either family.
    """

    t_us: int
    signal: str
    values: tuple[bool, bool]


@dataclass(frozen=True, slots=True, repr=False)
class FamilyComparison:
    """What comes of a comparison.

    Parameters
    ----------
    families
        The two names.
    outcome
        ``same``: every state that both can reach was visited, and no try told them apart. ``differ``: with the
        stimulus. ``undecided``: `bound` says why not all could be visited, and no try told them apart.
    steps
        What is done, in words.
    stimulus
        The same for a bench that runs, or that is switched on by it.
    difference
        What is different at the end of it.
    traces
        The records of both benches.
    causes
        What makes the difference go if the second family borrows it from the first, in sentences.
    states
        Pairs of states that were visited.
    bound
        For ``undecided``.
    assumptions
        What was taken for granted.
    """

    families: tuple[str, str]
    outcome: Literal["same", "differ", "undecided"]
    steps: tuple[str, ...] = ()
    stimulus: Stimulus | None = None
    difference: Difference | None = None
    traces: tuple[Trace, Trace] | None = None
    causes: tuple[str, ...] = ()
    states: int = 0
    bound: str = ""
    assumptions: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return self.outcome == "same"

    @property
    def text(self) -> str:
        """The whole answer in lines."""
        a, b = self.families
        if self.difference is None:
            return repr(self)
        x, y = self.difference.values
        lines = [f"{a} and {b} do not do the same. Do this on both:"]
        lines += [f"  {n}. {step}" for n, step in enumerate(self.steps, 1)]
        lines.append(f"Then {self.difference.signal} is {int(x)} with {a} and {int(y)} with {b}.")
        lines += [f"The cause is {cause}." for cause in self.causes]
        if self.causes:
            lines.append("With that the same in both, they do the same here.")
        return "\n".join(lines)

    def __repr__(self) -> str:
        a, b = self.families
        if self.outcome == "same":
            return f"{a} and {b} behave the same: {self.states} pairs of states, all visited"
        if self.outcome == "undecided":
            return f"undecided: {self.bound}; nothing that was tried told {a} and {b} apart"
        assert self.difference is not None
        return f"{a} and {b} differ in {self.difference.signal}, {len(self.steps)} steps"


def compare_families(
    program: Program | str,
    first: Family | str = "alder",
    second: Family | str = "birch",
    *,
    board: WiredBoard | str = "orchard",
    may: Iterable[str] | None = None,
    shortest: Duration = PRESS,
) -> FamilyComparison:
    """Whether a program does the same with two families, and if not, the shortest way to see that it does not.

    Parameters
    ----------
    program
        A program or its text.
    first, second
        Families, by name or as records.
    board
        The board, with its own wiring.
    may
        What may happen, as for :func:`prove`; without it the hand-worked devices whose inputs the program reads,
        and ``"power"``. ``"stop"`` lets the controller be stopped and run.
    shortest
        The shortest press that is looked at. A slow scan misses what a quick one sees: with ``ms(20)`` that is a
        difference of nearly every program.

    Raises
    ------
    LabkitError
        If the program does not fit one of the families, or a name is unknown.
    TypeError
        If `shortest` is a bare number.

    Examples
    --------
    >>> held = compare_families("VAR E : R_TRIG; END_VAR E(CLK := S2); K1 := S1 AND (E.Q OR K1);")
    >>> print(held.text)
    alder and birch do not do the same. Do this on both:
      1. power on, with S2 pressed
    Then bit:K1 is 0 with alder and 1 with birch.
    The cause is the first scan: an edge takes the past for present with alder and zero with birch.
    With that the same in both, they do the same here.
    """
    pair = tuple(load_family(f) for f in (first, second))
    read = read_program(program) if isinstance(program, str) else program
    sides = _Sides(read, (pair[0], pair[1]), board, may, as_us(shortest, "the shortest press"))
    try:
        found, states, bound = _exact(sides)
    except ProofError as wrong:
        found, states, bound = None, 0, f"{wrong.what}"
    answer = None
    if found is not None:
        answer = sides.told(*found)
        if answer is None:
            bound = "the models differ where the benches do not"
    if answer is None and (bound or sides.stops or sides.shortest_us < sides.window_us):
        answer = _tried(sides)
    names = (pair[0].name, pair[1].name)
    if answer is None:
        return FamilyComparison(
            names, "undecided" if bound else "same", states=states, bound=bound, assumptions=sides.assumptions()
        )
    steps, stimulus, difference, traces = answer
    causes = sides.causes(stimulus, difference)
    return FamilyComparison(
        names, "differ", steps, stimulus, difference, traces, causes, states, "", sides.assumptions()
    )


_Answer = tuple[tuple[str, ...], Stimulus, Difference, tuple[Trace, Trace]]
_Moves = tuple[tuple[int, ...], ...]


class _Sides:
    """The same program on the same board with two families."""

    def __init__(
        self,
        program: Program,
        families: tuple[Family, Family],
        board: WiredBoard | str,
        may: Iterable[str] | None,
        shortest_us: int,
    ) -> None:
        self.program, self.families, self.board, self.shortest_us = program, families, board, shortest_us
        self.benches = (self.bench(families[0]), self.bench(families[1]))
        names = [t.name for t in things(self.benches[0], None)] + ["power"] if may is None else list(may)
        self.stops = "stop" in names
        self.things: tuple[Thing, ...] = things(self.benches[0], [n for n in names if n != "stop"])
        self.window_us = math.lcm(*(b.engine.controller.scan_period_us for b in self.benches))
        self.signals = self._signals()
        self.boot_us = max(f.supply.boot_us for f in families)

    def bench(self, family: Family) -> Bench:
        """A fresh one, unpowered, its breakers in."""
        bench = Bench(self.board, family=family)
        bench.load(self.program)
        for part in bench.board.parts.values():
            if part.kind == "breaker":
                bench.breaker(part.designation)
        return bench

    def _signals(self) -> tuple[str, ...]:
        """What is compared: output bits that the program writes, the contactors, the lamps."""
        bench, written = self.benches[0], set(self.program.writes())
        outputs = [p.tag for p in bench.board.points.values() if p.direction == "output" and p.tag in written]
        electrical = bench.engine.net.electrical
        coils = [f"pole:{coil.part}" for coil in electrical.coils]
        return (*outputs, *coils, *(f"lit:{lamp.part}" for lamp in electrical.lamps))

    def _supply(self) -> int | None:
        return next((i for i, t in enumerate(self.things) if t.positions == ("on", "off") and t.name == "power"), None)

    def assumptions(self) -> tuple[str, ...]:
        """What is taken for granted."""
        window, press = self.window_us / 1000, self.shortest_us / 1000
        said = "may happen, in any combination: " + (", ".join(t.name for t in self.things) or "nothing")
        held = f"everything is held for {window:g} ms or a multiple of it, and outputs are compared at rest"
        if not self.stops and press >= window:
            return said, held
        tries = (
            f"beside that, on the benches: up to {MOST_TRIES} tries of one or two moves, a press {press:g} ms or more"
        )
        return said, held, tries + (", stop and run among them" if self.stops else "")

    # from a path of the models to the benches ---------------------------------------------------------------
    def told(self, path: _Moves, window_us: int) -> _Answer | None:
        """The path as a stimulus, done on both; None if they do not differ there."""
        rows: list[dict[str, Any]] = []
        words: list[str] = []
        at, now_us = (0,) * len(self.things), 0
        supply = self._supply()
        on = False
        for places in path:
            moved = [(t, t.positions[p]) for t, p, q in zip(self.things, places, at, strict=True) if p != q]
            said = [say(t, p) for t, p in moved if t.name != "power"]
            rows += [{"at_ms": now_us / 1000, **row(t, p)} for t, p in moved if t.name != "power"]
            fed = supply is None or places[supply] == 0
            if fed != on:
                rows.append({"at_ms": now_us / 1000, "do": "power", "on": fed})
                words.append(("power on" if fed else "power off") + (f", with {', '.join(said)}" if said else ""))
                now_us += self.boot_us + AFTER_ACT_US if fed else DARK_US
                on = fed
            else:
                if said:
                    words.append(f"{', '.join(said)} (for {window_us / 1000:g} ms or more)")
                now_us += window_us if fed else DARK_US
            at = places
        return self.differ(Stimulus.of(rows), tuple(words), now_us)

    def differ(self, stimulus: Stimulus, words: tuple[str, ...], end_us: int) -> _Answer | None:
        """Do it on both benches; what is different at rest after it, with the records."""
        records = [self._record(self.bench(f), stimulus, end_us) for f in self.families]
        (one, left), (two, right) = records
        if left is None or right is None:
            return None
        for name in self.signals:
            if name in left and name in right and left[name] != right[name]:
                difference = Difference(end_us + SETTLE.us, _named(name), (left[name], right[name]))
                return words, stimulus, difference, (one, two)
        return None

    def _record(self, bench: Bench, stimulus: Stimulus, end_us: int) -> tuple[Trace, dict[str, bool] | None]:
        """The trace, and what is at rest at the end: None if something still moves."""
        with bench.record(only=("pos", "bit", "out", "pole", "lit", "mode")) as trace:
            begins = bool(stimulus.steps) and next((s.what["on"] for s in stimulus.steps if s.do == "power"), None)
            if begins is not True:
                bench.power(True)
                bench.wait(us(self.boot_us + AFTER_ACT_US))
            start_us = bench.now_us
            bench.play(stimulus)
            bench.wait_until(max(start_us + end_us, bench.now_us))
            bench.wait(SETTLE)
            first = self._see(bench)
            bench.wait(SETTLE)
        return trace, first if first == self._see(bench) else None

    def _see(self, bench: Bench) -> dict[str, bool]:
        seen = {}
        for name in self.signals:
            layer, _, part = name.partition(":")
            if not part:
                if bench.mode == "run":  # what a controller that does not run remembers moves nothing
                    seen[name] = bool(bench.bit(name))
            else:
                seen[name] = bench.state(part) == "closed" if layer == "pole" else bench.lit(part)
        return seen

    def causes(self, stimulus: Stimulus, difference: Difference) -> tuple[str, ...]:
        """Each aspect that, borrowed from the first family, makes the second do as the first does."""
        one, two = self.families
        name = difference.signal.removeprefix("bit:")
        differing = [aspect for aspect in _ASPECTS if getattr(one, aspect) != getattr(two, aspect)]
        for size in (1, 2):  # two together only where none does it alone
            found = []
            for several in combinations(differing, size):
                borrowed = two.model_copy(update={aspect: getattr(one, aspect) for aspect in several})
                try:
                    _, seen = self._record(self.bench(borrowed), stimulus, difference.t_us - SETTLE.us)
                except LabkitError:  # they do not go together: nothing is learnt from it
                    continue
                if seen is not None and seen.get(name) == difference.values[0]:
                    found.append(" and ".join(_WORDS[aspect].format(one, two) for aspect in several))
            if found:
                return tuple(found)
        return ()


def _named(signal: str) -> str:
    return signal if ":" in signal else f"bit:{signal}"


# exactly --------------------------------------------------------------------------------------------------------
class _Pair(NamedTuple):
    """Both models, and where everything is."""

    one: _Model
    two: _Model
    at: tuple[int, ...]


class _Window:
    """One family's model, moved on by a window."""

    def __init__(self, sides: _Sides, number: int, window_us: int) -> None:
        bench = sides.benches[number]
        self.system = Board(bench, sides.things, sides.signals)
        self.count = window_us // self.system.scan_us
        self.booting = (sides.boot_us - bench.family.supply.boot_us) // self.system.scan_us
        self._known: dict[tuple[_Model, tuple[int, ...]], tuple[_Model, tuple[int, ...]]] = {}
        self._free = tuple(0 for _ in self.system._times)

    def after(self, state: _Model, at: tuple[int, ...]) -> tuple[_Model, tuple[int, ...]]:
        """The state and the view a window later, everything held; without supply one step stands for it."""
        key = (state, at)
        found = self._known.get(key)
        if found is None:
            choice = (*at, *self._free, 0)
            new, view = self.system.follow(state, choice)
            # after a start both have run until the slower one has begun to
            left = 0 if not new.powered else self.count - 1 if state.powered else self.booting
            for _ in range(left):
                before = new
                new, view = self.system.follow(new, choice)
                if new == before or not new.powered:
                    break
            found = self._known[key] = (new, view)
        return found


def _exact(sides: _Sides) -> tuple[tuple[_Moves, int] | None, int, str]:
    """``(path and window or None, pairs visited, bound)``: breadth first, one window a step."""
    window_us = sides.window_us
    one, two = (_Window(sides, i, window_us) for i in (0, 1))
    choices = list(product(*(range(len(t.positions)) for t in sides.things)))
    first = _Pair(one.system.first(), two.system.first(), (0,) * len(sides.things))
    parent: dict[_Pair, _Pair | None] = {first: None}
    level = [first]
    while level:
        following = []
        for pair in level:
            for at in sorted(choices, key=partial(_changes, pair.at)):
                new_one, seen_one = one.after(pair.one, at)
                new_two, seen_two = two.after(pair.two, at)
                new = _Pair(new_one, new_two, at)
                running = new_one.powered and new_two.powered
                if new == pair and any(
                    a != b and (running or ":" in name)
                    for a, b, name in zip(seen_one, seen_two, sides.signals, strict=True)
                ):
                    return (_path(parent, pair), window_us), len(parent), ""
                if new not in parent:
                    parent[new] = pair
                    following.append(new)
            if len(parent) > MOST_STATES:
                return None, len(parent), f"{MOST_STATES} pairs of states"
        level = following
    return None, len(parent), ""


def _changes(here: tuple[int, ...], at: tuple[int, ...]) -> int:
    return sum(a != b for a, b in zip(here, at, strict=True))


def _path(parent: dict[_Pair, _Pair | None], pair: _Pair) -> _Moves:
    found: list[tuple[int, ...]] = []
    here: _Pair | None = pair
    while here is not None and parent[here] is not None:
        found.append(here.at)
        here = parent[here]
    return tuple(reversed(found))


# by trying --------------------------------------------------------------------------------------------------------
_Try = tuple[str, tuple[dict[str, Any], ...], int]
"""Words, steps from 0 ms, and how long it takes in milliseconds."""


def _moves(sides: _Sides) -> Iterator[_Try]:
    for thing in sides.things:
        if thing.name == "power":
            off = ({"at_ms": 0, "do": "power", "on": False}, {"at_ms": 1000, "do": "power", "on": True})
            yield "power off and on", off, 1000 + sides.boot_us // 1000 + 10
            continue
        for position in thing.positions[1:]:
            for length in dict.fromkeys((sides.shortest_us // 1000, 200)):
                steps = ({"at_ms": 0, **row(thing, position)}, {"at_ms": length, **row(thing, thing.positions[0])})
                yield f"{say(thing, position)} for {length} ms", steps, length
            yield f"{say(thing, position)} and held", ({"at_ms": 0, **row(thing, position)},), 0
    if sides.stops:
        yield "stopped", ({"at_ms": 0, "do": "stop"},), 0
        yield "stopped, and run", ({"at_ms": 0, "do": "stop"}, {"at_ms": 500, "do": "run"}), 500


def _tried(sides: _Sides) -> _Answer | None:
    moves = list(_moves(sides))
    tries: list[Sequence[_Try]] = [(m,) for m in moves]
    tries += list(product(moves, moves))
    for several in tries[:MOST_TRIES]:
        rows: list[dict[str, Any]] = []
        now = 0
        for _, steps, length in several:
            rows += [{**step, "at_ms": step["at_ms"] + now} for step in steps]
            now += length + SETTLE.us // 1000
        try:
            found = sides.differ(Stimulus.of(rows), tuple(words for words, _, _ in several), now * 1000)
        except LabkitError:  # two moves that do not go together, such as a press of what is pressed
            continue
        if found is not None:
            return found
    return None

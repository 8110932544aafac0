"""What can be explored: a program on its wired board, with a person and mishaps around it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any, NamedTuple

from labkit.base import did_you_mean
from labkit.bench import Bench
from labkit.bench.electric import KEEP
from labkit.controller import FIRST_SCAN, Controller
from labkit.verify._bare import MOST_SETS, Choice, System, about_timers
from labkit.verify._bare import NeedsImage as _NeedsImage
from labkit.verify._electric import Arms, Electricity
from labkit.verify._program import Bits, ProgramSteps
from labkit.verify._restart import Restart
from labkit.verify.errors import ProofError, RequirementError
from labkit.verify.surroundings import Thing

__all__ = ["MOST_SETS", "Board", "Choice", "State", "System", "_NeedsImage"]


class State(NamedTuple):
    """Everything that the next scan depends on."""

    program: Bits
    arms: Arms
    powered: bool


@dataclass(frozen=True, slots=True)
class _Outcome:
    """What one or several choices come to, for given outputs and armatures."""

    image: tuple[int, ...]
    arms: Arms
    powered: bool
    panel: tuple[int, ...]
    seen: tuple[int, ...]
    choice: Choice


class Board:
    """A program on its wired board, with a person and mishaps around it.

    Parameters
    ----------
    bench
        Gives board, wiring, family, tags and program.
    things
        What may move.
    signals
        What the view holds, in this order.
    any_times
        Let each armature take any number of scans up to what its data says.
    any_preset
        Let a running timer be over at any scan.
    """

    def __init__(
        self,
        bench: Bench,
        things: Sequence[Thing],
        signals: Sequence[str],
        *,
        any_times: bool = False,
        any_preset: bool = False,
    ) -> None:
        controller = bench.engine.controller
        if controller.program is None:
            raise ProofError("the bench has no program", try_this="load one first", code="proof-program")
        if controller.forces:
            raise ProofError(
                f"{' and '.join(controller.forces)} is forced, which hides what wires and program do",
                try_this="take the forces away: bench.unforce()",
                code="proof-forced",
            )
        self.bench, self.things, self.signals = bench, tuple(things), tuple(signals)
        self.program, self.any_preset = controller.program, any_preset
        self.electric = Electricity(bench, things)
        self._timetable(controller)
        self.steps = ProgramSteps(self.program, (*bench.tags.by_name, FIRST_SCAN), self.scan_us, any_preset=any_preset)
        self.restart = Restart(self.program, bench.tags, bench.family)
        self._places(bench)
        self._signals()
        coils = self.electric.electrical.coils
        most = [max(c.operate_us, c.release_us) for c in coils]
        # from half a scan on, a scan apart: as many as fit below the time that the data gives
        self._times = [range(-(-m // self.scan_us) + 1) if any_times else range(1) for m in most]
        self.any_times = any_times
        self._cache: dict[tuple[int, Arms, bool, tuple[int, ...]], list[_Outcome]] = {}

    def _timetable(self, controller: Controller) -> None:
        table, family = controller.timetable, self.bench.family
        self.scan_us, self.act_us = table.period_us, table.write_us + family.outputs.delay_us
        self.read_us = self.scan_us - self.act_us
        if table.trips:
            raise ProofError("the program is longer than the watchdog allows: it never runs", code="proof-watchdog")
        slow = max([family.inputs.filter_us, *(self._sensor_us(t) + family.inputs.filter_us for t in self.things)])
        if slow > self.read_us:
            raise ProofError(
                f"an input takes {slow / 1000:g} ms to come through and a scan {self.scan_us / 1000:g} ms: "
                "the model needs what is done in one scan to be seen in the next",
                try_this="prove with a longer scan or a shorter filter: Bench(board, scan=ms(20))",
                code="proof-filter",
            )
        timed = controller.program is not None and "T" in {k[0] for k in controller.program.instances().values()}
        if timed and self.scan_us % family.timers.resolution_us:
            raise ProofError(
                f"the timers' resolution of {family.timers.resolution_us / 1000:g} ms does not divide the scan "
                f"of {self.scan_us / 1000:g} ms",
                try_this="prove with a scan that is a multiple of it",
                code="proof-tick",
            )

    def _sensor_us(self, thing: Thing) -> int:
        sensors = self.electric.electrical.sensors
        return next((max(s.on_us, s.off_us) for s in sensors if s.part == thing.part), 0)

    def _places(self, bench: Bench) -> None:
        place, electrical = self.steps.place, self.electric.electrical
        number = {channel.point: i for i, channel in enumerate(electrical.inputs)}
        output = {point: i for i, point in enumerate(self.electric.outputs)}
        tags = [tag for tag in bench.tags if tag.point is not None]
        used = set(self.program.reads()) | set(self.signals)
        inputs = [t for t in tags if t.kind == "input" and t.point in number and t.name in used]
        self._in = [(place[t.name], number[t.point or ""]) for t in inputs]
        self._out = [(place[t.name], output[t.point or ""]) for t in tags if t.kind == "output" and t.point in output]
        self._panel = [(place[t.part], i) for i, t in enumerate(self.things) if t.kind == "panel"]
        self._flag = place[FIRST_SCAN]
        watched = {place[s] for s in self.signals if s in place and s not in {t.name for t in inputs}}
        self.steps.keep({slot for slot, _ in self._out} | watched)
        # an input's bit is read anew in each scan; it matters only to a channel inside its hysteresis
        self._image_slots = [slot for slot, _ in self._in]
        self.steps._dead = sorted(set(self.steps._dead) | set(self._image_slots) | {self._flag})
        self._keeps_seen = False

    def _signals(self) -> None:
        """Where each signal of the view comes from: a bit of the program, or something of the machine."""
        self._view: list[int] = []
        self._machine: list[tuple[str, int, int]] = []
        for name in self.signals:
            source = self._source(name)
            if isinstance(source, int):
                self._view.append(source)
            else:
                self._view.append(-1 - len(self._machine))
                self._machine.append(source)

    def _source(self, name: str) -> int | tuple[str, int, int]:
        electrical = self.electric.electrical
        layer, _, rest = name.partition(":")
        if not rest:
            if name in self.steps.place:
                return self.steps.place[name]
            known = list(self.steps.slots)
            raise self._unknown(name, known)
        coils = [c.part for c in electrical.coils]
        lamps = [lamp.part for lamp in electrical.lamps]
        if layer in ("pole", "coil"):
            if rest not in coils:
                raise self._unknown(name, [f"{layer}:{c}" for c in coils])
            return (layer, coils.index(rest), 0)
        if layer == "lit":
            if rest not in lamps:
                raise self._unknown(name, [f"lit:{c}" for c in lamps])
            return (layer, lamps.index(rest), 0)
        if layer in ("run", "back"):
            return (layer, 0, 0)
        what, _, position = (rest if layer == "pos" else name).partition("=")
        for i, thing in enumerate(self.things):
            if what in (thing.name, thing.part):
                asked = thing.asked(position or None)
                if asked < 0:
                    raise self._unknown(name, [f"pos:{what}={p}" for p in thing.positions])
                return ("pos", i, asked)
        board = {*electrical.actors, *(block.id for part in self.bench.board.parts.values() for block in part.blocks)}
        if what in board or layer in ("wire", "weld", "panel"):
            raise RequirementError(
                f"{name} is a position that does not change in this proof",
                where=name,
                try_this=f"let it happen: prove(..., may=[..., {what!r}])",
                code="requirement-signal",
            )
        raise self._unknown(name, [f"pos:{actor}" for actor in board])

    @staticmethod
    def _unknown(name: str, known: Sequence[str]) -> RequirementError:
        return RequirementError(
            f"there is no signal {name}", where=name, try_this=did_you_mean(name, known), code="requirement-signal"
        )

    @property
    def combinations(self) -> int:
        """How many sets of positions there are."""
        return math.prod([*(len(t.positions) for t in self.things), *(len(times) for times in self._times)])

    @property
    def effort(self) -> int:
        """Positions of equal effect are merged, so there is nothing to add."""
        return 1

    # the transition system ------------------------------------------------------------------------
    def first(self) -> State:
        """No supply yet, the program loaded, everything at its initial value."""
        return State(self._packed(self.steps.fresh()), self.electric.rest(), False)

    def _packed(self, bits: Bits) -> Bits:
        new = list(bits)
        for i in self.steps._dead:
            new[i] = 0
        return tuple(new)

    def _outputs(self, program: Bits) -> int:
        return sum(1 << number for slot, number in self._out if program[slot])

    def after(self, state: State) -> Iterator[tuple[State, tuple[int, ...], Choice]]:
        """One scan later (or one loss of supply later), for every distinct outcome."""
        program = state.program
        met = set()
        kept = tuple(program[slot] for slot in self._image_slots) if self._keeps_seen else ()
        for outcome in self._outcomes(self._outputs(program) if state.powered else 0, state.arms, state.powered, kept):
            for new, bits, expire in self._scans(state, outcome):
                after = State(new, outcome.arms, outcome.powered)
                view = tuple([bits[i] if i >= 0 else outcome.seen[-1 - i] for i in self._view])
                if (after, view) not in met:
                    met.add((after, view))
                    yield after, view, (*outcome.choice, expire)

    def follow(self, state: State, choice: Choice) -> tuple[State, tuple[int, ...]]:
        """``(next state, view)`` after one choice."""
        program = state.program
        kept = tuple(program[slot] for slot in self._image_slots) if self._keeps_seen else ()
        outputs = self._outputs(program) if state.powered else 0
        outcome = self._outcome(choice[:-1], outputs, state.arms, state.powered, kept)
        new, bits = next((new, bits) for new, bits, expire in self._scans(state, outcome) if expire == choice[-1])
        view = tuple([bits[i] if i >= 0 else outcome.seen[-1 - i] for i in self._view])
        return State(new, outcome.arms, outcome.powered), view

    def _scans(self, state: State, outcome: _Outcome) -> Iterator[tuple[Bits, Sequence[int], int]]:
        program = state.program
        if not outcome.powered:
            if state.powered:
                program = self.restart.lost(program)
            yield self._packed(program), program, 0
            return
        image = [*zip(self._image_slots, outcome.image, strict=True)]
        image += [(slot, value) for (slot, _), value in zip(self._panel, outcome.panel, strict=True)]
        if not state.powered:
            ready = list(self.restart.back(program))
            for slot, value in image:
                ready[slot] = value
            program = self.restart.prime(tuple(ready))
        for expire in self.steps.expiries(program):
            new, bits = self.steps.step(program, image, expire)
            bits[self._flag] = 0
            yield new, bits, expire

    def _outcomes(self, outputs: int, arms: Arms, powered: bool, kept: tuple[int, ...]) -> list[_Outcome]:
        key = (outputs, arms, powered, kept)
        found = self._cache.get(key)
        if found is None:
            merged: dict[tuple[Any, ...], _Outcome] = {}
            for choice in product(*(range(len(t.positions)) for t in self.things), *self._times):
                o = self._outcome(choice, outputs, arms, powered, kept)
                merged.setdefault((o.image, o.arms, o.powered, o.panel, o.seen), o)
            found = self._cache[key] = list(merged.values())
        return found

    def _outcome(self, choice: Choice, outputs: int, arms: Arms, powered: bool, kept: tuple[int, ...]) -> _Outcome:
        n = len(self.things)
        at = choice[:n]
        fed = self.electric.feeds(at, outputs, arms, powered)
        times = [None if k == 0 else k * self.scan_us - self.scan_us // 2 for k in choice[n:]]
        family = self.bench.family
        if not fed:
            # long enough for every armature to come to rest
            passed = self.electric.pass_time(at, 0, arms, DARK_US, DARK_US, powered=False)
        elif not powered:
            boot = family.supply.boot_us
            passed = self.electric.pass_time(at, 0, arms, boot + self.act_us, boot, powered=True)
        else:
            passed = self.electric.pass_time(at, outputs, arms, self.scan_us, self.read_us, times=times)
        image = []
        for (_, number), before in zip(self._in, kept or (0,) * len(self._in), strict=True):
            value = passed.channels[number]
            if value == KEEP:
                if not kept and not self._keeps_seen:
                    raise _NeedsImage
                value = before
            image.append(value)
        panel = tuple(at[i] for _, i in self._panel)
        seen = tuple(
            self._see(source, at, passed.arms, passed.last, fed=fed, powered=powered) for source in self._machine
        )
        return _Outcome(tuple(image) if fed else (), passed.arms, fed, panel, seen, choice)

    def _see(self, source: tuple[str, int, int], at: Choice, arms: Arms, last: Any, *, fed: bool, powered: bool) -> int:
        layer, i, asked = source
        if layer == "pole":
            return int(arms[i][0])
        if layer == "pos":
            return int(at[i] == asked)
        if layer == "coil":
            return int(last.coils[i] > 0)
        if layer == "lit":
            return int(last.lit[i])
        return int(fed) if layer == "run" else int(fed and not powered)

    def keep_image(self) -> None:
        """A channel lies inside its hysteresis: what it was becomes part of the state."""
        self._keeps_seen = True
        self._cache.clear()
        self.steps._dead = sorted(set(self.steps._dead) - set(self._image_slots))

    def assumptions(self) -> tuple[str, ...]:
        """What is taken for granted."""
        said = [
            "may happen in any scan, in any combination: " + (", ".join(t.name for t in self.things) or "nothing"),
            f"one step is a scan of {self.scan_us / 1000:g} ms; what is done by hand is done once a scan",
            "armatures take any number of scans up to their data"
            if self.any_times
            else "armatures take the time of their data",
        ]
        if any(t.kind == "part" and t.positions[:2] == ("on", "off") for t in self.things):
            said.append(f"a controller without supply stays so for {DARK_US // 1_000_000} s or more")
        if self.electric.hot:
            said.append(f"{' and '.join(sorted(self.electric.hot))} carries more than its rating and is not let trip")
        return (*said, *about_timers(self.steps, self.any_preset))


DARK_US = 1_000_000

"""A counterexample told, and done on a real bench to see whether the same comes out."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from labkit.bench import Bench, Stimulus
from labkit.logic import Program
from labkit.verify._systems import DARK_US, Board, Choice
from labkit.verify._told import follow
from labkit.verify.requirements import CanReach, Monitored, Requirement
from labkit.verify.surroundings import Thing, as_found
from labkit.verify.verdict import Moment, Story

__all__ = ["board_story"]

WAYS = ((0, False), (1, False), (0, True), (1, True))
"""What is done by hand at one instant, and what the outputs do then, a bench must take one after the other.

The model takes them together. Microseconds by which hands come later than outputs; whether hands work backwards.
"""

_WORDS = {
    "pressed": "{} pressed",
    "released": "{} released",
    "tripped": "{} tripped",
    "healthy": "{} reset",
    "blocked": "beam of {} blocked",
    "clear": "beam of {} free",
    "near": "metal at {}",
    "away": "metal taken from {}",
    "missing": "{} pulled off",
    "fitted": "{} fitted",
    "lifted": "wire {} off",
    "landed": "wire {} back on",
    "welded": "{} welds",
    "free": "{} free again",
}


def _tell(thing: Thing, position: str) -> str:
    if thing.kind == "panel":
        return f"panel writes {thing.part} = {position}"
    if position in ("on", "off"):
        return f"{thing.part} switched {position}"
    return _WORDS.get(position, "{} turned to " + position).format(thing.part)


def board_story(system: Board, asked: Requirement, path: Sequence[Choice], order: dict[str, int]) -> Story:
    """The story on a wired board, replayed on a bench of the same kind."""
    moments = []
    state = system.first()
    before = tuple(0 for _ in system.things)
    for scan, choice in enumerate(path, 1):
        state, view = follow(system, state, choice)
        done = [] if scan > 1 else ["power up"]
        done += [
            _tell(t, t.positions[new]) for t, old, new in zip(system.things, before, choice, strict=False) if old != new
        ]
        moments.append(Moment(scan, tuple(done), {n: view[i] for n, i in order.items()}))
        before = choice[: len(system.things)]
    for way in WAYS:
        replay = _Replay(system, *way)
        if isinstance(asked, CanReach):
            same = _as_told(replay, path, moments)
        else:
            same = _broken_at(replay, asked, path, order) == len(path)
        if same:
            break
    stimulus = Stimulus.from_log([done for done in replay.bench.log if done.do != "load"])
    told = same if same or not system.any_times else None
    make = partial(_made, system.bench, system.program)
    return Story(tuple(moments), stimulus, told, replay.bench.now_us, make=make)


def _made(bench: Bench, program: Program) -> Bench:
    other = as_found(bench)
    other.load(program)
    return other


def _as_told(replay: _Replay, path: Sequence[Choice], moments: Sequence[Moment]) -> bool:
    """Whether the bench shows what the model says, scan by scan."""
    return all(replay.step(choice) == tuple(moment.view.values()) for choice, moment in zip(path, moments, strict=True))


def _broken_at(replay: _Replay, asked: Monitored, path: Sequence[Choice], order: dict[str, int]) -> int | None:
    watch, memory = asked.watch(order, replay.system.scan_us), 0
    for scan, choice in enumerate(path, 1):
        memory, broken = watch(memory, replay.step(choice))
        if broken:
            return scan
    return None


class _Replay:
    """A bench, made like the one that was asked about, that is taken through a path."""

    def __init__(self, system: Board, late_us: int, backwards: bool) -> None:
        self.system, self.late_us, self.backwards = system, late_us, backwards
        self.bench = bench = as_found(system.bench)
        bench.load(system.program)
        self.at: tuple[int, ...] = tuple(0 for _ in system.things)
        self.first = True
        for part in bench.board.parts.values():
            if part.kind in ("breaker", "fuse") and bench.state(part.designation) not in ("on", "whole"):
                bench.breaker(part.designation)

    def hands(self, choice: Choice) -> None:
        """Do what is done by hand."""
        moves = list(zip(self.system.things, self.at, choice, strict=False))
        for thing, old, new in reversed(moves) if self.backwards else moves:
            if thing.kind == "panel":
                if self.bench.mode == "run":
                    self.bench.set_bit(thing.part, bool(new))
            elif old != new:
                _do(self.bench, thing, thing.positions[new])

    def step(self, choice: Choice) -> tuple[int, ...]:
        """Do one scan's choice; the view after it."""
        system, bench = self.system, self.bench
        start_us, was_powered = bench.now_us, bench.engine.powered
        bench.wait_until(start_us + self.late_us)
        self.hands(choice)
        self.at = choice[: len(system.things)]
        if self.first:
            self.first = False
            supplies = {t.part: t.positions[i] for t, i in zip(system.things, self.at, strict=True)}
            if all(supplies.get(p.designation) != "off" for p in bench.board.parts.values() if p.kind == "supply"):
                bench.power(True)
        now = start_us + self.late_us
        powered = bench.engine.powered
        if not powered:
            bench.wait_until(now + DARK_US)
        elif not was_powered:
            boot_end = now + bench.family.supply.boot_us
            panels = [(t.part, n) for t, n in zip(system.things, self.at, strict=True) if t.kind == "panel"]
            bench.wait_until(boot_end + (1 if panels else system.act_us))
            for part, value in panels:
                bench.set_bit(part, bool(value))
            bench.wait_until(boot_end + system.act_us)
        else:
            bench.wait_until(start_us + system.scan_us)
        return tuple(self._see(name, powered, was_powered) for name in system.signals)

    def _see(self, name: str, powered: bool, was_powered: bool) -> int:
        bench, system = self.bench, self.system
        layer, _, part = name.partition(":")
        if not part:
            return int(bench.bit(name))
        if layer == "pole":
            return int(bench.state(part) == "closed")
        if layer == "lit":
            return int(bench.lit(part))
        if layer == "coil":
            i = next(i for i, c in enumerate(system.electric.electrical.coils) if c.part == part)
            return int(bench.engine.now_reading().coils[i] > 0)
        if layer in ("run", "back"):
            return int(powered and (layer == "run" or not was_powered))
        source = system._source(name)
        assert not isinstance(source, int)
        return int(self.at[source[1]] == source[2])


def _do(bench: Bench, thing: Thing, position: str) -> None:
    part = thing.part
    kind = bench.engine.net.electrical.actors[part].kind if thing.kind == "part" else thing.kind
    if kind in ("push_button", "emergency_stop"):
        (bench.press if position == "pressed" else bench.release)(part)
    elif kind == "breaker":
        bench.breaker(part, position == "on")
    elif kind == "supply":
        bench.power(position == "on")
    elif kind == "overload":
        (bench.trip if position == "tripped" else bench.reset)(part)
    elif kind in ("selector", "key_switch"):
        bench.turn(part, position)
    elif kind == "beam":
        bench.beam(part, position == "blocked")
    elif kind == "metal":
        bench.metal(part, 1.0 if position == "near" else None)
    elif kind == "block":
        (bench.remove if position == "missing" else bench.fit)(part)
    elif kind == "wire":
        (bench.lift if position == "lifted" else bench.land)(part)
    else:
        (bench.weld if position == "welded" else bench.unweld)(part)

"""What can be explored, and the first of the two: a program alone with free inputs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import Any, Protocol

from labkit.base import did_you_mean
from labkit.logic import LaneScan, Program, to_lanes
from labkit.verify._lanes import alternating
from labkit.verify._program import Bits, ProgramSteps
from labkit.verify.errors import RequirementError

__all__ = ["MOST_SETS", "Bare", "Choice", "NeedsImage", "System", "about_timers"]

Choice = tuple[int, ...]
"""One number per thing, and what is chosen freely beside (contactor times, timers that are over)."""


class System(Protocol):
    """What the search asks of a model."""

    scan_us: int

    @property
    def combinations(self) -> int:
        """How many sets of inputs or positions one scan has."""

    @property
    def effort(self) -> int:
        """How many scans it takes to find what follows one state, at least."""

    def first(self) -> Any:
        """The state before the first scan."""

    def after(self, state: Any) -> Iterable[tuple[Any, tuple[int, ...], Choice]]:
        """Distinct ``(next state, view, choice)``: one representative choice for each pair of the first two."""

    def assumptions(self) -> tuple[str, ...]:
        """What is taken for granted, in sentences."""


MOST_SETS = 1 << 16
"""Combinations of inputs or positions that one scan may have; more is answered with ``undecided``."""


class Bare:
    """A program alone: every name that it reads and never writes is an input, free in every scan.

    Parameters
    ----------
    program
        The program.
    signals
        What the view holds, in this order.
    scan_us
        The scan period.
    """

    def __init__(self, program: Program, signals: Sequence[str], scan_us: int, *, any_preset: bool = False) -> None:
        self.program, self.scan_us, self.any_preset = program, scan_us, any_preset
        written = set(program.writes())
        known = [n for n in program.variables() if "." not in n]
        blocks = {f"{i}" for i in program.instances()}
        self.steps = ProgramSteps(program, (), scan_us, any_preset=any_preset)
        self.inputs = tuple(n for n in self.steps.slots if n not in written and n.partition(".")[0] not in blocks)
        for name in signals:
            if name not in self.steps.place:
                raise RequirementError(
                    f"the program has no signal {name}",
                    where=name,
                    try_this=did_you_mean(name, known) or "a program without a board has only its own bits",
                    code="requirement-signal",
                )
        self.steps.keep(())
        place = self.steps.place
        self._in = [place[n] for n in self.inputs]
        self._view = [place[n] for n in signals]
        # inputs keep no value from scan to scan
        self.steps._dead = sorted({*self.steps._dead, *self._in})
        self._lanes: LaneScan | None = None
        if not self.steps.counts:
            self._lanes = to_lanes(self.steps.lowered)
            dead, size = set(self.steps._dead), self.combinations
            whole = len(self.steps.slots) + len(self.steps.lowered.memory)
            self._telling = sorted({*(i for i in range(whole) if i not in dead), *self._view})
            self._patterns = [alternating(1 << i, size) for i in range(len(self._in))] if size <= MOST_SETS else []

    def first(self) -> Bits:
        """Initial values."""
        state = list(self.steps.fresh())
        for i in self.steps._dead:
            state[i] = 0
        return tuple(state)

    @property
    def combinations(self) -> int:
        """How many sets of inputs there are."""
        return 1 << len(self._in)

    @property
    def effort(self) -> int:
        """One with all lanes at once, else one per set of inputs."""
        return 1 if self._lanes is not None else self.combinations

    def after(self, state: Bits) -> Iterator[tuple[Bits, tuple[int, ...], Choice]]:
        """Every combination of inputs; equal results are given once."""
        if self._lanes is not None:
            yield from self._all_at_once(state, self._lanes)
            return
        met = set()
        for expire in self.steps.expiries(state):
            for choice in product((0, 1), repeat=len(self._in)):
                new, bits = self.steps.step(state, zip(self._in, choice, strict=True), expire)
                view = tuple([bits[i] for i in self._view])
                if (new, view) not in met:
                    met.add((new, view))
                    yield new, view, choice

    def _all_at_once(self, state: Bits, scan: LaneScan) -> Iterator[tuple[Bits, tuple[int, ...], Choice]]:
        """One lane of a long integer per combination of inputs; split by what then differs."""
        every, n = (1 << self.combinations) - 1, len(self.steps.slots)
        lanes = [every if bit else 0 for bit in state]
        bits, cells = lanes[:n], lanes[n:]
        for slot, pattern in zip(self._in, self._patterns, strict=True):
            bits[slot] = pattern
        scan(bits, cells, every)
        after = [*bits, *cells]
        groups = [every]
        for i in self._telling:
            value = after[i]
            if value not in (0, every):
                groups = [part for group in groups for part in (group & value, group & ~value) if part]
        dead = set(self.steps._dead)
        for group in groups:
            lane = group & -group
            new = tuple([int(i not in dead and bool(value & lane)) for i, value in enumerate(after)])
            number = lane.bit_length() - 1
            choice = tuple(number >> i & 1 for i in range(len(self._in)))
            yield new, tuple([int(bool(after[i] & lane)) for i in self._view]), choice

    def follow(self, state: Bits, choice: Choice) -> tuple[Bits, tuple[int, ...]]:
        """``(next state, view)`` after one choice of inputs."""
        new, bits = self.steps.step(state, zip(self._in, choice, strict=True))
        return new, tuple([bits[i] for i in self._view])

    def assumptions(self) -> tuple[str, ...]:
        """What is taken for granted."""
        said = ["every input may take any value in every scan: " + (", ".join(self.inputs) or "there is none")]
        return (*said, *about_timers(self.steps, self.any_preset))


def about_timers(steps: ProgramSteps, any_preset: bool) -> tuple[str, ...]:
    """What a verdict says of the timers."""
    if not steps.timers:
        return ()
    if any_preset:
        return ("true whatever the timers' presets",)
    return (f"timers are counted in scans of {steps.scan_us / 1000:g} ms",)


class NeedsImage(Exception):  # noqa: N818  # a signal between two methods, not an error that anybody sees
    pass

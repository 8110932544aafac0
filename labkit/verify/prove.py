"""The question and its answer: :func:`prove`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from time import perf_counter
from typing import TYPE_CHECKING, Any

from labkit.base import Duration, as_us, need
from labkit.logic import Program, read_program
from labkit.verify._bare import Bare, NeedsImage, System
from labkit.verify._hands import Hands
from labkit.verify._quiet import quiet
from labkit.verify._reach import search_reach
from labkit.verify._search import MOST_TRANSITIONS, Found, search
from labkit.verify._told import bare_story
from labkit.verify.errors import ProofError
from labkit.verify.requirements import CanReach, Requirement, requirement, signals
from labkit.verify.verdict import Story, Verdict

if TYPE_CHECKING:  # a program alone is proved without a board, and without numpy
    from labkit.bench import Bench
    from labkit.verify._systems import Board

__all__ = ["MOST_STATES", "prove", "question"]

MOST_STATES = 1_000_000
"""States at which a proof gives up."""

MOST_SLOW_STATES = 200_000
"""The same where it must go state by state: some hundred bytes each."""

FEW = 3_000
"""Transitions of the first look, which is the quickest way for what is small."""

_BARE_SCAN_US = 10_000

_Bounds = tuple[int, int | None]


def prove(
    what: Bench | Program | str,
    asked: Requirement | str,
    *,
    board: str | None = None,
    may: Iterable[str] | None = None,
    scan: Duration | None = None,
    one_at_a_time: bool = False,
    held: Duration | None = None,
    most_states: int = MOST_STATES,
    most_scans: int | None = None,
) -> Verdict:
    """Visit everything that can happen, and answer whether a requirement holds.

    Parameters
    ----------
    what
        A bench with a program in it; or a program or its text, which is then put on `board`, or explored alone
        with every input free.
    asked
        A requirement or its text.
    board
        The board of a program.
    may
        What may happen, by name: parts (``"S2"``, ``"F4"``, ``"F3"``, ``"S0"``), ``"power"``, ``"K1.aux"``,
        ``"wire:101"``, ``"panel:PSTART"``, ``"weld:K1"``, and ``"contactor times"``. Without it the hand-worked
        devices whose inputs the program reads.
    scan
        Another scan period: the tick in which timers are counted.
    one_at_a_time
        From one scan to the next one thing changes at most. Fewer ways than a bench has: the verdict says so.
    held
        What is changed stays so for this long or longer, such as the 80 ms of a quick press; counted in whole scans.
    most_states, most_scans
        Bounds; reaching one is an ``undecided``.

    Raises
    ------
    ProofError
        If the question cannot be put: an unknown name, a requirement without form.

    Examples
    --------
    >>> prove("K1 := S1 AND (S2 OR K1);", "whenever not S1 then not K1")
    holds: 2 states, all visited
    >>> prove("K1 := S2 OR (S1 AND K1);", "whenever not S1 then not K1")
    fails: in 1 scans
    """
    began = perf_counter()
    put = _Question(what, asked, board, may, scan)
    put.calm(one_at_a_time=one_at_a_time, held=held)
    verdict = put.answer((most_states, most_scans))
    object.__setattr__(verdict, "ms", (perf_counter() - began) * 1000)
    return verdict


def question(
    what: Bench | Program | str,
    asked: Requirement | str,
    *,
    board: str | None = None,
    may: Iterable[str] | None = None,
    scan: Duration | None = None,
) -> tuple[Bare | Board, Requirement]:
    """The system that :func:`prove` explores for the same arguments, timers counted, and the requirement.

    Raises
    ------
    ProofError
        As :func:`prove`.
    """
    put = _Question(what, asked, board, may, scan)
    return put.system(any_preset=False), put.wanted


class _Question:
    """What is asked, of what."""

    def __init__(
        self,
        what: Bench | Program | str,
        asked: Requirement | str,
        board: str | None,
        may: Iterable[str] | None,
        scan: Duration | None,
    ) -> None:
        self.wanted = requirement(asked)
        self.order = {name: i for i, name in enumerate(signals(self.wanted))}
        self.one_at_a_time, self.held_us = False, 0
        self.bench: Bench | None = None
        if not isinstance(what, str | Program):
            if scan is not None:
                raise ProofError(
                    "a bench has its own scan", try_this="make it with Bench(board, scan=...)", code="proof-scan"
                )
            from labkit.bench import Bench

            need(what, Bench, "a program or a bench", "give the program's text, or the bench that it is loaded on")
            self.bench = what
        elif board is not None:
            from labkit.bench import Bench

            self.bench = Bench(board, scan=scan)
            self.bench.load(read_program(what) if isinstance(what, str) else what)
        elif may is not None:
            raise ProofError(
                "a program alone has only inputs",
                try_this='put it on a board: prove(..., board="orchard", may=[...])',
                code="proof-thing",
            )
        if self.bench is not None:
            from labkit.verify.surroundings import things

            names = None if may is None else list(may)
            self.any_times = names is not None and "contactor times" in names
            self.moving = things(self.bench, None if names is None else [n for n in names if n != "contactor times"])
            self.program = self.bench.engine.controller.program
        else:
            assert isinstance(what, str | Program)
            self.program = read_program(what) if isinstance(what, str) else what
            self.scan_us = _BARE_SCAN_US if scan is None else as_us(scan, "the scan")

    def calm(self, *, one_at_a_time: bool, held: Duration | None) -> None:
        """Let calm hands work: see :class:`Hands`."""
        self.one_at_a_time = one_at_a_time
        self.held_us = 0 if held is None else as_us(held, "held")

    def hands(self, system: Bare | Board) -> Hands | None:
        """The system under calm hands, if they are asked for."""
        if not self.one_at_a_time and not self.held_us:
            return None
        if isinstance(system, Bare):
            places, beside = [2] * len(system.inputs), []
        else:
            places, beside = [len(t.positions) for t in system.things], [*system._times, range(1)]
        held = -(-self.held_us // system.scan_us)
        return Hands(system, places, beside, one_at_a_time=self.one_at_a_time, held_scans=held)

    def system(self, *, any_preset: bool) -> Bare | Board:
        """A fresh system."""
        if self.bench is not None:
            from labkit.verify._systems import Board

            return Board(self.bench, self.moving, tuple(self.order), any_times=self.any_times, any_preset=any_preset)
        assert self.program is not None
        return Bare(self.program, tuple(self.order), self.scan_us, any_preset=any_preset)

    def answer(self, bounds: _Bounds) -> Verdict:
        """The verdict: a first look state by state, and the gates where that would be long."""
        long = False
        if self.one_at_a_time or self.held_us:
            return self._calmly(bounds)
        for any_preset in _abstractions(self.program, self.wanted):
            system = self.system(any_preset=any_preset)
            if isinstance(system, Bare) and system.combinations > FEW and not isinstance(self.wanted, CanReach):
                long, system = True, self.system(any_preset=False)
                break
            found = self._look(system, bounds, FEW)
            long = found.bound == f"{FEW} transitions"
            if found.outcome == "holds" or not any_preset:
                break
        said = system.assumptions()
        if long and not isinstance(self.wanted, CanReach):
            found, said = self._long(system, bounds)
        story = self._story(system, found) if found.outcome == "fails" else None
        return _verdict(self.wanted, found, said, story)

    def _calmly(self, bounds: _Bounds) -> Verdict:
        """State by state with exact timers: with fewer choices there is less to visit, and nothing to abstract."""
        system = self.system(any_preset=False)
        few = (min(bounds[0], MOST_SLOW_STATES), bounds[1])
        found = self._look(system, few, MOST_TRANSITIONS)
        story = self._story(system, found) if found.outcome == "fails" else None
        calm = self.hands(system)
        assert calm is not None
        return _verdict(self.wanted, found, calm.assumptions(), story)

    def _look(self, system: Bare | Board, bounds: _Bounds, most_transitions: int) -> Found:
        asked, order = self.wanted, self.order
        bound = {"most_states": bounds[0], "most_scans": bounds[1]}
        if not isinstance(asked, CanReach):
            bound["most_transitions"] = most_transitions
        try:
            return _search(self.hands(system) or system, asked, order, **bound)
        except NeedsImage:
            assert not isinstance(system, Bare)
            system.keep_image()
            return _search(self.hands(system) or system, asked, order, **bound)

    def _long(self, system: Bare | Board, bounds: _Bounds) -> tuple[Found, tuple[str, ...]]:
        """Through gates; state by state where the electrical map is too large to be solved beforehand."""
        from labkit.verify._refine import search_gates

        try:
            found, exact = search_gates(system, self.wanted, most_states=bounds[0], most_scans=bounds[1])
        except ProofError as wrong:
            if wrong.code != "proof-export":
                raise
            few = (min(bounds[0], MOST_SLOW_STATES), bounds[1])
            return self._look(system, few, MOST_TRANSITIONS), system.assumptions()
        free = [t.instance for t in system.steps.timers if t.instance not in exact]
        said = system.assumptions()
        if found.outcome == "holds" and free:
            said = (*said, "true whatever the presets of " + ", ".join(free))
        return found, said

    def _story(self, system: Bare | Board, found: Found) -> Story:
        path = found.path
        if not self.one_at_a_time and not self.held_us:  # calm hands have few ways, and these are theirs
            things = len(system.inputs if isinstance(system, Bare) else system.things)
            path = quiet(system, path, things, self.wanted, self.order)
        if isinstance(system, Bare):
            return bare_story(system, path, self.order)
        from labkit.verify._replay import board_story

        return board_story(system, self.wanted, path, self.order)


def _search(system: System, asked: Requirement, order: dict[str, int], **bounds: Any) -> Found:
    if isinstance(asked, CanReach):
        return search_reach(system, asked, order, **bounds)
    return search(system, asked, order, **bounds)


def _abstractions(program: Program | None, asked: Requirement) -> tuple[bool, ...]:
    """First with timers that may be over at any scan: what holds there holds for every preset.

    More ways than there are say nothing of what can be reached, so that question goes to the exact model at once.
    """
    if program is None or isinstance(asked, CanReach):
        return (False,)
    timed = any(t in ("TON", "TOF", "TP") for t in program.instances().values())
    return (True, False) if timed else (False,)


def _verdict(asked: Requirement, found: Found, assumptions: tuple[str, ...], story: Story | None) -> Verdict:
    if story is not None and isinstance(asked, CanReach):
        story = replace(story, ending=f"from here on {asked.goal} cannot come true, whatever is done")
    return Verdict(
        found.outcome,
        asked,
        found.states,
        found.depth,
        story,
        found.bound,
        found.outcome == "holds" and not found.triggered,
        assumptions,
    )

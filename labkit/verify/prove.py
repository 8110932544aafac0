"""The question and its answer: :func:`prove`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from time import perf_counter
from typing import Any

from labkit.base import Duration, as_us
from labkit.bench import Bench
from labkit.logic import Program, read_program
from labkit.verify._reach import search_reach
from labkit.verify._replay import bare_story, board_story
from labkit.verify._search import Found, search
from labkit.verify._systems import Bare, Board, System, _NeedsImage
from labkit.verify.errors import ProofError
from labkit.verify.requirements import CanReach, Requirement, requirement, signals
from labkit.verify.surroundings import things
from labkit.verify.verdict import Story, Verdict

__all__ = ["MOST_STATES", "prove"]

MOST_STATES = 200_000
"""States at which a proof gives up; some hundred bytes each."""

_BARE_SCAN_US = 10_000

_Bounds = tuple[int, int | None]


def prove(
    what: Bench | Program | str,
    asked: Requirement | str,
    *,
    board: str | None = None,
    may: Iterable[str] | None = None,
    scan: Duration | None = None,
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
    wanted = requirement(asked)
    names = signals(wanted)
    order = {name: i for i, name in enumerate(names)}
    if board is not None and not isinstance(what, Bench):
        program = read_program(what) if isinstance(what, str) else what
        what = Bench(board, scan=scan)
        what.load(program)
    elif isinstance(what, Bench) and scan is not None:
        raise ProofError("a bench has its own scan", try_this="make it with Bench(board, scan=...)", code="proof-scan")
    if isinstance(what, Bench):
        verdict = _on_board(what, wanted, order, may, (most_states, most_scans))
    else:
        if may is not None:
            raise ProofError(
                "a program alone has only inputs",
                try_this='put it on a board: prove(..., board="orchard", may=[...])',
                code="proof-thing",
            )
        program = read_program(what) if isinstance(what, str) else what
        scan_us = _BARE_SCAN_US if scan is None else as_us(scan, "the scan")
        verdict = _alone(program, wanted, order, scan_us, (most_states, most_scans))
    object.__setattr__(verdict, "ms", (perf_counter() - began) * 1000)
    return verdict


def _alone(program: Program, asked: Requirement, order: dict[str, int], scan_us: int, bounds: _Bounds) -> Verdict:
    for any_preset in _abstractions(program, asked):
        system = Bare(program, tuple(order), scan_us, any_preset=any_preset)
        found = _search(system, asked, order, most_states=bounds[0], most_scans=bounds[1])
        if found.outcome == "holds" or not any_preset:
            break
    story = bare_story(system, found.path, order) if found.outcome == "fails" else None
    return _verdict(asked, found, system.assumptions(), story)


def _on_board(
    bench: Bench, asked: Requirement, order: dict[str, int], may: Iterable[str] | None, bounds: _Bounds
) -> Verdict:
    names = None if may is None else list(may)
    any_times = names is not None and "contactor times" in names
    moving = things(bench, None if names is None else [n for n in names if n != "contactor times"])
    program = bench.engine.controller.program
    for any_preset in _abstractions(program, asked):
        system = Board(bench, moving, tuple(order), any_times=any_times, any_preset=any_preset)
        try:
            found = _search(system, asked, order, most_states=bounds[0], most_scans=bounds[1])
        except _NeedsImage:
            system.keep_image()
            found = _search(system, asked, order, most_states=bounds[0], most_scans=bounds[1])
        if found.outcome == "holds" or not any_preset:
            break
    story = board_story(system, asked, found.path, order) if found.outcome == "fails" else None
    return _verdict(asked, found, system.assumptions(), story)


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

"""The benches of a variant: how each setup is wired at the start, and which faults are drawn into it.

What is drawn is found from the variant's seed whenever it is needed; it stands nowhere.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import lru_cache

from labkit.base import LabkitError, did_you_mean
from labkit.bench import Bench, PowerGate
from labkit.board import Board, Wire, Wiring, load_board
from labkit.faults import Fault, every_single_fault, put_in
from labkit.faults.inject import Solved
from labkit.lessons._document import CouldExplainTask, HuntTask, LessonFile
from labkit.lessons._draw import Draw
from labkit.lessons._setups import Setup
from labkit.lessons._shared import Shared
from labkit.lessons.errors import LessonError
from labkit.lessons.variants import Variant

__all__ = ["Benches", "bonds", "drawn_board", "numbers_of", "rewired", "setup_of"]

_RANGE = re.compile(r"(\d+)-(\d+)")
_CODE = re.compile(r"[FD]\d\d")


def drawn_board(name: str) -> Board:
    """A board as its document has it; a shipped one is read once.

    Raises
    ------
    BoardError
        If there is no such board.
    """
    return load_board(name) if name.endswith(".toml") else _shipped_board(name)


@lru_cache(maxsize=4)
def _shipped_board(name: str) -> Board:
    return load_board(name)


def setup_of(file: LessonFile, key: str) -> Setup:
    """The setup of this key; ``""`` and ``start`` are the lesson's own."""
    return file.start if key in ("", "start") else file.setups[key]


def numbers_of(file: LessonFile, wiring: Wiring, names: Iterable[str]) -> tuple[str, ...]:
    """Wire numbers of groups, single numbers and ranges such as ``101-112`` (of those that there are)."""
    found: dict[str, None] = {}
    for name in names:
        for word in file.wire_groups.get(name, (name,)):
            spread = _RANGE.fullmatch(word)
            if spread is None:
                found[wiring.wire(word).no] = None
                continue
            low, high = int(spread[1]), int(spread[2])
            found |= {w.no: None for w in wiring if w.no.isdecimal() and low <= int(w.no) <= high}
    return tuple(found)


def bonds(board: Board) -> tuple[str, ...]:
    """Numbers of the wires that bond a supply's 0 V to earth."""
    minus = {part.terminal(supply.minus) for part, supply in board.supplies}
    return tuple(w.no for w in board.wiring if len(w.ends & board.earth_terminals) == 1 and w.ends & minus)


def rewired(file: LessonFile, board: Board, setup: Setup, variant: Variant, *, floating: bool = False) -> Wiring:
    """The board's wiring as a setup has it.

    Raises
    ------
    LessonError
        If the setup names a wire or a terminal that is not there.
    """
    try:
        wiring = Wiring() if setup.wiring == "bare" else board.wiring
        if setup.wiring != "bare":
            gone = dict.fromkeys(numbers_of(file, wiring, (variant.fill(name) for name in setup.off)))
            gone |= dict.fromkeys(bonds(board) if floating else ())
            wiring = wiring.without(*gone)
        for move in setup.moved:
            end, to = (board.terminal(variant.fill(t)).id for t in (move.end, move.to))
            wiring = wiring.moved(move.wire, end=end, to=to)
        for w in setup.add:
            a, b = (board.terminal(variant.fill(t)).id for t in (w.a, w.b))
            wiring = wiring.with_wire(Wire(w.no, a, b, colour=w.colour, mm2=w.mm2, m=w.m))
    except LabkitError as exc:
        raise LessonError(exc.what, where=f"setup: {exc.where}", try_this=exc.try_this, code="lesson-setup") from None
    return wiring


class Benches:
    """Makes the benches of one variant.

    Parameters
    ----------
    file, variant, board
        The lesson, the student's variant, and its board.
    new
        Makes a bench of the variant with a wiring, everything off.
    shared
        What the benches of equal variants share.
    """

    def __init__(
        self, file: LessonFile, variant: Variant, board: Board, new: Callable[[Wiring], Bench], shared: Shared
    ) -> None:
        self.file, self.variant, self.board = file, variant, board
        self._new = new
        self._draw = Draw(variant.seed)
        self._shared = shared
        self._wirings: dict[str, Wiring] = {}

    def wiring(self, setup: str) -> Wiring:
        """The wiring at the start."""
        setup = setup or "start"
        if setup not in self._wirings:
            self._wirings[setup] = self._wired(setup)
        return self._wirings[setup]

    def _wired(self, setup: str) -> Wiring:
        entry = setup_of(self.file, setup)
        floating = self._draw.pick(f"supply/{setup}", entry.supply) == "floating"
        return rewired(self.file, self.board, entry, self.variant, floating=floating)

    def make(self, setup: str = "start", faults: Iterable[Fault] | None = None, *, gate: bool = False) -> Bench:
        """A fresh bench, everything off; `faults` in place of those that the lesson hides in it.

        Raises
        ------
        LessonError
            If the board cannot have what the lesson asks for.
        """
        setup = setup or "start"
        entry = setup_of(self.file, setup)
        wiring = self.wiring(setup)
        if wiring not in self._shared.first:
            self._shared.first[wiring] = self._new(wiring)
        bench = self._shared.first[wiring].again()
        try:
            for part in entry.removed:
                bench.remove(part)
            for block in entry.parked:
                bench.park(block)
            for block in entry.pulled:
                bench.pull(block)
            hidden = self.hidden(setup) if faults is None else tuple(faults)
            if hidden:
                put_in(bench, *hidden, solved=self._shared.solved(wiring, hidden))
        except LabkitError as exc:
            raise LessonError(exc.what, where=f"setup {setup}", try_this=exc.try_this, code="lesson-setup") from None
        bench.log.clear()
        if gate and entry.gate:
            bench.gate = PowerGate(bench)
        return bench

    def wired(self, wiring: Wiring, blocks: Mapping[str, str]) -> Bench:
        """A bench with a wiring that was handed in, its terminal blocks off, parked or seated as it says.

        Raises
        ------
        LabkitError
            If the board has no such block.
        """
        bench = self._new(wiring)
        for block, state in blocks.items():
            if state == "parked":
                bench.park(block)
            elif state != "seated":
                bench.pull(block)
                if state != "off":
                    bench.seat(block, on=state.removeprefix("seated on "))
        return bench

    # faults ---------------------------------------------------------------------------------------
    def catalogue(self, setup: str = "start") -> dict[str, Fault]:
        """Every single fault of the board as the setup wires it."""
        wiring, known = self.wiring(setup), self._shared.catalogues
        if wiring not in known:
            known[wiring] = {fault.id: fault for fault in every_single_fault(replace(self.board, wiring=wiring))}
        return known[wiring]

    def solved(self, setup: str, fault: Fault) -> Solved:
        """Networks of the boards of a setup with a fault in, with what has been solved in them."""
        return self._shared.solved(self.wiring(setup), (fault,))

    def pool(self, entries: Iterable[str], setup: str = "start") -> tuple[Fault, ...]:
        """The faults of a pool: each entry is a fault's id or a code of the catalogue, such as ``F12``.

        Raises
        ------
        LessonError
            If an entry stands for no fault of this board.
        """
        known = self.catalogue(setup)
        found: dict[str, Fault] = {}
        for entry in entries:
            name = self.variant.fill(entry)
            some = [f for f in known.values() if f.code == name] if _CODE.fullmatch(name) else []
            some = some or ([known[name]] if name in known else [])
            if not some:
                raise LessonError(
                    f"this board has no fault {name}",
                    where="pool",
                    try_this=did_you_mean(name, known),
                    code="lesson-fault",
                )
            found |= {fault.id: fault for fault in some}
        return tuple(found.values())

    def hidden(self, setup: str = "start") -> tuple[Fault, ...]:
        """The faults that the variant hides in the benches of a setup."""
        return tuple(
            self._draw.pick(f"hidden/{entry.id}", self.pool(entry.pool, setup))
            for entry in self.file.hidden
            if (setup or "start") in entry.setups
        )

    def hunted(self, task: HuntTask) -> tuple[Fault, tuple[Fault, ...]]:
        """The fault that is in, and all suspects in the catalogue's order."""
        pool = self.pool(task.pool, task.setup)
        truths = self.pool(task.truths, task.setup) if task.truths else pool
        return self._among(f"hunt/{task.id}", truths, pool, task.suspects, task.setup)

    def explained(self, task: CouldExplainTask) -> tuple[Fault, tuple[Fault, ...]]:
        """The fault that was seen at work, and all that are asked about."""
        look = task.seen[0]
        run = next(run for run in (*self.file.runs, *self.file.checks) if run.id == look.run)
        setup = look.setup or run.setup
        pool = self.pool(task.pool, setup)
        truths = self.pool(task.truths, setup) if task.truths else pool
        return self._among(f"explain/{task.id}", truths, pool, task.ask, setup)

    def _among(
        self, label: str, truths: tuple[Fault, ...], pool: tuple[Fault, ...], count: int, setup: str
    ) -> tuple[Fault, tuple[Fault, ...]]:
        truth = self._draw.pick(label, truths)
        others = [f for f in self._draw.shuffled(f"{label}/others", pool) if f.id != truth.id][: count - 1]
        drawn = {truth.id, *(f.id for f in others)}
        return truth, tuple(f for f in self.catalogue(setup).values() if f.id in drawn)

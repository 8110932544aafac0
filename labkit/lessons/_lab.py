"""The bench of a variant: board and tags with the student's points and names, and scenarios played on it.

Everything that judges goes through a :class:`Lab`. It keeps what it has computed, for one variant and one
marking; two labs of one variant give the same answers.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from types import MappingProxyType
from typing import Any

from labkit.base import LabkitError, us
from labkit.bench import Bench, Trace
from labkit.board import Board, load_board
from labkit.controller import Tag, TagTable
from labkit.lessons._document import Run
from labkit.lessons._files import LessonSource
from labkit.lessons._stand import Stand
from labkit.lessons._steps import Script, compile_steps
from labkit.lessons._text import fill, relabel, span_us
from labkit.lessons.errors import LessonError
from labkit.lessons.variants import Variant
from labkit.logic import Program, read_program

__all__ = ["Lab", "Played"]

_RANGE = re.compile(r"(.+) to (.+) by (.+)")


@dataclass(frozen=True, slots=True)
class Played:
    """A scenario that was played: what was done, and what was recorded, both counted from its beginning."""

    script: Script
    trace: Trace
    program: Program


class Lab:
    """Board, tags and scenarios of one variant of a lesson.

    Parameters
    ----------
    lesson, variant
        The lesson and the student's variant of it.

    Raises
    ------
    LessonError
        If the lesson asks for something that its board does not have.
    """

    def __init__(self, lesson: LessonSource, variant: Variant) -> None:
        self.lesson = lesson
        self.variant = variant
        self._programs: dict[str, Program] = {}
        self._stand = Stand(self.bench)

    @cached_property
    def board(self) -> Board:
        """The lesson's board with this variant's pull-in time, and its input wires where the variant lands them."""
        board = load_board(self.lesson.file.board)
        variant = self.variant
        wiring = board.wiring
        moves = []
        for old, new in variant.moved.items():
            for wire in board.wiring.at(f"A1:{old}"):
                moves.append((wire.no, f"A1:{old}", f"A1:{new}"))
        for number, end, to in moves:
            wiring = wiring.moved(number, end=end, to=to)
        names = {variant.points[role]: name for role, name in variant.names.items() if role in variant.points}
        points = {}
        for old, point in board.points.items():
            place = variant.moved.get(old, old)
            points[place] = replace(point, point=place, tag=names.get(place, point.tag))
        in_order = {place: points[place] for place in board.points}
        for part in board.of_kind("contactor"):
            entry: Any = part.entry  # a contactor's record, by its kind
            coil = entry.coil.model_copy(update={"operate_us": variant.pull_in_us})
            board = board.with_part(replace(part, entry=entry.model_copy(update={"coil": coil})))
        return replace(board, wiring=wiring, points=MappingProxyType(in_order))

    @cached_property
    def tags(self) -> TagTable:
        """The board's points under this variant's names, its memory roles, and the spare bits."""
        roles = {self.variant.names[role.id]: role for role in self.lesson.file.roles}
        tags = [
            Tag(p.tag, p.direction, p.point, comment=roles[p.tag].what if p.tag in roles else p.comment)
            for p in self.board.points.values()
            if p.tag
        ]
        for role in self.lesson.file.roles:
            if not role.point:
                tags.append(Tag(self.variant.names[role.id], "memory", retain=role.retain, comment=role.what))
        tags += [Tag(name, "memory", comment="spare bit") for name in self.lesson.file.spare_bits]
        return TagTable(tags)

    def bench(self) -> Bench:
        """A fresh bench of this variant, everything off."""
        return Bench(
            self.board,
            family=self.lesson.file.family,
            tags=self.tags,
            scan=us(self.variant.scan_us),
            filter=us(self.variant.filter_us),
        )

    # programs -------------------------------------------------------------------------------------
    def program_text(self, key: str) -> str:
        """A program of the lesson with this variant's names."""
        names = {role.upper(): name for role, name in self.variant.names.items()}
        return relabel(self.lesson.programs[key], names)

    def program(self, key: str) -> Program:
        """A program of the lesson, read."""
        if key not in self._programs:
            try:
                self._programs[key] = read_program(self.program_text(key), name=key)
            except LabkitError as exc:
                raise LessonError(
                    exc.what, where=f"programs.{key}: {exc.where}", try_this=exc.try_this, code="lesson-program"
                ) from None
        return self._programs[key]

    # scenarios ------------------------------------------------------------------------------------
    def variations(self, run: Run) -> Iterator[dict[str, str]]:
        """Every combination of a run's varied values, in the document's order."""
        names = list(run.vary)
        for values in product(*(self._spread(values) for values in run.vary.values())):
            yield dict(zip(names, values, strict=True))

    def _spread(self, values: tuple[str, ...]) -> list[str]:
        """The values, with each ``"0 ms to 1 scan by 0.8 ms"`` (the end left out) written out."""
        spread: list[str] = []
        for value in values:
            found = _RANGE.fullmatch(value)
            if found is None:
                spread.append(value)
                continue
            start, end, step = (span_us(text, self.variant.symbols) for text in found.groups())
            if step <= 0:
                raise LessonError(f"the step of {value!r} is not above 0", where="vary", code="lesson-span")
            spread += [f"{at / 1000:g} ms" for at in range(start, end, step)]
        return spread

    def words(self, more: Mapping[str, str]) -> dict[str, str]:
        """The variant's words with `more`, which may use the variant's words themselves."""
        return {**self.variant.words, **{key: fill(value, self.variant.words) for key, value in more.items()}}

    def symbols(self, more: Mapping[str, str]) -> dict[str, int]:
        """The variant's spans with those of `more` that are spans."""
        symbols = dict(self.variant.symbols)
        for key, value in more.items():
            try:
                symbols[key] = span_us(value, self.variant.symbols)
            except LessonError:
                continue  # a word, not a span
        return symbols

    def script(self, run: Run, more: Mapping[str, str]) -> Script:
        """A run with every name and time known."""
        given = self.lesson.file.states[run.given] if run.given else ()
        return compile_steps(
            (*given, *run.steps),
            words=self.words(more),
            symbols=self.symbols(more),
            wire_at=self.wire_at,
            start_after=len(given),
        )

    def play(self, program: Program, run: Run, more: Mapping[str, str], *, only: Iterable[str] | None = None) -> Played:
        """Load a program on a bench that is all off and at rest, do what the run says, record it.

        All of it is recorded, or `only` these signals, which is quicker and gives the same changes of them.

        Raises
        ------
        LabkitError
            If the controller refuses the program, or the bench fails with it.
        """
        script = self.script(run, more)
        return Played(script, self._stand.play(program, script, only), program)

    def try_load(self, program: Program) -> None:
        """Load a program on the variant's controller and do nothing with it.

        Raises
        ------
        LabkitError
            If the controller refuses it.
        """
        self._stand.load(program)

    def measure(self, program: Program, run: Run, red: str, black: str) -> float:
        """Volts between two terminals at the end of a run."""
        self.play(program, run, {}, only=())
        return float(self._stand.bench.meter.peek("volts", red, black))

    def wire_at(self, terminal: str) -> str:
        """The number of the one wire at a terminal.

        Raises
        ------
        LessonError
            If there is none, or more than one.
        """
        wires = self.board.wiring.at(self.board.terminal(terminal).id)
        if len(wires) != 1:
            numbers = ", ".join(wire.no for wire in wires) or "no wire"
            raise LessonError(
                f"a step lifts the wire at {terminal}, but {numbers} ends there",
                try_this="name a terminal with one wire",
                code="lesson-step",
            )
        return wires[0].no

"""What the bench really does: cells, choices, readings and searched numbers, computed for one variant."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any

from labkit.lessons._alike import Alike
from labkit.lessons._document import (
    Check,
    ChoiceTask,
    Expect,
    Look,
    NumberTask,
    PredictTask,
    ReadingTask,
    Run,
    Search,
)
from labkit.lessons._judge import Break, first_break
from labkit.lessons._judge_requirement import Proofs
from labkit.lessons._lab import Lab, Played
from labkit.lessons._looks import Seen
from labkit.lessons._text import fill, span_us
from labkit.lessons.errors import LessonError
from labkit.lessons.variants import Cell
from labkit.logic import Program

__all__ = ["Outcome", "Truth"]

_STRIDE_MS = 4


@dataclass(frozen=True)
class Outcome:
    """The word for what happened in a run, and how to play it again with everything recorded."""

    word: str
    run: Run
    more: Mapping[str, str]
    whole: Callable[[], Played]

    @cached_property
    def played(self) -> Played:
        """The run with a full recording: a reason is told from it."""
        return self.whole()


class Truth:
    """Truths of one lab; each is computed once."""

    def __init__(self, lab: Lab) -> None:
        self.lab = lab
        self._outcomes: dict[tuple[str, str, tuple[tuple[str, str], ...]], Outcome] = {}
        self._numbers: dict[str, int] = {}
        self.searched: dict[str, dict[str, Any]] = {}  # a good search for each hunt, where somebody asked for it
        self.alike = Alike(lab)
        self.proofs = Proofs(lab, self.alike)

    # what a run comes to --------------------------------------------------------------------------
    def cell(self, task: PredictTask, cell: Cell) -> Outcome:
        """The outcome of one cell of a predict table."""
        column = next(column for column in task.columns if column.id == cell.column)
        return self.outcome(cell.row, column.program, column.words)

    def chosen(self, task: ChoiceTask) -> str:
        """The id of the right option of any choice."""
        if task.look is None:
            return self.choice(task)[0]
        band = self.seen(task).band
        for option in task.options:
            if option.word == band:
                return option.id
        raise LessonError(
            f"no option of {task.id} stands for {band!r}, which is what is read",
            where=f"task {task.id}",
            code="lesson-truth",
        )

    def choice(self, task: ChoiceTask) -> tuple[str, Outcome]:
        """The id of the right option, and the outcome behind it."""
        outcome = self.outcome(task.run, task.program, {})
        for option in task.options:
            if option.word == outcome.word:
                return option.id, outcome
        raise LessonError(
            f"no option of {task.id} stands for {outcome.word!r}, which is what the bench does",
            where=f"task {task.id}",
            code="lesson-truth",
        )

    def outcome(self, run_id: str, program: str, more: Mapping[str, str]) -> Outcome:
        """The first word whose expectations all hold.

        Raises
        ------
        LessonError
            If no word fits what the bench did: the lesson's words do not cover it.
        """
        key = (run_id, program, tuple(sorted(more.items())))
        if key not in self._outcomes:
            lab = self.lab
            run = lab.lesson.run(run_id)
            whole = partial(self._play, program, run, more)
            self._outcomes[key] = Outcome(self._word(run, program, more, whole), run, more, whole)
        return self._outcomes[key]

    def _play(self, program: str, run: Run, more: Mapping[str, str], *, only: Iterable[str] | None = None) -> Played:
        return self.lab.play(self.lab.program(program), run, more, only=only)

    def _word(self, run: Run, program: str, more: Mapping[str, str], whole: Callable[..., Played]) -> str:
        """The word for what happens in a run, from an equal bench if one has been seen."""
        lab = self.lab

        def fitting() -> str:
            words = lab.lesson.file.outcomes[run.outcomes] if run.outcomes else ()
            seen = whole(only=self._signals([e for outcome in words for e in outcome.expect], more))
            for outcome in words:
                if self.broken(seen, outcome.expect, more) is None:
                    return outcome.word
            raise LessonError(
                f"no word of {run.outcomes!r} fits what the bench did",
                where=f"run {run.id}, program {program}, {lab.variant.summary()}",
                code="lesson-truth",
            )

        return self.alike.once(self.alike.run_key("word", run, program, more), fitting)

    def why_not(self, outcome: Outcome, word: str) -> Break | None:
        """What breaks first if one expects `word` of this outcome."""
        words = self.lab.lesson.file.outcomes[outcome.run.outcomes]
        expected = next(o for o in words if o.word == word)
        return self.broken(outcome.played, expected.expect, outcome.more)

    def broken(self, played: Played, expects: tuple[Expect, ...], more: Mapping[str, str]) -> Break | None:
        """The first expectation that a played run breaks."""
        return first_break(
            played.trace,
            expects,
            marks=played.script.marks,
            words=self.lab.words(more),
            symbols=self.lab.symbols(more),
        )

    def _signals(self, expects: Iterable[Expect], more: Mapping[str, str]) -> frozenset[str]:
        """The signals that expectations look at, of those that the bench has: a wrong name is told by the judge."""
        words = self.lab.words(more)
        return frozenset(fill(expect.signal, words) for expect in expects)

    # behaviours -----------------------------------------------------------------------------------
    def behaviour(
        self,
        program: Program,
        check: Check,
        fixed: Mapping[str, str] | None = None,
        *,
        first: Mapping[str, str] | None = None,
    ) -> tuple[Played, Break, dict[str, str]] | None:
        """The first variation that a program fails, with its recording; None if it shows the behaviour in all.

        `fixed` are further words; the variation `first` is tried before the others.
        """
        failed = self._fails(program, check, fixed, first=first)
        if failed is None:
            return None
        played = self.lab.play(program, check, failed)  # once more with everything recorded, to tell the reason
        broken = self.broken(played, check.expect, failed)
        if broken is None:
            raise LessonError("a run does not repeat", where=f"check {check.id}", code="lesson-truth")
        return played, broken, failed

    def _fails(
        self,
        program: Program,
        check: Check,
        fixed: Mapping[str, str] | None = None,
        *,
        first: Mapping[str, str] | None = None,
    ) -> dict[str, str] | None:
        """The first variation that a program fails; without a `first` it is known from an equal bench."""
        key = None if first is not None else self.alike.run_key("fails", check, program, fixed or {})
        return self.alike.once(key, lambda: self._tried(program, check, fixed, first))

    def _tried(
        self, program: Program, check: Check, fixed: Mapping[str, str] | None, first: Mapping[str, str] | None
    ) -> dict[str, str] | None:
        every = [{**varied, **(fixed or {})} for varied in self.lab.variations(check)]
        if first is not None:
            every.sort(key=lambda more: {**more, **first} != more)
        for more in every:
            seen = self.lab.play(program, check, more, only=self._signals(check.expect, more))
            if self.broken(seen, check.expect, more) is not None:
                return more
        return None

    # numbers --------------------------------------------------------------------------------------
    def number(self, task: NumberTask) -> float:
        """The number in the task's unit, by search or by look."""
        return self.number_us(task) / 1000 if task.look is None else self.figure(self.seen(task), task.unit)

    def number_us(self, task: NumberTask) -> int:
        """The searched number in microseconds: the smallest whole millisecond for which the check holds.

        A longer press contains a shorter one, so the check can only go from failing to holding. The search
        goes up in strides and then in single steps: a value that fails is known by the first variation that
        fails, while one that holds must be tried in all.

        Raises
        ------
        LessonError
            If the check holds already at the lowest value, or not yet at the highest.
        """
        if task.search not in self._numbers:
            search = self.lab.lesson.file.searches[task.search]
            key = self.alike.run_key("number", self._check(search), search.program, {"search": task.search})
            self._numbers[task.search] = self.alike.once(key, lambda: self._search(search))
        return self._numbers[task.search]

    def _search(self, search: Search) -> int:
        low = span_us(search.low, self.lab.variant.symbols) // 1000
        high = span_us(search.high, self.lab.variant.symbols) // 1000
        failed: dict[str, str] | None = None
        check = self._check(search)
        program = self.lab.program(search.program)

        def holds(value_ms: int) -> bool:
            nonlocal failed
            found = self._fails(program, check, {search.variable: f"{value_ms} ms"}, first=failed)
            if found is not None:  # the likeliest to fail for the next value as well
                failed = {key: word for key, word in found.items() if key != search.variable}
            return found is None

        at = low
        while at <= high and not holds(at):
            at += _STRIDE_MS
        if at == low or at > high:
            raise LessonError(
                f"the search from {low} to {high} ms does not enclose the edge", where="searches", code="lesson-truth"
            )
        return next((value for value in range(at - _STRIDE_MS + 1, at) if holds(value)), at) * 1000

    def failing(self, search: Search, value: str) -> tuple[Played, Break, dict[str, str]] | None:
        """The first variation in which the search's check fails for this value."""
        return self.behaviour(self.lab.program(search.program), self._check(search), {search.variable: value})

    def _check(self, search: Search) -> Check:
        return next(c for c in self.lab.lesson.file.checks if c.id == search.check)

    # readings -------------------------------------------------------------------------------------
    def reading(self, task: ReadingTask) -> float:
        """What the meter reads in the task's unit, with six figures after the point; infinite where it shows OL."""
        return self.figure(self.seen(task), task.unit)

    def seen(self, task: ReadingTask | NumberTask | ChoiceTask) -> Seen:
        """What the task's look shows on the variant's bench."""
        if isinstance(task, ReadingTask):
            look = Look(run=task.run, mode=task.mode, red=task.red, black=task.black, wire=task.wire)
            return self.look(look, task.program)
        if task.look is None:
            raise LessonError(f"task {task.id} has no look", where=f"task {task.id}", code="lesson-truth")
        return self.look(task.look)

    def look(self, look: Look, program: str = "") -> Seen:
        """What a look shows on the variant's bench, with the faults that the lesson hides there."""
        return self.lab.look(look, program=program)

    @staticmethod
    def figure(seen: Seen, unit: str) -> float:
        """A reading as a number in this unit."""
        if isinstance(seen.value, str):
            raise LessonError(f"{seen.text!r} is no number", where="look", code="lesson-truth")
        return math.inf if seen.value is None else round(seen.value * (1000 if unit == "mA" else 1), 6) + 0.0

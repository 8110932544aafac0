"""What a student holds: the lesson, a bench of their own, an answer sheet, and one file to hand in."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import Any

from labkit.base import did_you_mean, write_atomic
from labkit.bench import Bench
from labkit.controller import TagTable
from labkit.lessons._document import PredictTask, ProgramTask
from labkit.lessons._files import LessonSource, load_lesson
from labkit.lessons._lab import Lab
from labkit.lessons._truth import Truth
from labkit.lessons._views import Feedback, Progress, TaskView
from labkit.lessons.answers import tidy_answer
from labkit.lessons.errors import LessonError
from labkit.lessons.handin import HandIn, dumps_handin, handin_name
from labkit.lessons.limits import LIMITS
from labkit.lessons.marking import mark_task
from labkit.lessons.sheet import MarkSheet
from labkit.lessons.variants import Variant, variant

__all__ = ["Lesson", "lesson"]


def lesson(lesson_id: str | Path | LessonSource, *, student: str, attempt: int = 1) -> Lesson:
    """A student's copy of a lesson.

    Parameters
    ----------
    lesson_id
        The id of a shipped lesson such as ``"seal-in"``, or the path of a lesson file.
    student
        The student's name; it decides the variant.
    attempt
        1 at first; a re-sit has another variant.

    Raises
    ------
    LessonError
        If there is no such lesson, or the name cannot be used.
    """
    source = lesson_id if isinstance(lesson_id, LessonSource) else load_lesson(lesson_id)
    return Lesson(source, variant(source, student, attempt))


class Lesson:
    """A lesson in a student's hands.

    Parameters
    ----------
    source, variant
        The lesson and this student's variant of it.

    Examples
    --------
    >>> from labkit.base import ms
    >>> work = lesson("seal-in", student="R. Vale")
    >>> work.answer("press-length", ms(30))
    >>> work.progress.answered
    ('press-length',)
    """

    def __init__(self, source: LessonSource, variant: Variant) -> None:
        self.source = source
        self.variant = variant
        self._lab = Lab(source, variant)
        self._truth = Truth(self._lab)
        self._answers: dict[str, Any] = {}
        self._benches: list[Bench] = []

    def __repr__(self) -> str:
        done = f"{len(self.answers)} of {len(self.source.tasks)} answered"
        return f"<Lesson {self.source.id} for {self.variant.student}: {done}>"

    # the bench ------------------------------------------------------------------------------------
    @cached_property
    def _bench(self) -> Bench:
        return self.fresh_bench()

    def bench(self) -> Bench:
        """The student's bench; the same one each time, as it was left."""
        return self._bench

    def fresh_bench(self) -> Bench:
        """Another bench of this variant, everything off; what is done at it goes into the log too."""
        bench = self._lab.bench()
        self._benches.append(bench)
        return bench

    @property
    def tags(self) -> TagTable:
        """The tag table of this variant."""
        return self._lab.tags

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to mind on a real board."""
        return self.source.file.cautions

    @property
    def about(self) -> str:
        """What the lesson is for."""
        return self.variant.fill(self.source.file.about)

    def program(self, key: str) -> str:
        """The text of one of the lesson's open programs, such as ``"hold_output"``, with this variant's names.

        Raises
        ------
        LessonError
            If the lesson has no such program to show; model answers are not shown.
        """
        open_ones = self.programs
        if key not in open_ones:
            raise LessonError(
                f"this lesson shows no program {key!r}", try_this=did_you_mean(key, open_ones), code="lesson-program"
            )
        return self.shown_program(key)

    def shown_program(self, key: str) -> str:
        """The text of any of the lesson's programs with this variant's names."""
        return self._lab.program_text(key)

    @property
    def programs(self) -> Mapping[str, str]:
        """The programs that the tables and tasks show: key to title."""
        keys: dict[str, None] = {}
        for task in self.source.tasks:
            if isinstance(task, PredictTask):
                keys |= dict.fromkeys(column.program for column in task.columns)
            elif isinstance(task, ProgramTask) and task.start_from:
                keys[task.start_from] = None
        return {key: self.source.file.programs[key].title for key in keys}

    # tasks and answers ----------------------------------------------------------------------------
    @property
    def tasks(self) -> tuple[TaskView, ...]:
        """The tasks in their order, with this variant's words."""
        return tuple(TaskView(self, task) for task in self.source.tasks)

    def task(self, task_id: str) -> TaskView:
        """One task.

        Raises
        ------
        LessonError
            If there is none of this id.
        """
        return TaskView(self, self.source.task(task_id))

    def answer(self, task_id: str, value: Any) -> None:
        """Write an answer on the sheet; a later one takes its place. Its form is checked, not whether it is right.

        A table's cells add up: answering some leaves the others as they are.

        Raises
        ------
        LessonError
            If there is no such task.
        AnswerError
            If the value cannot be an answer to it; the sentence says what can.
        """
        task = self.source.task(task_id)
        tidy = tidy_answer(self.source, self.variant, task, value)
        if isinstance(task, PredictTask):
            both = {**self._answers.get(task_id, {}), **tidy}
            tidy = {cell.id: both[cell.id] for cell in self.variant.cells[task_id] if cell.id in both}
        self._answers[task_id] = tidy

    def clear(self, task_id: str) -> None:
        """Take an answer off the sheet."""
        self._answers.pop(self.source.task(task_id).id, None)

    @property
    def answers(self) -> Mapping[str, Any]:
        """The answer sheet in its plain form, in the lesson's order."""
        return {task.id: self._answers[task.id] for task in self.source.tasks if task.id in self._answers}

    @property
    def progress(self) -> Progress:
        """What is answered, and what is not."""
        return Progress(self)

    def check(self, task_id: str) -> Feedback:
        """Feedback on one answer now, where the lesson allows it.

        Raises
        ------
        LessonError
            If there is no such task, or this lesson gives feedback only after the hand-in.
        """
        if not self.source.file.practice:
            raise LessonError(
                "this lesson gives its feedback after the hand-in", try_this="hand in", code="lesson-no-practice"
            )
        task = self.source.task(task_id)
        return Feedback(self.variant.fill(task.title), tuple(mark_task(self._truth, task, self._answers.get(task_id))))

    # handing in -----------------------------------------------------------------------------------
    def as_handin(self) -> HandIn:
        """What would be handed in now."""
        log = [done for bench in self._benches for done in bench.log]
        kept = log[-LIMITS.log_entries.value :]  # the end of a long session says more than its start
        return HandIn(
            lesson=self.source.id,
            edition=self.source.file.edition,
            student=self.variant.student,
            attempt=self.variant.attempt,
            seed=self.variant.seed,
            answers=self.answers,
            log=tuple({"at_ms": done.t_us / 1000, "do": done.do, **done.what} for done in kept),
        )

    def hand_in(self, folder: str | Path = ".") -> Path:
        """Write the hand-in as one file into `folder`, whole or not at all, and give its path.

        Handing in again takes the place of the earlier file of this attempt.
        """
        handin = self.as_handin()
        return write_atomic(Path(folder) / handin_name(handin), dumps_handin(handin))

    def mark(self) -> MarkSheet:
        """The mark sheet of the present answers, for a lesson that gives feedback at once.

        Raises
        ------
        LessonError
            As :meth:`check`.
        """
        from labkit.lessons.marking import mark

        if not self.source.file.practice:
            raise LessonError(
                "this lesson gives its feedback after the hand-in", try_this="hand in", code="lesson-no-practice"
            )
        return mark(self.source, self.variant, self.answers)

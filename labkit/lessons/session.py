"""What a student holds: the lesson, a bench of their own, an answer sheet, and one file to hand in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from labkit.base import LabkitError, did_you_mean, ms
from labkit.bench import Bench
from labkit.controller import TagTable
from labkit.lessons._document import (
    ChoiceTask,
    CouldExplainTask,
    DrillTask,
    HuntTask,
    Look,
    NumberTask,
    PredictTask,
    ProgramTask,
    ReadingTask,
    RowsTask,
    SheetTask,
)
from labkit.lessons._files import LessonSource, load_lesson
from labkit.lessons._forms import searched
from labkit.lessons._keeping import WatchedLog, fitting
from labkit.lessons._kept_sheet import KeptSheet, Log, keep_step
from labkit.lessons._lab import Lab
from labkit.lessons._mark_hunt import live_hunt, search_log
from labkit.lessons._truth import Truth
from labkit.lessons._views import Cautions, Feedback, Progress, TaskView
from labkit.lessons.answers import tidy_for
from labkit.lessons.errors import AnswerError, LessonError
from labkit.lessons.handin import HandIn
from labkit.lessons.limits import LIMITS
from labkit.lessons.marking import mark_task
from labkit.lessons.sheet import MarkSheet
from labkit.lessons.variants import Variant, variant

__all__ = ["Lesson", "lesson"]

_LET_GO = ms(200)


def lesson(
    lesson_id: str | Path | LessonSource, *, student: str = "", attempt: int = 1, keep: str | Path | None = None
) -> Lesson:
    """A student's copy of a lesson.

    Parameters
    ----------
    lesson_id
        The id of a shipped lesson such as ``"seal-in"``, or the path of a lesson file.
    student
        The student's name; it decides the variant.
    attempt
        1 at first; a re-sit has another variant.
    keep
        A folder in which the answer sheet is kept after each answer, and a hunt after each step, and found again when
        the kernel was restarted; left out, nothing is kept before it is handed in. A kept file that is damaged is
        given another name, and :attr:`Lesson.notices` says so.

    Raises
    ------
    LessonError
        If there is no such lesson, or the name cannot be used.
    """
    source = lesson_id if isinstance(lesson_id, LessonSource) else load_lesson(lesson_id)
    return Lesson(source, variant(source, student, attempt), keep=keep)


class Lesson:
    """A lesson in a student's hands.

    Parameters
    ----------
    source, variant
        The lesson and this student's variant of it.
    keep
        See :func:`lesson`.

    Examples
    --------
    >>> from labkit.base import ms
    >>> work = lesson("seal-in", student="R. Vale")
    >>> work.answer("press-length", ms(30))
    >>> work.progress.answered
    ('press-length',)
    """

    def __init__(self, source: LessonSource, variant: Variant, *, keep: str | Path | None = None) -> None:
        self.source = source
        self.variant = variant
        self.lab = Lab(source, variant)
        self._truth = Truth(self.lab)
        self._sheet = KeptSheet(self.lab, self._empty_handin, keep)
        self._answers = self._sheet.answers
        self._benches: list[Bench] = []
        self._own: dict[str, Bench] = {}
        self._hunts: dict[str, Bench] = {}

    def __repr__(self) -> str:
        done = f"{len(self.answers)} of {len(self.source.tasks)} answered"
        return f"<Lesson {self.source.id} for {self.variant.student}: {done}>"

    # the bench ------------------------------------------------------------------------------------
    def bench(self, setup: str = "start") -> Bench:
        """The student's bench, wired as the lesson says; the same one each time, as it was left.

        Raises
        ------
        LessonError
            If the lesson has no such setup.
        """
        if setup not in self._own:
            self._own[setup] = self.fresh_bench(setup)
        return self._own[setup]

    def fresh_bench(self, setup: str = "start") -> Bench:
        """Another bench of this variant, everything off; what is done at it goes into the log too.

        Raises
        ------
        LessonError
            If the lesson has no such setup.
        """
        setups = ("start", *self.source.file.setups)
        if setup not in setups:
            raise LessonError(
                f"this lesson has no bench {setup!r}", try_this=did_you_mean(setup, setups), code="lesson-setup"
            )
        bench = self.lab.bench(setup, gate=True)
        self._benches.append(bench)
        return bench

    def set_up(self, task_id: str, row_id: str = "") -> Bench:
        """A fresh bench in the situation of a task, or of one row of a sheet or drill: read there.

        Raises
        ------
        LessonError
            If there is no such task or row, or it is about no situation.
        """
        task = self.source.task(task_id)
        if isinstance(task, RowsTask):
            rows = {row.id: row for row in task.rows}
            if row_id not in rows:
                raise LessonError(
                    f"{task_id} has no row {row_id!r}",
                    try_this=did_you_mean(row_id, rows) or "rows: " + ", ".join(rows),
                    code="lesson-unknown-row",
                )
            look: Look | None = rows[row_id]
        elif isinstance(task, ReadingTask):
            look = Look(run=task.run, program=task.program)
        else:
            look = task.look if isinstance(task, ChoiceTask | NumberTask) else None
        if look is None:
            raise LessonError(f"{task_id} is about no situation of its own", code="lesson-no-situation")
        bench = self.lab.after(look.run, look.program, setup=look.setup, keep=False)
        self._benches.append(bench)
        return bench

    def hunt_bench(self, task_id: str) -> Bench:
        """The bench of a hunt, with the fault in it; the same one each time. Its log is what is marked.

        After a restart it stands where the search that was kept or handed over left it, with that search's log: what
        was done stays done. A button that was held then has come up.

        Raises
        ------
        LessonError
            If there is no such task, or it is no hunt.
        """
        task = self.source.task(task_id)
        if not isinstance(task, HuntTask):
            hunts = [t.id for t in self.source.tasks if isinstance(t, HuntTask)]
            raise LessonError(
                f"{task_id} is no hunt", try_this="hunts here: " + (", ".join(hunts) or "none"), code="lesson-no-hunt"
            )
        if task_id not in self._hunts:
            self._hunt_again(task)
        return self._hunts[task_id]

    def _hunt_again(self, task: HuntTask) -> None:
        hunt, log = live_hunt(self.lab, task), self._search(task.id)
        try:
            bench = hunt.go_on(search_log(log, hunt.fresh().now_us)) if log else hunt.bench()
        except LabkitError as exc:
            if not self._sheet.is_kept:
                raise
            self._sheet.forget(task.id, exc.what)
            bench = hunt.bench()
        self._hunts[task.id] = bench
        if self._sheet.is_kept:
            bench.log = WatchedLog(bench.log, partial(keep_step, self._sheet, task.id, self._keep))
        for part in bench.board.of_kind("push_button"):
            held = [done for done in bench.log if done.what.get("part") == part.designation]
            if held and held[-1].do == "press" and "hold_ms" not in held[-1].what:
                bench.wait(_LET_GO)  # a press that was seen to do something has done it
                bench.release(part.designation)  # whose finger it was is gone with the kernel

    def _search(self, task_id: str) -> Log:
        """What was done in a hunt so far."""
        if task_id in self._hunts:
            log, cut = searched(self._hunts[task_id].log)
            if cut:
                self._sheet.tell(f"{task_id}: {cut}")
            return log
        return self._sheet.searches.get(task_id, [])

    @property
    def tags(self) -> TagTable:
        """The tag table of this variant."""
        return self.lab.tags

    @property
    def cautions(self) -> Cautions:
        """What to mind on a real board; a notebook shows them as a list."""
        return Cautions(self.source.file.cautions)

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
        return self.lab.program_text(key)

    @property
    def programs(self) -> Mapping[str, str]:
        """The programs that the tables and tasks show: key to title."""
        keys: dict[str, None] = {}
        for task in self.source.tasks:
            if isinstance(task, PredictTask):
                keys |= dict.fromkeys(column.program for column in task.columns if column.program)
            elif isinstance(task, ProgramTask) and task.start_from:
                keys[task.start_from] = None
        return {key: self.source.file.programs[key].title for key in keys if key in self.source.file.programs}

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

        Cells and rows add up: answering some leaves the others as they are. A drill's row is predicted first, and
        its prediction stands once the row is read. The log of :meth:`hunt_bench` goes with a hunt's answer.

        Raises
        ------
        LessonError
            If there is no such task.
        AnswerError
            If the value cannot be an answer to it; the sentence says what can.
        """
        task = self.source.task(task_id)
        tidy = tidy_for(self.lab, task, value)
        before = self._answers.get(task_id, {})
        if isinstance(task, PredictTask):
            both = {**before, **tidy}
            tidy = {cell.id: both[cell.id] for cell in self.variant.cells[task_id] if cell.id in both}
        elif isinstance(task, SheetTask):
            both = {**before, **tidy}
            tidy = {row.id: both[row.id] for row in task.rows if row.id in both}
        elif isinstance(task, DrillTask):
            tidy = _predicted_first(task, before, tidy)
        elif isinstance(task, CouldExplainTask):
            tidy = {**before, **tidy}
        elif isinstance(task, HuntTask):
            tidy["log"] = tidy["log"] or self._search(task_id)
            self._sheet.searches[task_id] = tidy["log"]
        self._answers[task_id] = tidy
        self._keep(task_id)

    def clear(self, task_id: str, part: str = "") -> None:
        """Take an answer off the sheet, or only one cell or row of it.

        Raises
        ------
        LessonError
            If there is no such task.
        """
        answer = self._answers.get(self.source.task(task_id).id)
        if part and isinstance(answer, dict) and len(answer) > 1:
            self._answers[task_id] = {key: value for key, value in answer.items() if key != part}
        elif not part or (isinstance(answer, dict) and part in answer):
            self._answers.pop(task_id, None)
        self._keep(task_id)

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

    # hints ----------------------------------------------------------------------------------------
    def take_hint(self, task_id: str) -> str:
        """The next hint of a task; how many were taken goes into the hand-in, and costs nothing.

        Raises
        ------
        LessonError
            If there is no such task, or no further hint.
        """
        view = self.task(task_id)
        taken = self._sheet.hints.get(task_id, 0)
        if taken >= view.hints:
            raise LessonError(
                f"that was the last of {taken} hints" if taken else "this task has no hints", code="lesson-hint"
            )
        self._sheet.hints[task_id] = taken + 1
        self._keep(task_id)
        return view.hint(taken + 1)

    @property
    def hints_taken(self) -> Mapping[str, int]:
        """Task id to how many of its hints were taken."""
        return dict(self._sheet.hints)

    @property
    def practice(self) -> bool:
        """Whether this lesson gives feedback at once."""
        return self.source.file.practice

    # handing in -----------------------------------------------------------------------------------
    def as_handin(self) -> HandIn:
        """What would be handed in now."""
        now = [{"at_ms": done.t_us / 1000, "do": done.do, **done.what} for bench in self._benches for done in bench.log]
        # the end of a long session says more than its start
        kept = (*self._sheet.log_before, *now)[-LIMITS.log_entries.value :]
        return fitting(replace(self._empty_handin, answers=self.answers, log=kept, hints=self.hints_taken))

    @property
    def _empty_handin(self) -> HandIn:
        """An empty hand-in of this student's."""
        mine = self.variant
        return HandIn(self.source.id, self.source.file.edition, mine.student, mine.attempt, mine.seed)

    def hand_in(self, folder: str | Path = ".") -> Path:
        """Write the hand-in as one file into `folder`, whole or not at all, and give its path.

        Handing in again takes the place of the earlier file of this attempt. An earlier file that cannot be read, or
        that has more than this sheet, is kept beside it under another name; :attr:`notices` says which.

        Raises
        ------
        LessonError
            If nothing is answered here and the earlier file has answers: a restarted kernel must not wipe them out.
        """
        return self._sheet.hand_in(folder, self.as_handin())

    @property
    def notices(self) -> tuple[str, ...]:
        """What happened to this student's files that a person should know; each is also written to stderr at once."""
        return tuple(self._sheet.notices)

    def _keep(self, task_id: str) -> None:
        """Have the sheet written down after something was changed in a task."""
        if self._sheet.is_kept:
            for hunt in self._hunts:
                keep_step(self._sheet, hunt, self._keep_search)
            self._sheet.keep(task_id, self.as_handin, self._hunts)

    def _keep_search(self, task_id: str) -> None:
        self._sheet.searches[task_id] = self._search(task_id)

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


def _predicted_first(
    task: DrillTask, before: Mapping[str, dict[str, Any]], tidy: Mapping[str, dict[str, Any]]
) -> dict[str, dict[str, Any]]:
    """The rows of a drill with what is new: nothing is read before it is predicted, nothing predicted after."""
    both = {key: dict(row) for key, row in before.items()}
    for key, new in tidy.items():
        row = both.setdefault(key, {})
        if "read" in row and new.get("predicted", row.get("predicted")) != row.get("predicted"):
            raise AnswerError(
                f"row {key} was predicted as {row['predicted']} and has been read: the prediction stands",
                where=f"task {task.id}",
                try_this="leave it: a prediction that the meter did not bear out is what a drill is for",
                code="answer-predicted",
            )
        if "read" in new and "predicted" not in {**row, **new}:
            raise AnswerError(
                f"row {key} is read before it is predicted",
                where=f"task {task.id}",
                try_this=f'predict first: {{"{key}": {{"predicted": 24}}}}',
                code="answer-predict-first",
            )
        row |= new
    return {row.id: both[row.id] for row in task.rows if both.get(row.id)}

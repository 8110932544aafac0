"""How a student's lesson shows itself: its tasks, what is answered, what was said about an answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from labkit.lessons._document import ChoiceTask, PredictTask, ProgramTask, Task
from labkit.lessons.answers import cell_words
from labkit.lessons.errors import LessonError
from labkit.lessons.sheet import MarkLine

if TYPE_CHECKING:
    from labkit.lessons.session import Lesson

__all__ = ["Feedback", "Progress", "TaskView"]


class Progress:
    """Which tasks have an answer."""

    def __init__(self, work: Lesson) -> None:
        self._work = work

    @property
    def answered(self) -> tuple[str, ...]:
        """Ids of the tasks with an answer."""
        return tuple(self._work.answers)

    @property
    def open(self) -> tuple[str, ...]:
        """Ids of the tasks without an answer, or with open cells."""
        return tuple(task.id for task in self._work.source.tasks if self._left(task))

    def _left(self, task: Task) -> int:
        answer = self._work.answers.get(task.id)
        if answer is None:
            return 1
        return len(self._work.variant.cells[task.id]) - len(answer) if isinstance(task, PredictTask) else 0

    def __str__(self) -> str:
        lines = []
        for task in self._work.source.tasks:
            answer = self._work.answers.get(task.id)
            state = "no answer" if answer is None else "answered"
            if answer is not None and isinstance(task, PredictTask):
                state = f"{len(answer)} of {len(self._work.variant.cells[task.id])} cells"
            lines.append(f"{task.id:14} {state:16} {self._work.variant.fill(task.title)}")
        return "\n".join(lines)

    __repr__ = __str__


class TaskView:
    """One task as the student sees it: every text with this variant's words."""

    def __init__(self, work: Lesson, task: Task) -> None:
        self._work = work
        self.id: str = task.id
        self.kind: str = task.kind
        self._task = task

    @property
    def title(self) -> str:
        """The task's title."""
        return self._work.variant.fill(self._task.title)

    @property
    def prompt(self) -> str:
        """What to do."""
        return self._work.variant.fill(self._task.prompt)

    @property
    def why(self) -> str:
        """Why it is so; to be read after answering."""
        return self._work.variant.fill(self._task.why)

    def hint(self, step: int) -> str:
        """Hint number `step`, counted from 1; each says a little more.

        Raises
        ------
        LessonError
            If there are not so many hints.
        """
        hints = self._task.hints
        if not 1 <= step <= len(hints):
            raise LessonError(
                f"this task has hints 1 to {len(hints)}" if hints else "this task has no hints", code="lesson-hint"
            )
        return self._work.variant.fill(hints[step - 1])

    @property
    def hints(self) -> int:
        """How many hints there are."""
        return len(self._task.hints)

    @property
    def points(self) -> float:
        """Points of all its lines."""
        return sum(line.points for line in self._task.rubric)

    @property
    def start_from(self) -> str:
        """The program that a program task begins with, or ``""``."""
        key = self._task.start_from if isinstance(self._task, ProgramTask) else ""
        return self._work.shown_program(key) if key else ""

    @property
    def cells(self) -> tuple[tuple[str, str, str, tuple[str, ...]], ...]:
        """A table's asked cells: cell id, what happens, column, and the words to choose from."""
        task, work = self._task, self._work
        if not isinstance(task, PredictTask):
            return ()
        columns = {column.id: work.variant.fill(column.label) for column in task.columns}
        return tuple(
            (
                cell.id,
                work.variant.fill(work.source.run(cell.row).title),
                columns[cell.column],
                cell_words(work.source, cell.row),
            )
            for cell in work.variant.cells[task.id]
        )

    @property
    def options(self) -> tuple[tuple[str, str], ...]:
        """A choice's answers: id and text."""
        if not isinstance(self._task, ChoiceTask):
            return ()
        return tuple((option.id, self._work.variant.fill(option.text)) for option in self._task.options)

    @property
    def unit(self) -> str:
        """The unit of a number or a reading, or ``""``."""
        return getattr(self._task, "unit", "")

    @property
    def answered(self) -> bool:
        """Whether something stands on the sheet."""
        return self.id in self._work.answers

    def __repr__(self) -> str:
        out = [f"{self.title}  ({self.kind}, {self.points:g} points)", "", self.prompt]
        if self.cells:
            out += [
                "",
                *(f"  {cell:32} {row} | {column}: {' / '.join(words)}" for cell, row, column, words in self.cells),
            ]
        if self.options:
            out += ["", *(f"  {option}: {text}" for option, text in self.options)]
        if self.start_from:
            out += ["", self.start_from]
        return "\n".join(out)


class Feedback:
    """What :meth:`Lesson.check` says about one answer."""

    def __init__(self, title: str, lines: tuple[MarkLine, ...]) -> None:
        self.title = title
        self.lines = lines

    @property
    def right(self) -> bool:
        """Whether every line that counts is right."""
        return all(line.verdict in ("right", "note") for line in self.lines)

    @property
    def points(self) -> float:
        """Points given."""
        return sum(line.points for line in self.lines)

    @property
    def out_of(self) -> float:
        """Points possible."""
        return sum(line.out_of for line in self.lines)

    def __str__(self) -> str:
        out = [f"{self.title}: {self.points:g} of {self.out_of:g}"]
        for line in self.lines:
            out.append(f"  {line.verdict:14} {line.title}\n{'':17}{line.reason}")
            if line.evidence is not None and line.evidence.text:
                out += [f"{'':17}| {row}" for row in line.evidence.text.split("\n")]
        return "\n".join(out)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        from labkit.lessons._html import feedback_html

        return feedback_html(self.title, self.lines)

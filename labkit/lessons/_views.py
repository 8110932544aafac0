"""How a student's lesson shows itself: its tasks, what is answered, what was said about an answer."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from labkit.lessons._document import (
    ChoiceTask,
    CouldExplainTask,
    HuntTask,
    PredictTask,
    ProgramTask,
    RowsTask,
    Task,
    WiringTask,
)
from labkit.lessons._looks import UNITS, place, probes
from labkit.lessons._mark_hunt import ANSWERS, card_of, suspects_of
from labkit.lessons._mark_wiring import asked_points
from labkit.lessons.answers import cell_words, rows_of
from labkit.lessons.errors import LessonError
from labkit.lessons.sheet import MarkLine

if TYPE_CHECKING:
    from labkit.lessons.session import Lesson

__all__ = ["Cautions", "Feedback", "Progress", "RowView", "TaskView"]


class Cautions(tuple[str, ...]):
    """Sentences to mind on a real board, one a line; a notebook shows them as a list."""

    __slots__ = ()

    def __str__(self) -> str:
        return "\n".join(f"* {said}" for said in self)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return f"<ul>{''.join(f'<li>{escape(said)}</li>' for said in self)}</ul>"


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
        return self._wanted(task) - len(answer) if self._wanted(task) else 0

    def _wanted(self, task: Task) -> int:
        """How many cells or rows an answer has, for those that have any."""
        if isinstance(task, PredictTask):
            return len(self._work.variant.cells[task.id])
        if isinstance(task, RowsTask):
            return len(task.rows)
        return len(self._work.task(task.id).suspects) if isinstance(task, CouldExplainTask) else 0

    def __str__(self) -> str:
        lines = []
        wide = max(14, *(len(task.id) for task in self._work.source.tasks))
        for task in self._work.source.tasks:
            answer = self._work.answers.get(task.id)
            state = "no answer" if answer is None else "answered"
            if answer is not None and self._wanted(task):
                word = "cells" if isinstance(task, PredictTask) else "rows"
                state = f"{len(answer)} of {self._wanted(task)} {word}"
            lines.append(f"{task.id:{wide}} {state:16} {self._work.variant.fill(task.title)}")
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
    def rows(self) -> tuple[RowView, ...]:
        """A sheet's or a drill's rows."""
        task, work = self._task, self._work
        if not isinstance(task, RowsTask):
            return ()
        filled, words = rows_of(work.lab, task)
        fill = work.variant.fill
        return tuple(
            RowView(
                key,
                fill(row.what),
                fill(work.source.run(row.run).title),
                place(row),
                row.mode,
                UNITS.get(row.mode, ""),
                words[key],
                probes(row),
            )
            for key, row in filled.items()
        )

    @property
    def card(self) -> tuple[str, ...]:
        """What was reported and seen, of a hunt or a question whether a fault could explain it."""
        return card_of(self._work.lab, self._task) if isinstance(self._task, HuntTask | CouldExplainTask) else ()

    @property
    def suspects(self) -> tuple[tuple[str, str, str], ...]:
        """Faults on the card: id, location, cause."""
        if not isinstance(self._task, HuntTask | CouldExplainTask):
            return ()
        return tuple((f.id, f.location, f.cause) for f in suspects_of(self._work.lab, self._task))

    @property
    def locations(self) -> tuple[str, ...]:
        """The places that a hunt's answer can name."""
        return tuple(dict.fromkeys(location for _, location, _ in self.suspects))

    @property
    def causes(self) -> tuple[str, ...]:
        """The causes that a hunt's answer can name."""
        return tuple(dict.fromkeys(cause for _, _, cause in self.suspects))

    @property
    def choices(self) -> tuple[str, ...]:
        """The words to choose from for each fault on the card, or none."""
        return ANSWERS if isinstance(self._task, CouldExplainTask) else ()

    @property
    def points_asked(self) -> tuple[tuple[str, str, str, str], ...]:
        """The points of a wiring task: point, tag, device, comment."""
        if not isinstance(self._task, WiringTask):
            return ()
        lab = self._work.lab
        points = [lab.board.points[name] for name in asked_points(lab, self._task)]
        return tuple((p.point, p.tag, p.device, p.comment) for p in points)

    @property
    def setup(self) -> str:
        """The bench that a wiring task or a hunt is about, for :meth:`Lesson.bench`."""
        return getattr(self._task, "setup", "") or "start"

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
        out += ["", *self.card] if self.card else []
        out += [
            f"  {row.id:16} {row.what} | {row.situation} | {row.place}" + f" ({row.unit})" * bool(row.unit)
            for row in self.rows
        ]
        out += [f"  {fault:24} {location}: {cause}" for fault, location, cause in self.suspects]
        out += [f"  {point:5} {tag:10} {comment}" for point, tag, _, comment in self.points_asked]
        return "\n".join(out)


@dataclass(frozen=True, slots=True)
class RowView:
    """One row of a sheet or a drill, as the student sees it.

    Parameters
    ----------
    id, what
        Of the row.
    situation
        The state of the bench in which it is read.
    place
        Where the probes or the eyes go.
    mode, unit
        Of the meter; the unit is ``""`` for a look.
    choices
        The words to choose from; none for a number.
    probes
        `place` as names: a wire, a part or point, or the red and the black terminal.
    """

    id: str
    what: str
    situation: str
    place: str
    mode: str
    unit: str
    choices: tuple[str, ...]
    probes: tuple[str, ...] = ()


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

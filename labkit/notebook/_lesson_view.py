"""A lesson as one piece: its tasks in a list, one task with its form, hints in steps, the check, the hand-in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ipywidgets import Box as IBox
from ipywidgets import Layout, VBox

from labkit.notebook._answer_form import AnswerForm
from labkit.notebook._console import AFTER_CELL
from labkit.notebook._page import picture
from labkit.notebook.task_help import TaskHelp
from labkit.notebook.task_list import TaskList

__all__ = ["LessonView", "lesson_view"]


class LessonView(IBox):
    """The tasks of a lesson in a student's hands.

    What is answered here and what is answered from code is the same sheet. The check marks an answer now where
    the lesson allows that; where it does not, there is no such button.

    Parameters
    ----------
    lesson
        A :class:`labkit.lessons.Lesson`.
    folder
        Where the hand-in is written.

    Notes
    -----
    ``.form`` is the form of the task that is shown.
    """

    def __init__(self, lesson: Any, *, folder: str | Path = ".") -> None:
        self.lesson = lesson
        self.folder = Path(folder)
        self._forms: dict[str, AnswerForm] = {}
        self._checked: dict[str, tuple[object, Any]] = {}  # task -> the answer that was checked, and what was said
        self._glance: object = None
        self.task_list = TaskList(
            lesson.variant.fill(lesson.source.file.title),
            lesson.variant.student,
            choose=self.choose,
            hand_in=self.hand_in,
        )
        self.task_help = TaskHelp(
            {"hint": self.hint, "check": self.check, "onward": self.onward}, can_check=lesson.practice
        )
        # only the form changes its place: what has the focus below it keeps the focus
        self._place = VBox()
        right = VBox([self._place, self.task_help], layout=Layout(flex="1 1 420px", min_width="0", max_width="790px"))
        super().__init__(
            [self.task_list, right],
            layout=Layout(flex_flow="row wrap", grid_gap="14px", align_items="flex-start"),
        )
        AFTER_CELL.add(self)
        open_now = lesson.progress.open
        self.choose(open_now[0] if open_now else lesson.tasks[0].id)

    # what is done ----------------------------------------------------------------------------------
    def choose(self, task_id: str) -> None:
        """Show one task.

        Raises
        ------
        LessonError
            If the lesson has no such task.
        """
        task = self.lesson.task(task_id)
        if task.id not in self._forms:
            self._forms[task.id] = AnswerForm(self.lesson, task.id, changed=self.refresh)
        self.task_list.chosen = task.id
        self._place.children = (self._forms[task.id],)
        self._glance = None
        self.refresh()

    @property
    def form(self) -> AnswerForm:
        """The form of the task that is shown."""
        return self._forms[self.task_list.chosen]

    def hint(self) -> None:
        """Show the next hint of the task; the lesson counts it.

        Raises
        ------
        LessonError
            If there is none left.
        """
        self.lesson.take_hint(self.task_list.chosen)
        self._glance = None
        self.refresh()

    def check(self) -> None:
        """Mark the shown task's answer now.

        Raises
        ------
        LessonError
            If this lesson gives feedback only after the hand-in.
        """
        task_id = self.task_list.chosen
        self.form.flush()
        self._checked[task_id] = (self.lesson.answers.get(task_id), self.lesson.check(task_id))
        self._glance = None
        self.refresh()

    def onward(self) -> None:
        """Show the next task that is open."""
        following = self._next_open()
        if following:
            self.choose(following)

    def _next_open(self) -> str:
        ids = [task.id for task in self.lesson.tasks]
        here = ids.index(self.task_list.chosen)
        open_now = self.lesson.progress.open
        return next((task for task in (*ids[here + 1 :], *ids[:here]) if task in open_now), "")

    def hand_in(self) -> None:
        """Write the hand-in and say where it is."""
        for form in self._forms.values():
            form.flush()
        told = len(self.lesson.notices)
        path = self.lesson.hand_in(self.folder)
        left = len(self.lesson.progress.open)
        still = (
            f" {left} task{'s are' if left > 1 else ' is'} still open: you can go on and hand in again." if left else ""
        )
        kept = "".join(f" {notice}" for notice in self.lesson.notices[told:])
        self.task_list.handed_in = f"Written: {path.resolve()}.{still}{kept}"
        self.refresh()

    # what is seen ----------------------------------------------------------------------------------
    def refresh(self) -> None:
        """Read the sheet again and show it."""
        answers = self.lesson.answers
        glance = (repr(answers), self.task_list.chosen)
        if glance == self._glance:
            return
        self._glance = glance
        shown = self.lesson.task(self.task_list.chosen)
        self.task_list.rows = [self._row(task, answers) for task in self.lesson.tasks]
        taken = self.lesson.hints_taken.get(shown.id, 0)
        self.task_help.hints = [shown.hint(k) for k in range(1, taken + 1)]
        self.task_help.more = shown.hints - taken
        said = self._still_said(shown.id, answers)
        self.task_help.verdict = said._repr_html_() if said is not None else ""
        self.task_help.why = f"Why: {shown.why}" if said is not None and said.right and shown.why else ""
        following = self._next_open()
        self.task_help.onward = self.lesson.task(following).title if following else ""

    def _still_said(self, task_id: str, answers: Any) -> Any:
        """What the check said, as long as the answer is the one that was checked."""
        answer, said = self._checked.get(task_id, (None, None))
        return said if said is not None and answer == answers.get(task_id) else None

    def _row(self, task: Any, answers: Any) -> list[str]:
        state = told = "open"
        if task.id in answers:
            state, told = "answered", "answered"
            if task.id in self.lesson.progress.open:
                asked = len(task.cells or task.rows or task.suspects)
                state, told = "partly", f"{_whole(answers[task.id])} of {asked} answered"
        said = self._still_said(task.id, answers)
        if said is not None and state != "open":
            state = "right" if said.right else "look again"
            told = f"checked: {said.points:g} right"
        return [task.id, task.title, _points(task.points), state, told]

    # still forms -----------------------------------------------------------------------------------
    def in_words(self) -> str:
        """The state in words."""
        return self.task_list.in_words()

    def svg(self) -> str:
        """The still picture: the list of the tasks."""
        return self.task_list.svg()

    def __repr__(self) -> str:
        done = len(self.lesson.tasks) - len(self.lesson.progress.open)
        return f"LessonView({self.lesson.source.id}: {done} of {len(self.lesson.tasks)} answered)"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs)
        data, meta = bundle if isinstance(bundle, tuple) else (bundle or {}, {})
        return dict(data) | {"text/plain": repr(self), "text/html": picture(self.svg(), self.in_words())}, meta


def _whole(answer: Any) -> int:
    """How many cells or rows are answered; one that is predicted but not read is not yet."""
    rows = answer.values() if isinstance(answer, dict) else ()
    return sum(1 for row in rows if not (isinstance(row, dict) and "predicted" in row and "read" not in row))


def _points(points: float) -> str:
    return f"{points:g} point{'' if points == 1 else 's'}"


def lesson_view(lesson: Any, *, folder: str | Path = ".") -> LessonView:
    """The lesson as one piece; see :class:`LessonView`."""
    return LessonView(lesson, folder=folder)

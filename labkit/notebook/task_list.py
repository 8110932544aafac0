"""A lesson's tasks in a list: which is open, answered, checked; and the button that hands in."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar

import traitlets

from labkit.notebook._page import script, sheet
from labkit.notebook._stills import words
from labkit.notebook._widget import BenchWidget, Command, Spec, Word

__all__ = ["TaskList"]

SIGNS = {"open": "\N{WHITE CIRCLE}", "partly": "\N{CIRCLE WITH LEFT HALF BLACK}", "answered": "\N{BLACK CIRCLE}"} | {
    "right": "\N{CHECK MARK}",
    "look again": "!",
}
"""A state's sign: told by its shape first."""


class TaskList(BenchWidget):
    """The list of a :class:`~labkit.notebook.LessonView`; it shows and asks, the view does.

    Parameters
    ----------
    heading
        The lesson's title.
    choose, hand_in
        What is called with a task's id when it is chosen, and when the student hands in.
    """

    _esm = script("task_list")
    _css = sheet("task_list")
    spec: ClassVar[Spec] = {"choose": {"task": Word(60)}, "hand_in": {}}
    heading = traitlets.Unicode("").tag(sync=True)
    student = traitlets.Unicode("").tag(sync=True)
    rows: Any = traitlets.List(help="task id, title, points in words, state, state in words").tag(sync=True)
    chosen = traitlets.Unicode("", help="id of the task that is shown").tag(sync=True)
    handed_in = traitlets.Unicode("", help="where the file is, once it is written").tag(sync=True)

    def __init__(
        self, heading: str, student: str, *, choose: Callable[[str], None], hand_in: Callable[[], None]
    ) -> None:
        self._choose, self._hand_in = choose, hand_in
        super().__init__(heading=heading, student=student)

    def _obey(self, command: Command) -> str | None:
        if command.do == "choose":
            self._choose(str(command.get("task", "")))
        else:
            self._hand_in()
        return None

    def in_words(self) -> str:
        """The state in words."""
        return f"{self.heading}: " + "; ".join(f"{title}, {told}" for _, title, _, _, told in self.rows)

    def svg(self) -> str:
        """The still picture: a line for each task."""
        lines = [f"{SIGNS[state]}  {title} ({points}): {told}" for _, title, points, state, told in self.rows]
        return words(f"{self.heading}, {self.student}", *lines, *([self.handed_in] if self.handed_in else []))

"""Beside a task's form: hints one after the other, the check where the lesson allows it, the next task."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar

import traitlets

from labkit.notebook._page import script, sheet
from labkit.notebook._stills import words
from labkit.notebook._widget import BenchWidget, Command, Spec

__all__ = ["TaskHelp"]


class TaskHelp(BenchWidget):
    """The lower half of a :class:`~labkit.notebook.LessonView`; it shows and asks, the view does.

    Parameters
    ----------
    deeds
        Command -> what is called: ``"hint"``, ``"check"``, ``"onward"``.
    can_check
        Whether this lesson gives feedback before the hand-in.
    """

    _esm = script("task_help")
    _css = sheet("task_help")
    spec: ClassVar[Spec] = {"hint": {}, "check": {}, "onward": {}}
    hints: Any = traitlets.List(help="the hints that were asked for, in words").tag(sync=True)
    more = traitlets.Int(0, help="how many hints are left").tag(sync=True)
    can_check = traitlets.Bool(False).tag(sync=True)
    verdict = traitlets.Unicode("", help="the check's result as a page piece, made and escaped by labkit").tag(
        sync=True
    )
    why = traitlets.Unicode("", help="why it is so, once the answer is right").tag(sync=True)
    checked = traitlets.Int(0, help="counts the checks, so that the page knows one has ended").tag(sync=True)
    onward = traitlets.Unicode("", help="title of the next open task").tag(sync=True)

    def __init__(self, deeds: dict[str, Callable[[], None]], *, can_check: bool) -> None:
        self._deeds = deeds
        super().__init__(can_check=can_check)

    def _handle(self, message: object) -> None:
        super()._handle(message)
        if isinstance(message, dict) and message.get("do") == "check":
            self.checked += 1  # also after a refusal: the page waits for it

    def _obey(self, command: Command) -> str | None:
        self._deeds[command.do]()
        return None

    def in_words(self) -> str:
        """The state in words."""
        return "; ".join([f"hint {k}: {hint}" for k, hint in enumerate(self.hints, 1)] or ["no hint taken"])

    def svg(self) -> str:
        """The still picture: the hints that were taken."""
        return words(*self.in_words().split("; "))

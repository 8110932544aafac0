"""A task's answer as a form: choose words, type a number, write a program. The sheet is filled as one goes."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any

from ipywidgets import HTML, Layout, VBox

from labkit.base import LabkitError
from labkit.notebook._answer_bench import BENCH_KINDS
from labkit.notebook._answer_plain import PLAIN_KINDS, prose
from labkit.notebook._page import picture
from labkit.notebook._stills import words
from labkit.notebook.said_line import SaidLine

__all__ = ["AnswerForm", "answer_form"]

_STYLE = f"<style>{(Path(__file__).parent / 'answer_form.css').read_text('utf-8')}</style>"


class AnswerForm(VBox):
    """The form of one task of a lesson in a student's hands.

    Parameters
    ----------
    lesson
        A :class:`labkit.lessons.Lesson`.
    task_id
        The task.
    changed
        Called after each answer that went onto the sheet.

    Notes
    -----
    ``.fields`` maps a cell, row or suspect id (or ``"answer"``) to its widget, for whoever wants to work it from code.
    """

    def __init__(self, lesson: Any, task_id: str, *, changed: Callable[[], None] | None = None) -> None:
        self.lesson = lesson
        self.task = lesson.task(task_id)
        self.fields: dict[str, Any] = {}
        self.pending: Callable[[], None] | None = None
        """What puts on the sheet what stands in the form but was not put there yet."""
        self.look: Callable[[], None] | None = None
        """What reads the sheet and the bench again, for a form that shows them."""
        self._changed = changed
        self.said = SaidLine()
        points = f"{self.task.points:g} point{'' if self.task.points == 1 else 's'}"
        head = HTML(
            f"{_STYLE}<div><b role='heading' aria-level='4'>{escape(self.task.title)}</b> ({points})</div>"
            f"<div class='lk-words'>{prose(self.task.prompt)}</div>"
        )
        build = (PLAIN_KINDS | BENCH_KINDS)[self.task.kind]
        rows = build(self, lesson.answers.get(self.task.id))
        super().__init__([head, *rows, self.said], layout=Layout(max_width="790px"))
        self.add_class("lk-form").add_class("lk-keys")

    def __repr__(self) -> str:
        return f"AnswerForm({self.task.id}: {self.task.title})"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs)
        data, meta = bundle if isinstance(bundle, tuple) else (bundle or {}, {})
        text = f"Answer form: {self.task.title} (needs a running kernel)"
        return dict(data) | {"text/plain": repr(self), "text/html": picture(words(text), text)}, meta

    def flush(self) -> None:
        """Put on the sheet what was typed but not put there, such as a program's text."""
        if self.pending is not None:
            self.pending()

    def refresh(self) -> None:
        """Read the sheet and the bench again."""
        if self.look is not None:
            self.look()

    def put(self, value: Any, *, told: str = "") -> bool:
        """Write a value on the sheet and say so, with what was read of it; returns whether it could be one."""
        before = len(self.lesson.notices)
        try:
            self.lesson.answer(self.task.id, value)
        except LabkitError as wrong:
            self.say(str(wrong), good=False)
            return False
        told = "; ".join([*([told] if told else []), *self.lesson.notices[before:]])
        self.say(f"on the sheet: {told}" if told else "on the sheet", good=True)
        if self._changed is not None:
            self._changed()
        return True

    def take_off(self, part: str = "") -> None:
        """A field was emptied: take its answer off the sheet, all of it or one cell or row, and say so."""
        answer = self.lesson.answers.get(self.task.id)
        if answer is None or (part and part not in answer):
            self.say("left open", good=True)
            return
        self.lesson.clear(self.task.id, part)
        self.say("taken off the sheet", good=True)
        if self._changed is not None:
            self._changed()

    def refuse(self, sentence: str, part: str = "") -> None:
        """Say why what was typed cannot be an answer, and what the sheet has meanwhile."""
        answer = self.lesson.answers.get(self.task.id)
        there = answer if not part else (answer or {}).get(part)
        stays = "" if there is None else "; what was on the sheet before stays there"
        self.say(sentence + stays, good=False)

    def say(self, text: str, *, good: bool) -> None:
        """Tell below the form how it went."""
        self.said.say(text, good=good)


def answer_form(lesson: Any, task_id: str) -> AnswerForm:
    """The form of one task; see :class:`AnswerForm`."""
    return AnswerForm(lesson, task_id)

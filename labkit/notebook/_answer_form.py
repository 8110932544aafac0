"""A task's answer as a form: choose words, type a number, write a program. The sheet is filled as one goes."""

from __future__ import annotations

from html import escape
from typing import Any

from ipywidgets import HTML, Box, Button, Dropdown, Layout, RadioButtons, Text, Textarea, VBox

from labkit.base import LabkitError
from labkit.notebook._page import picture
from labkit.notebook._stills import words

__all__ = ["AnswerForm", "answer_form"]

_NONE = "-"
_WIDE = Layout(width="auto", max_width="760px")


class AnswerForm(VBox):
    """The form of one task of a lesson in a student's hands.

    Parameters
    ----------
    lesson
        A :class:`labkit.lessons.Lesson`.
    task_id
        The task.

    Notes
    -----
    ``.fields`` maps a cell id (or ``"answer"``) to its widget, for whoever wants to work it from code.
    """

    def __init__(self, lesson: Any, task_id: str) -> None:
        self.lesson = lesson
        self.task = lesson.task(task_id)
        self.fields: dict[str, Any] = {}
        self.said = HTML()
        head = HTML(
            f"<b>{escape(self.task.title)}</b> ({self.task.points:g} points)"
            f"<div style='max-width:760px; line-height:1.45'>{escape(self.task.prompt)}</div>"
        )
        super().__init__([head, *self._rows(), self.said])

    def __repr__(self) -> str:
        return f"AnswerForm({self.task.id}: {self.task.title})"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs)
        data, meta = bundle if isinstance(bundle, tuple) else (bundle or {}, {})
        text = f"Answer form: {self.task.title} (needs a running kernel)"
        return dict(data) | {"text/plain": repr(self), "text/html": picture(words(text), text)}, meta

    def _rows(self) -> list[Any]:
        build = {
            "predict": self._table,
            "choice": self._choice,
            "program": self._program,
            "number": self._quantity,
            "reading": self._quantity,
        }[self.task.kind]
        return build(self.lesson.answers.get(self.task.id))

    def _table(self, before: Any) -> list[Any]:
        rows = []
        for cell, row, column, choice in self.task.cells:
            drop = Dropdown(
                options=[_NONE, *choice],
                value=(before or {}).get(cell, _NONE),
                layout=Layout(width="250px"),
                tooltip=f"{row}, {column}",
            )
            drop.observe(lambda change, cell=cell: self._put({cell: change["new"]}, change["new"]), "value")
            self.fields[cell] = drop
            label = HTML(f"{escape(row)} <b>&nbsp;{escape(column)}</b>", layout=Layout(width="500px"))
            rows.append(Box([label, drop], layout=Layout(flex_flow="row wrap", align_items="center")))
        return rows

    def _choice(self, before: Any) -> list[Any]:
        options = [("not answered yet", _NONE), *((text, option) for option, text in self.task.options)]
        radio = RadioButtons(options=options, value=before or _NONE, layout=_WIDE)
        radio.observe(lambda change: self._put(change["new"], change["new"]), "value")
        self.fields["answer"] = radio
        return [radio]

    def _quantity(self, before: Any) -> list[Any]:
        unit = self.task.unit
        text = Text(
            value="" if not before else f"{before['value']:g}", placeholder=f"a number, in {unit}", layout=_WIDE
        )
        text.continuous_update = False
        text.observe(lambda change: self._put_number(change["new"], unit), "value")
        self.fields["answer"] = text
        return [Box([text, HTML(f"&nbsp;{escape(unit)}")])]

    def _program(self, before: Any) -> list[Any]:
        area = Textarea(value=(before or {}).get("text", self.task.start_from), rows=9, layout=_WIDE)
        area.style.font_family = "monospace"  # columns carry meaning in ladder text
        button = Button(description="Put on the sheet", tooltip="Read the program and write it on the answer sheet")
        button.on_click(lambda _: self._put(area.value, area.value.strip() or _NONE))
        self.fields["answer"] = area
        return [area, button]

    def _put_number(self, text: str, unit: str) -> None:
        try:
            value: Any = (float(text.strip().removesuffix(unit).replace(",", ".")), unit)
        except ValueError:
            if text.strip():
                self._say(f"{text.strip()!r} is not a number; write for example 30", good=False)
                return
            value = None
        self._put(value, _NONE if value is None else text)

    def _put(self, value: Any, shown: str) -> None:
        if shown == _NONE:
            self._say("left open", good=True)
            return
        try:
            self.lesson.answer(self.task.id, value)
        except LabkitError as wrong:
            self._say(str(wrong), good=False)
            return
        self._say("on the sheet", good=True)

    def _say(self, text: str, *, good: bool) -> None:
        sign = "&#10003;" if good else "!"
        self.said.value = (
            f"<span role='status'><b>{sign}</b> <span style='white-space:pre-wrap'>{escape(text)}</span></span>"
        )


def answer_form(lesson: Any, task_id: str) -> AnswerForm:
    """The form of one task; see :class:`AnswerForm`."""
    return AnswerForm(lesson, task_id)

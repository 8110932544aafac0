"""The instructor's key: model answers and listed wrong answers, for any student's variant."""

from __future__ import annotations

from typing import Any

from labkit.lessons._document import ChoiceTask, NumberTask, PredictTask, ProgramTask, Task, WrongAnswer
from labkit.lessons._files import LessonSource
from labkit.lessons._lab import Lab
from labkit.lessons._text import span_us
from labkit.lessons._truth import Truth
from labkit.lessons.answers import cell_words
from labkit.lessons.variants import Variant

__all__ = ["model_answers", "wrong_answer"]


def model_answers(lesson: LessonSource, variant: Variant) -> dict[str, Any]:
    """A full-marks answer to every task, in the form in which a hand-in holds it.

    Programs are the lesson's; everything else is what this variant's bench does, so it takes as long as
    marking does.

    Raises
    ------
    LessonError
        If the lesson is wrong in itself.
    """
    truth = Truth(Lab(lesson, variant))
    return {task.id: _model(truth, task) for task in lesson.tasks}


def _model(truth: Truth, task: Task) -> Any:
    if isinstance(task, ProgramTask):
        return {"text": truth.lab.program_text(task.model)}
    if isinstance(task, PredictTask):
        return {cell.id: truth.cell(task, cell).word for cell in truth.lab.variant.cells[task.id]}
    if isinstance(task, ChoiceTask):
        return truth.choice(task)[0]
    if isinstance(task, NumberTask):
        return _quantity(truth.number_us(task) / 1000, task.unit)
    return _quantity(truth.reading(task), task.unit)


def wrong_answer(lesson: LessonSource, variant: Variant, wrong: WrongAnswer) -> Any:
    """A listed wrong answer for this variant. Cells whose row does not know the word are left open."""
    task = lesson.task(wrong.task)
    if isinstance(task, ProgramTask):
        return {"text": Lab(lesson, variant).program_text(wrong.program)}
    if isinstance(task, PredictTask):
        return {cell.id: wrong.word for cell in variant.cells[task.id] if wrong.word in cell_words(lesson, cell.row)}
    if isinstance(task, ChoiceTask):
        return wrong.word
    if wrong.span:
        return _quantity(span_us(wrong.span, variant.symbols) / 1000, task.unit)
    return _quantity(wrong.value or 0.0, task.unit)


def _quantity(value: float, unit: str) -> dict[str, Any]:
    return {"value": int(value) if value == int(value) else value, "unit": unit}

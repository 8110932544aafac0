"""The instructor's key: model answers and listed wrong answers, for any student's variant."""

from __future__ import annotations

import math
from typing import Any

from labkit.faults import Fault
from labkit.lessons._benches import rewired
from labkit.lessons._document import (
    ChoiceTask,
    CouldExplainTask,
    HuntTask,
    NumberTask,
    PredictTask,
    ProgramTask,
    ReadingTask,
    RowsTask,
    SheetTask,
    Task,
    WiringTask,
    WrongAnswer,
)
from labkit.lessons._files import LessonSource
from labkit.lessons._forms import tidy_wiring
from labkit.lessons._key_logs import dead_first_log, model_hunt, wrong_hunt
from labkit.lessons._lab import Lab
from labkit.lessons._looks import OL, Seen
from labkit.lessons._mark_hunt import ANSWERS, could_explain, suspects_of
from labkit.lessons._setups import Setup
from labkit.lessons._text import span_us
from labkit.lessons._truth import Truth
from labkit.lessons.answers import cell_words
from labkit.lessons.variants import Variant

__all__ = ["hidden_faults", "hunted_faults", "model_answers", "model_with", "wrong_answer", "wrong_with"]


def model_answers(lesson: LessonSource, variant: Variant) -> dict[str, Any]:
    """A full-marks answer to every task, in the form in which a hand-in holds it.

    Programs are the lesson's; everything else is what this variant's bench does, so it takes as long as
    marking does.

    Raises
    ------
    LessonError
        If the lesson is wrong in itself.
    """
    return model_with(Truth(Lab(lesson, variant)))


def model_with(truth: Truth) -> dict[str, Any]:
    """The same from truths that are known already."""
    return {task.id: _model(truth, task) for task in truth.lab.lesson.tasks}


def _model(truth: Truth, task: Task) -> Any:
    if isinstance(task, ProgramTask):
        return {"text": truth.lab.program_text(task.model)}
    if isinstance(task, PredictTask):
        return {cell.id: truth.cell(task, cell).word for cell in truth.lab.variant.cells[task.id]}
    if isinstance(task, ChoiceTask):
        return truth.chosen(task)
    if isinstance(task, NumberTask):
        return _quantity(truth.number(task), task.unit)
    if isinstance(task, ReadingTask):
        reading = truth.reading(task)
        return _quantity(OL if math.isinf(reading) else reading, task.unit)
    if isinstance(task, WiringTask):
        return tidy_wiring(truth.lab.board.wiring) | {"log": dead_first_log()}
    if isinstance(task, RowsTask):
        shown = {row.id: _shown(truth.look(row)) for row in task.rows}
        if isinstance(task, SheetTask):
            return {key: {"value": value} for key, value in shown.items()}
        return {key: {"predicted": value, "read": value} for key, value in shown.items()}
    if isinstance(task, HuntTask):
        return _hunted(truth, task)
    return {key: ANSWERS[0] if could else ANSWERS[1] for key, (could, _) in could_explain(truth.lab, task).items()}


def _hunted(truth: Truth, task: HuntTask) -> dict[str, Any]:
    """A good search, made once for one variant."""
    if task.id not in truth.searched:
        truth.searched[task.id] = model_hunt(truth.lab, task)
    return dict(truth.searched[task.id])


def _shown(seen: Seen) -> float | str:
    return OL if seen.value is None else seen.value


def hidden_faults(lesson: LessonSource, variant: Variant) -> dict[str, tuple[Fault, ...]]:
    """What is wrong with each bench of a variant: setup to faults; sound ones are left out.

    The setup ``start`` is what ``lesson.bench()`` gives.

    Raises
    ------
    LessonError
        If the lesson is wrong in itself.
    """
    benches = Lab(lesson, variant).benches
    found = {setup: benches.hidden(setup) for setup in ("start", *lesson.file.setups)}
    return {setup: faults for setup, faults in found.items() if faults}


def hunted_faults(lesson: LessonSource, variant: Variant) -> dict[str, tuple[Fault, tuple[Fault, ...]]]:
    """The fault that is in, and all suspects, for each hunt and each question whether a fault could explain it.

    Raises
    ------
    LessonError
        As :func:`hidden_faults`.
    """
    benches = Lab(lesson, variant).benches
    return {
        task.id: benches.hunted(task) if isinstance(task, HuntTask) else benches.explained(task)
        for task in lesson.tasks
        if isinstance(task, HuntTask | CouldExplainTask)
    }


def wrong_answer(lesson: LessonSource, variant: Variant, wrong: WrongAnswer) -> Any:
    """A listed wrong answer for this variant. Cells whose row does not know the word are left open."""
    return wrong_with(Truth(Lab(lesson, variant)), wrong)


def wrong_with(truth: Truth, wrong: WrongAnswer) -> Any:
    """The same from truths that are known already."""
    lab = truth.lab
    lesson, variant = lab.lesson, lab.variant
    task = lesson.task(wrong.task)
    if isinstance(task, ProgramTask):
        return {"text": lab.program_text(wrong.program)}
    if isinstance(task, PredictTask):
        return {cell.id: wrong.word for cell in variant.cells[task.id] if wrong.word in cell_words(lesson, cell.row)}
    if isinstance(task, ChoiceTask):
        return wrong.word
    if isinstance(task, WiringTask):
        wiring = rewired(lesson.file, lab.board, wrong.wires or Setup(), variant)
        return tidy_wiring(wiring) | {"log": dead_first_log() if wrong.word != "live" else []}
    if isinstance(task, RowsTask):
        answer = _model(truth, task)
        for row, value in wrong.rows.items():
            answer[row] = {"value": value} if isinstance(task, SheetTask) else {"predicted": value, "read": value}
        return answer
    if isinstance(task, HuntTask):
        return wrong_hunt(lab, task, wrong, lambda: _hunted(truth, task))
    if isinstance(task, CouldExplainTask):
        return {fault.id: wrong.word for fault in suspects_of(lab, task)}
    if wrong.span:
        return _quantity(span_us(wrong.span, variant.symbols) / 1000, task.unit)
    return _quantity(wrong.value or 0.0, task.unit)


def _quantity(value: float | str, unit: str) -> dict[str, Any]:
    if isinstance(value, str):
        return {"value": value, "unit": unit}
    return {"value": int(value) if value == int(value) else value, "unit": unit}

"""The form of an answer: what can be written on the sheet. Whether it is right is judged elsewhere.

:func:`tidy_answer` takes what a student gives in a notebook (a program, ``ms(30)``, a dict of words) or what
a hand-in holds (plain JSON) and returns one plain form, so that both are judged alike.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any

from labkit.base import Duration, did_you_mean
from labkit.lessons._document import (
    ChoiceTask,
    DrillTask,
    HuntTask,
    NumberTask,
    PredictTask,
    ProgramTask,
    ReadingTask,
    RowsTask,
    SheetTask,
    Task,
    WiringTask,
)
from labkit.lessons._files import LessonSource
from labkit.lessons._forms import tidy_drill, tidy_hunt, tidy_sheet, tidy_wiring
from labkit.lessons._lab import Lab
from labkit.lessons._looks import OL, choices
from labkit.lessons._mark_hunt import ANSWERS, suspects_of
from labkit.lessons._setups import Row
from labkit.lessons.errors import AnswerError
from labkit.lessons.limits import LIMITS
from labkit.lessons.variants import Variant

__all__ = ["cell_words", "rows_of", "tidy_answer", "tidy_for"]

_QUANTITY = re.compile(r"\s*([+-]?\d{1,9}(?:[.,]\d{1,9})?)\s*([A-Za-zµ]{0,4})\s*")

# unit of a task -> spellings that are taken, and their size in it
_UNITS: dict[str, dict[str, float]] = {
    "ms": {"ms": 1.0, "s": 1000.0, "us": 0.001},
    "V": {"V": 1.0, "mV": 0.001},
    "A": {"A": 1.0, "mA": 0.001},
    "mA": {"mA": 1.0, "A": 1000.0},
    "ohm": {"ohm": 1.0, "Ohm": 1.0, "kohm": 1000.0, "Mohm": 1e6},
}


def cell_words(lesson: LessonSource, row: str) -> tuple[str, ...]:
    """The words that may stand in a cell of this row."""
    return tuple(outcome.word for outcome in lesson.file.outcomes[lesson.run(row).outcomes])


def tidy_answer(lesson: LessonSource, variant: Variant, task: Task, value: Any) -> Any:
    """`value` in its plain form, as it stands in a hand-in.

    Raises
    ------
    AnswerError
        If it cannot be an answer to this task: `what` is a sentence for the student.
    """
    return tidy_for(Lab(lesson, variant), task, value)


def tidy_for(lab: Lab, task: Task, value: Any) -> Any:
    """The same for a lab that is there already.

    Raises
    ------
    AnswerError
        If it cannot be an answer to this task: `what` is a sentence for the student.
    """
    try:
        if isinstance(task, ProgramTask):
            return _program(value)
        if isinstance(task, PredictTask):
            return _table(lab.lesson, lab.variant, task, value)
        if isinstance(task, ChoiceTask):
            return _choice(task, value)
        if isinstance(task, NumberTask | ReadingTask):
            return _quantity(task, value)
        if isinstance(task, WiringTask):
            return tidy_wiring(value)
        if isinstance(task, SheetTask):
            return tidy_sheet(task, *rows_of(lab, task), value)
        if isinstance(task, DrillTask):
            return tidy_drill(task, *rows_of(lab, task), value)
        suspects = [(fault.id, fault.location, fault.cause) for fault in suspects_of(lab, task)]
        if isinstance(task, HuntTask):
            return tidy_hunt(suspects, value)
        return _possible(suspects, value)
    except AnswerError as exc:
        raise AnswerError(exc.what, where=f"task {task.id}", try_this=exc.try_this, code=exc.code) from None


def rows_of(lab: Lab, task: RowsTask) -> tuple[dict[str, Row], dict[str, tuple[str, ...]]]:
    """A sheet's or a drill's rows with the variant's places, and the words of each that takes words."""
    rows = {row.id: lab.filled(row) for row in task.rows}
    return rows, {key: choices(lab.states, row) for key, row in rows.items()}


def _possible(suspects: list[tuple[str, str, str]], value: Any) -> dict[str, str]:
    """``{suspect: "possible" or "impossible"}``."""
    ids = [fault for fault, _, _ in suspects]
    if not isinstance(value, Mapping) or len(value) > LIMITS.rows.value:
        raise AnswerError(
            f"this is answered with a dict of faults, not {_kind(value)}",
            try_this=f'write e.g. {{"{ids[0]}": "possible"}}',
            code="answer-table",
        )
    tidy = {}
    for key, word in value.items():
        if not isinstance(key, str) or key not in ids:
            raise AnswerError(
                f"there is no {str(key)[:60]!r} on the card",
                try_this=did_you_mean(str(key)[:60], ids),
                code="answer-row",
            )
        if word is None or word == "":
            continue
        said = word.strip().casefold() if isinstance(word, str) else word
        if said not in ANSWERS:
            raise AnswerError(
                f"{key}: {str(word)[:40]!r} is not one of the words", try_this=" or ".join(ANSWERS), code="answer-word"
            )
        tidy[key] = said
    return {key: tidy[key] for key in ids if key in tidy}


def _program(value: Any) -> dict[str, str]:
    if isinstance(value, Mapping):
        extra = [key for key in value if key not in ("text", "language")]
        if extra or "text" not in value:
            raise AnswerError("a program answer holds its text", try_this='give {"text": ...}', code="answer-program")
        text = value["text"]
    else:
        text = getattr(value, "text", value)  # a Program keeps the source that it was read from
    if not isinstance(text, str):
        raise AnswerError(
            f"a program is text or what %%ladder gives, not {_kind(value)}",
            try_this="give the name that stands after %%ladder",
            code="answer-program",
        )
    text = text.replace("\r\n", "\n").replace("\r", "\n").strip("\n").rstrip()
    if not text.strip():
        raise AnswerError("the program is empty", try_this="write at least one rung", code="answer-program")
    bad = next((c for c in text if not c.isprintable() and c not in "\n\t"), None)
    if bad is not None:
        raise AnswerError(f"the program holds a control character (code {ord(bad)})", code="answer-program")
    lines = text.split("\n")
    longest = max(map(len, lines))
    for got, limit in (
        (len(text), LIMITS.program_chars),
        (len(lines), LIMITS.program_lines),
        (longest, LIMITS.line_chars),
    ):
        if got > limit.value:
            raise AnswerError(limit.says(got), code="answer-program-size")
    deep = _nesting(text)
    if deep > LIMITS.parens.value:
        raise AnswerError(LIMITS.parens.says(deep), code="answer-program-size")
    return {"text": text}


def _nesting(text: str) -> int:
    depth = deepest = 0
    for char in text:
        depth += (char == "(") - (char == ")")
        deepest = max(deepest, depth)
    return deepest


def _table(lesson: LessonSource, variant: Variant, task: PredictTask, value: Any) -> dict[str, str]:
    """Cells as ``{"row/column": word}``; a dict of dicts ``{row: {column: word}}`` is taken too."""
    if not isinstance(value, Mapping):
        raise AnswerError(
            f"a table is answered with a dict of cells, not {_kind(value)}",
            try_this='write e.g. {"row/column": "word"}',
            code="answer-table",
        )
    flat: dict[Any, Any] = {}
    for key, inner in value.items():
        flat |= (
            {f"{key}/{column}": word for column, word in inner.items()} if isinstance(inner, Mapping) else {key: inner}
        )
    if len(flat) > LIMITS.cells.value:
        raise AnswerError(LIMITS.cells.says(len(flat)), code="answer-table-size")
    asked = {cell.id: cell for cell in variant.cells[task.id]}
    tidy: dict[str, str] = {}
    for key, word in flat.items():
        if not isinstance(key, str) or key not in asked:
            raise AnswerError(
                f"this table asks no cell {str(key)[:60]!r}",
                try_this=did_you_mean(str(key)[:60], asked),
                code="answer-cell",
            )
        if word is None or word == "":
            continue  # a cell left open
        words = cell_words(lesson, asked[key].row)
        if isinstance(word, str):
            word = next((known for known in words if known.casefold() == word.strip().casefold()), word)
        if word not in words:
            raise AnswerError(
                f"cell {key}: {str(word)[:40]!r} is not one of the words",
                try_this=did_you_mean(str(word)[:40], words) or "the words are: " + "; ".join(words),
                code="answer-word",
            )
        tidy[key] = word
    return {cell: tidy[cell] for cell in asked if cell in tidy}


def _choice(task: ChoiceTask, value: Any) -> str:
    ids = [option.id for option in task.options]
    if not isinstance(value, str) or value.strip().casefold() not in ids:
        raise AnswerError(
            f"{str(value)[:40]!r} is not one of the answers to choose from",
            try_this=did_you_mean(str(value)[:40], ids) or "choose " + " or ".join(ids),
            code="answer-choice",
        )
    return value.strip().casefold()


def _quantity(task: NumberTask | ReadingTask, value: Any) -> dict[str, Any]:
    """A number with the task's unit; ``ms(30)``, ``"30 ms"`` and ``(30, "ms")`` are taken."""
    unit = task.unit
    example = "ms(30)" if unit == "ms" else '"23.9 V"' if unit == "V" else f'"4.7 {unit}"'
    if isinstance(task, ReadingTask) and unit == "ohm" and _is_open(value):
        return {"value": OL, "unit": unit}
    number, said = _number_and_unit(value, unit)
    sizes = _UNITS[unit]
    if said not in sizes:
        raise AnswerError(
            f"the answer needs a unit: {unit}" if not said else f"{said[:8]!r} is not a unit of this answer",
            try_this=f"write e.g. {example}",
            code="answer-unit",
        )
    if isinstance(number, bool) or not isinstance(number, int | float):
        raise AnswerError(
            f"the value is not a number but {_kind(number)}", try_this=f"write e.g. {example}", code="answer-number"
        )
    if not math.isfinite(number) or abs(number) > 1e9:
        raise AnswerError("the value is beyond any reading", code="answer-number")
    scaled = round(number * sizes[said], 6)
    return {"value": int(scaled) if scaled == int(scaled) else scaled, "unit": unit}


def _number_and_unit(value: Any, unit: str) -> tuple[Any, str]:
    if isinstance(value, Duration):
        return value.us / 1000, "ms"
    if isinstance(value, Mapping) and set(value) <= {"value", "unit"} and "value" in value:
        said = value.get("unit", "")
        return value["value"], said if isinstance(said, str) else "?"
    if isinstance(value, tuple | list) and len(value) == 2 and isinstance(value[1], str):
        return value[0], value[1]
    if isinstance(value, str):
        found = _QUANTITY.fullmatch(value[: LIMITS.word_chars.value])
        if found:
            said = {"v": "V", "mv": "mV"}.get(found[2].lower(), found[2])
            return float(found[1].replace(",", ".")), said or (unit if unit != "ms" else "")
        return value, unit
    # a meter gives plain volts, so a bare number is a reading; a time always needs its unit
    return value, "" if unit == "ms" and isinstance(value, int | float) else unit


def _is_open(value: Any) -> bool:
    if isinstance(value, Mapping):
        value = value.get("value")
    if isinstance(value, str):
        return value.strip().upper() == OL
    return isinstance(value, float) and value == math.inf


def _kind(value: Any) -> str:
    return {"dict": "a table", "list": "a list", "NoneType": "nothing", "bool": "true or false", "str": "a text"}.get(
        type(value).__name__, f"a {type(value).__name__}"
    )

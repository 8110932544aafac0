"""Marking sheets and drills: what was read, and what was predicted, beside what the variant's bench shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from labkit.lessons._document import DrillTask, RubricLine, SheetTask
from labkit.lessons._lines import listed, mark_line, part_line
from labkit.lessons._looks import OL, UNITS, Seen, alike, near, place, why_volts
from labkit.lessons._setups import Row
from labkit.lessons._truth import Truth
from labkit.lessons.errors import LessonError
from labkit.lessons.sheet import Evidence, MarkLine

__all__ = ["mark_drill", "mark_sheet", "sheet_flags"]

_SAME = 5  # so many readings alike, or so many times equally far apart, are no accident
_ALIKE_MS = 1.0


def mark_sheet(truth: Truth, task: SheetTask, tidy: Mapping[str, Any]) -> list[MarkLine]:
    """The rubric lines of a sheet."""
    said = {key: entry["value"] for key, entry in tidy.items()}
    return [
        _mark_found(truth, task, line, said) if line.kind == "found" else _mark_readings(truth, task, line, said)
        for line in task.rubric
    ]


def mark_drill(truth: Truth, task: DrillTask, tidy: Mapping[str, Any]) -> list[MarkLine]:
    """The rubric lines of a drill."""
    read = {key: entry["read"] for key, entry in tidy.items() if "read" in entry}
    predicted = {key: entry["predicted"] for key, entry in tidy.items() if "predicted" in entry}
    return [
        _mark_predictions(truth, task, line, predicted)
        if line.kind == "predictions"
        else _mark_readings(truth, task, line, read)
        for line in task.rubric
    ]


def _rows(truth: Truth, task: SheetTask | DrillTask, line: RubricLine) -> list[tuple[Row, Seen]]:
    """The rows of a rubric line with this variant's places, and what the bench shows there."""
    wanted = set(line.rows) or {row.id for row in task.rows}
    return [(truth.lab.filled(row), truth.look(row)) for row in task.rows if row.id in wanted]


@dataclass(frozen=True, slots=True)
class _Said:
    """What was said about the rows of one rubric line, beside what the bench shows there."""

    rows: list[tuple[Row, Seen]]
    said: Mapping[str, float | str]
    wrong: list[tuple[Row, Seen]]
    verb: str


def _mark_readings(
    truth: Truth, task: SheetTask | DrillTask, line: RubricLine, said: Mapping[str, float | str]
) -> MarkLine:
    rows = _rows(truth, task, line)
    wrong = [(row, seen) for row, seen in rows if row.id in said and not near(task, seen, said[row.id])]
    return _row_line(truth, task, line, _Said(rows, said, wrong, "you read"))


def _mark_found(truth: Truth, task: SheetTask, line: RubricLine, said: Mapping[str, float | str]) -> MarkLine:
    """The rows in which this bench differs from a sound one: a sheet copied from the drawing earns nothing here."""
    differs = [
        (row, seen) for row, seen in _rows(truth, task, line) if truth.lab.look(row, faults=()).band != seen.band
    ]
    if not differs:
        raise LessonError(
            f"no row of {task.id} shows what is hidden on this bench",
            where=f"task {task.id}",
            try_this="add a row that shows it, or take the fault out of the pool",
            code="lesson-truth",
        )
    if not all(row.id in said for row, _ in differs):
        # which rows these are is what is looked for, so no open one is named
        reason = "Not every row is filled in, and what is wrong with this bench has not been written down yet."
        return mark_line(truth.lab.variant, task, line, "no answer", reason)
    wrong = [(row, seen) for row, seen in differs if not near(task, seen, said[row.id])]
    return _row_line(truth, task, line, _Said(differs, said, wrong, "you read"))


def _mark_predictions(truth: Truth, task: DrillTask, line: RubricLine, said: Mapping[str, float | str]) -> MarkLine:
    rows = _rows(truth, task, line)
    wrong = [(row, seen) for row, seen in rows if row.id in said and not alike(seen, said[row.id], task.band_volts)]
    return _row_line(truth, task, line, _Said(rows, said, wrong, "you predicted"))


def _row_line(truth: Truth, task: SheetTask | DrillTask, line: RubricLine, all_of: _Said) -> MarkLine:
    """Points in proportion; the reason takes up the first wrong row and names the others."""
    fill = truth.lab.variant.fill
    rows, said, wrong, verb = all_of.rows, all_of.said, all_of.wrong, all_of.verb
    empty = [row for row, _ in rows if row.id not in said]
    parts = []
    if wrong:
        row, seen = wrong[0]
        parts.append(f"{fill(row.what)}: {verb} {_shown(row, said[row.id])}, the bench has {seen.text}.")
        parts.append(_why(truth, row, seen))
        rest = [f"{fill(r.what)}: {s.text}, not {_shown(r, said[r.id])}" for r, s in wrong[1:]]
        if rest:
            parts.append(f"Also: {'; '.join(rest)}.")
    if empty:
        parts.append(f"No answer in {len(empty)} of {len(rows)} rows: {listed(fill(r.what) for r in empty)}.")
    # rows that are right or open are not given away
    table = "\n".join(
        f"{fill(row.what)}, {place(row)}: {seen.text}; {verb} {_shown(row, said[row.id])}" for row, seen in wrong
    )
    return part_line(
        truth.lab.variant,
        task,
        line,
        " ".join(filter(None, parts)),
        right=len(rows) - len(wrong) - len(empty),
        of=len(rows),
        empty=len(empty),
        evidence=Evidence("what this bench shows", text=table) if len(wrong) > 1 else None,
    )


def _shown(row: Row, said: float | str) -> str:
    return said if isinstance(said, str) else f"{said:g} {UNITS.get(row.mode, '')}".strip()


def _why(truth: Truth, row: Row, seen: Seen) -> str:
    """The lesson's own reason for a row, or the one that the network tells."""
    if row.why:
        return truth.lab.variant.fill(row.why, truth=seen.text)
    if seen.live:
        return "The circuit is live: it drives the probes, and an ohms figure means nothing."
    if row.mode == "volts":
        return why_volts(truth.lab.after(row.run, row.program, setup=row.setup), row.red, row.black)
    return ""


# a sheet that nobody measured ---------------------------------------------------------------------
def sheet_flags(truth: Truth, task: SheetTask, tidy: Mapping[str, Any]) -> list[str]:
    """What on a sheet looks as if nobody had measured it: for a person to ask about, no points are lost by it."""
    fill = truth.lab.variant.fill
    seen = {row.id: truth.look(row) for row in task.rows if row.id in tidy}
    rows = {row.id: row for row in task.rows}
    flags = []
    volts = [key for key, look in seen.items() if look.mode == "volts" and abs(float(look.value or 0)) > 1]
    said = {round(float(tidy[key]["value"]), 3) for key in volts if isinstance(tidy[key]["value"], int | float)}
    if len(volts) >= _SAME and len(said) == 1 and len({seen[key].text for key in volts}) > 1:
        flags.append(
            f"all {len(volts)} voltages of {fill(task.title)!r} are {said.pop():g} V; the bench has different ones"
        )
    times = [entry["at_ms"] for entry in tidy.values() if "at_ms" in entry]
    gaps = [b - a for a, b in pairwise(times)]
    if len(gaps) >= _SAME and gaps[0] > 0 and all(abs(gap - gaps[0]) < _ALIKE_MS for gap in gaps):
        flags.append(f"the times of {fill(task.title)!r} are all {gaps[0] / 1000:g} s apart")
    for key, look in seen.items():
        sound = truth.lab.look(rows[key], faults=())
        value = tidy[key]["value"]
        if sound.band != look.band and not near(task, look, value) and near(task, sound, value):
            flags.append(
                f"{fill(rows[key].what)}: the sheet says {_shown(rows[key], value)}, as on a sound board; "
                f"this bench shows {look.text if look.value is not None else OL}"
            )
    return flags

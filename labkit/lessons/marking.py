"""Marking: a lesson, a variant and answers in, a mark sheet out. A pure function.

Nothing that a student wrote is executed: a program is text that labkit.logic parses within bounds and a bench
scans; everything else is compared with what the bench of the student's own variant does.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from labkit.base import LabkitError, did_you_mean
from labkit.lessons._document import (
    ChoiceTask,
    DrillTask,
    HuntTask,
    Look,
    NumberTask,
    PredictTask,
    ProgramTask,
    ReadingTask,
    RubricLine,
    Run,
    SheetTask,
    Task,
    WiringTask,
)
from labkit.lessons._explain import Story, explain
from labkit.lessons._files import LessonSource
from labkit.lessons._lab import Lab, Played
from labkit.lessons._lines import listed, mark_line, sentences
from labkit.lessons._looks import OL, place, why_volts
from labkit.lessons._mark_hunt import mark_explains, mark_hunted
from labkit.lessons._mark_rows import mark_drill, mark_sheet, sheet_flags
from labkit.lessons._mark_wiring import mark_wiring
from labkit.lessons._replay import writers
from labkit.lessons._truth import Truth
from labkit.lessons.answers import tidy_for
from labkit.lessons.errors import AnswerError, LessonError
from labkit.lessons.limits import LIMITS
from labkit.lessons.sheet import Evidence, MarkLine, MarkSheet, Verdict
from labkit.lessons.variants import Variant
from labkit.logic import Block, Program, SlipError, elements, lower, read_program

__all__ = ["mark", "mark_task", "mark_with"]


def mark(lesson: LessonSource, variant: Variant, answers: Mapping[str, Any]) -> MarkSheet:
    """The marks for a set of answers.

    Parameters
    ----------
    lesson, variant
        The lesson, and the student's variant of it.
    answers
        Task id to answer, in the form in which a hand-in holds it. What is missing gets no points; what
        cannot be read gets no points and a sentence; a task that the lesson does not have is flagged.

    Raises
    ------
    LessonError
        If the lesson itself is wrong. No answer raises anything.
    """
    return mark_with(Truth(Lab(lesson, variant)), answers)


def mark_with(truth: Truth, answers: Mapping[str, Any]) -> MarkSheet:
    """The same with truths that are known already: a second set of answers to one variant costs only what is new."""
    lesson, variant = truth.lab.lesson, truth.lab.variant
    lines: list[MarkLine] = []
    flags: list[str] = []
    for task in lesson.tasks:
        lines += mark_task(truth, task, answers.get(task.id))
        flags += _flags(truth, task, answers.get(task.id))
    known = [task.id for task in lesson.tasks]
    flags += [
        f"there is no task {key[:40]!r} in this lesson; {did_you_mean(key[:40], known)}".rstrip("; ")
        for key in answers
        if key not in known
    ]
    flags += tuple(f"{line.title}: {line.reason}" for line in lines if line.verdict == "cannot be decided")
    return MarkSheet(
        lesson=lesson.id,
        title=lesson.title,
        edition=lesson.file.edition,
        digest=lesson.digest,
        student=variant.student,
        attempt=variant.attempt,
        seed=variant.seed,
        bench=variant.summary(),
        pass_percent=lesson.file.pass_percent,
        lines=tuple(lines),
        tasks={task.id: variant.fill(task.title) for task in lesson.tasks},
        flags=tuple(flags),
    )


def _flags(truth: Truth, task: Task, answer: Any) -> list[str]:
    """What a person should look at in an answer, besides its marks."""
    if not isinstance(task, SheetTask) or answer is None:
        return []
    try:
        return sheet_flags(truth, task, tidy_for(truth.lab, task, answer))
    except AnswerError:
        return []


def mark_task(truth: Truth, task: Task, answer: Any) -> list[MarkLine]:
    """The rubric lines of one task; what is right for one and the same reason is told it once."""
    lines, told = _mark_task(truth, task, answer), set[str]()
    for i, line in enumerate(lines):
        if line.verdict == "right" and line.reason in told and task.kind != "program":
            lines[i] = replace(line, reason="")
        told.add(line.reason)
    return lines


def _mark_task(truth: Truth, task: Task, answer: Any) -> list[MarkLine]:
    variant = truth.lab.variant
    if answer is None:
        return [mark_line(variant, task, line, "no answer", _missing(task)) for line in task.rubric]
    try:
        tidy = tidy_for(truth.lab, task, answer)
    except AnswerError as exc:
        reason = sentences(exc.what, exc.try_this)
        return [mark_line(variant, task, line, "cannot be read", reason) for line in task.rubric]
    if isinstance(task, ProgramTask):
        return _mark_program(truth, task, tidy["text"])
    if isinstance(task, PredictTask):
        return [_mark_cells(truth, task, line, tidy) for line in task.rubric]
    if isinstance(task, ChoiceTask):
        return [_mark_choice(truth, task, line, tidy) for line in task.rubric]
    if isinstance(task, NumberTask):
        return [_mark_number(truth, task, line, tidy["value"]) for line in task.rubric]
    if isinstance(task, ReadingTask):
        return [_mark_reading(truth, task, line, tidy["value"]) for line in task.rubric]
    if isinstance(task, WiringTask):
        return mark_wiring(truth, task, tidy)
    if isinstance(task, SheetTask):
        return mark_sheet(truth, task, tidy)
    if isinstance(task, DrillTask):
        return mark_drill(truth, task, tidy)
    if isinstance(task, HuntTask):
        return mark_hunted(truth, task, tidy)
    return [mark_explains(truth, task, line, tidy) for line in task.rubric]


def _missing(task: Task) -> str:
    wanted = {
        "predict": "words in the table's cells",
        "program": "a program",
        "number": f"a number with its unit ({getattr(task, 'unit', '')})",
        "choice": "one of the answers to choose from",
        "reading": f"a meter reading ({getattr(task, 'unit', '')})",
        "wiring": "a wiring",
        "sheet": "readings in the sheet's rows",
        "drill": "predictions and readings",
        "hunt": "the place and the cause of the fault",
        "could-explain": "possible or impossible for each fault",
    }[task.kind]
    return f"Nothing was handed in here; the task asks for {wanted}."


# programs -----------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class _Refused:
    """Why a program cannot be judged."""

    reason: str
    text: str = ""


def _mark_program(truth: Truth, task: ProgramTask, text: str) -> list[MarkLine]:
    lab, variant = truth.lab, truth.lab.variant
    program = _read(lab, text)
    lines: list[MarkLine] = []
    for line in task.rubric:
        if isinstance(program, _Refused):
            if line.kind == "reads":
                evidence = Evidence("the place in the program", text=program.text) if program.text else None
                lines.append(mark_line(variant, task, line, "wrong", program.reason, evidence=evidence))
            else:
                reason = "The program cannot be loaded, so this could not be seen."
                lines.append(mark_line(variant, task, line, "cannot be read", reason))
        elif line.kind == "reads":
            lines.append(mark_line(variant, task, line, "right", variant.fill(line.right)))
        elif line.kind == "one-coil":
            lines.append(_mark_coils(variant, task, line, program))
        elif line.kind == "requirement":
            lines.append(_mark_requirement(truth, task, line, program))
        else:
            lines.append(_mark_behaviour(truth, task, line, program))
    return lines


def _read(lab: Lab, text: str) -> Program | _Refused:
    """The program, parsed and tried on the variant's controller, or why not."""
    try:
        program = read_program(text, name="handed in")
        for got, limit in (
            (len(program.rungs), LIMITS.rungs),
            (sum(isinstance(e, Block) for rung in program.rungs for e in elements(rung.network)), LIMITS.blocks),
        ):
            if got > limit.value:
                return _Refused(sentences(limit.says(got)))
        operations = len(lower(program).ops)
        if operations > LIMITS.operations.value:
            return _Refused(sentences(LIMITS.operations.says(operations)))
        lab.try_load(program)
    except SlipError as exc:
        return _Refused(sentences(f"line {exc.line}, column {exc.column}: {exc.what}", exc.try_this), exc.caret)
    except LabkitError as exc:
        where = f" ({exc.where})" if exc.where else ""
        return _Refused(sentences(f"{exc.what}{where}", exc.try_this))
    return program


def _mark_coils(variant: Variant, task: ProgramTask, line: RubricLine, program: Program) -> MarkLine:
    motor = variant.names[line.role]
    writing = writers(program, motor)
    plain = [(number, coil) for number, _, coil in writing if getattr(coil, "kind", "") not in ("S", "R")]
    if not writing:
        return mark_line(variant, task, line, "wrong", f"No rung writes {motor}, so it never comes on.")
    if len(plain) > 1 or (plain and len(writing) > 1):
        rungs = listed([str(number) for number, _, _ in writing])
        reason = f"{motor} is written on rungs {rungs}: the last one overrules the others in every scan."
        return mark_line(variant, task, line, "wrong", reason)
    return mark_line(variant, task, line, "right", variant.fill(line.right))


def _mark_behaviour(truth: Truth, task: ProgramTask, line: RubricLine, program: Program) -> MarkLine:
    variant = truth.lab.variant
    check = next(c for c in truth.lab.lesson.file.checks if c.id == line.check)
    try:
        failed = truth.behaviour(program, check)
    except LessonError:
        raise
    except LabkitError as exc:
        reason = f"The bench stopped with this program: {exc.what}."
        return mark_line(variant, task, line, "wrong", reason)
    if failed is None:
        return mark_line(variant, task, line, "right", variant.fill(line.right))
    played, broken, more = failed
    story = explain(truth.lab, played, broken)
    reason = variant.fill(line.wrong, why=story.sentence) if line.wrong else story.sentence
    evidence = _evidence(truth, check, played, more, story, own=True)
    return mark_line(variant, task, line, "wrong", reason, evidence=evidence)


def _mark_requirement(truth: Truth, task: ProgramTask, line: RubricLine, program: Program) -> MarkLine:
    variant = truth.lab.variant
    decided = truth.proofs.decide(program, line)
    if decided.outcome == "holds":
        return mark_line(variant, task, line, "right", variant.fill(line.right))
    if decided.outcome == "undecided":
        return mark_line(variant, task, line, "cannot be decided", decided.reason)
    reason = variant.fill(line.wrong, why=decided.reason) if line.wrong else decided.reason
    return mark_line(variant, task, line, "wrong", reason, evidence=decided.evidence)


def _evidence(
    truth: Truth, run: Run, played: Played, more: Mapping[str, str], story: Story, *, own: bool = False
) -> Evidence:
    title = truth.lab.variant.fill(run.title, **truth.lab.words(more))
    begins = f", begun {more['phase']} later" if more.get("phase", "0 ms") not in ("0 ms", "0 scan") else ""
    return Evidence(
        caption=f"{title}{begins}",
        signals=story.signals,
        start_us=story.start_us,
        end_us=story.end_us,
        zero_us=played.script.marks["start"],
        marks=story.marks,
        stimulus=tuple(step.as_dict() for step in played.script.stimulus.steps),
        program=played.program.text if own else "",
        trace=played.trace,
    )


# tables, choices, numbers -------------------------------------------------------------------------
def _mark_cells(truth: Truth, task: PredictTask, line: RubricLine, cells: Mapping[str, str]) -> MarkLine:
    """Points in proportion to the right cells; the reason takes up the first wrong one and names the others."""
    lab, variant = truth.lab, truth.lab.variant
    asked = variant.cells[task.id]
    outcomes = {cell.id: truth.cell(task, cell) for cell in asked}
    wrong = [cell for cell in asked if cell.id in cells and cells[cell.id] != outcomes[cell.id].word]
    empty = [cell for cell in asked if cell.id not in cells]
    right = len(asked) - len(wrong) - len(empty)
    points = round(line.points * right / len(asked), 2)
    if right == len(asked):
        return mark_line(variant, task, line, "right", variant.fill(line.right))
    labels = {cell.id: _cell_label(lab, task, cell.row, cell.column) for cell in asked}
    parts, evidence = [], None
    if wrong:
        first = wrong[0]
        outcome = outcomes[first.id]
        broken = truth.why_not(outcome, cells[first.id])
        why = ""
        if broken is not None:
            story = explain(lab, outcome.played, broken)
            why = f" {story.sentence}"
            evidence = _evidence(truth, outcome.run, outcome.played, outcome.more, story)
        parts.append(f"{labels[first.id]}: you said {cells[first.id]!r}, the bench has {outcome.word!r}.{why}")
        rest = [f"{labels[c.id]}: {outcomes[c.id].word}, not {cells[c.id]}" for c in wrong[1:]]
        if rest:
            parts.append(f"Also: {'; '.join(rest)}.")
    if empty:
        parts.append(f"No answer in {len(empty)} of {len(asked)} cells: {'; '.join(labels[c.id] for c in empty)}.")
    verdict: Verdict = "no answer" if len(empty) == len(asked) else "partly right" if right else "wrong"
    return mark_line(variant, task, line, verdict, " ".join(parts), points=points, evidence=evidence)


def _cell_label(lab: Lab, task: PredictTask, row: str, column_id: str) -> str:
    column = next(column for column in task.columns if column.id == column_id)
    return f"{lab.variant.fill(lab.lesson.run(row).title)} ({lab.variant.fill(column.label)})"


def _mark_choice(truth: Truth, task: ChoiceTask, line: RubricLine, chosen: str) -> MarkLine:
    if task.look is not None:
        return _mark_look_choice(truth, task, line, chosen)
    variant = truth.lab.variant
    option, outcome = truth.choice(task)
    other = next(o.word for o in task.options if o.id == (chosen if chosen != option else _other(task, option)))
    broken = truth.why_not(outcome, other)
    if broken is None:
        raise LessonError(
            f"two options of {task.id} fit what the bench does", where=f"task {task.id}", code="lesson-truth"
        )
    story = explain(truth.lab, outcome.played, broken)
    words = {"why": story.sentence, "truth": outcome.word, "got": chosen}
    if chosen == option:
        return mark_line(variant, task, line, "right", variant.fill(line.right, **words))
    reason = variant.fill(line.wrong or "The bench says: {truth}. {why}", **words)
    evidence = _evidence(truth, outcome.run, outcome.played, outcome.more, story)
    return mark_line(variant, task, line, "wrong", reason, evidence=evidence)


def _mark_look_choice(truth: Truth, task: ChoiceTask, line: RubricLine, chosen: str) -> MarkLine:
    """A choice about a reading: the right option stands for the band that is read."""
    variant = truth.lab.variant
    right, seen = truth.chosen(task), truth.seen(task)
    words = {"truth": seen.text, "got": chosen, "why": _why_look(truth, task)}
    if chosen == right:
        return mark_line(variant, task, line, "right", variant.fill(line.right, **words))
    reason = variant.fill(line.wrong or "The bench says: {truth}. {why}", **words).strip()
    assert task.look is not None
    look = truth.lab.filled(task.look)
    title = variant.fill(truth.lab.lesson.run(look.run).title)
    evidence = Evidence(caption=f"{title}, then measured", text=f"{place(look)}: {seen.text}")
    return mark_line(variant, task, line, "wrong", reason, evidence=evidence)


def _why_look(truth: Truth, task: ChoiceTask | NumberTask) -> str:
    if task.look is None or task.look.mode != "volts":
        return ""
    look = truth.lab.filled(task.look)
    return why_volts(truth.lab.after(look.run, look.program, setup=look.setup), look.red, look.black)


def _other(task: ChoiceTask, option: str) -> str:
    return next(o.id for o in task.options if o.id != option)


def _mark_number(truth: Truth, task: NumberTask, line: RubricLine, value: float) -> MarkLine:
    variant = truth.lab.variant
    found = truth.number(task)
    words = {"truth": f"{found:.5g} {task.unit}", "got": f"{value:g} {task.unit}", "why": _why_look(truth, task)}
    if abs(value - found) <= task.tolerance:
        return mark_line(variant, task, line, "right", variant.fill(line.right, **words))
    evidence: Evidence | None = None
    if task.look is not None:
        look = truth.lab.filled(task.look)
        title = variant.fill(truth.lab.lesson.run(look.run).title)
        evidence = Evidence(f"{title}, then measured", text=f"{place(look)}: {truth.seen(task).text}")
        reason = variant.fill(line.wrong, **words).strip()
        return mark_line(variant, task, line, "wrong", reason, evidence=evidence)
    search = truth.lab.lesson.file.searches[task.search]
    # A value that is too short is shown failing; one that is too long holds, and a shorter one does too.
    failed = truth.failing(search, f"{value:g} ms") if 1 <= value < found else None
    if failed is not None:
        played, broken, more = failed
        story = explain(truth.lab, played, broken)
        words["why"] = f"A press of {value:g} ms fails: {story.sentence}"
        check = next(c for c in truth.lab.lesson.file.checks if c.id == search.check)
        evidence = _evidence(truth, check, played, more, story)
    elif value > found:
        words["why"] = f"A press of {found:g} ms always holds already."
    return mark_line(variant, task, line, "wrong", variant.fill(line.wrong, **words).strip(), evidence=evidence)


def _mark_reading(truth: Truth, task: ReadingTask, line: RubricLine, value: float | str) -> MarkLine:
    variant = truth.lab.variant
    reading, seen = truth.reading(task), truth.seen(task)
    open_line = math.isinf(reading)
    tolerance = 0.0 if open_line else max(task.tolerance_floor, abs(reading) * task.tolerance_percent / 100)
    got = value if isinstance(value, str) else f"{value:g} {task.unit}"
    words = {"truth": OL if open_line else f"{reading:.2f} {task.unit}", "got": got, "why": ""}
    if value == OL if open_line else not isinstance(value, str) and abs(value - reading) <= tolerance:
        return mark_line(variant, task, line, "right", variant.fill(line.right, **words))
    look = truth.lab.filled(Look(run=task.run, mode=task.mode, red=task.red, black=task.black, wire=task.wire))
    text = f"{place(look)}: {seen.text}\nyou said {got}" + (
        f"; within {tolerance:.2g} {task.unit} is right" * (not open_line)
    )
    evidence = Evidence(
        caption=f"{variant.fill(truth.lab.lesson.run(task.run).title)}, then measured",
        stimulus=tuple(step.as_dict() for step in truth.lab.script(truth.lab.lesson.run(task.run), {}).stimulus.steps),
        text=text,
    )
    return mark_line(variant, task, line, "wrong", variant.fill(line.wrong, **words), evidence=evidence)

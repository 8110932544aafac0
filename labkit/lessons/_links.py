"""Names that one part of a lesson uses for another: each must be there, and none twice."""

from __future__ import annotations

from collections.abc import Iterable

from labkit.base import did_you_mean
from labkit.lessons._document import (
    ChoiceTask,
    CouldExplainTask,
    HuntTask,
    LessonFile,
    Look,
    NumberTask,
    PredictTask,
    ProgramTask,
    ReadingTask,
    RowsTask,
    Task,
)
from labkit.lessons._requires import check_requirements
from labkit.lessons._steps import check_line
from labkit.lessons.errors import LessonError

__all__ = ["POWERED", "WORKING", "check_links"]

POWERED = "powered"  # a state that every lesson has
WORKING = "working"  # a program that every lesson has


def check_links(file: LessonFile) -> None:
    """Every name that one part of the document uses for another must be there."""
    runs = {run.id: run for run in (*file.runs, *file.checks)}
    checks = {check.id for check in file.checks}
    roles = {role.id for role in file.roles}
    setups = ("start", *file.setups)
    programs = ("", WORKING, *file.programs)
    _unique("runs", [run.id for run in (*file.runs, *file.checks)])
    _unique("tasks", [task.id for task in file.tasks])
    _unique("rubric", [line.id for task in file.tasks for line in task.rubric])
    for table, items in (("runs", file.runs), ("checks", file.checks)):
        for i, run in enumerate(items):
            if run.given:
                _known(run.given, (*file.states, POWERED), f"{table}[{i}].given")
            if run.setup:
                _known(run.setup, setups, f"{table}[{i}].setup")
            if run.outcomes:
                _known(run.outcomes, file.outcomes, f"{table}[{i}].outcomes")
            for j, step in enumerate(run.steps):
                _at(f"{table}[{i}].steps[{j}]", step)
    for name, steps in file.states.items():
        for j, step in enumerate(steps):
            _at(f"states.{name}[{j}]", step)
    for name, search in file.searches.items():
        _known(search.check, checks, f"searches.{name}.check")
        _known(search.program, file.programs, f"searches.{name}.program")
    for i, task in enumerate(file.tasks):
        here = f"tasks[{i}]"
        if isinstance(task, PredictTask):
            for j, row in enumerate(task.rows):
                _known(row, runs, f"{here}.rows[{j}]")
                if not runs[row].outcomes:
                    raise LessonError(
                        f"run {row} has no outcomes, so no cell can be told",
                        where=f"{here}.rows[{j}]",
                        code="lesson-link",
                    )
            for j, column in enumerate(task.columns):
                _known(column.program, programs, f"{here}.columns[{j}].program")
        elif isinstance(task, ProgramTask):
            _known(task.model, file.programs, f"{here}.model")
            if task.start_from:
                _known(task.start_from, file.programs, f"{here}.start_from")
            for j, role in enumerate(task.roles):
                _known(role, roles, f"{here}.roles[{j}]")
        elif isinstance(task, NumberTask):
            if task.look is None:
                _known(task.search, file.searches, f"{here}.search")
            else:
                _look(task.look, runs, setups, programs, f"{here}.look")
        elif isinstance(task, ChoiceTask) and task.look is not None:
            _look(task.look, runs, setups, programs, f"{here}.look")
        elif isinstance(task, ChoiceTask | ReadingTask):
            _known(task.run, runs, f"{here}.run")
            _known(task.program, programs, f"{here}.program")
        elif isinstance(task, RowsTask):
            _unique(f"{here}.rows", [row.id for row in task.rows])
            for j, reading in enumerate(task.rows):
                _look(reading, runs, setups, programs, f"{here}.rows[{j}]")
        elif isinstance(task, HuntTask | CouldExplainTask):
            _known(task.program, programs, f"{here}.program")
            for j, look in enumerate(task.seen):
                _look(look, runs, setups, programs, f"{here}.seen[{j}]")
            if isinstance(task, HuntTask):
                _known(task.setup or "start", setups, f"{here}.setup")
                if task.given:
                    _known(task.given, (*file.states, POWERED), f"{here}.given")
        else:
            _known(task.setup or "start", setups, f"{here}.setup")
        _kinds(task, here)
        for j, line in enumerate(task.rubric):
            if line.kind in ("behaviour", "note"):
                _known(line.check, checks, f"{here}.rubric[{j}].check")
            elif line.kind == "one-coil":
                _known(line.role, roles, f"{here}.rubric[{j}].role")
    for i, entry in enumerate(file.hidden):
        for setup in entry.setups:
            _known(setup, setups, f"hidden[{i}].setups")
    check_requirements(file)
    line_ids = {line.id for task in file.tasks for line in task.rubric}
    task_ids = {task.id for task in file.tasks}
    for i, wrong in enumerate(file.wrong):
        _known(wrong.task, task_ids, f"wrong[{i}].task")
        _known(wrong.fails, line_ids, f"wrong[{i}].fails")
        if wrong.program:
            _known(wrong.program, file.programs, f"wrong[{i}].program")


# which rubric kinds a task kind can have; "note" is for programs
_KINDS: dict[str, tuple[str, ...]] = {
    "predict": ("cells",),
    "number": ("value",),
    "choice": ("picked",),
    "reading": ("value",),
    "wiring": ("readable", "points", "findings", "dead-first"),
    "sheet": ("readings", "found"),
    "drill": ("readings", "predictions"),
    "hunt": (*("location", "cause", "method", "telling", "inference"), *("predictions", "swaps", "safety", "retest")),
    "could-explain": ("explains",),
}


def _kinds(task: Task, here: str) -> None:
    """A rubric line must be of a kind that its task can be judged by, and name rows that are there."""
    for j, line in enumerate(task.rubric):
        if task.kind in _KINDS and line.kind not in _KINDS[task.kind]:
            raise LessonError(
                f"{here}.rubric[{j}].kind: a {task.kind} task has no line of kind {line.kind!r}",
                where=f"{here}.rubric[{j}].kind",
                try_this="it can have " + ", ".join(_KINDS[task.kind]),
                code="lesson-link",
            )
        if line.rows:
            known = [row.id for row in task.rows] if isinstance(task, RowsTask) else []
            for row in line.rows:
                _known(row, known, f"{here}.rubric[{j}].rows")


# what a look of each mode must name
_PLACES = {"amps": ("wire",), "led": ("at",), "lit": ("at",), "state": ("at",), "bit": ("at",)}


def _look(look: Look, runs: Iterable[str], setups: Iterable[str], programs: Iterable[str], where: str) -> None:
    _known(look.run, runs, f"{where}.run")
    _known(look.setup or "start", setups, f"{where}.setup")
    _known(look.program, programs, f"{where}.program")
    for key in _PLACES.get(look.mode, ("red", "black")):
        if not getattr(look, key):
            raise LessonError(
                f"{where}: a look of mode {look.mode!r} needs {key}", where=where, try_this="add it", code="lesson-link"
            )


def _at(where: str, step: str) -> None:
    try:
        check_line(step)
    except LessonError as exc:
        raise LessonError(exc.what, where=where, try_this=exc.try_this, code=exc.code) from None


def _known(name: str, known: Iterable[str], where: str) -> None:
    names = list(known)
    if name not in names:
        raise LessonError(
            f"{where}: there is no {name!r} in this lesson",
            where=where,
            try_this=did_you_mean(name, names),
            code="lesson-link",
        )


def _unique(what: str, ids: list[str]) -> None:
    for i, name in enumerate(ids):
        if name in ids[:i]:
            raise LessonError(f"two {what} are called {name}", where=f"{what}[{i}].id", code="lesson-twice")

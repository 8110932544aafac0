"""Names that one part of a lesson uses for another: each must be there, and none twice."""

from __future__ import annotations

from collections.abc import Iterable

from labkit.base import did_you_mean
from labkit.lessons._document import LessonFile, PredictTask, ProgramTask
from labkit.lessons._requires import check_requirements
from labkit.lessons._steps import check_line
from labkit.lessons.errors import LessonError

__all__ = ["check_links"]


def check_links(file: LessonFile) -> None:
    """Every name that one part of the document uses for another must be there."""
    runs = {run.id: run for run in (*file.runs, *file.checks)}
    checks = {check.id for check in file.checks}
    roles = {role.id for role in file.roles}
    _unique("runs", [run.id for run in (*file.runs, *file.checks)])
    _unique("tasks", [task.id for task in file.tasks])
    _unique("rubric", [line.id for task in file.tasks for line in task.rubric])
    for table, items in (("runs", file.runs), ("checks", file.checks)):
        for i, run in enumerate(items):
            if run.given:
                _known(run.given, file.states, f"{table}[{i}].given")
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
                _known(column.program, file.programs, f"{here}.columns[{j}].program")
        elif isinstance(task, ProgramTask):
            _known(task.model, file.programs, f"{here}.model")
            if task.start_from:
                _known(task.start_from, file.programs, f"{here}.start_from")
            for j, role in enumerate(task.roles):
                _known(role, roles, f"{here}.roles[{j}]")
        elif task.kind == "number":
            _known(task.search, file.searches, f"{here}.search")
        else:
            _known(task.run, runs, f"{here}.run")
            _known(task.program, file.programs, f"{here}.program")
        for j, line in enumerate(task.rubric):
            if line.kind in ("behaviour", "note"):
                _known(line.check, checks, f"{here}.rubric[{j}].check")
            elif line.kind == "one-coil":
                _known(line.role, roles, f"{here}.rubric[{j}].role")
    check_requirements(file)
    line_ids = {line.id for task in file.tasks for line in task.rubric}
    task_ids = {task.id for task in file.tasks}
    for i, wrong in enumerate(file.wrong):
        _known(wrong.task, task_ids, f"wrong[{i}].task")
        _known(wrong.fails, line_ids, f"wrong[{i}].fails")
        if wrong.program:
            _known(wrong.program, file.programs, f"wrong[{i}].program")


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

"""Lesson files in: TOML to :class:`LessonFile`, with errors that point into the document.

Nothing else in this room opens a lesson's files. A lesson is one file, ``<id>.toml``, and a folder
``<id>/`` beside it with its programs.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from labkit.base import LabkitError, as_path, data_path, did_you_mean, read_text
from labkit.lessons._document import SCHEMA, LessonFile, Run, Task
from labkit.lessons._links import check_links
from labkit.lessons.errors import LessonError

__all__ = ["LessonSource", "load_lesson", "loads_lesson", "shipped_lessons"]


@dataclass(frozen=True)
class LessonSource:
    """A lesson as read: its document, its programs' text, and what identifies both.

    Parameters
    ----------
    file
        The checked document.
    programs
        Text of each program, with role ids in capitals as tag names.
    digest
        SHA-256 of the document and the programs, so that a mark sheet can say what it was marked against.
    """

    file: LessonFile
    programs: Mapping[str, str] = field(default_factory=dict)
    digest: str = ""

    @property
    def id(self) -> str:
        """The lesson's id, e.g. ``seal-in``."""
        return self.file.id

    @property
    def title(self) -> str:
        """The lesson's title."""
        return self.file.title

    @property
    def tasks(self) -> tuple[Task, ...]:
        """The tasks in their order."""
        return self.file.tasks

    @property
    def task_ids(self) -> tuple[str, ...]:
        """Their ids."""
        return tuple(task.id for task in self.file.tasks)

    def task(self, task_id: str) -> Task:
        """The task of this id.

        Raises
        ------
        LessonError
            If there is none.
        """
        for task in self.file.tasks:
            if task.id == task_id:
                return task
        ids = [task.id for task in self.file.tasks]
        raise LessonError(
            f"{self.file.id} has no task {task_id}", try_this=did_you_mean(task_id, ids), code="lesson-unknown-task"
        )

    def run(self, run_id: str) -> Run:
        """The run or check of this id."""
        return next(r for r in (*self.file.runs, *self.file.checks) if r.id == run_id)

    @property
    def points(self) -> float:
        """What full marks are."""
        return sum(line.points for task in self.file.tasks for line in task.rubric)


def shipped_lessons() -> tuple[str, ...]:
    """The ids of the lessons that come with labkit, sorted."""
    return tuple(sorted(path.stem for path in data_path("datasets", "lessons").glob("*.toml")))


def load_lesson(lesson: str | Path) -> LessonSource:
    """A lesson by id (``"seal-in"``) or by the path of its TOML file.

    Raises
    ------
    LessonError
        If there is no such lesson, or its document is wrong; `where` points into it.
    """
    path = as_path(lesson, "a lesson's id")
    if isinstance(lesson, str) and path.suffix != ".toml":
        known = shipped_lessons()
        if lesson not in known:
            raise LessonError(
                f"there is no lesson {lesson[:40]!r}",
                where=lesson[:40],
                try_this=did_you_mean(lesson[:40], known) or f"the lessons are {', '.join(known)}",
                code="lesson-unknown",
            )
        path = data_path("datasets", "lessons", f"{lesson}.toml")
    return loads_lesson(read_text(path), folder=path.parent / path.stem, name=path.name)


def loads_lesson(text: str, *, folder: Path | None = None, name: str = "lesson") -> LessonSource:
    """A lesson from TOML text; `folder` holds its programs.

    Raises
    ------
    LessonError
        As :func:`load_lesson`.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        raise LessonError(f"{name} is not TOML: {exc}", where=name, code="lesson-toml") from None
    schema = document.get("schema")
    if isinstance(schema, int) and schema > SCHEMA:
        raise LessonError(
            f"{name} has schema {schema}; this labkit knows up to {SCHEMA}",
            where="schema",
            try_this="update labkit",
            code="lesson-newer",
        )
    try:
        file = LessonFile.model_validate(document)
    except ValidationError as exc:
        raise _document_error(exc, document, name) from None
    programs = {key: _program_text(folder, program.file, key) for key, program in file.programs.items()}
    check_links(file)
    mixed = hashlib.sha256(text.encode())
    for key in sorted(programs):
        mixed.update(f"\x1f{key}\x1f{programs[key]}".encode())
    return LessonSource(file, programs, mixed.hexdigest()[:16])


def _program_text(folder: Path | None, name: str, key: str) -> str:
    if folder is None or Path(name).name != name:
        raise LessonError(
            f"{name} is not a file beside this lesson",
            where=f"programs.{key}.file",
            try_this="put the program into the lesson's folder and give its bare name",
            code="lesson-program",
        )
    try:
        return read_text(folder / name).rstrip("\n")
    except LabkitError as exc:
        raise LessonError(
            exc.what, where=f"programs.{key}.file", try_this=exc.try_this, code="lesson-program"
        ) from None


def _document_error(exc: ValidationError, document: Mapping[str, Any], name: str) -> LessonError:
    """The first thing that is wrong, as a place in the document and a sentence."""
    first = exc.errors(include_url=False)[0]
    kinds = {"predict", "program", "number", "choice", "reading"}
    kinds |= {"wiring", "sheet", "drill", "hunt", "could-explain"}
    path = ""
    node: Any = document
    for step in first["loc"]:
        if isinstance(step, int):
            path += f"[{step}]"
        elif step in kinds and isinstance(node, dict) and node.get("kind") == step:
            continue
        else:
            path += f".{step}" if path else str(step)
        inside = isinstance(node, list) or (isinstance(node, dict) and step in node)
        node = node[step] if inside else None
    if first["type"] == "extra_forbidden":
        what = f"{path} is not a key that is known here"
        try_this = did_you_mean(str(first["loc"][-1]), _keys_near(exc, first["loc"]))
    elif first["type"] == "missing":
        what, try_this = f"{path} is missing", "add it"
    else:
        shown = repr(first["input"])
        what = f"{path}: {first['msg'][0].lower()}{first['msg'][1:]}"
        try_this = f"it is {shown[:60]}{'…' if len(shown) > 60 else ''}"
    more = exc.error_count() - 1
    return LessonError(
        what + (f" (and {more} more)" if more else ""),
        where=f"{name}: {path}",
        try_this=try_this,
        code="lesson-document",
    )


def _keys_near(exc: ValidationError, loc: tuple[int | str, ...]) -> list[str]:
    """What may stand at this place: missing keys first, then every key that any record of a lesson has."""
    missing = [str(e["loc"][-1]) for e in exc.errors() if e["type"] == "missing" and e["loc"][:-1] == loc[:-1]]
    from labkit.lessons import _document
    from labkit.lessons._setups import Record

    known = {
        info.alias or key
        for record in vars(_document).values()
        if isinstance(record, type) and issubclass(record, Record)
        for key, info in record.model_fields.items()
    }
    return [*missing, *sorted(known - set(missing))]

"""The hand-in: one JSON document, written whole, read with suspicion."""

from __future__ import annotations

import json
import os
import re
import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from labkit.base import did_you_mean
from labkit.lessons._strict_json import strict_json
from labkit.lessons.errors import HandInError
from labkit.lessons.limits import LIMITS

__all__ = ["HANDIN_SCHEMA", "HandIn", "dumps_handin", "handin_name", "loads_handin", "read_handin"]

HANDIN_SCHEMA = 1

_KEYS = ("schema", "kind", "lesson", "edition", "student", "attempt", "seed", "answers", "log")
_MORE = ("hints", "hunts")
_KIND = "labkit hand-in"
_LESSON = re.compile(r"[a-z][a-z0-9-]{0,40}")
_TASK = re.compile(r"[a-z][a-z0-9-]{0,40}")
_SEED = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True, slots=True)
class HandIn:
    """What a student handed in, checked for form.

    Parameters
    ----------
    lesson, edition, student, attempt, seed
        Whose it is; `seed` is as the file claims and may not fit the student.
    answers
        Task id to the answer's plain JSON form.
    log
        What was done at the bench: ``{"at_ms": ..., "do": ..., ...}``. Kept, not judged.
    hints
        Task id to how many of its hints were taken. Kept, not judged.
    hunts
        Only in a sheet that is kept over a restart: task id to what was done in a hunt since its log was handed
        over, ``{"after": entries handed over, "log": [...]}``. Not judged.
    """

    lesson: str
    edition: int
    student: str
    attempt: int
    seed: str
    answers: Mapping[str, Any] = field(default_factory=dict)
    log: tuple[Mapping[str, Any], ...] = ()
    hints: Mapping[str, int] = field(default_factory=dict)
    hunts: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)


def dumps_handin(handin: HandIn) -> str:
    """The document, the same bytes for the same hand-in."""
    document = {
        "schema": HANDIN_SCHEMA,
        "kind": _KIND,
        "lesson": handin.lesson,
        "edition": handin.edition,
        "student": handin.student,
        "attempt": handin.attempt,
        "seed": handin.seed,
        "answers": dict(handin.answers),
        "log": [dict(entry) for entry in handin.log],
        **({"hints": dict(handin.hints)} if handin.hints else {}),
        **({"hunts": {task: dict(hunt) for task, hunt in handin.hunts.items()}} if handin.hunts else {}),
    }
    return json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def handin_name(handin: HandIn) -> str:
    """A file name that is safe anywhere, and differs for two students whose names look alike."""
    slug = re.sub(r"[^a-z0-9]+", "-", handin.student.casefold()).strip("-")[:40] or "student"
    return f"{handin.lesson}--{slug}--{handin.attempt}--{handin.seed[:6]}.json"


def read_handin(path: str | Path) -> HandIn:
    """The hand-in in a file.

    Raises
    ------
    HandInError
        If it is not a plain file, or its document is wrong. Nothing else is raised for any content.
    """
    return loads_handin(read_bounded(Path(path)))


def read_bounded(path: Path) -> bytes:
    """At most one byte more than a hand-in may have; a pipe or a device is refused before it is opened."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise HandInError(f"{path.name} is not a file", code="handin-not-file")
        # non-blocking: what was a file a moment ago may be a pipe now
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(handle, "rb") as source:
            return source.read(LIMITS.file_bytes.value + 1)
    except OSError as exc:
        raise HandInError(f"{path.name[:80]} cannot be read: {exc.strerror}", code="handin-unreadable") from None
    except ValueError:  # a NUL in the name
        raise HandInError("this is not a file name", code="handin-unreadable") from None


def loads_handin(data: bytes) -> HandIn:
    """The hand-in in `data`.

    Raises
    ------
    HandInError
        With one sentence that says what is wrong.
    """
    document = strict_json(data)
    if not isinstance(document, dict):
        raise HandInError("the document is not a hand-in: it should be an object", code="handin-form")
    schema = document.get("schema")
    if isinstance(schema, int) and not isinstance(schema, bool) and schema > HANDIN_SCHEMA:
        raise HandInError(
            f"the hand-in has schema {schema}; this labkit knows up to {HANDIN_SCHEMA}",
            try_this="update labkit",
            code="handin-newer",
        )
    for key in document:
        if key not in (*_KEYS, *_MORE):
            raise HandInError(
                f"{key[:40]!r} is not a key of a hand-in", try_this=did_you_mean(key[:40], _KEYS), code="handin-form"
            )
    missing = [key for key in _KEYS if key not in document]
    if missing:
        raise HandInError(f"the hand-in has no {missing[0]!r}", try_this="hand in again", code="handin-form")
    if document["schema"] != HANDIN_SCHEMA or document["kind"] != _KIND:
        raise HandInError("the document is not a hand-in of labkit", where="schema, kind", code="handin-form")
    return HandIn(
        lesson=_matching(document, "lesson", _LESSON),
        edition=_count(document, "edition", 10_000),
        student=_student(document["student"]),
        attempt=_count(document, "attempt", LIMITS.attempts.value),
        seed=_matching(document, "seed", _SEED),
        answers=_answers(document["answers"]),
        log=_log(document["log"]),
        hints=_hints(document.get("hints", {})),
        hunts=_hunts(document.get("hunts", {})),
    )


def _matching(document: Mapping[str, Any], key: str, pattern: re.Pattern[str]) -> str:
    value = document[key]
    if not isinstance(value, str) or not pattern.fullmatch(value):
        raise HandInError(f"{key} is not one: {str(value)[:40]!r}", where=key, code="handin-form")
    return value


def _count(document: Mapping[str, Any], key: str, most: int) -> int:
    value = document[key]
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= most:
        raise HandInError(
            f"{key} is a whole number from 1 to {most}, not {str(value)[:40]!r}", where=key, code="handin-form"
        )
    return value


def _student(value: Any) -> str:
    from labkit.lessons.errors import LessonError
    from labkit.lessons.variants import check_student

    try:
        return check_student(value)
    except LessonError as exc:
        raise HandInError(exc.what, where="student", code="handin-form") from None


def _answers(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise HandInError("answers is not a table of tasks", where="answers", code="handin-form")
    if len(value) > LIMITS.answers.value:
        raise HandInError(LIMITS.answers.says(len(value)), where="answers", code="handin-form")
    for key in value:
        if not _TASK.fullmatch(key):
            raise HandInError(f"{key[:40]!r} cannot be a task", where="answers", code="handin-form")
    return value


def _log(value: Any) -> tuple[dict[str, Any], ...]:
    if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
        raise HandInError("log is not a list of entries", where="log", code="handin-form")
    if len(value) > LIMITS.log_entries.value:
        raise HandInError(LIMITS.log_entries.says(len(value)), where="log", code="handin-form")
    return tuple(value)


def _hints(value: Any) -> dict[str, int]:
    if not isinstance(value, dict) or len(value) > LIMITS.answers.value:
        raise HandInError("hints is not a table of tasks", where="hints", code="handin-form")
    for key, count in value.items():
        if not _TASK.fullmatch(key) or isinstance(count, bool) or not isinstance(count, int) or not 0 <= count <= 99:
            raise HandInError(
                "hints is not a table of tasks and how many were taken", where="hints", code="handin-form"
            )
    return value


def _hunts(value: Any) -> dict[str, dict[str, Any]]:
    if not isinstance(value, dict) or len(value) > LIMITS.answers.value:
        raise HandInError("hunts is not a table of tasks", where="hunts", code="handin-form")
    for key, hunt in value.items():
        if not _TASK.fullmatch(key) or not isinstance(hunt, dict) or set(hunt) != {"after", "log"}:
            raise HandInError("hunts is not a table of tasks and their logs", where="hunts", code="handin-form")
        after = hunt["after"]
        if isinstance(after, bool) or not isinstance(after, int) or not 0 <= after <= LIMITS.answer_log.value:
            raise HandInError("a hunt goes on after a number of entries", where="hunts", code="handin-form")
        _log(hunt["log"])
    return value

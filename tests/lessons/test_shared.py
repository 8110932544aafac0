"""A class whose benches are equal but for what is hidden: each board is solved once, and nobody's marks change by it.

No outside source: each sheet is held against the same sheet marked as the first one of a new process.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from labkit.base import data_path
from labkit.circuit import Solver
from labkit.lessons import (
    HandIn,
    LessonSource,
    MarkSheet,
    dumps_handin,
    load_lesson,
    mark,
    mark_file,
    model_answers,
    variant,
)
from labkit.lessons._alike import forget
from labkit.lessons._lab import Lab
from labkit.lessons._shared import Kept, shared_by

STUDENTS = ("K. Lark", "R. Vale")


@pytest.fixture(autouse=True)
def fresh() -> Iterator[None]:
    forget()
    yield
    forget()


def _answers(lesson: LessonSource, student: str) -> dict[str, Any]:
    """Half of the answers are right, the others those of another student."""
    right, wrong = (model_answers(lesson, variant(lesson, name)) for name in (student, "Somebody Else"))
    return {task: (right, wrong)[i % 2][task] for i, task in enumerate(right)}


def _sheet(lesson: LessonSource, student: str) -> MarkSheet:
    return mark(lesson, variant(lesson, student), _answers(lesson, student))


def _told(path: Path) -> str:
    sheet = mark_file(path).sheet
    assert sheet is not None, path.name
    return sheet.to_json()


def test_who_comes_first_makes_no_difference(tmp_path: Path) -> None:
    lesson = load_lesson("checkout")
    files = sorted(data_path("datasets", "handins").glob("wiring-hunt--*.json"))
    for number, student in enumerate(STUDENTS):
        mine = variant(lesson, student)
        handin = HandIn("checkout", lesson.file.edition, student, 1, mine.seed, _answers(lesson, student))
        files.append(tmp_path / f"{number}.json")
        files[-1].write_text(dumps_handin(handin), "utf-8")
    alone = {}
    for path in files:
        forget()
        alone[path] = _told(path)
    assert len(set(alone.values())) == len(files) > 4
    for order in (files, files[::-1]):
        forget()
        assert {path: _told(path) for path in order} == alone


def test_the_next_student_s_boards_are_solved_already(monkeypatch: pytest.MonkeyPatch) -> None:
    lesson, made = load_lesson("checkout"), []
    true_init = Solver.__init__

    def counted(self: Solver, *args: object, **more: object) -> None:
        made.append(1)
        true_init(self, *args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Solver, "__init__", counted)
    _sheet(lesson, STUDENTS[0])
    first = len(made)
    _sheet(lesson, STUDENTS[1])
    assert first > 0
    assert len(made) - first < first / 2, "only the boards with other faults in are new"


def test_only_equal_benches_share(seal_in: LessonSource) -> None:
    one, other = (variant(seal_in, name) for name in STUDENTS[:2])
    assert Lab(seal_in, one)._shared is Lab(seal_in, one)._shared
    assert Lab(seal_in, one)._shared is not Lab(seal_in, other)._shared
    changed = LessonSource(seal_in.file.model_copy(update={"title": "Another"}), seal_in.programs, seal_in.digest)
    assert shared_by(changed, one) is not shared_by(seal_in, one)
    unnamed = LessonSource(seal_in.file, seal_in.programs)
    assert shared_by(unnamed, one) is not shared_by(unnamed, one)


def test_what_was_not_asked_for_the_longest_goes_first() -> None:
    kept = Kept(2)
    asked = [kept.once(key, lambda key=key: key.upper()) for key in "abac"]
    assert asked == ["A", "B", "A", "C"]
    assert list(kept) == ["a", "c"]

"""The shipped lesson, read once, and one student's variant of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from labkit.lessons import LessonSource, MarkSheet, Variant, load_lesson, variant
from labkit.lessons._lab import Lab
from labkit.lessons._truth import Truth
from labkit.lessons.key import model_with
from labkit.lessons.marking import mark_with

# Invented students; enough of them that every set of times and most landings occur.
STUDENTS = (
    "R. Vale", "Ada Moss", "P. Quill", "T. Fern", "I. Sedge", "B. Rowan", "L. Thorn", "O. Birch", "M. Heath", "J. Reed",
    "C. Marsh", "E. Holt", "N. Brook", "D. Ash", "F. Glen", "H. Wren", "K. Lark", "S. Finch", "V. Hazel", "W. Field",
)  # fmt: skip


@pytest.fixture(scope="session")
def students() -> tuple[str, ...]:
    """Twenty invented names."""
    return STUDENTS


@pytest.fixture(scope="session")
def seal_in() -> LessonSource:
    """The seal-in lesson."""
    return load_lesson("seal-in")


@pytest.fixture(scope="session")
def vale(seal_in: LessonSource) -> Variant:
    """One student's variant."""
    return variant(seal_in, "R. Vale")


@pytest.fixture(scope="session")
def truths() -> Callable[[LessonSource, str], Truth]:
    """The truths of a lesson for a student, computed once for all tests.

    That answers are marked alike with truths that others have used is held by test_marking and test_kinds.
    """
    known: dict[tuple[str, str, str], Truth] = {}

    def of(lesson: LessonSource, student: str) -> Truth:
        key = (lesson.id, lesson.digest, student)
        if key not in known:
            known[key] = Truth(Lab(lesson, variant(lesson, student)))
        return known[key]

    return of


@pytest.fixture(scope="session")
def vale_truth(truths: Callable[[LessonSource, str], Truth], seal_in: LessonSource) -> Truth:
    """The truths of that student's variant."""
    return truths(seal_in, "R. Vale")


@pytest.fixture(scope="session")
def vale_model(vale_truth: Truth) -> dict[str, Any]:
    """That variant's model answers."""
    return model_with(vale_truth)


@pytest.fixture(scope="session")
def only(vale_truth: Truth) -> Callable[..., MarkSheet]:
    """Marks one task's answer alone: ``only(hold={"text": ...})``."""

    def marked(**answers: Any) -> MarkSheet:
        return mark_with(vale_truth, {key.replace("_", "-"): value for key, value in answers.items()})

    return marked

"""The shipped lesson, read once, and one student's variant of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from labkit.lessons import LessonSource, MarkSheet, Variant, load_lesson, mark, model_answers, variant

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
def vale_model(seal_in: LessonSource, vale: Variant) -> dict[str, Any]:
    """That variant's model answers."""
    return model_answers(seal_in, vale)


@pytest.fixture(scope="session")
def only(seal_in: LessonSource, vale: Variant) -> Callable[..., MarkSheet]:
    """Marks one task's answer alone: ``only(hold={"text": ...})``."""

    def marked(**answers: Any) -> MarkSheet:
        return mark(seal_in, vale, {key.replace("_", "-"): value for key, value in answers.items()})

    return marked

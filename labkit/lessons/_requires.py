"""The texts of requirement lines: what stands in a lesson file, before any variant has filled it."""

from __future__ import annotations

import re

from labkit.base import LabkitError
from labkit.lessons._document import LessonFile
from labkit.lessons._text import fill
from labkit.lessons.errors import LessonError
from labkit.verify import requirement

__all__ = ["WIRE_AT", "check_requirements"]

WIRE_AT = re.compile(r"\bwire at (\S+)")
"""``wire at A1:I1`` in a requirement or a thing: the one wire there, which a proof calls ``wire:101``."""


def check_requirements(file: LessonFile) -> None:
    """Refuse a requirement that has no form, or that names a role which the lesson does not have.

    Raises
    ------
    LessonError
        Naming the rubric line.
    """
    words: dict[str, str] = {}
    for role in file.roles:
        words |= {role.id: role.names[0], f"{role.id}.point": role.point, f"{role.id}.device": role.device}
    for i, task in enumerate(file.tasks):
        for j, line in enumerate(task.rubric):
            where = f"tasks[{i}].rubric[{j}].require"
            if bool(line.require) != (line.kind == "requirement"):
                raise LessonError(
                    f"{line.id}: a line of kind requirement says what is required, and no other does",
                    where=where,
                    code="lesson-requirement",
                )
            for text in line.require:
                try:
                    requirement(WIRE_AT.sub("wire:1", fill(text, words)))
                except LabkitError as exc:
                    raise LessonError(
                        f"{line.id}: {exc.what}", where=where, try_this=exc.try_this, code="lesson-requirement"
                    ) from None

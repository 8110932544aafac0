"""Files of a student's own work: what cannot be used, or would be lost, is kept beside under another name."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import count
from pathlib import Path
from typing import Any

from labkit.base import write_atomic
from labkit.bench import Done
from labkit.lessons.errors import HandInError, LessonError
from labkit.lessons.handin import HandIn, dumps_handin, loads_handin, read_bounded
from labkit.lessons.limits import LIMITS

__all__ = ["OwnFile", "WatchedLog", "fitting", "lost_in", "set_aside"]


def set_aside(path: Path, word: str) -> Path:
    """Rename a file to one beside it that is not there yet, such as ``hold.json.damaged``; nobody marks that.

    Raises
    ------
    LessonError
        If it cannot be renamed.
    """
    for number in count(1):
        aside = path.with_name(f"{path.name}.{word}" + (f"-{number}" if number > 1 else ""))
        if not os.path.lexists(aside):
            break
    try:
        path.rename(aside)
    except OSError as exc:
        raise LessonError(
            f"{path.name} is in the way and cannot be given another name: {exc.strerror or exc}",
            where=str(path),
            try_this="rename or move it yourself, or name another folder",
            code="lesson-set-aside",
        ) from None
    return aside


class OwnFile:
    """A hand-in or kept sheet of one student's, that other programs and other kernels may write too.

    Parameters
    ----------
    path
        Where it is.
    whose
        A hand-in of this lesson, student and attempt; another's is not taken for one's own.
    """

    def __init__(self, path: Path, whose: HandIn) -> None:
        self.path = path
        self._whose = whose
        self._known: bytes | None = None  # as it was last read or written here

    def read(self) -> HandIn | None:
        """What is there; None if nothing is.

        Raises
        ------
        HandInError
            If it is damaged, or not this student's copy of this lesson.
        """
        if not self.path.exists():
            return None
        data = read_bounded(self.path)
        found = loads_handin(data)
        if found.lesson != self._whose.lesson:
            raise HandInError(f"it is of another lesson, {found.lesson}", code="handin-other-lesson")
        if found.seed != self._whose.seed:
            raise HandInError(
                f"it is of {found.student}, attempt {found.attempt}, or its seed was changed",
                code="handin-other-student",
            )
        self._known = data
        return found

    @property
    def changed(self) -> bool:
        """Whether something is there that was neither read nor written here."""
        try:
            return self.path.exists() and read_bounded(self.path) != self._known
        except HandInError:
            return True

    def write(self, handin: HandIn) -> Path:
        """Write it whole, or not at all.

        Raises
        ------
        LabkitError
            If nothing can be written there.
        """
        text = dumps_handin(handin)
        write_atomic(self.path, text)
        self._known = text.encode()
        return self.path


def fitting(handin: HandIn) -> HandIn:
    """The same with so much of the end of its bench log that it can be read again."""
    while handin.log and len(dumps_handin(handin).encode()) > LIMITS.file_bytes.value:
        handin = replace(handin, log=handin.log[len(handin.log) // 2 + 1 :])
    return handin


def lost_in(earlier: HandIn, now: HandIn) -> tuple[str, ...]:
    """The tasks of which the earlier one has more: an answer, rows or wires of one, a longer log."""
    return tuple(
        task for task, answer in earlier.answers.items() if not _parts(answer) <= _parts(now.answers.get(task))
    )


def _parts(answer: Any) -> set[str]:
    """What an answer has: the rows of a table and the entries of its lists, or itself."""
    if not isinstance(answer, dict):
        return set() if answer is None else {""}
    long = (f"{key}/{k}" for key, value in answer.items() if isinstance(value, list) for k in range(len(value)))
    return {*answer, *long}


class WatchedLog(list[Done]):
    """A bench's log that says when an entry was added."""

    def __init__(self, entries: Iterable[Done], added: Callable[[], None]) -> None:
        super().__init__(entries)
        self._added = added

    def append(self, entry: Done) -> None:
        """Add an entry."""
        super().append(entry)
        self._added()

"""Marking a class: files in, one outcome for each, nothing stops at a bad one."""

from __future__ import annotations

import hashlib
import multiprocessing
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Literal

from labkit.base import LabkitError
from labkit.lessons._files import LessonSource, load_lesson
from labkit.lessons.errors import HandInError, LessonError, one_line
from labkit.lessons.handin import loads_handin, read_bounded
from labkit.lessons.markbook import BookRow, MarkBook
from labkit.lessons.marking import mark
from labkit.lessons.sheet import MarkSheet
from labkit.lessons.variants import variant

__all__ = ["Outcome", "exit_code", "find_handins", "mark_file", "mark_files"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one file.

    Parameters
    ----------
    path
        The file.
    status
        ``marked``; ``flagged``: marked, but a person should look; ``unreadable``: no marks.
    message
        One line: the result, or what is wrong.
    sheet
        The mark sheet, if there is one.
    sha256
        Of the file's bytes, as far as they were read.
    """

    path: Path
    status: Literal["marked", "flagged", "unreadable"]
    message: str
    sheet: MarkSheet | None = field(default=None, repr=False)
    sha256: str = ""

    def row(self, marked_at: str) -> BookRow:
        """The outcome as a row of the mark book."""
        name = "".join(c if c.isprintable() else "?" for c in self.path.name)[:200]
        row = BookRow(
            marked_at=marked_at, file=name, file_sha256=self.sha256, outcome=self.status, message=self.message
        )
        if self.sheet is None:
            return row
        sheet = self.sheet
        return replace(
            row,
            lesson=sheet.lesson,
            student=sheet.student,
            attempt=sheet.attempt,
            seed=sheet.seed,
            points=sheet.points,
            out_of=sheet.out_of,
            passed=sheet.passed,
            sheet=sheet.to_json(),
        )


def find_handins(paths: Iterable[str | Path]) -> list[Path]:
    """The files among `paths`; a folder stands for its ``*.json`` files. Sorted by name in each folder.

    Raises
    ------
    HandInError
        If a path is not there, or a folder has no hand-in.
    """
    found: list[Path] = []
    for given in paths:
        path = Path(given)
        if path.is_dir():
            inside = sorted(p for p in path.iterdir() if p.suffix.lower() == ".json" and not p.name.startswith("."))
            if not inside:
                raise HandInError(
                    f"the folder {path.name or path} holds no hand-in (*.json)",
                    where=str(path),
                    try_this="name the folder that the students' files are in",
                    code="handin-none",
                )
            found += inside
        elif path.exists() or path.is_symlink():
            found.append(path)
        else:
            raise HandInError(
                f"there is no file {path.name}", where=str(path), try_this="check the name", code="handin-missing"
            )
    return list(dict.fromkeys(found))


def mark_files(
    paths: Iterable[str | Path],
    *,
    lesson: str | Path | LessonSource | None = None,
    book: str | Path | MarkBook | None = None,
    marked_at: str = "",
    workers: int = 1,
) -> list[Outcome]:
    """Mark hand-ins, each on its own; the outcomes come in the order of the files.

    Parameters
    ----------
    paths
        Files and folders.
    lesson
        Mark only hand-ins of this lesson, against this file; without it each hand-in names a shipped lesson.
    book
        A mark book that gets a row for every file.
    marked_at
        When, for the mark book; the marks themselves know no time.
    workers
        Processes to share the work.

    Raises
    ------
    LabkitError
        If a path, the lesson or the book cannot be used. A bad hand-in raises nothing.
    """
    files = find_handins(paths)
    source = lesson if lesson is None or isinstance(lesson, LessonSource) else load_lesson(lesson)
    opened = book if book is None or isinstance(book, MarkBook) else MarkBook(book)
    if workers > 1 and len(files) > 1:
        outcomes = _share(files, source, min(workers, len(files)))
    else:
        outcomes = _mark_each(files, source)
    if opened is not None:
        opened.add([outcome.row(marked_at) for outcome in outcomes])
    return outcomes


def _share(files: list[Path], lesson: LessonSource | None, workers: int) -> list[Outcome]:
    """The outcomes by several processes; what is alike goes to one of them, which works it out once."""
    # spawned, not forked: a notebook's process has threads
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        for _ in range(workers):  # they start while the files are sorted
            pool.submit(_mark_each, [], None)
        heaps: dict[tuple[object, ...], list[int]] = {}
        for i, path in enumerate(files):
            heaps.setdefault(_times(path, lesson), []).append(i)
        most = -(-len(files) // (2 * workers))  # nobody works on a large heap while the others wait
        parts = [heap[at : at + most] for heap in heaps.values() for at in range(0, len(heap), most)]
        parts.sort(key=len, reverse=True)
        given = [(part, pool.submit(_mark_each, [files[i] for i in part], lesson)) for part in parts]
        found = {i: outcome for part, work in given for i, outcome in zip(part, work.result(), strict=True)}
    return [found[i] for i in range(len(files))]


def _times(path: Path, lesson: LessonSource | None) -> tuple[object, ...]:
    """A hand-in's lesson and the times of its bench, which are most of what makes benches alike."""
    try:
        handin = loads_handin(read_bounded(path))
        mine = variant(_shipped(handin.lesson) if lesson is None else lesson, handin.student, handin.attempt)
    except (LabkitError, OSError):
        return ()
    return (mine.lesson, mine.scan_us, mine.filter_us, mine.pull_in_us)


def _mark_each(paths: Sequence[Path], lesson: LessonSource | None) -> list[Outcome]:
    return [mark_file(path, lesson) for path in paths]


def mark_file(path: Path, lesson: LessonSource | None = None) -> Outcome:
    """Mark one file. Whatever is in it, this gives an outcome."""
    digest = ""
    try:
        data = read_bounded(path)
        digest = hashlib.sha256(data).hexdigest()
        sheet = _mark_bytes(data, lesson)
    except LabkitError as exc:
        return Outcome(path, "unreadable", one_line(exc), sha256=digest)
    except Exception as exc:  # a mistake of labkit must not cost the rest of the class their marks
        line = f"labkit could not mark this file ({type(exc).__name__}); please report it"
        return Outcome(path, "unreadable", line, sha256=digest)
    status: Literal["marked", "flagged"] = "flagged" if sheet.flags else "marked"
    message = f"{sheet.points:g} of {sheet.out_of:g} points, {sheet.verdict}"
    if sheet.flags:
        message += f"; look at this: {sheet.flags[0]}"
    return Outcome(path, status, message, sheet, digest)


def _mark_bytes(data: bytes, lesson: LessonSource | None) -> MarkSheet:
    handin = loads_handin(data)
    source = _shipped(handin.lesson) if lesson is None else lesson
    if handin.lesson != source.id:
        raise HandInError(
            f"this is a hand-in of {handin.lesson}, not of {source.id}", where="lesson", code="handin-other-lesson"
        )
    if handin.edition != source.file.edition:
        raise HandInError(
            f"this hand-in was made for edition {handin.edition} of {source.id}; "
            f"the lesson here is edition {source.file.edition}",
            where="edition",
            try_this="mark it with the lesson file that the student had",
            code="handin-edition",
        )
    try:
        mine = variant(source, handin.student, handin.attempt)
    except LessonError as exc:
        raise HandInError(exc.what, where="student", code="handin-form") from None
    sheet = mark(source, mine, handin.answers)
    if handin.seed != mine.seed:
        flag = (
            f"the seed {handin.seed} is not {mine.student}'s ({mine.seed}): "
            "the file was made for another name or attempt, or changed by hand"
        )
        sheet = replace(sheet, flags=(flag, *sheet.flags))
    return sheet


@lru_cache(maxsize=8)
def _shipped(lesson: str) -> LessonSource:
    """A shipped lesson, read once: a class hands in the same one thirty times."""
    return load_lesson(lesson)


def exit_code(outcomes: Sequence[Outcome]) -> int:
    """0 if every file was marked, 1 if something needs a person: a file without marks, or a flag."""
    return 0 if all(outcome.status == "marked" for outcome in outcomes) else 1

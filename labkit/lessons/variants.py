"""One student's copy of a lesson: which points, which names, which times, which cells."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from labkit.lessons._document import PredictTask
from labkit.lessons._draw import Draw, seed_of
from labkit.lessons._files import LessonSource
from labkit.lessons._text import fill, span_us
from labkit.lessons.errors import LessonError
from labkit.lessons.limits import LIMITS

__all__ = ["Cell", "Variant", "check_student", "variant"]


@dataclass(frozen=True, slots=True, order=True)
class Cell:
    """One asked cell of a predict table: a run (row) and a column."""

    row: str
    column: str

    @property
    def id(self) -> str:
        """How the answer names it: ``row/column``."""
        return f"{self.row}/{self.column}"


@dataclass(frozen=True)
class Variant:
    """What follows from a lesson, a student and an attempt, for ever.

    Parameters
    ----------
    lesson, edition, student, attempt, seed
        Whose it is.
    scan_us, filter_us, pull_in_us
        Times of the bench in microseconds.
    points
        Role id to the point that the role's tag is on, ``"I4"``.
    names
        Role id to tag name.
    moved
        Point as the board's file has it to the point where its wire lands on this bench; only those that differ.
    cells
        Task id to the asked cells of its table, in table order.
    words
        Every ``{name}`` that the lesson's texts may use.
    """

    lesson: str
    edition: int
    student: str
    attempt: int
    seed: str
    scan_us: int
    filter_us: int
    pull_in_us: int
    points: Mapping[str, str]
    names: Mapping[str, str]
    moved: Mapping[str, str]
    cells: Mapping[str, tuple[Cell, ...]]
    words: Mapping[str, str] = field(repr=False)

    @property
    def symbols(self) -> Mapping[str, int]:
        """Units of a span besides us, ms and s, in microseconds.

        ``race`` is the shortest press that a seal through the auxiliary contact holds at any instant:
        pull-in and filter, rounded up to whole scans.
        """
        arrives = self.pull_in_us + self.filter_us
        return {
            "scan": self.scan_us,
            "filter": self.filter_us,
            "pull_in": self.pull_in_us,
            "race": -(-arrives // self.scan_us) * self.scan_us,
        }

    def fill(self, text: str, **more: str) -> str:
        """`text` with this variant's words, and `more` words besides."""
        return fill(text, {**self.words, **more} if more else self.words)

    def summary(self) -> str:
        """One line for the instructor's key."""
        at = ", ".join(f"{name} on {self.points[role]}" for role, name in self.names.items() if self.points.get(role))
        times = f"scan {_ms(self.scan_us)}, filter {_ms(self.filter_us)}, pull-in {_ms(self.pull_in_us)}"
        return f"{self.lesson} attempt {self.attempt}, seed {self.seed}: {times}" + f"; {at}" * bool(at)


def check_student(student: object) -> str:
    """The student's name, tidied; case and spaces do not change a variant.

    Raises
    ------
    LessonError
        If it is not a name of 1 to 80 printable characters.
    """
    if not isinstance(student, str) or not student.strip():
        raise LessonError("a student's name is missing", try_this='write e.g. student="R. Vale"', code="lesson-student")
    name = " ".join(unicodedata.normalize("NFC", student).split())
    if len(name) > LIMITS.name_chars.value:
        raise LessonError(LIMITS.name_chars.says(len(name)), try_this="give a shorter name", code="lesson-student")
    if not name.isprintable():
        raise LessonError("the student's name holds characters that cannot be printed", code="lesson-student")
    return name


def variant(lesson: LessonSource, student: str, attempt: int = 1) -> Variant:
    """The student's variant of a lesson.

    It depends on the lesson's id and edition, the name and the attempt, and on nothing else: no clock, no
    machine, no random state. Each choice is drawn under its own label, so that adding a choice to a lesson
    leaves the others as they were.

    Raises
    ------
    LessonError
        If the name or the attempt cannot be used.
    """
    name = check_student(student)
    if isinstance(attempt, bool) or not isinstance(attempt, int) or not 1 <= attempt <= LIMITS.attempts.value:
        raise LessonError(LIMITS.attempts.says(attempt), code="lesson-attempt")
    file = lesson.file
    seed = seed_of(file.id, file.edition, name, attempt)
    draw = Draw(seed)
    times = draw.pick("bench", file.benches)
    scan, filter_, pull_in = (span_us(text, {}) for text in (times.scan, times.filter, times.pull_in))
    names = {role.id: draw.pick(f"name/{role.id}", role.names) for role in file.roles}
    points, moved = _land(lesson, draw)
    words = {
        **names,
        **{f"{role}.point": point for role, point in points.items()},
        **{f"{role.id}.device": role.device for role in file.roles if role.device},
        "scan": _ms(scan),
        "filter": _ms(filter_),
        "pull_in": _ms(pull_in),
        "supply": draw.pick("supply/start", file.start.supply),
    }
    return Variant(
        lesson=file.id,
        edition=file.edition,
        student=name,
        attempt=attempt,
        seed=seed,
        scan_us=scan,
        filter_us=filter_,
        pull_in_us=pull_in,
        points=MappingProxyType(points),
        names=MappingProxyType(names),
        moved=MappingProxyType(moved),
        cells=MappingProxyType({task.id: _cells(task, draw) for task in file.tasks if isinstance(task, PredictTask)}),
        words=MappingProxyType(words),
    )


def _land(lesson: LessonSource, draw: Draw) -> tuple[dict[str, str], dict[str, str]]:
    """Where each role's point lands; who had the place before takes the place that was left."""
    lands: dict[str, str] = {}  # point in the board's file -> point on this bench
    at: dict[str, str] = {}  # the other way round
    points: dict[str, str] = {}
    for role in lesson.file.roles:
        if not role.point or not role.may_land:
            continue
        taken = set(points.values())
        target = draw.pick(f"point/{role.id}", [place for place in role.may_land if place not in taken])
        here = lands.get(role.point, role.point)
        other = at.get(target, target)
        lands[role.point], lands[other] = target, here
        at[target], at[here] = role.point, other
        points[role.id] = target
    # what has no choice of its own stands where the others left it
    points |= {r.id: lands.get(r.point, r.point) for r in lesson.file.roles if r.point and not r.may_land}
    return points, {old: new for old, new in lands.items() if old != new}


def _cells(task: PredictTask, draw: Draw) -> tuple[Cell, ...]:
    """The asked cells: every row before any twice, and the columns in turn, from a drawn order."""
    everything = [Cell(row, column.id) for row in task.rows for column in task.columns]
    if not task.ask or task.ask >= len(everything):
        return tuple(everything)
    rows = draw.shuffled(f"rows/{task.id}", task.rows)
    columns = draw.shuffled(f"columns/{task.id}", [column.id for column in task.columns])
    chosen: set[Cell] = set()
    number = 0
    while len(chosen) < task.ask:
        # each round through the rows moves on by one column, so a row never meets the same column twice
        turn, place = divmod(number, len(rows))
        chosen.add(Cell(rows[place], columns[(place + turn) % len(columns)]))
        number += 1
    return tuple(cell for cell in everything if cell in chosen)


def _ms(us: int) -> str:
    return f"{us / 1000:g} ms"

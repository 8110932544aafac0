"""The lesson file as records: what a TOML document must hold, and nothing about judging it.

Start reading at :class:`LessonFile`. The page docs/reference/lesson-file.md says the same in words.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "SCHEMA",
    "BenchChoice",
    "Check",
    "ChoiceTask",
    "Column",
    "Expect",
    "LessonFile",
    "NumberTask",
    "Option",
    "Outcome",
    "PredictTask",
    "ProgramFile",
    "ProgramTask",
    "ReadingTask",
    "Role",
    "RubricLine",
    "Run",
    "Search",
    "Task",
    "WrongAnswer",
]

SCHEMA = 1

Id = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{0,40}$")]
Key = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{0,40}$")]
TagName = Annotated[str, Field(pattern=r"^[A-Za-z_][A-Za-z0-9_]{0,30}$")]
Sentence = Annotated[str, Field(min_length=1)]


class Record(BaseModel):
    """Frozen; an unknown key is named, never dropped."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


class BenchChoice(Record):
    """One set of times that a variant may draw; each is a span."""

    scan: str
    filter: str
    pull_in: str


class Role(Record):
    """A thing that every variant has under its own tag name and, for an input, on its own point.

    `stops_at` is the bit's value that asks for a stop, for those that do.
    """

    id: Key
    what: Sentence
    device: str = ""
    point: str = ""  # "" is a memory bit
    may_land: tuple[str, ...] = ()
    names: tuple[TagName, ...] = Field(min_length=1)
    retain: bool = False
    stops_at: bool | None = None


class ProgramFile(Record):
    """A program of the lesson, written with role ids in capitals (``STOP``, ``START``) as tag names."""

    file: str
    short: str = ""
    title: str = ""


class Expect(Record):
    """From the label `after` on: `signal` is `value` at the latest `within`, and stays so until `until`."""

    signal: str
    value: bool = True
    after: str = "start"
    within: str = "0 ms"
    until: str = "end"
    says: str = ""


class Outcome(Record):
    """A word for what happened, and what must be seen for it."""

    word: str
    expect: tuple[Expect, ...]


class Run(Record):
    """Steps at the bench, after a preparation; `vary` runs them once per value."""

    id: Id
    title: Sentence
    given: str = ""
    steps: tuple[str, ...]
    vary: dict[Key, tuple[str, ...]] = Field(default_factory=dict)
    outcomes: str = ""


class Check(Run):
    """A behaviour that a program must show, in every variation."""

    expect: tuple[Expect, ...] = Field(min_length=1)


class Search(Record):
    """The smallest value of `variable` for which `check` holds in every variation."""

    check: Id
    program: Key
    variable: Key
    unit: Literal["ms"] = "ms"
    low: str
    high: str


class RubricLine(Record):
    """Points for one thing; the sentences may use {why}, {got}, {truth} and the variant's words."""

    id: Id
    points: float = Field(ge=0, le=100)
    kind: Literal["reads", "one-coil", "behaviour", "requirement", "cells", "value", "picked", "note"]
    check: str = ""
    require: tuple[Sentence, ...] = ()
    may: tuple[Sentence, ...] = ()
    most_states: int = Field(default=20_000, ge=1, le=200_000)
    role: str = ""
    critical: bool = False
    title: Sentence
    right: str = ""
    wrong: str = ""


class TaskBase(Record):
    """What all tasks have."""

    id: Id
    title: Sentence
    prompt: Sentence
    why: Sentence
    hints: tuple[Sentence, ...] = ()
    rubric: tuple[RubricLine, ...] = Field(min_length=1)


class Column(Record):
    """A column of a predict table: a program that runs, and further words for the runs' text."""

    id: Id
    label: Sentence
    program: str = ""
    words: dict[Key, str] = Field(default_factory=dict)


class PredictTask(TaskBase):
    """A table whose cells are words chosen from a list; `ask` cells of it are drawn for a variant (0: all)."""

    kind: Literal["predict"]
    rows: tuple[Id, ...] = Field(min_length=1)
    columns: tuple[Column, ...] = Field(min_length=1)
    ask: int = Field(default=0, ge=0)


class ProgramTask(TaskBase):
    """A program as ladder text or Structured Text."""

    kind: Literal["program"]
    roles: tuple[Key, ...]
    start_from: str = ""
    model: str


class NumberTask(TaskBase):
    """A number with a unit, found by search on the variant's bench."""

    kind: Literal["number"]
    unit: Literal["ms", "V"]
    tolerance: float = Field(gt=0)
    search: str


class Option(Record):
    """One of the answers to choose from; `word` is the outcome that makes it the right one."""

    id: Id
    word: str
    text: Sentence


class ChoiceTask(TaskBase):
    """One option; the right one is the word of the run's outcome on the variant's bench."""

    kind: Literal["choice"]
    options: tuple[Option, ...] = Field(min_length=2)
    run: Id
    program: Key


class ReadingTask(TaskBase):
    """What a meter reads between two terminals at the end of a run; the tolerance follows the reading."""

    kind: Literal["reading"]
    run: Id
    program: Key
    red: str
    black: str
    unit: Literal["V"] = "V"
    tolerance_percent: float = Field(gt=0, le=50)
    tolerance_floor: float = Field(gt=0)


Task = Annotated[PredictTask | ProgramTask | NumberTask | ChoiceTask | ReadingTask, Field(discriminator="kind")]


class WrongAnswer(Record):
    """An answer that must lose the points of line `fails`, for a reason that contains `says`."""

    id: Id
    title: Sentence
    task: Id
    program: str = ""
    word: str = ""
    span: str = ""
    value: float | None = None
    fails: Id
    says: str


class LessonFile(Record):
    """One lesson: board, what varies, what is asked, how it is judged."""

    schema_: Literal[1] = Field(alias="schema")
    id: Id
    edition: int = Field(ge=1)
    title: Sentence
    about: Sentence
    cautions: tuple[Sentence, ...] = Field(min_length=1)
    board: str
    family: str
    practice: bool = True
    pass_percent: float = Field(default=80, ge=0, le=100)
    benches: tuple[BenchChoice, ...] = Field(min_length=1)
    spare_bits: tuple[TagName, ...] = ()
    roles: tuple[Role, ...]
    programs: dict[Key, ProgramFile]
    states: dict[Key, tuple[str, ...]]
    outcomes: dict[Key, tuple[Outcome, ...]] = Field(default_factory=dict)
    runs: tuple[Run, ...] = ()
    checks: tuple[Check, ...] = ()
    searches: dict[Key, Search] = Field(default_factory=dict)
    tasks: tuple[Task, ...] = Field(min_length=1)
    wrong: tuple[WrongAnswer, ...] = ()

"""The lesson file as records: what a TOML document must hold, and nothing about judging it.

Start reading at :class:`LessonFile`. The page docs/reference/lesson-file.md says the same in words.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from labkit.lessons._setups import Hidden, Id, Key, Look, Record, Row, Sentence, Setup

__all__ = [
    "SCHEMA",
    "BenchChoice",
    "Check",
    "ChoiceTask",
    "Column",
    "CouldExplainTask",
    "DrillTask",
    "Expect",
    "Hidden",
    "HuntTask",
    "LessonFile",
    "Look",
    "NumberTask",
    "Option",
    "Outcome",
    "PredictTask",
    "ProgramFile",
    "ProgramTask",
    "ReadingTask",
    "Role",
    "Row",
    "RowsTask",
    "RubricLine",
    "Run",
    "Search",
    "Setup",
    "SheetTask",
    "Task",
    "WiringTask",
    "WrongAnswer",
]

SCHEMA = 1

TagName = Annotated[str, Field(pattern=r"^[A-Za-z_][A-Za-z0-9_]{0,30}$")]


class BenchChoice(Record):
    """One set of times that a variant may draw; each is a span."""

    scan: str = "10 ms"
    filter: str = "4 ms"
    pull_in: str = "25 ms"


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
    """From the label `after` on: `signal` is `value` at the latest `within`, and stays so until `until`.

    A word as `value` is a position: ``pos:F5`` is ``"off"``.
    """

    signal: str
    value: bool | str = True
    after: str = "start"
    within: str = "0 ms"
    until: str = "end"
    says: str = ""


class Outcome(Record):
    """A word for what happened, and what must be seen for it."""

    word: str
    expect: tuple[Expect, ...]


class Run(Record):
    """Steps at the bench of `setup`, after a preparation; `vary` runs them once per value."""

    id: Id
    title: Sentence
    setup: str = ""
    given: str = ""
    steps: tuple[str, ...] = ()
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
    kind: Literal[
        "reads",
        "one-coil",
        "behaviour",
        "requirement",
        "cells",
        "value",
        "picked",
        "note",
        "readable",
        "points",
        "findings",
        "dead-first",
        "readings",
        "found",
        "predictions",
        "location",
        "cause",
        "method",
        "telling",
        "inference",
        "swaps",
        "safety",
        "retest",
        "explains",
    ]
    check: str = ""
    require: tuple[Sentence, ...] = ()
    may: tuple[Sentence, ...] = ()
    most_states: int = Field(default=20_000, ge=1, le=200_000)
    role: str = ""
    rows: tuple[Id, ...] = ()
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
    """A number with a unit: found by search on the variant's bench, or read there by `look`."""

    kind: Literal["number"]
    unit: Literal["ms", "V", "A", "mA", "ohm"]
    tolerance: float = Field(gt=0)
    search: str = ""
    look: Look | None = None


class Option(Record):
    """One of the answers to choose from; `word` is the outcome, or the band of the look, that makes it right."""

    id: Id
    word: str
    text: Sentence


class ChoiceTask(TaskBase):
    """One option; the right one is the word of the run's outcome on the variant's bench, or the band of a look."""

    kind: Literal["choice"]
    options: tuple[Option, ...] = Field(min_length=2)
    run: str = ""
    program: str = ""
    look: Look | None = None


class ReadingTask(TaskBase):
    """What a meter reads at the end of a run; the tolerance follows the reading."""

    kind: Literal["reading"]
    run: Id
    program: str = ""
    mode: Literal["volts", "ohms", "diode", "amps"] = "volts"
    red: str = ""
    black: str = ""
    wire: str = ""
    unit: Literal["V", "A", "mA", "ohm"] = "V"
    tolerance_percent: float = Field(gt=0, le=50)
    tolerance_floor: float = Field(gt=0)


class WiringTask(TaskBase):
    """Wires to land: judged by what the bench with the handed-in wiring does."""

    kind: Literal["wiring"]
    points: tuple[str, ...] = ()  # () is every point of the I/O list that has a device
    setup: str = ""


class RowsTask(TaskBase):
    """What a sheet and a drill share: rows to read, and how near a reading must be.

    Volts are right within the larger of `tolerance_percent` and `tolerance_volts`, and so on.
    """

    rows: tuple[Row, ...] = Field(min_length=1)
    tolerance_percent: float = Field(default=5, gt=0, le=50)
    tolerance_volts: float = Field(default=0.3, gt=0)
    tolerance_ohms: float = Field(default=1.0, gt=0)
    tolerance_amps: float = Field(default=0.002, gt=0)


class SheetTask(RowsTask):
    """A checkout or pre-power sheet: what was read in each row."""

    kind: Literal["sheet"]


class DrillTask(RowsTask):
    """Readings that are predicted first; a prediction within `band_volts` (or of the same kind) is right."""

    kind: Literal["drill"]
    band_volts: float = Field(default=2.0, gt=0)


class HuntTask(TaskBase):
    """A hidden fault to be found with meter and eyes: the other suspects are drawn from `pool`, and so is the truth.

    `truths` narrows what is in to a part of the pool: those that are equally hard to find. `given` is a state that the
    bench is brought to before it is handed over; `card` says what was reported; `seen` are looks whose result on the
    faulted bench stands on the card.
    """

    kind: Literal["hunt"]
    pool: tuple[str, ...] = Field(min_length=2)
    truths: tuple[str, ...] = ()  # () is the whole pool
    suspects: int = Field(default=8, ge=2, le=16)
    program: str = "working"
    setup: str = ""
    given: str = "powered"
    card: Sentence
    seen: tuple[Look, ...] = ()


class CouldExplainTask(TaskBase):
    """What was seen, and faults: could each alone explain it? The faults and what is in are drawn from `pool`."""

    kind: Literal["could-explain"]
    pool: tuple[str, ...] = Field(min_length=2)
    truths: tuple[str, ...] = ()  # () is the whole pool
    ask: int = Field(default=8, ge=2, le=16)
    program: str = "working"
    seen: tuple[Look, ...] = Field(min_length=1)


Task = Annotated[
    PredictTask
    | ProgramTask
    | NumberTask
    | ChoiceTask
    | ReadingTask
    | WiringTask
    | SheetTask
    | DrillTask
    | HuntTask
    | CouldExplainTask,
    Field(discriminator="kind"),
]


class WrongAnswer(Record):
    """An answer that must lose the points of line `fails`, for a reason that contains `says`."""

    id: Id
    title: Sentence
    task: Id
    program: str = ""
    word: str = ""
    span: str = ""
    value: float | str | None = None
    rows: dict[Id, float | str] = Field(default_factory=dict)
    wires: Setup | None = None
    location: str = ""
    cause: str = ""
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
    benches: tuple[BenchChoice, ...] = Field(default=(BenchChoice(),), min_length=1)
    start: Setup = Setup()
    setups: dict[Key, Setup] = Field(default_factory=dict)
    wire_groups: dict[Key, tuple[str, ...]] = Field(default_factory=dict)
    hidden: tuple[Hidden, ...] = ()
    spare_bits: tuple[TagName, ...] = ()
    roles: tuple[Role, ...] = ()
    programs: dict[Key, ProgramFile] = Field(default_factory=dict)
    states: dict[Key, tuple[str, ...]] = Field(default_factory=dict)
    outcomes: dict[Key, tuple[Outcome, ...]] = Field(default_factory=dict)
    runs: tuple[Run, ...] = ()
    checks: tuple[Check, ...] = ()
    searches: dict[Key, Search] = Field(default_factory=dict)
    tasks: tuple[Task, ...] = Field(min_length=1)
    wrong: tuple[WrongAnswer, ...] = ()

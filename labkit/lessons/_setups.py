"""Records for the electrical side of a lesson file: how a bench is wired at the start, and places to measure."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["Added", "Hidden", "Id", "Key", "Look", "Mode", "Moved", "Record", "Row", "Sentence", "Setup"]

Id = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{0,40}$")]
Key = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{0,40}$")]
Sentence = Annotated[str, Field(min_length=1)]
Mode = Literal["volts", "ohms", "continuity", "diode", "amps", "led", "lit", "state", "bit"]


class Record(BaseModel):
    """Frozen; an unknown key is named, never dropped."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True, populate_by_name=True)


class Moved(Record):
    """One end of a wire that is landed on another terminal than drawn."""

    wire: str
    end: str
    to: str


class Added(Record):
    """A wire that the drawing does not have."""

    no: str
    a: str
    b: str
    colour: str = "BU"
    mm2: float = Field(default=0.75, gt=0, le=10)
    m: float = Field(default=0.9, gt=0, le=100)


class Setup(Record):
    """A bench as somebody finds it: which wires are landed, where, and how the supply stands to earth.

    `off` names groups of `[wire_groups]` or single wire numbers; `parked` and `pulled` name terminal blocks.
    """

    wiring: Literal["as drawn", "bare"] = "as drawn"
    off: tuple[str, ...] = ()
    moved: tuple[Moved, ...] = ()
    add: tuple[Added, ...] = ()
    supply: tuple[Literal["bonded", "floating"], ...] = ("bonded",)
    removed: tuple[str, ...] = ()
    parked: tuple[str, ...] = ()
    pulled: tuple[str, ...] = ()
    gate: bool = False
    title: str = ""


class Hidden(Record):
    """A fault drawn from `pool` for each variant and put into the benches of `setups` (``start``: the lesson's own)."""

    id: Id
    pool: tuple[str, ...] = Field(min_length=1)
    setups: tuple[Key, ...] = ("start",)


class Look(Record):
    """One reading of the meter, or one look, at the end of a run.

    `red` and `black` are terminals; for ``amps`` `wire` is a wire's number; for ``led`` `at` is a point, for
    ``lit`` and ``state`` a part, for ``bit`` a tag.
    """

    run: Id
    mode: Mode = "volts"
    red: str = ""
    black: str = ""
    wire: str = ""
    at: str = ""
    program: str = ""
    setup: str = ""


class Row(Look):
    """A row of a sheet or a drill: a look with a name, what the student reads, and why it is so."""

    id: Id
    what: Sentence
    why: str = ""

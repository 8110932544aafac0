"""The shape of the documents of this room, before anything in them is looked up."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from labkit.board._shape import Record

__all__ = ["SCHEMA", "BoardHead", "PartRow", "PointRow", "RuleRow", "WireRow", "WiringHead"]

SCHEMA = 1
"""The schema number that this version writes; each document carries one."""


def _whole_numbers_are_names(value: object) -> object:
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _digits_are_a_number(value: object) -> object:
    return int(value) if isinstance(value, str) and value.isdecimal() and len(value) < 9 else value


class WireRow(Record):
    """One wire."""

    no: Annotated[str, BeforeValidator(_whole_numbers_are_names), Field(min_length=1, max_length=20)]
    a: Annotated[str, Field(min_length=1, max_length=60)]
    b: Annotated[str, Field(min_length=1, max_length=60)]
    colour: Annotated[str, Field(max_length=8)] = "BU"
    mm2: Annotated[float, Field(gt=0, le=10, allow_inf_nan=False)] = 0.75
    m: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] = 0.5
    ferrule: bool = True
    conductor_class: Annotated[Literal[1, 2, 5, 6], BeforeValidator(_digits_are_a_number)] = 5


class PartRow(Record):
    """One part on the panel."""

    designation: Annotated[str, Field(pattern=r"^[A-Z][0-9]{1,3}$")]
    type: str
    label: str = ""
    x_mm: Annotated[float, Field(ge=0, le=5000, allow_inf_nan=False)]
    y_mm: Annotated[float, Field(ge=0, le=5000, allow_inf_nan=False)]
    blocks: Mapping[Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")], str] = {}


class PointRow(Record):
    """One row of the I/O list."""

    point: str
    tag: Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_]*$", max_length=40)]
    device: str = ""
    contact: Literal["NO", "NC", "PNP", "NPN", "2-wire", ""] = ""
    comment: str = ""
    one: str = ""
    zero: str = ""
    rest: Literal[0, 1] = 0
    on_when: Mapping[str, str] = {}


class RuleRow(Record):
    """One rule about what must be dead."""

    terminal: str
    actor: str
    state: str
    why: str


class WiringHead(Record):
    """What a wiring document says besides its wires."""

    schema_: Annotated[int, Field(alias="schema")]


class BoardHead(WiringHead):
    """What a board document says besides its rows."""

    title: str
    width_mm: Annotated[float, Field(gt=0, le=5000)]
    height_mm: Annotated[float, Field(gt=0, le=5000)]

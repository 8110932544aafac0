"""Plug-on terminal blocks: which poles they have, how they are coded, and what goes on what.

A controller's wires land on the clamps of its plug-on blocks. Each block belongs on the header of the same name.
A header carries coding pins, a block has slots where its own header's pins are: it goes on a header if each of
that header's pins meets a slot. Pins that somebody has pulled out stop nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field, model_validator

from labkit.board._shape import Record

__all__ = ["HOME", "Plug", "PlugRow", "Seat", "reaches", "why_not"]


class PlugRow(Record):
    """A plug-on block of a controller in the parts catalogue.

    Parameters
    ----------
    name
        Its name and its header's, e.g. ``"XI1"``.
    poles
        Terminal names, first pole first.
    coded
        Poles (counted from 1) at which its header carries a coding pin.
    """

    name: Annotated[str, Field(pattern=r"^X[A-Z0-9]*$")]
    poles: Annotated[tuple[str, ...], Field(min_length=1)]
    coded: tuple[int, ...] = ()

    @model_validator(mode="after")
    def _codes_are_poles(self) -> PlugRow:
        beyond = [n for n in self.coded if not 1 <= n <= len(self.poles)]
        if beyond:
            raise ValueError(f"coded names pole {beyond[0]}; the block has {len(self.poles)}")
        return self


@dataclass(frozen=True, slots=True)
class Plug:
    """One plug-on block of a board, and its header.

    Parameters
    ----------
    id
        Part and name, e.g. ``"A1.XI1"``; the header's id as well.
    part
        The part it belongs to.
    poles
        Terminal ids, first pole first.
    coded
        Poles (from 1) at which the header carries a coding pin; the block has slots there.
    """

    id: str
    part: str
    poles: tuple[str, ...]
    coded: frozenset[int]


@dataclass(frozen=True, slots=True)
class Seat:
    """Where a block is.

    Parameters
    ----------
    on
        The header it sits on; ``""`` if it sits on none.
    parked
        Hung beside its header for wiring; only if it sits on none.
    loose
        Terminal ids of its clamps that do not reach the header: it is not pushed home.
    """

    on: str = ""
    parked: bool = False
    loose: frozenset[str] = frozenset()


HOME = Seat("its own header")
"""Stands for a block that is where it belongs; a board starts so."""


def why_not(block: Plug, header: Plug, *, uncoded: bool = False) -> str:
    """Why a block does not go on a header, as a sentence; ``""`` if it does.

    Parameters
    ----------
    uncoded
        Whether the header's coding pins are pulled out.
    """
    if len(block.poles) > len(header.poles):
        return (
            f"{block.id} has {len(block.poles)} poles and header {header.id} only {len(header.poles)}: "
            "it does not go in"
        )
    barred = [] if uncoded else sorted(header.coded - block.coded)
    if barred:
        return (
            f"{block.id} does not go on header {header.id}: the header's coding pin at pole {barred[0]} "
            f"({header.poles[barred[0] - 1]}) meets no slot of the block"
        )
    return ""


def reaches(plugs: Mapping[str, Plug], seats: Mapping[str, Seat]) -> dict[str, str]:
    """What each pole of every header reaches: header's terminal id -> clamp's terminal id, ``""`` for nothing.

    Parameters
    ----------
    plugs
        Every block of the board by its id.
    seats
        Those that are not where they belong.
    """
    found = {pole: "" for header in plugs.values() for pole in header.poles}
    for block in plugs.values():
        seat = seats.get(block.id, HOME)
        header = block if seat is HOME else plugs.get(seat.on)
        if header is not None:
            for pin, clamp in zip(header.poles, block.poles, strict=False):
                if clamp not in seat.loose:
                    found[pin] = clamp
    return found

"""A board: which parts it has, where they sit, and what its points mean. Nothing here moves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType
from typing import Literal

from labkit.base import did_you_mean
from labkit.board.catalogue import CatalogueEntry, ControllerPart, StripPart, SupplyPart
from labkit.board.errors import BoardError
from labkit.board.plugs import Plug
from labkit.board.wiring import Wiring

__all__ = ["Block", "Board", "MustBeDead", "Part", "Point", "Terminal"]


@dataclass(frozen=True, slots=True)
class Block:
    """Something plugged on a part, e.g. ``K1.aux``: its terminals carry the part's designation."""

    id: str
    name: str
    entry_name: str
    entry: CatalogueEntry


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a board.

    Parameters
    ----------
    designation
        IEC 81346-2, e.g. ``"K1"``.
    entry_name, entry
        Which record of the catalogue it is.
    label
        The words on its legend plate.
    x_mm, y_mm
        Its top left corner on the panel.
    blocks
        What is plugged on it.
    """

    designation: str
    entry_name: str
    entry: CatalogueEntry
    label: str
    x_mm: float
    y_mm: float
    blocks: tuple[Block, ...] = ()

    @property
    def kind(self) -> str:
        """The kind of its catalogue record, e.g. ``"push_button"``."""
        return self.entry.kind

    def terminal(self, name: str) -> str:
        """The id of one of its terminals."""
        return f"{self.designation}:{name}"


@dataclass(frozen=True, slots=True)
class Terminal:
    """One terminal: its id, its part and plugged-on block (or ``""``), where it is, how many wires it takes."""

    id: str
    part: str
    name: str
    block: str
    side: Literal["top", "bottom"]
    x_mm: float
    y_mm: float
    clamps: int


@dataclass(frozen=True, slots=True)
class Point:
    """One row of the I/O list.

    Parameters
    ----------
    point
        The controller's point, e.g. ``"I1"``.
    tag
        The name that programs use.
    direction
        ``"input"`` or ``"output"``.
    device
        Designation of what is wired to it; ``""`` for a spare.
    contact
        ``"NC"``, ``"NO"``, ``"PNP"`` ..., or ``""`` for an output.
    comment
        What it is for.
    one, zero
        What 1 and 0 mean at the machine.
    rest
        What it reads with everything at rest and powered.
    on_when
        Actor -> position that makes an input 1, for a check that goes by what happens.
    """

    point: str
    tag: str
    direction: Literal["input", "output"]
    device: str
    contact: str
    comment: str
    one: str
    zero: str
    rest: int
    on_when: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class MustBeDead:
    """A rule of the board: with `actor` in `state`, `terminal` has no voltage, whatever the outputs do."""

    terminal: str
    actor: str
    state: str
    why: str


@dataclass(frozen=True)
class Board:
    """Parts, terminals and points, and the wiring that the board comes with.

    Not slotted: the terminals are laid out once, on first use.
    """

    name: str
    title: str
    width_mm: float
    height_mm: float
    parts: Mapping[str, Part]
    points: Mapping[str, Point]
    wiring: Wiring
    must_be_dead: tuple[MustBeDead, ...] = ()

    @cached_property
    def terminals(self) -> Mapping[str, Terminal]:
        """Every terminal by its id, in board order."""
        found: dict[str, Terminal] = {}
        for part in self.parts.values():
            for terminal in _laid_out(part):
                found[terminal.id] = terminal
        return MappingProxyType(found)

    def part(self, designation: str) -> Part:
        """The part with this designation.

        Raises
        ------
        BoardError
            If there is none.
        """
        try:
            return self.parts[designation]
        except (KeyError, TypeError):
            raise BoardError(
                f"there is no part {designation!r} on this board",
                where=str(designation),
                try_this=did_you_mean(designation, self.parts) or f"its parts are {', '.join(self.parts)}",
                code="board-unknown-part",
            ) from None

    def terminal(self, terminal_id: str) -> Terminal:
        """The terminal with this id.

        Raises
        ------
        BoardError
            If there is none; the part's own terminals are listed.
        """
        found = self.terminals.get(terminal_id)
        if found is None:
            what, try_this = self.about_unknown(terminal_id)
            raise BoardError(what, where=terminal_id, try_this=try_this, code="board-unknown-terminal")
        return found

    def about_unknown(self, terminal_id: str) -> tuple[str, str]:
        """A sentence about a terminal that is not there, and the guess at the slip."""
        part, colon, name = terminal_id.partition(":")
        if not colon:
            return (
                f"{terminal_id!r} is no terminal: a terminal is written part, colon, terminal, as in K1:A1.",
                did_you_mean(terminal_id, self.terminals) or "name the part and its terminal",
            )
        if part not in self.parts:
            return f"no part {part} on this board.", did_you_mean(part, self.parts)
        own = [t.name for t in self.terminals.values() if t.part == part]
        return f"no terminal {terminal_id} on this board. {part} has {', '.join(own)}.", _nearest(part, name, own)

    def of_kind(self, *kinds: str) -> tuple[Part, ...]:
        """The parts of these kinds, in board order."""
        return tuple(p for p in self.parts.values() if p.kind in kinds)

    @property
    def controllers(self) -> tuple[tuple[Part, ControllerPart], ...]:
        """Each controller with its catalogue record."""
        return tuple((p, p.entry) for p in self.parts.values() if isinstance(p.entry, ControllerPart))

    @property
    def supplies(self) -> tuple[tuple[Part, SupplyPart], ...]:
        """Each supply with its catalogue record."""
        return tuple((p, p.entry) for p in self.parts.values() if isinstance(p.entry, SupplyPart))

    @cached_property
    def plugs(self) -> Mapping[str, Plug]:
        """Every plug-on terminal block by its id, e.g. ``"A1.XI1"``."""
        found = {}
        for part, entry in self.controllers:
            for row in entry.plugs:
                name = f"{part.designation}.{row.name}"
                poles = tuple(part.terminal(pole) for pole in row.poles)
                found[name] = Plug(name, part.designation, poles, frozenset(row.coded))
        return MappingProxyType(found)

    @property
    def earth_terminals(self) -> frozenset[str]:
        """Terminals of the protective conductor."""
        found = set()
        for part in self.parts.values():
            entry = part.entry
            if isinstance(entry, StripPart):
                found |= {part.terminal(bar.name) for bar in entry.bars if bar.earth}
            elif getattr(entry, "earth", None):
                found.add(part.terminal(entry.earth))  # type: ignore[attr-defined]
        return frozenset(found)

    def tag(self, name: str) -> Point:
        """The point with this tag.

        Raises
        ------
        BoardError
            If no point has it.
        """
        for point in self.points.values():
            if point.tag == name:
                return point
        raise BoardError(
            f"no point of this board is called {name}",
            where=name,
            try_this=did_you_mean(name, [p.tag for p in self.points.values()]),
            code="board-unknown-tag",
        )

    def with_part(self, part: Part) -> Board:
        """The board with this part in place of the one of the same designation, or added at the end."""
        return replace(self, parts=MappingProxyType({**self.parts, part.designation: part}))


def _nearest(part: str, name: str, own: list[str]) -> str:
    """The guess at a terminal of a part: the next number for a number, else the nearest spelling."""
    numbers = [n for n in own if n.isdecimal() and len(n) < 9]
    if name.isdecimal() and len(name) < 9 and numbers:
        near = min(numbers, key=lambda n: (abs(int(n) - int(name)), n))
        if abs(int(near) - int(name)) <= 2:
            return f"Did you mean {part}:{near}?"
    guess = did_you_mean(name, own, most=0)
    return guess.replace("Did you mean ", f"Did you mean {part}:")


def _laid_out(part: Part) -> list[Terminal]:
    """A part's terminals, spread along its edges; a plugged-on block sits to its right."""
    entry = part.entry
    found = _edges(part, entry, "", part.x_mm, part.y_mm)
    x = part.x_mm + entry.width_mm
    for block in part.blocks:
        found += _edges(part, block.entry, block.id, x, part.y_mm)
        x += block.entry.width_mm
    return found


def _edges(part: Part, entry: CatalogueEntry, block: str, x0: float, y0: float) -> list[Terminal]:
    found: list[Terminal] = []
    for side, names in (("top", entry.top), ("bottom", entry.bottom)):
        for i, name in enumerate(names):
            found.append(
                Terminal(
                    id=part.terminal(name),
                    part=part.designation,
                    name=name,
                    block=block,
                    side="top" if side == "top" else "bottom",
                    x_mm=round(x0 + entry.width_mm * (i + 0.5) / len(names), 2),
                    y_mm=y0 if side == "top" else y0 + entry.height_mm,
                    clamps=entry.clamps(name),
                )
            )
    return found

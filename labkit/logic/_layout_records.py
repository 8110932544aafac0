"""What a ladder drawing is made of: complete without any drawing library."""

from __future__ import annotations

from dataclasses import dataclass

from labkit.logic.nodes import Program

__all__ = ["Cell", "LadderLayout", "Link", "Pin", "RungLayout"]


@dataclass(frozen=True, slots=True)
class Pin:
    """One pin of a block in a drawing.

    Parameters
    ----------
    name
        ``IN``, ``PT``, ``Q`` ...
    side
        ``"left"`` or ``"right"``.
    row
        Rows below the cell's own row.
    text
        What is written beside the pin outside the box: a constant or a tag name; empty if nothing is.
    wired
        True if a link of the rung reaches the pin.
    """

    name: str
    side: str
    row: int
    text: str = ""
    wired: bool = False


@dataclass(frozen=True, slots=True)
class Cell:
    """One element in its place on the grid.

    The cell covers the columns `col` to ``col + width`` of its row; the wire enters at the grid point ``(row, col)``
    and leaves at ``(row, col + width)``. A block is three columns wide: the outer two hold its leads and the texts of
    its pins, the middle one the box. It covers `height` rows.

    Parameters
    ----------
    kind
        ``"contact"``, ``"coil"`` or ``"block"``; a constant is a contact called TRUE or FALSE.
    symbol
        ``""``, ``"/"``, ``"P"``, ``"N"``, ``"S"`` or ``"R"``; for a block its type.
    name
        Tag or instance name, to be written above.
    element
        Number of the element: the key into a :class:`~labkit.logic.Flow`. (A contact that is only a name written on a
        block's pin has no cell of its own.)
    """

    row: int
    col: int
    width: int
    height: int
    kind: str
    symbol: str
    name: str
    element: int
    pins: tuple[Pin, ...] = ()


@dataclass(frozen=True, slots=True)
class Link:
    """A straight wire between two grid points, horizontal or vertical.

    `feeds` are the elements whose power on the right it carries: it is live if any of them is. Without any it hangs on
    the left rail and is always live.
    """

    row1: int
    col1: int
    row2: int
    col2: int
    feeds: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class RungLayout:
    """One rung on a grid: left rail at column 0, right rail at column `columns`, rows 0 to ``rows - 1``."""

    number: int
    title: str
    comment: str
    columns: int
    rows: int
    cells: tuple[Cell, ...]
    links: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class LadderLayout:
    """All rungs of a program, equally wide.

    `program` is what is drawn: the program itself if it was a ladder, otherwise its ladder form. Walk that one to get
    a power flow whose element numbers fit the cells.
    """

    name: str
    rungs: tuple[RungLayout, ...]
    program: Program

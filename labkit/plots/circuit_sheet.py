"""A sheet of the control circuit: current paths from the supply's plus down to its 0 V.

The paths are found in the wiring, not assumed: from the plus terminal through wires, breakers and contacts
to the coil or input asked for, and from there back. One that is broken is drawn as far as it leads on both sides
of the break. Symbols follow IEC 60617: contacts at rest, what moves them on the left, designation left, terminal
numbers right.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from labkit.plots._axes import draw, need_axes
from labkit.plots._circuit_symbols import STEP
from labkit.plots._current_paths import Net, Wired
from labkit.plots._given import names
from labkit.plots._measure import text_width
from labkit.plots._path_columns import APART, TOP, column, drawn_again, height, rail
from labkit.plots._svg import to_svg
from labkit.plots.shapes import Group, Rect, Shape, Sheet, Text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from labkit.board import Board, Wiring

__all__ = ["control_circuit_sheet", "control_circuit_svg", "draw_control_circuit"]


def control_circuit_svg(
    board: Board,
    coil: str = "K1",
    *,
    inputs: Iterable[str] | None = None,
    wiring: Wiring | None = None,
    title: str = "",
) -> str:
    """The control circuit as SVG text. Parameters as in :func:`draw_control_circuit`."""
    return to_svg(control_circuit_sheet(board, coil, inputs=inputs, wiring=wiring, title=title))


def draw_control_circuit(
    board: Board,
    coil: str = "K1",
    *,
    inputs: Iterable[str] | None = None,
    wiring: Wiring | None = None,
    ax: Axes | None = None,
    title: str = "",
) -> Axes:
    """Draw the current path of a coil, and of some inputs beside it.

    Parameters
    ----------
    board
        The board.
    coil
        Designation of the contactor whose coil it is.
    inputs
        Points of the controller; left away, those of the stop, the start and the contactor's auxiliary.
    wiring
        The wires to follow instead of the board's own.
    ax
        A matplotlib Axes; the sheet keeps its proportions in it.
    title
        A heading.

    Raises
    ------
    DrawingError
        If there is no such coil or point.
    """
    ax = need_axes(ax)
    return draw(control_circuit_sheet(board, coil, inputs=inputs, wiring=wiring, title=title), ax)


def control_circuit_sheet(
    board: Board,
    coil: str = "K1",
    *,
    inputs: Iterable[str] | None = None,
    wiring: Wiring | None = None,
    title: str = "",
) -> Sheet:
    """The control circuit as shapes. Parameters as in :func:`draw_control_circuit`."""
    net = Net(board, wiring)
    targets = [net.coil(coil)]
    targets += [
        net.input(p) for p in (_usual_inputs(board, coil) if inputs is None else names(inputs, "a list of inputs"))
    ]
    paths = [net.as_wired(t) for t in targets]
    heading = title or f"Control circuit of {coil}"
    bottom = TOP + max(*(height(path, net.rail) for path in paths), 4 * STEP) + 24
    shapes: list[Shape] = []
    for i, (path, target) in enumerate(zip(paths, targets, strict=True)):
        x = 118 + APART * i
        drawn = column(path, net.rail, x, bottom, net.beside(target))
        about = f"path {i + 1}: {path.story(net.rail)}"
        shapes += [Group(tuple(drawn), f"path:{i + 1}", about), Text(x, TOP - 22, str(i + 1), "tick", 9, "middle")]
    shapes += _where_contacts_are(paths, coil, bottom)
    wide = max(118 + APART * (len(paths) - 1) + 118, text_width(heading, 14, bold=True) + 40)
    rails = [
        *rail(net.rail, TOP - 10, wide, any(path.on_plus for path in paths)),
        *rail("0 V", bottom, wide, any(path.on_minus for path in paths)),
    ]
    return Sheet(
        wide,
        bottom + 50,
        (
            Rect(0, 0, wide, bottom + 50, "paper"),
            Text(16, 28, heading, "title", 14, bold=True),
            *drawn_again(paths),
            *rails,
            *shapes,
        ),
        heading,
        " ".join(f"Path {i + 1}: {path.story(net.rail)}." for i, path in enumerate(paths)),
    )


def _usual_inputs(board: Board, coil: str) -> list[str]:
    """The inputs of stop, start and the contactor's own auxiliary, in the order of their points."""
    found = []
    for point in board.points.values():
        if point.direction != "input" or point.device not in board.parts:
            continue
        function = getattr(board.parts[point.device].entry, "function", "")
        if function in {"stop", "start"} or point.device == coil:
            found.append(point.point)
    return found


def _where_contacts_are(paths: list[Wired], coil: str, bottom: float) -> list[Shape]:
    """Under the coil: in which paths its contacts stand, as circuit sheets have it."""
    found = [
        f"{e.symbol.a}-{e.symbol.b} in path {i + 1}"
        for i, path in enumerate(paths)
        for e in (*path.head, *path.edges, *path.tail)
        if e.symbol and e.symbol.kind == "contact" and e.symbol.part == coil
    ]
    return [Text(118, bottom + 20 + 12 * i, words, "tick", 8.5, "middle") for i, words in enumerate(found[:2])]

"""Finding the piece that every curve works on.

The unknown of each curve is its running number x (see `_graph`). For any choice of pieces the network is
linear and has one x. What is wanted is a choice whose x lies on the chosen pieces; where no curve falls there
is exactly one point.

First the quick way: take the x of the current choice, choose the pieces it lies on, repeat. It mostly settles
in two or three rounds but may run in a circle. Then the sure way, which follows one path to the end: J.
Katzenelson, An algorithm for solving nonlinear resistor networks, Bell Syst. Tech. J. 44 (1965) 1605: walk
toward the x of the present choice, stop at the first corner, change that one curve to its next piece, walk
on. Because all the linear systems have determinants of one sign, the walk never comes back to a choice it has
left.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from labkit.circuit._graph import Floats, Graphs, Ints

__all__ = ["Restless", "settle", "walk"]

# rounds of the quick way before the walk starts; boards settle in 2 to 4, so 12 means it circles
QUICK_ROUNDS = 12
# a corner counts as reached within this many volts of x: far below 1 mV, far above rounding
CORNER_V = 1e-9


class Restless(Exception):  # noqa: N818 - caught inside the room and told in words of the trade
    """The walk did not end; `parts` are the curves that kept changing."""

    def __init__(self, parts: tuple[str, ...]) -> None:
        self.parts = parts
        super().__init__(", ".join(parts))


def settle(graphs: Graphs, solve: Callable[[Ints], Floats], start: Ints) -> tuple[Ints, Floats]:
    """The pieces the network works on, and x there.

    Parameters
    ----------
    solve
        Gives x for a choice of pieces.
    start
        The first choice.

    Raises
    ------
    Restless
        If even the walk does not end.
    """
    pieces = start
    seen: set[bytes] = set()
    for _ in range(QUICK_ROUNDS):
        x = solve(pieces)
        found = graphs.locate(x)
        if (found == pieces).all():
            return pieces, x
        if graphs.overshoot(x, pieces).max() <= CORNER_V:
            return pieces, x
        mark = found.tobytes()
        if mark in seen:
            break
        seen.add(mark)
        pieces = found
    return walk(graphs, solve)


def walk(graphs: Graphs, solve: Callable[[Ints], Floats]) -> tuple[Ints, Floats]:
    """The sure way from a fixed start; see the module's text.

    Raises
    ------
    Restless
        If it does not end within a bound far above what any network needs.
    """
    count = len(graphs.rows)
    bound = 200 + 40 * int(graphs.pieces.sum())
    changed: dict[int, int] = {}
    for attempt in range(3):
        # Starts off any corner, a little different each time: two corners met at one instant are the one
        # thing that can mislead the walk, and a generic start does not meet two.
        x = 0.01 * np.modf(np.arange(1, count + 1) * 0.6180339887498949 + attempt * 0.3245)[0]
        pieces = graphs.locate(x)
        for _ in range(bound):
            aim = solve(pieces)
            step = aim - x
            part, share = _first_corner(graphs, pieces, x, step)
            if part < 0:
                return pieces, aim
            x = x + share * step
            up = step[part] > 0
            x[part] = graphs.high[part, pieces[part]] if up else graphs.low[part, pieces[part]]
            pieces = pieces.copy()
            pieces[part] += 1 if up else -1
            changed[part] = changed.get(part, 0) + 1
    most = max(changed.values())
    raise Restless(tuple(graphs.names[p] for p, n in sorted(changed.items()) if 2 * n > most))


def _first_corner(graphs: Graphs, pieces: Ints, x: Floats, step: Floats) -> tuple[int, float]:
    """The curve that reaches a corner first, and the share of the way to it; (-1, 1) if none does."""
    rows = graphs.rows
    low, high = graphs.low[rows, pieces], graphs.high[rows, pieces]
    wall = np.where(step > 0, high, low)
    beyond = np.where(step > 0, x + step - high, low - x - step)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(beyond > CORNER_V, (wall - x) / step, np.inf)
    part = int(np.argmin(share))
    if not share[part] < np.inf:
        return -1, 1.0
    return part, min(max(float(share[part]), 0.0), 1.0)

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

__all__ = ["FINE_V", "Restless", "settle"]

# rounds of the quick way before the walk starts; boards settle in 2 to 4, so 12 means it circles
QUICK_ROUNDS = 12
# An x that lies beyond its piece by no more than this is at the corner: a few last bits of 24 V, which are
# 1e-14 A, or 0.01 mV on a wire that 1e-9 S hold.
FINE_V = 1e-13
# Uncorrected figures are this good; two pieces that send x to each other by less differ by rounding only.
ROUGH_V = 1e-7


class Restless(Exception):  # noqa: N818 - caught inside the room and told in words of the trade
    """The walk did not end; `parts` are the curves that kept changing."""

    def __init__(self, parts: tuple[str, ...]) -> None:
        self.parts = parts
        super().__init__(", ".join(parts))


class _Trail:
    """Choices met so far, by their bytes, each with its x.

    To meet one again is to circle. Near a corner it is only rounding that goes in circles: of two pieces that
    each send x to the other, either will do.
    """

    def __init__(self, graphs: Graphs) -> None:
        self.graphs = graphs
        self.met: dict[bytes, tuple[Ints, Floats]] = {}

    def nearest_of_circle(self, mark: bytes) -> tuple[Ints, Floats] | None:
        """The best choice of the circle that begins again at `mark`, if rounding explains it."""
        circle = list(self.met.values())[list(self.met).index(mark) :]
        outside = [float(self.graphs.overshoot(x, pieces).max()) for pieces, x in circle]
        best = min(range(len(circle)), key=outside.__getitem__)
        return circle[best] if outside[best] <= ROUGH_V else None


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
    pieces, mark = start, start.tobytes()
    trail = _Trail(graphs)
    for _ in range(QUICK_ROUNDS):
        x = solve(pieces)
        trail.met[mark] = pieces, x
        found = graphs.locate(x)
        was, mark = mark, found.tobytes()
        if mark == was:
            return pieces, x
        if mark in trail.met:
            corner = trail.nearest_of_circle(mark)
            if corner is not None:
                return corner
            break
        pieces = found
    return _walk(graphs, solve)


def _walk(graphs: Graphs, solve: Callable[[Ints], Floats]) -> tuple[Ints, Floats]:
    """The sure way from a fixed start; see the module's text."""
    count = len(graphs.rows)
    bound = 200 + 40 * int(graphs.pieces.sum())
    changed: dict[int, int] = {}
    for attempt in range(3):
        # Starts off any corner, a little different each time: two corners met at one instant are the one
        # thing that can mislead the walk, and a generic start does not meet two.
        x = 0.01 * np.modf(np.arange(1, count + 1) * 0.6180339887498949 + attempt * 0.3245)[0]
        pieces = graphs.locate(x)
        trail = _Trail(graphs)
        for _ in range(bound):
            mark = pieces.tobytes()
            if mark in trail.met:
                corner = trail.nearest_of_circle(mark)
                if corner is not None:
                    return corner
                break
            aim = solve(pieces)
            trail.met[mark] = pieces, aim
            if graphs.overshoot(aim, pieces).max() <= FINE_V:
                return pieces, aim
            part, share = _first_corner(graphs, pieces, x, aim)
            up = aim[part] > x[part]
            x = x + share * (aim - x)
            x[part] = graphs.high[part, pieces[part]] if up else graphs.low[part, pieces[part]]
            pieces = pieces.copy()
            pieces[part] += 1 if up else -1
            changed[part] = changed.get(part, 0) + 1
    most = max(changed.values())
    raise Restless(tuple(graphs.names[p] for p, n in sorted(changed.items()) if 2 * n > most))


def _first_corner(graphs: Graphs, pieces: Ints, x: Floats, aim: Floats) -> tuple[int, float]:
    """The curve that reaches a corner first, and the share of the way to it."""
    rows = graphs.rows
    low, high = graphs.low[rows, pieces], graphs.high[rows, pieces]
    wall = np.where(aim > x, high, low)
    beyond = (aim > high) | (aim < low)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(beyond, (wall - x) / (aim - x), np.inf)
    part = int(np.argmin(share))
    return part, min(max(float(share[part]), 0.0), 1.0)

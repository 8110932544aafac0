"""Finding the piece that every curve works on.

The unknown of each curve is its running number x (see `_graph`). For any choice of pieces the network is
linear and has one x. What is wanted is a choice whose x lies on the chosen pieces; where no curve falls there
is exactly one point.

First the quick way: take the x of the current choice, choose the pieces it lies on, repeat. It mostly settles
in two or three rounds but may run in a circle: an output stage whose drop is steep jumps from one end of its
curve to the other and back. Then the careful way: the same, but each curve moves by one piece in a round.
Then the sure way, which follows one path to the end: J. Katzenelson, An algorithm for solving nonlinear
resistor networks, Bell Syst. Tech. J. 44 (1965) 1605: walk toward the x of the present choice, stop at the
first corner, change that one curve to its next piece, walk on. Because all the linear systems have
determinants of one sign, the walk never comes back to a choice it has left.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Generic, TypeVar

import numpy as np

from labkit.circuit._graph import Floats, Graphs, Ints

__all__ = ["FINE_V", "ROUGH_CIRCLE_V", "Restless", "settle"]

Answer = TypeVar("Answer", bound=tuple[Floats, *tuple[Any, ...]])

# rounds of the quick and of the careful way before the walk starts; boards settle in 2 to 7, so 12 means it
# circles
QUICK_ROUNDS = 12
# An x that lies beyond its piece by no more than this is at the corner: a few last bits of 24 V, which are
# 1e-14 A, or 0.01 mV on a wire that 1e-9 S hold.
FINE_V = 1e-13
# A circle of choices that all send x to each other by no more than this is rounding: with corrected
# figures, which keeps the error at 1 mV even on such a wire, and with uncorrected ones, which are looked at
# again. One choice of a circle that is as good by itself will do: beside it may be one on which an island hangs on
# nothing but its insulation, and its x goes far for a last bit.
CIRCLE_V, ROUGH_CIRCLE_V = 1e-11, 1e-7


class Restless(Exception):  # noqa: N818 - caught inside the room and told in words of the trade
    """The walk did not end; `parts` are the curves that kept changing."""

    def __init__(self, parts: tuple[str, ...]) -> None:
        self.parts = parts
        super().__init__(", ".join(parts))


class _Trail(Generic[Answer]):
    """Choices met so far, by their bytes, each with its answer.

    To meet one again is to circle. Near a corner it is only rounding that goes in circles: of two pieces that
    each send x to the other, either will do.
    """

    def __init__(self, graphs: Graphs, circle_v: float) -> None:
        self.graphs = graphs
        self.circle_v = circle_v
        self.met: dict[bytes, tuple[Ints, Answer]] = {}

    def nearest_of_circle(self, mark: bytes) -> tuple[Ints, Answer] | None:
        """The best choice of the circle that begins again at `mark`, if rounding explains all of it or it alone."""
        circle = list(self.met.values())[list(self.met).index(mark) :]
        outside = [float(self.graphs.overshoot(answer[0], pieces).max()) for pieces, answer in circle]
        best = min(range(len(circle)), key=outside.__getitem__)
        return circle[best] if max(outside) <= self.circle_v or outside[best] <= CIRCLE_V else None


def settle(
    graphs: Graphs, solve: Callable[[Ints], Answer], start: Ints, circle_v: float = CIRCLE_V
) -> tuple[Ints, Answer]:
    """The pieces the network works on, and the answer there.

    Parameters
    ----------
    solve
        Gives, for a choice of pieces, a tuple that begins with x.
    start
        The first choice.
    circle_v
        How wide a circle may be that is taken for rounding: `CIRCLE_V`, or `ROUGH_CIRCLE_V` if x is not
        corrected.

    Raises
    ------
    Restless
        If even the walk does not end.
    """
    for careful in (False, True):
        pieces, mark = start, start.tobytes()
        trail = _Trail[Answer](graphs, circle_v)
        for _ in range(QUICK_ROUNDS):
            trail.met[mark] = answer = pieces, solve(pieces)
            found = graphs.locate(answer[1][0])
            if found.tobytes() == mark:
                return answer
            pieces = pieces + np.sign(found - pieces) if careful else found
            mark = pieces.tobytes()
            if mark in trail.met:
                corner = trail.nearest_of_circle(mark)
                if corner is not None:
                    return corner
                break
    return _walk(graphs, solve, circle_v)


def _walk(graphs: Graphs, solve: Callable[[Ints], Answer], circle_v: float) -> tuple[Ints, Answer]:
    """The sure way from a fixed start; see the module's text."""
    count = len(graphs.rows)
    bound = 200 + 40 * int(graphs.pieces.sum())
    changed: dict[int, int] = {}
    for attempt in range(3):
        # Starts off any corner, a little different each time: two corners met at one instant are the one
        # thing that can mislead the walk, and a generic start does not meet two.
        x = 0.01 * np.modf(np.arange(1, count + 1) * 0.6180339887498949 + attempt * 0.3245)[0]
        pieces = graphs.locate(x)
        trail = _Trail[Answer](graphs, circle_v)
        for _ in range(bound):
            mark = pieces.tobytes()
            if mark in trail.met:
                corner = trail.nearest_of_circle(mark)
                if corner is not None:
                    return corner
                break
            trail.met[mark] = answer = pieces, solve(pieces)
            aim = answer[1][0]
            if graphs.overshoot(aim, pieces).max() <= FINE_V:
                return answer
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

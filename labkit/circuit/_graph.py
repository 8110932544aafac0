"""Curves as paths: one running number along a monotone graph gives both volts and amps.

A point of a graph that never falls is fixed by ``x = v + rho * i``. Along a piece, volts and amps are both
straight lines in ``x``, so flat pieces (ideal current) and vertical pieces (ideal voltage) need no special
case. (G. J. Minty, Monotone networks, Proc. R. Soc. A 257, 1960: the same turn of the axes.)
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.circuit.elements import Curve, Source, corners

__all__ = ["RHO_OHM", "Floats", "Graphs", "Ints"]

Floats = NDArray[np.floating[Any]]
Ints = NDArray[np.signedinteger[Any]]

# The turn of the axes: volts over amps of a bench, 24 V over 2.4 A. Then the last bit of x, 3.6e-15 at 24
# V, is 4e-16 A on the steepest piece, less than a thousandth of a millivolt on a wire that 1e-9 S hold.
RHO_OHM = 10.0


class Graphs:
    """All curves of a network as padded tables, one row for each curve, one column for each piece.

    On piece k of row c: ``v = v_at[c,k] + v_by[c,k] * x`` and ``i = i_at[c,k] + i_by[c,k] * x``. Volts and
    amps are those of the elements' own corners. `low` and `high` bound x on a piece (infinite at the ends).

    Parameters
    ----------
    parts
        The curves and sources.
    """

    def __init__(self, parts: Sequence[Curve | Source]) -> None:
        count = len(parts)
        self.names = tuple(part.name for part in parts)
        self.rows = np.arange(count)
        every = [corners(part) for part in parts]
        self.pieces = np.array([len(points) - 1 for points in every], dtype=np.int64)
        width = int(self.pieces.max(initial=1))
        there = np.arange(width + 1) <= self.pieces[:, None]
        v, i, x = np.zeros((3, count, width + 1))
        v[there], i[there] = np.array([point for points in every for point in points], dtype=float).reshape(-1, 2).T
        x[there] = v[there] + RHO_OHM * i[there]
        real = there[:, 1:]
        rise = np.where(real, x[:, 1:] - x[:, :-1], 1.0)
        self.v_by = np.where(real, v[:, 1:] - v[:, :-1], 0.0) / rise
        self.i_by = np.where(real, i[:, 1:] - i[:, :-1], 0.0) / rise
        self.v_at = np.where(real, v[:, :-1] - self.v_by * x[:, :-1], 0.0)
        self.i_at = np.where(real, i[:, :-1] - self.i_by * x[:, :-1], 0.0)
        self.low = np.where(real, x[:, :-1], np.inf)
        self.low[:, 0] = -np.inf
        inner = np.arange(1, width + 1) < self.pieces[:, None]
        self.high = np.where(inner, x[:, 1:], np.inf)
        self.upright: NDArray[np.bool_] = (self.v_by == 0.0) & (self.i_by > 0.0)
        self.any_upright = bool(self.upright.any())
        # inner corners, padded with +inf, for locating all rows at once
        self.inner = self.high[:, : max(width - 1, 0)]
        self.inner_by_piece = np.ascontiguousarray(self.inner.T)

    def locate(self, x: Floats) -> Ints:
        """The piece each x lies on."""
        found: Ints = np.add.reduce(x > self.inner_by_piece, 0)
        return found

    def locate_many(self, x: Floats) -> Ints:
        """As :meth:`locate`, a row for each of many cases."""
        found: Ints = (x[:, :, None] > self.inner).sum(axis=2)
        return found

    def overshoot_many(self, x: Floats, pieces: Ints) -> Floats:
        """As :meth:`overshoot`, a row for each of many cases."""
        rows = self.rows
        outside: Floats = np.maximum(np.maximum(self.low[rows, pieces] - x, x - self.high[rows, pieces]), 0.0)
        return outside

    def at_ideal(self, x: Floats) -> NDArray[np.bool_]:
        """Whether each x lies on a vertical piece or at the end of one, within 1e-9 V."""
        near = (x[:, None] >= self.low - 1e-9) & (x[:, None] <= self.high + 1e-9)
        return np.asarray((near & self.upright).any(axis=1), dtype=np.bool_)

    def overshoot(self, x: Floats, pieces: Ints) -> Floats:
        """How far x lies outside the assumed pieces, in volts of x; 0 inside."""
        rows = self.rows
        outside: Floats = np.maximum(np.maximum(self.low[rows, pieces] - x, x - self.high[rows, pieces]), 0.0)
        return outside

"""Room for large arrays."""

from __future__ import annotations

import math
from itertools import accumulate

import numpy as np

from labkit.circuit._graph import Floats

__all__ = ["together"]

PAGE = 2**21 // 8
"""Floats in a large page."""


def together(*shapes: tuple[int, ...]) -> list[Floats]:
    """Arrays of these shapes, not filled, in one piece of memory.

    First touching a page of memory costs more than all that is then reckoned into it. numpy asks the system for large
    pages, each of which stands for 512, where a piece has 4 MB or more; it gets them only where they fit whole.
    """
    sizes = [math.prod(shape) for shape in shapes]
    pages = sum(sizes) // PAGE
    if pages < 2:
        return [np.empty(shape) for shape in shapes]
    room = np.empty((pages + 2) * PAGE)  # what is not touched takes no memory
    room = room[-(room.ctypes.data // room.itemsize) % PAGE :]
    ends = accumulate(sizes)
    return [room[end - size : end].reshape(shape) for end, size, shape in zip(ends, sizes, shapes, strict=True)]

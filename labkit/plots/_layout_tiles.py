"""A board's layout in pieces that can be read on paper, cut where no part stands."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from labkit.plots.shapes import Rect, Shape, Sheet, moved

__all__ = ["tiles"]

Bounds = tuple[float, float, float, float]

_EDGE = 10.0  # around a piece
_WIRES = 60.0  # what the ends of wires take above and below a row of parts
_GROUND = {"paper", "plate", "bay"}


def tiles(sheet: Sheet, wide: float, high: float, least: float) -> list[Sheet]:
    """The layout in as few pieces as it takes for a scale of `least` or more on a page of `wide` by `high`.

    One piece, the sheet itself, where it is large enough as it is. The wires have to be drawn at their ends only.
    """
    boxes = {name: group.bounds() for name, group in sheet.groups().items() if name.startswith("part:")}
    if not boxes or min(wide / sheet.width, high / sheet.height) >= least:
        return [sheet]
    pieces = list(_split(boxes, wide, high, least))
    home = {name: n for n, piece in enumerate(pieces) for name in piece}
    shapes: list[list[Shape]] = [[] for _ in pieces]
    _, top, _, bottom = next(shape.bounds() for shape in sheet.walk() if shape.role == "plate")
    for shape in sheet.walk():
        box = shape.bounds()
        if shape.role in _GROUND or box[1] < top or box[3] > bottom:  # the title and the colours stand outside
            continue
        shapes[home[min(boxes, key=lambda name: _apart(boxes[name], box))]].append(shape)
    return [_piece(found, sheet, sorted(piece)) for found, piece in zip(shapes, pieces, strict=True)]


def _split(boxes: Mapping[str, Bounds], wide: float, high: float, least: float) -> Iterator[dict[str, Bounds]]:
    """The parts of each piece: halved in the gap that leaves the larger scale, until it is large enough."""
    if _scale(boxes, wide, high) >= least:
        yield dict(boxes)
        return
    best: tuple[float, dict[str, Bounds], dict[str, Bounds]] | None = None
    for axis in (1, 0):
        for cut in _cuts(boxes, axis):
            before = {name: box for name, box in boxes.items() if box[axis + 2] <= cut}
            after = {name: box for name, box in boxes.items() if name not in before}
            scale = min(_scale(before, wide, high), _scale(after, wide, high))
            if best is None or scale > best[0] + 1e-9:
                best = scale, before, after
    if best is None:
        yield dict(boxes)
        return
    yield from _split(best[1], wide, high, least)
    yield from _split(best[2], wide, high, least)


def _cuts(boxes: Mapping[str, Bounds], axis: int) -> Iterator[float]:
    """Where a line right across meets no part."""
    reach = None
    for low, high in sorted((box[axis], box[axis + 2]) for box in boxes.values()):
        if reach is not None and low > reach + 4:
            yield (low + reach) / 2
        reach = high if reach is None else max(reach, high)


def _scale(boxes: Mapping[str, Bounds], wide: float, high: float) -> float:
    left, top, right, bottom = _around(list(boxes.values()))
    return min(wide / (right - left + 2 * _EDGE), high / (bottom - top + 2 * (_EDGE + _WIRES)))


def _around(boxes: list[Bounds]) -> Bounds:
    left, top, right, bottom = zip(*boxes, strict=True)
    return min(left), min(top), max(right), max(bottom)


def _apart(a: Bounds, b: Bounds) -> float:
    across, down = max(a[0] - b[2], b[0] - a[2], 0.0), max(a[1] - b[3], b[1] - a[3], 0.0)
    return math.hypot(across, down)


def _piece(shapes: list[Shape], sheet: Sheet, names: list[str]) -> Sheet:
    left, top, right, bottom = _around([shape.bounds() for shape in shapes])
    wide, high = right - left + 2 * _EDGE, bottom - top + 2 * _EDGE
    ground: list[Shape] = [Rect(0, 0, wide, high, "paper"), Rect(0, 0, wide, high, "plate", 4)]
    placed = [moved(shape, _EDGE - left, _EDGE - top) for shape in shapes]
    parts = ", ".join(name.removeprefix("part:") for name in names)
    return Sheet(wide, high, (*ground, *placed), sheet.title, f"A piece of the layout: {parts}.")

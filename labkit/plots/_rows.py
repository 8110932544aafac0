"""One row of a timing diagram: a boolean, a quantity with its scale, or a state."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from labkit.plots._measure import shorten, text_width
from labkit.plots._time_axis import Window
from labkit.plots.shapes import Hatch, Line, Polyline, Rect, Shape, Text

__all__ = ["HEIGHTS", "Row", "bool_row", "level_row", "pieces", "state_row"]

HEIGHTS = {"bool": 31.0, "level": 62.0, "state": 31.0}
_NARROW = 1.7  # sheet units: below this neighbours cannot be told apart in print
_PAD = 6.0

Piece = tuple[float, float, Any]  # left, right, value


@dataclass(slots=True)
class Row:
    """Shapes of a row, and whether part of it was too fast to draw."""

    shapes: list[Shape] = field(default_factory=list)
    thinned: bool = False


def pieces(changes: Sequence[tuple[int, Any]], win: Window) -> list[Piece]:
    """The stretches of constant value inside the window, equal neighbours joined."""
    out: list[Piece] = []
    for i, (t, value) in enumerate(changes):
        until = changes[i + 1][0] if i + 1 < len(changes) else win.t1
        if until < win.t0 or t > win.t1 or (until == t and i + 1 < len(changes)):
            continue
        a, b = win.clip(max(t, win.t0)), win.clip(until)
        if out and out[-1][2] == value:
            out[-1] = (out[-1][0], b, value)
        elif b > a or not out or i + 1 == len(changes):
            out.append((a, b, value))
    return out


def _runs(parts: list[Piece]) -> list[tuple[str, list[Piece]]]:
    """Split into drawable stretches and busy ones (four or more narrow pieces in a row)."""
    out: list[tuple[str, list[Piece]]] = []
    narrow: list[Piece] = []

    def close() -> None:
        if narrow:
            out.append(("busy" if len(narrow) >= 4 else "plain", narrow.copy()))
            narrow.clear()

    for part in parts:
        if part[1] - part[0] < _NARROW:
            narrow.append(part)
        else:
            close()
            out.append(("plain", [part]))
    close()
    return out


def _busy(x1: float, x2: float, top: float, bottom: float) -> list[Shape]:
    return [
        Rect(x1, top, x2 - x1, bottom - top, "busy"),
        Hatch(x1, top, x2 - x1, bottom - top, "|", 2.5, "hatch"),
    ]


def bool_row(
    changes: Sequence[tuple[int, Any]], win: Window, y: float, height: float, *, words: Sequence[str] = ()
) -> Row:
    """High is a heavy line over a filled area, low a light one; each rise and fall an upright stroke.

    `words`, one per change, name the positions of a part where there is room.
    """
    row = Row()
    top, base = y + _PAD, y + height - _PAD
    area: list[Shape] = []
    lines: list[Shape] = []
    edges: list[Shape] = []
    last: Any = None
    for kind, run in _runs(pieces(changes, win)):
        if kind == "busy":
            row.thinned = True
            area += _busy(run[0][0], run[-1][1], top, base)
            last = run[-1][2]
            continue
        for x1, x2, value in run:
            if last is not None and bool(last) != bool(value):
                edges.append(Line(x1, top, x1, base, "edge"))
            if value:
                area.append(Rect(x1, top, max(x2 - x1, 0.5), base - top, "area"))
            at = top if value else base
            if x2 > x1:
                lines.append(Line(x1, at, x2, at, "high" if value else "low"))
            last = value
    # low lines first, then high, then edges: one collection each when painted
    lines.sort(key=lambda s: getattr(s, "role", "") == "high")
    named = _position_words(changes, words, win, (top + base) / 2) if words and not row.thinned else []
    row.shapes = [*area, *lines, *edges, *named]
    return row


def _position_words(changes: Sequence[tuple[int, Any]], words: Sequence[str], win: Window, mid: float) -> list[Shape]:
    named = [(t, word) for (t, _), word in zip(changes, words, strict=True)]
    out: list[Shape] = []
    parts = pieces(named, win)
    seen: set[str] = set()
    for x1, x2, word in parts:
        if len(parts) > 6 and word in seen:
            continue  # said once is enough on a long record
        if text_width(word, 9.5) + 12 < x2 - x1:
            out.append(Text(x1 + 6, mid + 3.4, word, "tick", 9.5))
            seen.add(word)
    return out


def level_row(
    changes: Sequence[tuple[int, Any]],
    win: Window,
    y: float,
    height: float,
    *,
    unit: str,
    band: tuple[float, float] | None,
    right: float,
) -> Row:
    """A quantity as a step line over its scale; between the limits of `band` its meaning is undefined."""
    row = Row()
    parts = pieces(changes, win)
    values = [float(p[2]) for p in parts] or [0.0]
    low, high, ticks = _scale(min(values), max(values), unit)
    top, base = y + _PAD + 3, y + height - _PAD - 3

    def at(v: float) -> float:
        return base - (v - low) / (high - low) * (base - top)

    left = win.left
    if band:
        off, on = band
        row.shapes += [
            Rect(left, at(on), win.right - left, at(off) - at(on), "band"),
            Hatch(left, at(on), win.right - left, at(off) - at(on), "/", 7, "hatch"),
            Line(left, at(on), win.right, at(on), "band-edge"),
            Line(left, at(off), win.right, at(off), "band-edge"),
        ]
        gap = max(0.0, 10 - (at(off) - at(on))) / 2
        if right - win.right > 50:
            row.shapes += [
                Text(win.right + 6, at(on) + 1 - gap, f"on ≥ {on:g} {unit}", "tick", 9),
                Text(win.right + 6, at(off) + 6 + gap, f"off ≤ {off:g} {unit}", "tick", 9),
            ]
    row.shapes.append(Line(left - 4, top - 3, left - 4, base + 3, "axis"))
    for v in ticks:
        row.shapes += [
            Line(left - 8, at(v), left - 4, at(v), "axis"),
            Text(left - 10, at(v) + 3.2, f"{v:g}", "tick", 9, "end"),
        ]
    points: list[tuple[float, float]] = []
    for kind, run in _runs(parts):
        if kind == "busy" and not _one_way([p[2] for p in run]):
            row.thinned = True
            reach = [at(float(p[2])) for p in run]
            row.shapes += _busy(run[0][0], run[-1][1], min(reach), max(*reach, min(reach) + 2))
            if len(points) > 1:
                row.shapes.append(Polyline(tuple(points), "volts"))
            points = []
            continue
        for x1, x2, value in run:
            here = at(float(value))
            points += [(x1, here), (x2, here)]
    if len(points) > 1:
        row.shapes.append(Polyline(tuple(points), "volts"))
    return row


def _one_way(values: Sequence[float]) -> bool:
    """Whether values only rise or only fall, as in a run-up: fine steps of that kind can be drawn."""
    moves = [b - a for a, b in pairwise(values)]
    return all(m >= 0 for m in moves) or all(m <= 0 for m in moves)


def _scale(low: float, high: float, unit: str) -> tuple[float, float, list[float]]:
    """The range to draw and the ticks to name; 24 V control circuits share one scale."""
    if unit == "V" and low >= -1 and 5 < high <= 31:
        return min(low, 0.0), max(26.0, high), [0.0, 24.0]
    if unit != "V" and low >= 0 and high <= 1:
        return 0.0, 1.0, [0.0, 1.0]
    low, high = min(low, 0.0), max(high, 0.0)
    if high - low < 1e-6:
        high = low + 1.0
    ticks = [0.0] + ([high] if high > 0 else []) + ([low] if low < 0 else [])
    return low, high, [round(t, 3) for t in ticks]


def state_row(changes: Sequence[tuple[int, Any]], win: Window, y: float, height: float) -> Row:
    """One box per state with its name inside; boxes too narrow for a name alternate in shade."""
    row = Row()
    top, base = y + _PAD, y + height - _PAD
    shades = 0
    for kind, run in _runs(pieces(changes, win)):
        if kind == "busy":
            row.thinned = True
            row.shapes += _busy(run[0][0], run[-1][1], top, base)
            continue
        for x1, x2, value in run:
            bevel = min(4.0, (x2 - x1) / 2)
            mid = (top + base) / 2
            role = "state" if shades % 2 == 0 else "state-odd"
            shades += 1
            row.shapes.append(
                Polyline(
                    (
                        (x1, mid),
                        (x1 + bevel, top),
                        (x2 - bevel, top),
                        (x2, mid),
                        (x2 - bevel, base),
                        (x1 + bevel, base),
                    ),
                    role,
                    closed=True,
                )
            )
            name = shorten(str(value), x2 - x1 - 10, 10) if x2 - x1 > 14 else ""
            if name and name != "…":
                row.shapes.append(Text((x1 + x2) / 2, mid + 3.6, name, "label", 10, "middle"))
    return row

"""Drawing primitives: what is drawn, where, and in which role; never how it is painted.

Coordinates are sheet units (one unit is 1/96 inch when painted at its natural size), x to the right,
y down. A `role` says what a shape means ("live", "label", ...); the theme turns it into a line weight,
an end mark and, last, a colour. `tint` names the colour of a real thing (a lamp, a conductor).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from labkit.plots._measure import ASCENT, DESCENT, text_width

__all__ = ["Arc", "Frame", "Group", "Hatch", "Line", "Point", "Polyline", "Rect", "Shape", "Sheet", "Text", "moved"]

Point = tuple[float, float]
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line from (x1, y1) to (x2, y2)."""

    x1: float
    y1: float
    x2: float
    y2: float
    role: str
    tint: str = ""

    def bounds(self) -> Bounds:
        """Left, top, right, bottom."""
        return min(self.x1, self.x2), min(self.y1, self.y2), max(self.x1, self.x2), max(self.y1, self.y2)


@dataclass(frozen=True, slots=True)
class Polyline:
    """A line through several points; `closed` joins the last to the first and may be filled."""

    points: tuple[Point, ...]
    role: str
    closed: bool = False
    tint: str = ""

    def bounds(self) -> Bounds:
        """Left, top, right, bottom."""
        xs, ys = zip(*self.points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True, slots=True)
class Arc:
    """Part of a circle, angles in degrees clockwise from the right; 0 to 360 is the whole circle."""

    cx: float
    cy: float
    r: float
    role: str
    start: float = 0.0
    end: float = 360.0
    tint: str = ""

    @property
    def whole(self) -> bool:
        """Whether this is a full circle."""
        return self.end - self.start >= 360

    def at(self, degrees: float) -> Point:
        """The point of the circle at an angle."""
        a = math.radians(degrees)
        return self.cx + self.r * math.cos(a), self.cy + self.r * math.sin(a)

    def bounds(self) -> Bounds:
        """Left, top, right, bottom of the whole circle."""
        return self.cx - self.r, self.cy - self.r, self.cx + self.r, self.cy + self.r


@dataclass(frozen=True, slots=True)
class Rect:
    """An upright rectangle; `radius` rounds its corners."""

    x: float
    y: float
    width: float
    height: float
    role: str
    radius: float = 0.0
    tint: str = ""

    def bounds(self) -> Bounds:
        """Left, top, right, bottom."""
        return self.x, self.y, self.x + self.width, self.y + self.height


@dataclass(frozen=True, slots=True)
class Hatch:
    r"""Parallel lines clipped to a rectangle: ``/``, ``\\``, ``x``, ``|`` or ``-``, `step` apart."""

    x: float
    y: float
    width: float
    height: float
    kind: str
    step: float = 5.0
    role: str = "hatch"
    tint: str = ""

    def bounds(self) -> Bounds:
        """Left, top, right, bottom."""
        return self.x, self.y, self.x + self.width, self.y + self.height

    def segments(self) -> list[tuple[float, float, float, float]]:
        """The lines as (x1, y1, x2, y2)."""
        x, y, w, h, step = self.x, self.y, self.width, self.height, self.step
        if self.kind == "|":
            return [(x + d, y, x + d, y + h) for d in _steps(w, step)]
        if self.kind == "-":
            return [(x, y + d, x + w, y + d) for d in _steps(h, step)]
        out = []
        for d in _steps(w + h, step * math.sqrt(2)):
            # the line u + v = d inside 0..w, 0..h, with u to the right and v down
            u1, u2 = max(0.0, d - h), min(w, d)
            if self.kind in "/x":
                out.append((x + u1, y + d - u1, x + u2, y + d - u2))
            if self.kind in "\\x":
                out.append((x + w - u1, y + d - u1, x + w - u2, y + d - u2))
        return out


def _steps(length: float, step: float) -> list[float]:
    n = int(length / step - 1e-9)
    return [step * (i + 0.5) for i in range(n + 1) if step * (i + 0.5) < length]


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; (x, y) is on its baseline at the side that `anchor` names.

    `turn` is 0 or 90 (read from below upwards).
    """

    x: float
    y: float
    text: str
    role: str = "label"
    size: float = 11.0
    anchor: str = "start"  # start, middle, end
    bold: bool = False
    turn: int = 0
    tint: str = ""

    @property
    def width(self) -> float:
        """The widest that it will be painted."""
        return text_width(self.text, self.size, bold=self.bold)

    def bounds(self) -> Bounds:
        """Left, top, right, bottom."""
        back = {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * self.width
        if self.turn == 90:
            return (
                self.x - ASCENT * self.size,
                self.y - self.width + back,
                self.x + DESCENT * self.size,
                self.y + back,
            )
        left = self.x - back
        return left, self.y - ASCENT * self.size, left + self.width, self.y + DESCENT * self.size


@dataclass(frozen=True, slots=True)
class Group:
    """Shapes that together draw one thing: `of` is its name ("K1", "wire:12"), `about` a sentence on it."""

    shapes: tuple[Shape, ...]
    of: str
    about: str = ""

    def bounds(self) -> Bounds:
        """Left, top, right, bottom of all of them."""
        return _around(s.bounds() for s in self.shapes)


Shape = Line | Polyline | Arc | Rect | Hatch | Text | Group


@dataclass(frozen=True, slots=True)
class Frame:
    """Which data value stands at which sheet position across: ``value = origin + x * per_unit``."""

    origin: float
    per_unit: float
    unit: str = ""

    def x(self, value: float) -> float:
        """The sheet position of a value."""
        return (value - self.origin) / self.per_unit


@dataclass(frozen=True, slots=True)
class Sheet:
    """A finished drawing: its size, its shapes in painting order, and what it says in words."""

    width: float
    height: float
    shapes: tuple[Shape, ...]
    title: str = ""
    desc: str = ""
    frame: Frame | None = None
    notes: tuple[str, ...] = field(default=())

    def walk(self) -> Iterator[Line | Polyline | Arc | Rect | Hatch | Text]:
        """Every shape that is painted, groups opened."""
        yield from _flat(self.shapes)

    def groups(self) -> dict[str, Group]:
        """Groups by the name of what they draw."""
        return {g.of: g for g in _groups(self.shapes)}

    def texts(self, *roles: str) -> list[Text]:
        """All texts, or those in the named roles."""
        return [s for s in self.walk() if isinstance(s, Text) and (not roles or s.role in roles)]

    def check(self, *, slack: float = 0.75) -> list[str]:
        """What is wrong with the drawing: shapes off the sheet, texts on top of one another."""
        wrong = []
        for shape in self.walk():
            x1, y1, x2, y2 = shape.bounds()
            if x1 < -slack or y1 < -slack or x2 > self.width + slack or y2 > self.height + slack:
                wrong.append(f"off the sheet: {shape}")
        texts = [(t, t.bounds()) for t in self.texts() if t.text.strip()]
        for i, (one, a) in enumerate(texts):
            for other, b in texts[i + 1 :]:
                if min(a[2], b[2]) - max(a[0], b[0]) > slack and min(a[3], b[3]) - max(a[1], b[1]) > slack:
                    wrong.append(f"texts overlap: {one.text!r} and {other.text!r}")
        return wrong


def moved(shape: Shape, dx: float, dy: float) -> Shape:
    """The same shape, elsewhere."""
    match shape:
        case Line():
            return replace(shape, x1=shape.x1 + dx, y1=shape.y1 + dy, x2=shape.x2 + dx, y2=shape.y2 + dy)
        case Polyline():
            return replace(shape, points=tuple((x + dx, y + dy) for x, y in shape.points))
        case Arc():
            return replace(shape, cx=shape.cx + dx, cy=shape.cy + dy)
        case Group():
            return replace(shape, shapes=tuple(moved(s, dx, dy) for s in shape.shapes))
        case _:
            return replace(shape, x=shape.x + dx, y=shape.y + dy)


def _flat(shapes: Sequence[Shape]) -> Iterator[Line | Polyline | Arc | Rect | Hatch | Text]:
    for shape in shapes:
        if isinstance(shape, Group):
            yield from _flat(shape.shapes)
        else:
            yield shape


def _groups(shapes: Sequence[Shape]) -> Iterator[Group]:
    for shape in shapes:
        if isinstance(shape, Group):
            yield shape
            yield from _groups(shape.shapes)


def _around(boxes: Iterable[Bounds]) -> Bounds:
    x1, y1, x2, y2 = zip(*boxes, strict=True)
    return min(x1), min(y1), max(x2), max(y2)

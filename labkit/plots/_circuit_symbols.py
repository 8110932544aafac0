"""Symbols of a control circuit after IEC 60617, each standing in a current path that runs downwards."""

from __future__ import annotations

from dataclasses import dataclass

from labkit.plots.shapes import Arc, Line, Polyline, Rect, Shape, Text

__all__ = ["STEP", "Symbol", "symbol_shapes"]

STEP = 60.0  # the height of a symbol with its leads


@dataclass(frozen=True, slots=True)
class Symbol:
    """One part of a current path, between its terminals `a` (above) and `b`.

    `kind` is contact, pole, breaker, fuse, heater, output, coil, input, lamp, horn, sensor, load, supply, diode or
    bidirectional; `closed` says whether a contact is closed at rest, `drive` what moves it: push, mushroom, turn,
    key, heat or coil; of a sensor, what it answers to.
    """

    kind: str
    part: str
    a: str
    b: str
    closed: bool = False
    drive: str = ""


def symbol_shapes(symbol: Symbol, x: float, y: float) -> list[Shape]:
    """The symbol on the path at `x`, from `y` down to ``y + STEP``."""
    if symbol.kind in {"diode", "bidirectional"}:
        return _suppressor(symbol, x, y)
    mid = y + STEP / 2
    if symbol.kind in {"contact", "pole", "breaker"}:
        out = _contact(symbol, x, y)
    elif symbol.kind == "heater":
        out = _heater(x, y)
    else:
        half = {"coil": 11.0, "fuse": 13.0, "lamp": 11.0, "horn": 11.0}.get(symbol.kind, 17.0)
        wide = {"coil": 19.0, "fuse": 5.5}.get(symbol.kind, 22.0)
        out = [Line(x, y, x, mid - half, "link"), Line(x, mid + half, x, y + STEP, "link")]
        if symbol.kind in {"lamp", "horn"}:
            out += _signal(symbol.kind, x, mid, half)
        else:
            out.append(Rect(x - wide, mid - half, 2 * wide, 2 * half, "box"))
        if symbol.kind == "sensor" or (symbol.kind == "load" and symbol.drive):
            out += _feeler(symbol.drive, x, mid)
        if symbol.kind == "supply":  # a converter: alternating in, direct out
            out.append(Line(x - wide, mid + half, x + wide, mid - half, "detail"))
            out += [
                Text(x - 11, mid - 3, "~", "label", 12, "middle"),
                Text(x + 11, mid + 12, "=", "label", 12, "middle"),
            ]
        if symbol.kind == "fuse":
            out.append(Line(x, mid - half, x, mid + half, "detail"))
        if symbol.kind in {"input", "output"}:
            name = symbol.a if symbol.kind == "input" else symbol.b
            out.append(Text(x, mid + 4, name, "label", 10, "middle", bold=True))
    reach = {"coil": 25.0, "fuse": 12.0, "lamp": 17.0, "horn": 25.0}.get(symbol.kind)
    reach = 28.0 if symbol.kind in {"input", "output", "sensor", "load", "supply"} else reach
    left = x - (reach if reach else 46.0 if symbol.drive not in {"", "coil"} else 16.0)
    if symbol.part:  # a pole is named once for all of them
        out.append(Text(left, mid + 4, symbol.part, "name", 11, "end", bold=True))
    # a coil's numbers stand on the left: a suppressor may be on the right
    side, anchor, up = (x - 6, "end", 14.0) if symbol.kind == "coil" else (x + 6, "start", 19.5)
    out.append(Text(side, mid - up, symbol.a, "tick", 8, anchor))
    out.append(Text(side, mid + up + 6.5, symbol.b, "tick", 8, anchor))
    return out


def _contact(symbol: Symbol, x: float, y: float) -> list[Shape]:
    """A contact at rest: the blade hangs open to the left, or rests on its stop to the right."""
    mid = y + STEP / 2
    top, knee = mid - 12, mid + 12
    out: list[Shape] = [Line(x, y, x, top, "link"), Line(x, knee, x, y + STEP, "link")]
    if symbol.closed:
        out.append(Line(x, top, x + 9, top, "symbol"))
        tip = (x + 8.0, top - 3.0)
    else:
        tip = (x - 9.0, top + 1.0)
    out.append(Line(x, knee, *tip, "symbol"))
    if symbol.kind == "pole":  # of a contactor: a half circle at the fixed contact
        out.append(Arc(x, top - 3, 3, "symbol", 90, 270))
    if symbol.kind == "breaker":
        out += [Line(x - 4, top - 4, x + 4, top + 4, "symbol"), Line(x - 4, top + 4, x + 4, top - 4, "symbol")]
        return out
    if symbol.drive and symbol.drive != "coil":  # a contact that stands away from its coil has only the name
        at = (tip[0] + x) / 2
        out.append(Line(x - 26, mid, at, mid, "drive"))
        out += _drive(symbol.drive, x - 26, mid)
        if symbol.drive == "mushroom" and symbol.closed:
            out += _opens_positively(x + 24, mid)
    return out


def _heater(x: float, y: float) -> list[Shape]:
    """One line through a thermal overload relay."""
    mid = y + STEP / 2
    bend = ((x, mid - 12), (x, mid - 6), (x + 5, mid - 6), (x + 5, mid + 6), (x, mid + 6), (x, mid + 12))
    return [
        Line(x, y, x, mid - 12, "link"),
        Line(x, mid + 12, x, y + STEP, "link"),
        Rect(x - 9, mid - 12, 18, 24, "box"),
        Polyline(bend, "symbol"),
    ]


def _opens_positively(x: float, y: float) -> list[Shape]:
    """An arrow in a circle: the contact is forced open by what moves it."""
    return [
        Arc(x, y, 6, "symbol"),
        Line(x - 4, y, x + 1, y, "detail"),
        Polyline(((x, y - 2.5), (x + 4, y), (x, y + 2.5)), "solid", closed=True),
    ]


def _feeler(senses: str, x: float, mid: float) -> list[Shape]:
    """What a sensor answers to: near metal, or light."""
    at = x if senses == "metal" else x - 6
    out: list[Shape] = [Polyline(((at, mid - 9), (at + 9, mid), (at, mid + 9), (at - 9, mid)), "symbol", closed=True)]
    if senses == "metal":
        return [
            *out,
            Line(at - 3, mid - 3, at - 3, mid + 3, "detail"),
            Line(at + 3, mid - 3, at + 3, mid + 3, "detail"),
        ]
    for y in (mid - 4, mid + 4):
        out += [
            Line(x + 9, y, x + 18, y, "detail"),
            Polyline(((x + 11, y - 2.5), (x + 6.5, y), (x + 11, y + 2.5)), "solid", closed=True),
        ]
    return out


def _signal(kind: str, x: float, mid: float, r: float) -> list[Shape]:
    """A lamp, a circle with a cross; a horn, a driver with its mouth to the left."""
    if kind == "lamp":
        a = r / 2**0.5
        cross: list[Shape] = [
            Line(x - a, mid - a, x + a, mid + a, "symbol"),
            Line(x - a, mid + a, x + a, mid - a, "symbol"),
        ]
        return [Arc(x, mid, r, "symbol"), *cross]
    mouth = ((x - 6, mid - 5), (x - 20, mid - 12), (x - 20, mid + 12), (x - 6, mid + 5))
    return [Rect(x - 6, mid - r, 12, 2 * r, "box"), Polyline(mouth, "symbol")]


def _drive(kind: str, x: float, y: float) -> list[Shape]:
    """What moves a contact, at the left end of its dashed line."""
    if kind == "push":
        return [Polyline(((x + 4, y - 6), (x, y - 6), (x, y + 6), (x + 4, y + 6)), "symbol")]
    if kind == "mushroom":
        latch = Polyline(((x + 9, y), (x + 12.5, y + 5), (x + 16, y)), "detail")  # it stays where it was put
        return [Arc(x + 3, y, 8, "symbol", 90, 270), Line(x + 3, y - 8, x + 3, y + 8, "symbol"), latch]
    if kind == "key":
        return [Arc(x - 3, y, 4.5, "symbol"), Polyline(((x - 12, y - 3), (x - 12, y), (x - 7.5, y)), "symbol")]
    if kind == "turn":
        return [Polyline(((x + 4, y - 6), (x, y - 6), (x, y + 6), (x - 4, y + 6)), "symbol")]
    if kind == "heat":
        return [
            Rect(x - 10, y - 7, 14, 14, "box"),
            Polyline(((x - 7, y - 3), (x - 4, y - 3), (x - 4, y + 3), (x + 1, y + 3)), "detail"),
        ]
    return []


def _suppressor(symbol: Symbol, x: float, y: float) -> list[Shape]:
    """A suppressor across the coil at `x`, to the right of it."""
    mid, at = y + STEP / 2, x + 46
    out: list[Shape] = [
        Polyline(((x, y + 6), (at, y + 6), (at, mid - 9)), "link"),
        Polyline(((x, y + STEP - 6), (at, y + STEP - 6), (at, mid + 9)), "link"),
        Arc(x, y + 6, 2.4, "joint"),
        Arc(x, y + STEP - 6, 2.4, "joint"),
    ]
    if symbol.kind == "diode":
        out += [
            Polyline(((at - 6, mid + 6), (at + 6, mid + 6), (at, mid - 5)), "box", closed=True),
            Line(at - 6, mid - 5, at + 6, mid - 5, "symbol"),
            Line(at, mid - 9, at, mid - 5, "link"),
            Line(at, mid + 6, at, mid + 9, "link"),
        ]
    else:
        out += [
            Polyline(((at - 6, mid + 9), (at + 6, mid + 9), (at, mid)), "box", closed=True),
            Polyline(((at - 6, mid - 9), (at + 6, mid - 9), (at, mid)), "box", closed=True),
            Polyline(((at - 8, mid + 3), (at - 6, mid), (at + 6, mid), (at + 8, mid - 3)), "symbol"),
        ]
    out.append(Text(at + 11, mid + 4, symbol.part, "name", 10.5, bold=True))
    return out

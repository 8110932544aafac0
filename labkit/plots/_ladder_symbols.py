"""The ladder's elements: contacts, coils and blocks as IEC 61131-3 draws them, on one line of a rung."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from labkit.plots._measure import text_width, wrap
from labkit.plots.shapes import Arc, Line, Polyline, Rect, Shape, Text

__all__ = ["Pins", "Place", "Power", "cell_shapes", "needs", "say"]

_NAME, _PIN = 11.0, 9.5
_BAR = 11.0  # half the height of a contact
_GAP = 7.0  # half its width
_WIDEST = 132.0  # a longer name is broken over its element
_LINE = 13.0


class Power(NamedTuple):
    """Power at one element: on its left, through it, on its right."""

    into: bool
    passes: bool
    out: bool


class Place(NamedTuple):
    """Where a cell stands: from `x1` to `x2` on the line at `y`."""

    x1: float
    x2: float
    y: float

    @property
    def mid(self) -> float:
        """Its middle across."""
        return (self.x1 + self.x2) / 2


class Pins(NamedTuple):
    """A block's box from `left` to `right`, the line of each pin, and which wired pins carry power."""

    left: float
    right: float
    ys: Mapping[Any, float]
    live: Mapping[Any, bool | None]


def _name_lines(name: str) -> list[str]:
    return wrap(name, _WIDEST, _NAME, bold=True) if name else []


def needs(cell: Any) -> tuple[list[float], float]:
    """The widths of the columns that a cell covers, and its height above its line."""
    lines = _name_lines(cell.name)
    wide = max([text_width(t, _NAME, bold=True) for t in lines], default=0.0)
    if cell.kind != "block":
        return [max(64.0, wide + 16)], _BAR + 7 + _LINE * len(lines)
    sides = {s: [p for p in cell.pins if p.side == s] for s in ("left", "right")}
    outer = {s: max([text_width(p.text, 10) + 22 for p in pins], default=0.0) for s, pins in sides.items()}
    inner = {s: max([text_width(p.name, _PIN) for p in pins], default=0.0) for s, pins in sides.items()}
    box = max(inner["left"] + inner["right"] + 30, text_width(cell.symbol, _NAME, bold=True) + 20, wide + 8, 64.0)
    return [max(28.0, outer["left"]), box, max(28.0, outer["right"])], 34 + _LINE * len(lines)


def say(cell: Any, power: Power | None) -> str:
    """A cell in words."""
    kinds = {
        ("contact", ""): "normally open contact",
        ("contact", "/"): "normally closed contact",
        ("contact", "P"): "contact on a rise",
        ("contact", "N"): "contact on a fall",
        ("coil", ""): "coil",
        ("coil", "/"): "negated coil",
        ("coil", "S"): "set coil",
        ("coil", "R"): "reset coil",
        ("coil", "P"): "coil on a rise",
        ("coil", "N"): "coil on a fall",
    }
    what = kinds.get((cell.kind, cell.symbol), f"{cell.symbol} block")
    if power is None:
        return f"{what} {cell.name}"
    if cell.kind == "contact":
        state = "lets power through" if power.passes else "lets no power through"
        here = "power reaches it" if power.into else "no power reaches it"
        return f"{what} {cell.name} {state}, {here}"
    return f"{what} {cell.name}, {'power' if power.into else 'no power'}"


def cell_shapes(cell: Any, place: Place, power: Power | None, pins: Pins | None = None) -> list[Shape]:
    """The cell in its place; a block needs to know its pins."""
    if cell.kind == "block":
        return _block(cell, place, power, pins or Pins(place.x1, place.x2, {}, {}))
    mid, y = place.mid, place.y
    draw = _coil if cell.kind == "coil" else _contact
    out = draw(cell.symbol, place, power)
    lines = _name_lines(cell.name)
    for i, text in enumerate(reversed(lines)):
        out.append(Text(mid, y - _BAR - 6 - _LINE * i, text, "name", _NAME, "middle", bold=True))
    return out


def _lead(x1: float, x2: float, y: float, live: bool | None) -> Shape:
    return Line(x1, y, x2, y, "link" if live is None else "live" if live else "dead")


def _arrow(x: float, y: float) -> Shape:
    """The end mark of power that goes no further, its point at `x`."""
    return Polyline(((x - 9, y - 4.5), (x, y), (x - 9, y + 4.5)), "live-mark", closed=True)


def _contact(symbol: str, place: Place, power: Power | None) -> list[Shape]:
    x1, x2, y, mid = *place, place.mid
    gap = _GAP + (2.5 if symbol in "PN" and symbol else 0)
    through = power is not None and power.passes
    role = "symbol-live" if through else "symbol"
    out: list[Shape] = []
    out.append(_lead(x1, mid - gap, y, power.into if power else None))
    out.append(_lead(mid + gap, x2, y, power.out if power else None))
    out += [Line(mid + d, y - _BAR, mid + d, y + _BAR, role) for d in (-gap, gap)]
    if symbol == "/":
        out.append(Line(mid - gap - 3, y + _BAR - 1, mid + gap + 3, y - _BAR + 1, "symbol"))
    elif symbol:
        out.append(Text(mid, y + 4, symbol, "label", _NAME, "middle", bold=True))
    if power and power.into and not power.out:
        out.append(_arrow(mid - gap - 1, y))
    return out


def _coil(symbol: str, place: Place, power: Power | None) -> list[Shape]:
    x1, x2, y, mid = *place, place.mid
    on = power is not None and power.into
    role = "symbol-live" if on else "symbol"
    r, half = 14.0, 11.5  # both arcs of one circle, their middles `half` from its centre
    out: list[Shape] = []
    out.append(_lead(x1, mid - half, y, power.into if power else None))
    out.append(_lead(mid + half, x2, y, power.out if power else None))
    shift = r - half
    out.append(Arc(mid + shift, y, r, role, 130, 230))
    out.append(Arc(mid - shift, y, r, role, -50, 50))
    if symbol == "/":
        out.append(Line(mid - 5, y + 8, mid + 5, y - 8, "symbol"))
    elif symbol:
        out.append(Text(mid, y + 4, symbol, "label", _NAME, "middle", bold=True))
    if on:
        out.append(_arrow(mid - half - 1, y))
    return out


def _block(cell: Any, place: Place, power: Power | None, pins: Pins) -> list[Shape]:
    y, left, right = place.y, pins.left, pins.right
    top = y - 31
    bottom = max([*pins.ys.values(), y]) + 13
    on = power is not None and power.passes
    mid = (left + right) / 2
    out: list[Shape] = [Rect(left, top, right - left, bottom - top, "box-live" if on else "box")]
    out.append(Text(mid, top + 14, cell.symbol, "label", _NAME, "middle", bold=True))
    lines = _name_lines(cell.name)
    for i, text in enumerate(reversed(lines)):
        out.append(Text(mid, top - 5 - _LINE * i, text, "name", _NAME, "middle", bold=True))
    for pin, py in pins.ys.items():
        at, side, outward = (left, "start", -1) if pin.side == "left" else (right, "end", 1)
        out.append(Text(at - 6 * outward, py + 3.4, pin.name, "label", _PIN, side))
        if pin.wired:
            live = pins.live.get(pin)
            far = place.x1 if pin.side == "left" else place.x2
            out.append(_lead(min(at, far), max(at, far), py, live))
            if live and pin.side == "left":
                out.append(_arrow(at, py))
        elif pin.text:
            out.append(_lead(min(at, at + 10 * outward), max(at, at + 10 * outward), py, None))
            anchor = "end" if pin.side == "left" else "start"
            out.append(Text(at + 14 * outward, py + 3.4, pin.text, "label", 10, anchor))
        if pin.wired and pin.text:
            out.append(Text(at + 14 * outward, py - 6, pin.text, "label", 10, "end" if outward < 0 else "start"))
    return out

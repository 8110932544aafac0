"""The parts of a board from the front: flat panels with the symbols of IEC 60617 on them.

One function per kind of part, found in :data:`FACES`; each gets the room between the part's terminal rows
and says how the part stands (pressed, closed, tripped ...) by shape and weight, with colour on top.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from labkit.plots._measure import shorten, text_width, wrap
from labkit.plots.shapes import Arc, Hatch, Line, Polyline, Rect, Shape, Text

__all__ = ["FACES", "View", "face", "legend_lines"]

_CODES = {
    "red": "RD",
    "green": "GN",
    "yellow": "YE",
    "blue": "BU",
    "white": "WH",
    "black": "BK",
    "grey": "GY",
    "orange": "OG",
}


@dataclass(frozen=True, slots=True)
class View:
    """A part and how it stands, with the room for its face in sheet units."""

    part: Any
    entry: Any
    left: float
    top: float
    right: float
    bottom: float
    state: str
    lit: bool
    leds: frozenset[str]
    terminals: Mapping[str, tuple[float, float]]
    wires: Mapping[str, int]
    """How many wires are on each terminal of the part."""

    @property
    def mid(self) -> float:
        """The middle across."""
        return (self.left + self.right) / 2

    @property
    def width(self) -> float:
        """The room across."""
        return self.right - self.left


def face(view: View) -> list[Shape]:
    """What is drawn on a part: its designation, its symbol, its legend."""
    draw = FACES.get(view.entry.kind, _plain)
    return draw(view)


def legend_lines(text: str, room: float, most: int, size: float = 8.0) -> list[str]:
    """A legend broken into at most `most` lines, the last one shortened."""
    lines = wrap(text, room, size) if text else []
    if len(lines) > most:
        lines = [*lines[: most - 1], shorten(" ".join(lines[most - 1 :]), room, size)]
    return lines


def _designation(view: View, x: float | None = None, anchor: str = "middle") -> Text:
    where = view.mid if x is None else x
    return Text(where, view.top + 10, view.part.designation, "name", 10.5, anchor, bold=True)


def _corner(view: View, words: str = "", role: str = "tick") -> list[Shape]:
    """The designation in the top left corner, beside the terminals, and a word in the right one."""
    y = view.top - 5 if view.entry.top else view.top + 10
    out: list[Shape] = [Text(view.left + 4, y, view.part.designation, "name", 10.5, bold=True)]
    if words:
        out.append(Text(view.right - 4, y, words, role, 7.5, "end"))
    return out


def _legend(view: View, most: int = 2) -> list[Shape]:
    """The words of the legend plate, at the foot of the face."""
    lines = legend_lines(view.part.label, view.width - 4, most)
    first = view.bottom - 3 - 9.5 * (len(lines) - 1)
    return [Text(view.mid, first + 9.5 * i, t, "tick", 8, "middle") for i, t in enumerate(lines)]


def _middle(view: View, most: int = 2) -> float:
    """The height of the middle between designation and legend."""
    lines = legend_lines(view.part.label, view.width - 4, most)
    foot = view.bottom - 10 - 9.5 * (len(lines) - 1) if lines else view.bottom
    return (view.top + 13 + foot) / 2


def _plain(view: View) -> list[Shape]:
    return [_designation(view), *_legend(view)]


# --- contacts and coils, drawn upright between two terminals --------------------------------------


def _blade(x: float, top: float, bottom: float, closed: bool, normally_closed: bool) -> list[Shape]:
    """A contact in a vertical line: a blade from below; a normally closed one has its stop on the right."""
    knee, tip = bottom - 4, top + 4
    out: list[Shape] = [Line(x, top, x, tip, "detail"), Line(x, knee, x, bottom, "detail")]
    if normally_closed:
        out.append(Line(x, tip, x + 6, tip, "detail"))
        reach = (x + 5, tip - 2) if closed else (x + 9, tip + 2)
    else:
        reach = (x, tip) if closed else (x - 6, tip + 2)
    out.append(Line(x, knee, *reach, "detail-bold" if closed else "detail"))
    return out


def _contacts(view: View, top: float, bottom: float, actor_state: str) -> list[Shape]:
    """Each contact of the part between its own two terminals, open or closed as the part stands."""
    out: list[Shape] = []
    rest = view.entry.states()[0] if view.entry.states() else ""
    for contact in view.entry.contacts:
        (x1, y1), (x2, _) = view.terminals[contact.a], view.terminals[contact.b]
        x = x1 if y1 < top else x2
        closed = actor_state in contact.closed_when
        normally_closed = rest in contact.closed_when if rest else "open" in contact.closed_when
        out += _blade(x, top, bottom, closed, normally_closed)
    return out


# --- one face per kind ----------------------------------------------------------------------------


def _supply(view: View) -> list[Shape]:
    x, y, on = view.mid, view.top + 54, view.state == "on"
    out: list[Shape] = [_designation(view), Rect(x - 22, y - 22, 44, 44, "device")]
    out += [
        Line(x - 22, y + 22, x + 22, y - 22, "detail"),
        Polyline(tuple((x - 17 + i, y - 10 - 3.5 * math.sin(i * math.pi / 7)) for i in range(15)), "detail"),
        Line(x + 3, y + 9, x + 17, y + 9, "detail"),
        Line(x + 3, y + 13, x + 17, y + 13, "detail"),
    ]
    out += _rocker(x, view.top + 106, on)
    out += _legend(view)
    return out


def _rocker(x: float, y: float, on: bool) -> list[Shape]:
    """An on/off switch seen from the front: the pressed half is filled."""
    return [
        Rect(x - 9, y - 15, 18, 30, "device", 2),
        Rect(x - 9, y - 15 if on else y, 18, 15, "solid", 2),
        Text(x, y - 4, "I", "inverse" if on else "tick", 9, "middle", bold=True),
        Text(x, y + 11, "0", "tick" if on else "inverse", 9, "middle", bold=True),
    ]


def _breaker(view: View) -> list[Shape]:
    on = view.state == "on"
    x, y = view.mid, view.top + 29
    out: list[Shape] = [_designation(view)]
    out += _blade(x, y - 14, y + 14, on, False)
    out += [Line(x - 3.5, y - 13.5, x + 3.5, y - 6.5, "detail"), Line(x - 3.5, y - 6.5, x + 3.5, y - 13.5, "detail")]
    out += _rocker(x, view.top + 62, on)
    # a narrow part carries its legend read from below
    foot = view.bottom - 2
    lines = legend_lines(view.part.label, foot - view.top - 79, 2, 7.5)
    first = x + 2.7 - 4.5 * (len(lines) - 1)
    out += [Text(first + 9 * i, foot, t, "tick", 7.5, turn=90) for i, t in enumerate(lines)]
    return out


def _fuse(view: View) -> list[Shape]:
    x, y = view.mid, (view.top + view.bottom) / 2 + 4
    out: list[Shape] = [_designation(view), Rect(x - 5, y - 12, 10, 24, "device")]
    out.append(Line(x, y - 20, x, y + 20, "detail"))
    if view.state == "blown":
        out += [Line(x - 8, y - 8, x + 8, y + 8, "detail-bold"), Line(x - 8, y + 8, x + 8, y - 8, "detail-bold")]
    return out


def _button(view: View) -> list[Shape]:
    pressed = view.state == "pressed"
    y, r = _middle(view), 12.5
    out: list[Shape] = [_designation(view)]
    out.append(Arc(view.mid, y, r + 2.5, "part-dark"))
    out.append(Arc(view.mid, y, r - 2.5 if pressed else r, "cap-down" if pressed else "cap", tint=view.entry.colour))
    return out + _legend(view)


def _emergency_stop(view: View) -> list[Shape]:
    latched = view.state == "pressed"
    x, y = view.mid, _middle(view)
    out: list[Shape] = [_designation(view)]
    out.append(Arc(x, y, 23, "device", tint="yellow"))
    out.append(Arc(x, y, 13 if latched else 16.5, "cap-down" if latched else "cap", tint=view.entry.colour))
    # turn to release
    for start in (20, 200):
        arc = Arc(x, y, 8.5, "detail-light", start, start + 110)
        (ex, ey) = arc.at(start + 110)
        out += [arc, Arc(ex, ey, 1.6, "light")]
    return out + _legend(view)


_TURN = {"left": -45.0, "centre": 0.0, "right": 45.0, "off": -45.0, "on": 45.0}


def _selector(view: View) -> list[Shape]:
    x, y, r = view.mid, _middle(view), 12.5
    out: list[Shape] = [_designation(view)]
    for position in view.entry.positions:
        a = math.radians(_TURN.get(position, 0.0) - 90)
        out.append(
            Line(
                x + (r + 2.5) * math.cos(a),
                y + (r + 2.5) * math.sin(a),
                x + (r + 6) * math.cos(a),
                y + (r + 6) * math.sin(a),
                "detail",
            )
        )
    out.append(Arc(x, y, r, "cap", tint=view.entry.colour))
    a = math.radians(_TURN.get(view.state, 0.0) - 90)
    c, s = math.cos(a), math.sin(a)
    if view.entry.kind == "key_switch":
        out += [Arc(x, y, 6.5, "device"), Line(x - 5 * c, y - 5 * s, x + 5 * c, y + 5 * s, "detail-bold")]
        out.append(Arc(x + 5 * c, y + 5 * s, 1.8, "solid"))
    else:
        w, long = 3.2, r - 0.5
        knob = ((-w * -s, -w * c), (w * -s, w * c))
        out.append(
            Polyline(
                (
                    (x - long * c + knob[0][0], y - long * s + knob[0][1]),
                    (x + (long - 4) * c + knob[0][0], y + (long - 4) * s + knob[0][1]),
                    (x + long * c, y + long * s),
                    (x + (long - 4) * c + knob[1][0], y + (long - 4) * s + knob[1][1]),
                    (x - long * c + knob[1][0], y - long * s + knob[1][1]),
                ),
                "device",
                closed=True,
            )
        )
    return out + _legend(view)


def _lamp(view: View) -> list[Shape]:
    x, y, r = view.mid, view.top + 12.5, 7.5  # its rays stay clear of the terminal above and of a legend of two lines
    out: list[Shape] = []
    if view.lit:
        for k in range(12):
            a = math.radians(30 * k)
            c, s = math.cos(a), math.sin(a)
            out.append(Line(x + 9.5 * c, y + 9.5 * s, x + 12 * c, y + 12 * s, "ray"))
    out.append(Arc(x, y, r, "lamp-lit" if view.lit else "lamp-off", tint=view.entry.colour if view.lit else ""))
    d = r * 0.707
    out += [Line(x - d, y - d, x + d, y + d, "detail"), Line(x - d, y + d, x + d, y - d, "detail")]
    code = _CODES.get(view.entry.colour, view.entry.colour[:2].upper())
    return [*_corner(view, code), *out, *_legend(view)]


def _horn(view: View) -> list[Shape]:
    """A driver with its mouth to the left, as on the circuit drawings."""
    x, y = view.mid + 6, _middle(view) - 2
    role = "lamp-lit" if view.lit else "lamp-off"
    mouth = Polyline(((x - 6, y - 5), (x - 18, y - 11), (x - 18, y + 11), (x - 6, y + 5)), role, closed=True)
    out: list[Shape] = [*_corner(view), mouth, Rect(x - 6, y - 9, 11, 18, "device")]
    if view.lit:
        out += [Arc(x - 12, y, r, "detail", 150, 210) for r in (13, 17)]
    return out + _legend(view)


def _sensor(view: View) -> list[Shape]:
    on = view.state == "on"
    x, y = view.mid, view.top + 18
    out: list[Shape] = [_designation(view, view.left + 4, "start")]
    out.append(Polyline(((x, y - 8), (x + 8, y), (x, y + 8), (x - 8, y)), "device", closed=True))
    if view.entry.senses == "metal":
        out += [Line(x - 3, y - 3, x - 3, y + 3, "detail"), Line(x + 3, y - 3, x + 3, y + 3, "detail")]
    else:
        out += [Line(x + 12, y - 6, x + 20, y - 6, "detail"), Line(x + 12, y, x + 20, y, "detail")]
        out += [
            Polyline(((x + 15, dy - 2.5), (x + 11, dy), (x + 15, dy + 2.5)), "solid", closed=True) for dy in (y - 6, y)
        ]
    out.append(Rect(view.right - 12, view.top + 3, 7, 7, "led-on" if on else "led-off"))
    out += _legend(view)
    return out


def _contactor(view: View) -> list[Shape]:
    closed = view.state == "closed"
    coil = view.entry.coil
    (cx, _), top, bottom = view.terminals[coil.a], view.top + 44, view.bottom - 34
    out: list[Shape] = [_designation(view, view.left + 4, "start")]
    y = (top + bottom) / 2
    out += [
        Line(cx, view.top + 14, cx, y - 9, "detail"),
        Rect(cx - 8, y - 9, 16, 18, "device"),
        Line(cx, y + 9, cx, view.bottom, "detail"),
    ]
    out += _contacts(view, top, bottom, view.state)
    xs = [view.terminals[c.a][0] for c in view.entry.contacts]
    if xs:
        shift = 0 if closed else -3
        out += [Line(x, y + 0.5, x + 6, y + 0.5, "detail") for x in _dashes(cx + 10, max(xs) + shift, 10)]
    words = "closed" if closed else "open"
    out.append(Text(view.right - 4, view.top + 10, words, "label" if closed else "tick", 8, "end", bold=closed))
    lines = legend_lines(view.part.label, view.right - cx - 10, 1)
    out += [Text(cx + 7, view.top + 24, t, "tick", 8) for t in lines]
    return out


def _dashes(x1: float, x2: float, step: float) -> list[float]:
    return [x1 + step * i for i in range(max(0, int((x2 - x1) / step)))]


def _aux_block(view: View) -> list[Shape]:
    out: list[Shape] = []
    out += _contacts(view, view.top + 44, view.bottom - 34, view.state)
    return out


def _overload(view: View) -> list[Shape]:
    tripped = view.state == "tripped"
    top, bottom = view.top + 34, view.bottom - 18
    out: list[Shape] = [_designation(view, view.left + 4, "start")]
    for a, _b in view.entry.heaters:
        x = view.terminals[a][0]
        m = (top + bottom) / 2
        out += [
            Line(x, top, x, m - 8, "detail"),
            Polyline(((x, m - 8), (x - 5, m - 8), (x - 5, m + 8), (x, m + 8)), "detail-bold"),
            Line(x, m + 8, x, bottom, "detail"),
        ]
    out += _contacts(view, top, bottom, view.state)
    words = "tripped" if tripped else "healthy"
    out.append(Text(view.right - 4, view.top + 10, words, "label" if tripped else "tick", 8, "end", bold=tripped))
    if tripped:
        out.append(Hatch(view.left + 2, view.bottom - 8, view.width - 4, 6, "/", 4, "hatch-dark"))
    lines = legend_lines(view.part.label, view.width - 6, 1, 7.5)
    out += [Text(view.left + 4, view.top + 22, t, "tick", 7.5) for t in lines]
    return out


def _suppressor(view: View) -> list[Shape]:
    x, y = view.mid, view.top + 22
    out: list[Shape] = [Text(x, view.bottom - 3, view.part.designation, "name", 9, "middle", bold=True)]
    out.append(Polyline(((x - 5, y + 4), (x + 5, y + 4), (x, y - 4)), "device", closed=True))
    out.append(Line(x - 5, y - 4, x + 5, y - 4, "detail-bold"))
    if view.entry.form == "bidirectional":
        out.append(Polyline(((x - 5, y - 12), (x + 5, y - 12), (x, y - 4)), "device", closed=True))
    return out


def _motor(view: View) -> list[Shape]:
    turning = view.state == "turning" or view.lit
    x, y = view.mid, _middle(view) - 2
    out: list[Shape] = [_designation(view, view.left + 6, "start")]
    out.append(Arc(x, y, 25, "lamp-lit" if turning else "device"))
    out.append(Text(x, y + 1, "M", "label", 16, "middle", bold=True))
    out.append(Text(x, y + 14, "3 ~", "label", 10, "middle"))
    if turning:
        for start in (200, 290):
            arc = Arc(x, y, 30, "detail-bold", start, start + 50)
            (ex, ey) = arc.at(start + 50)
            out += [arc, Arc(ex, ey, 2.6, "solid")]
    return out + _legend(view, 1)


def _strip(view: View) -> list[Shape]:
    out: list[Shape] = []
    bars = view.entry.bars
    edge = view.top - 17  # the strip itself lies along the upper edge, where the wires land
    for bar in bars:
        mid, _ = view.terminals[bar.name]
        each = view.width / len(bars)
        x = mid - each / 2
        if x > view.left + 1:
            out.append(Line(x, edge + 22, x, view.bottom - 18, "rule"))
        out.append(Rect(x + 3, edge + 3, each - 6, 13, "bar", tint="green-yellow" if bar.earth else ""))
        if bar.earth:
            out.append(Hatch(x + 3, edge + 3, each - 6, 13, "/", 7, "earth-stripe"))
        out += _clamps(bar.clamps, mid, edge + 9.5, each - 10)
        out.append(Text(mid, edge + 32, bar.name, "label", 9.5, "middle", bold=True))
        has = view.wires.get(bar.name, 0)
        over = has > bar.clamps
        count = f"{has} of {bar.clamps}" + (": too many" if over else "")
        out.append(Text(mid, edge + 44, count, "label" if over else "tick", 8, "middle", bold=over))
    out.append(Text(view.left + 5, view.bottom - 5, view.part.designation, "name", 10.5, bold=True))
    words = legend_lines(view.part.label or "terminals", view.width - 40, 1)
    out += [Text(view.right - 5, view.bottom - 5, t, "tick", 8, "end") for t in words]
    return out


def _clamps(count: int, mid: float, y: float, room: float) -> list[Shape]:
    """Every clamp of a bar; as many as would touch in one row stand in turn in two or three."""
    step = min(8.0, room / count)
    rows = min(3, math.ceil(5.6 / step))
    apart = 1.2
    r = min(2.0, (step * rows - 0.8) / 2, (12 - apart * (rows - 1)) / (2 * rows))  # in a bar 13 high
    out: list[Shape] = []
    for k in range(count):
        down = (k % rows - (rows - 1) / 2) * (2 * r + apart)
        out.append(Arc(mid + step * (k - (count - 1) / 2), y + down, r, "terminal"))
    return out


def _controller(view: View) -> list[Shape]:
    out: list[Shape] = []
    inputs, outputs = view.entry.input_points, view.entry.output_points
    for points, up in ((inputs, True), (outputs, False)):
        for point in points:
            x, _ = view.terminals[point]
            y = view.top + 2 if up else view.bottom - 12
            on = point in view.leds
            out.append(Rect(x - 5, y, 10, 10, "led-on" if on else "led-off", 1))
            if on:
                out.append(Rect(x - 2, y + 3, 4, 4, "light"))
    y = (view.top + view.bottom) / 2
    out.append(Rect(view.left + 14, y - 22, view.width - 28, 44, "part-dark", 3))
    out.append(Text(view.left + 26, y + 5, view.part.designation, "name", 14, bold=True))
    out.append(Text(view.left + 58, y - 3, view.part.label, "label", 10))
    words = f"{len(inputs)} inputs 24 VDC, {len(outputs)} outputs"
    out.append(Text(view.left + 58, y + 11, words, "tick", 8.5))
    x = view.right - 26
    for mode in ("run", "stop"):
        on = view.state == mode
        wide = text_width(mode, 9, bold=True) + 12
        out.append(Rect(x - wide, y - 9, wide, 18, "solid" if on else "device", 3))
        out.append(Text(x - wide / 2, y + 3.5, mode, "inverse" if on else "tick", 9, "middle", bold=True))
        x -= wide + 5
    return out


FACES: Mapping[str, Callable[[View], list[Shape]]] = {
    "supply": _supply,
    "breaker": _breaker,
    "fuse": _fuse,
    "push_button": _button,
    "emergency_stop": _emergency_stop,
    "selector": _selector,
    "key_switch": _selector,
    "sensor": _sensor,
    "contactor": _contactor,
    "aux_block": _aux_block,
    "overload": _overload,
    "suppressor": _suppressor,
    "lamp": _lamp,
    "horn": _horn,
    "motor": _motor,
    "terminal_strip": _strip,
    "controller": _controller,
}
"""Kind of part -> what draws its face."""

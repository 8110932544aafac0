"""Still pictures of the small widgets, for a page without a kernel: black ink on paper, own colours."""

from __future__ import annotations

import re
from html import escape

__all__ = [
    "PAINT",
    "emergency_stop",
    "knob",
    "pilot_light",
    "plate",
    "push_button",
    "sensor_face",
    "side_by_side",
    "words",
]

PAINT = {
    "red": "#c92a1e",
    "green": "#007a58",
    "yellow": "#e0b400",
    "blue": "#0072b2",
    "white": "#ffffff",
    "black": "#22282c",
    "grey": "#8a9297",
}
_SIZE = re.compile(r'width="([\d.]+)" height="([\d.]+)"')
_INK, _PAPER, _PLATE, _LINE = "#1c2226", "#fbfaf6", "#f0eee6", "#7b848a"


def _say(x: float, y: float, text: str, *, anchor: str = "middle", size: int = 11, bold: bool = False) -> str:
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}" font-family="sans-serif" font-size="{size}"{weight} '
        f'fill="{_INK}">{escape(text)}</text>'
    )


def plate(part: str, label: str, inside: str, width: int = 120, height: int = 112) -> str:
    """A legend plate with a drawing `inside`, as a whole SVG document."""
    title = f"{part}  {label}".strip()
    wide = max(width, round(7.2 * len(title)) + 12)  # as wide as bold letters of that size run
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{height}" viewBox="0 0 {wide} {height}">'
        f'<rect x="0.5" y="0.5" width="{wide - 1}" height="{height - 1}" rx="3" fill="{_PAPER}" stroke="{_LINE}"/>'
        f"{_say(wide / 2, 18, title, size=12, bold=True)}"
        f'<g transform="translate({(wide - width) / 2:g} 0)">{inside}</g></svg>'
    )


def push_button(colour: str, contact: str, down: bool) -> str:
    """A push button over its contact."""
    if contact == "NO":
        blade = "M46 92H74" if down else "M46 92L72 80"
    else:
        blade = "M46 92L70 109M74 92V102" if down else "M46 92L78 103M74 92V102"
    radius, weight = (13, 4) if down else (17, 1.5)
    return (
        f'<circle cx="60" cy="50" r="20" fill="{_PLATE}" stroke="{_INK}" stroke-width="1.5"/>'
        f'<circle cx="60" cy="50" r="{radius}" fill="{PAINT[colour]}" stroke="{_INK}" stroke-width="{weight}"/>'
        f'<path d="M22 92H46M74 92H98{blade}" fill="none" stroke="{_INK}" stroke-width="{3 if down else 1.75}"/>'
    )


def pilot_light(colour: str, lit: bool, kind: str) -> str:
    """A lamp or a horn; rays when it is on."""
    rays = ""
    if lit:
        ray = f'<line x1="60" y1="30" x2="60" y2="37" stroke="{_INK}" stroke-width="3" transform="rotate('
        rays = "".join(f'{ray}{30 * k} 60 60)"/>' for k in range(12))
    fill, weight = (PAINT[colour], 3) if lit else (_PLATE, 1.5)
    if kind == "horn":
        return f'{rays}<path d="M46 78H74L68 48H52Z" fill="{fill}" stroke="{_INK}" stroke-width="{weight}"/>'
    return (
        f'{rays}<circle cx="60" cy="60" r="17" fill="{fill}" stroke="{_INK}" stroke-width="{weight}"/>'
        f'<path d="M48 48L72 72M72 48L48 72" fill="none" stroke="{_INK}"/>'
    )


def knob(states: tuple[str, ...], state: str, *, key: bool = False, colour: str = "black") -> str:
    """A selector or key switch with its positions around it."""
    last = max(1, len(states) - 1)
    turn = 100 * (states.index(state) / last - 0.5) if state in states else 0
    handle = (
        '<circle cx="60" cy="52" r="4" fill="none" stroke="#fff"/><path d="M60 56V70" stroke="#fff" stroke-width="3"/>'
        if key
        else '<rect x="55" y="38" width="10" height="36" rx="3" fill="none" stroke="#fff" stroke-width="2"/>'
    )
    anchors = ["start", *["middle"] * (len(states) - 2), "end"]
    said = "".join(
        _say(10 + 100 * k / last, 102, word, anchor=anchors[k], bold=word == state) for k, word in enumerate(states)
    )
    return (
        f'<circle cx="60" cy="56" r="24" fill="{PAINT[colour]}" stroke="{_INK}" stroke-width="1.5"/>'
        f'<g transform="rotate({turn:g} 60 56)"><path d="M60 28V36" stroke="#fff" stroke-width="4"/>{handle}</g>{said}'
    )


def emergency_stop(latched: bool) -> str:
    """A red mushroom on yellow; smaller when it is in."""
    return (
        f'<rect x="41" y="28" width="68" height="64" rx="3" fill="{PAINT["yellow"]}" stroke="{_INK}"/>'
        f'<circle cx="75" cy="60" r="27" fill="{PAINT["black"]}"/>'
        f'<circle cx="75" cy="60" r="{20 if latched else 24}" fill="{PAINT["red"]}" stroke="#fff"/>'
        f"{_say(75, 106, 'latched in' if latched else 'released')}"
    )


def sensor_face(senses: str, near: float, on: bool) -> str:
    """A sensor with its beam or the metal before it; `near` from 0 (nothing) to 1."""
    led_fill, led_weight = (PAINT["yellow"], 3.5) if on else (_PLATE, 1.5)
    parts = [
        f'<rect x="10" y="46" width="30" height="28" rx="3" fill="{_PLATE}" stroke="{_INK}" stroke-width="1.5"/>',
        f'<circle cx="26" cy="60" r="5" fill="{led_fill}" stroke="{_INK}" stroke-width="{led_weight}"/>',
    ]
    if senses == "beam":
        end = 100 if near else 164
        parts.append(f'<path d="M40 60H{end}" stroke="#b34700" stroke-width="2" stroke-dasharray="5 3"/>')
    if near > 0:
        x = 100 if senses == "beam" else 40 + 110 * (1 - near)
        thing = f'<rect x="{x:.1f}" y="38" width="14" height="44" rx="2" fill="{PAINT["grey"]}" stroke="{_INK}"/>'
        parts.append(thing)
    return "".join(parts) + _say(90, 102, f"its lamp {'lit' if on else 'dark'}")


def words(*lines: str, width: int = 560) -> str:
    """A sheet with lines of words, as a whole SVG document."""
    height = 14 + 20 * len(lines)
    said = "".join(_say(10, 22 + 20 * k, line, anchor="start", size=12) for k, line in enumerate(lines))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}">'
        f'<rect x="0.5" y="0.5" width="{width - 1}" height="{height - 1}" rx="3" fill="{_PAPER}" stroke="{_LINE}"/>'
        f"{said}</svg>"
    )


def side_by_side(rows: list[list[str]], gap: float = 6) -> str:
    """Whole SVG documents in rows, as one."""
    inside, wide, y = [], 0.0, 0.0
    for row in rows:
        x = high = 0.0
        for drawing in row:
            width, height = (float(size) for size in _SIZE.search(drawing).groups())  # type: ignore[union-attr]
            inside.append(drawing.replace("<svg ", f'<svg x="{x:g}" y="{y:g}" ', 1))
            x, high = x + width + gap, max(high, height)
        wide, y = max(wide, x - gap), y + high + gap
    size = f'width="{wide:g}" height="{y - gap:g}" viewBox="0 0 {wide:g} {y - gap:g}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{"".join(inside)}</svg>'

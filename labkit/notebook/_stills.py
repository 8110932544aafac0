"""Still pictures of the small widgets, for a page without a kernel: black ink on paper, own colours."""

from __future__ import annotations

from html import escape

__all__ = ["PAINT", "knob", "pilot_light", "plate", "push_button"]

PAINT = {
    "red": "#c92a1e",
    "green": "#007a58",
    "yellow": "#e0b400",
    "blue": "#0072b2",
    "white": "#ffffff",
    "black": "#22282c",
    "grey": "#8a9297",
}
_INK, _PAPER, _PLATE, _LINE = "#1c2226", "#fbfaf6", "#f0eee6", "#7b848a"


def plate(part: str, label: str, inside: str, width: int = 120, height: int = 112) -> str:
    """A legend plate with a drawing `inside`, as a whole SVG document."""
    title = escape(f"{part}  {label}".strip())
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}">'
        f'<rect x="0.5" y="0.5" width="{width - 1}" height="{height - 1}" rx="3" fill="{_PAPER}" stroke="{_LINE}"/>'
        f'<text x="{width / 2:g}" y="18" text-anchor="middle" font-family="sans-serif" font-size="12" '
        f'font-weight="700" fill="{_INK}">{title}</text>{inside}</svg>'
    )


def push_button(colour: str, contact: str, down: bool) -> str:
    """A push button over its contact."""
    if contact == "NO":
        blade = "M46 92H74" if down else "M46 92L72 80"
    else:
        blade = "M46 92L72 104M74 92V82" if down else "M46 92L78 84M74 92V82"
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
        rays = "".join(
            f'<line x1="60" y1="30" x2="60" y2="37" transform="rotate({30 * k} 60 60)" stroke="{_INK}" stroke-width="3"/>'
            for k in range(12)
        )
    fill, weight = (PAINT[colour], 3) if lit else (_PLATE, 1.5)
    if kind == "horn":
        body = f'<path d="M46 78H74L68 48H52Z" fill="{fill}" stroke="{_INK}" stroke-width="{weight}"/>'
    else:
        body = (
            f'<circle cx="60" cy="60" r="17" fill="{fill}" stroke="{_INK}" stroke-width="{weight}"/>'
            f'<path d="M48 48L72 72M72 48L48 72" fill="none" stroke="{_INK}"/>'
        )
    return rays + body


def knob(states: tuple[str, ...], state: str, *, key: bool = False, colour: str = "black") -> str:
    """A selector, key switch or dial with its positions around it."""
    spread = {2: (-40, 40), 3: (-50, 0, 50)}.get(len(states), tuple(-60 + 120 * k / max(1, len(states) - 1) for k in range(len(states))))
    turn = spread[states.index(state)] if state in states else 0
    handle = (
        '<circle cx="60" cy="52" r="4" fill="none" stroke="#fff"/><path d="M60 56V70" stroke="#fff" stroke-width="3"/>'
        if key
        else '<rect x="55" y="38" width="10" height="36" rx="3" fill="none" stroke="#fff" stroke-width="2"/>'
    )
    words = "".join(
        f'<text x="{10 + 100 * k / max(1, len(states) - 1):g}" y="102" font-family="sans-serif" font-size="11" fill="{_INK}" '
        f'text-anchor="{"start" if k == 0 else "end" if k == len(states) - 1 else "middle"}" '
        f'font-weight="{700 if word == state else 400}">{escape(word)}</text>'
        for k, word in enumerate(states)
    )
    return (
        f'<circle cx="60" cy="56" r="24" fill="{PAINT[colour]}" stroke="{_INK}" stroke-width="1.5"/>'
        f'<g transform="rotate({turn:g} 60 56)"><path d="M60 28V36" stroke="#fff" stroke-width="4"/>{handle}</g>{words}'
    )

"""Paint a sheet as SVG text: one string, the same on every machine."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from labkit.plots.shapes import Arc, Group, Hatch, Line, Polyline, Rect, Shape, Sheet, Text
from labkit.plots.theme import Style, style_of, tint_of

__all__ = ["FACES", "to_svg"]

# Both are of the same family of shapes as the width table; a viewer without either has a narrower one.
FACES = "'DejaVu Sans',Verdana,sans-serif"


def to_svg(sheet: Sheet) -> str:
    """A complete SVG document (no script, no outside reference) of a sheet."""
    roles: set[str] = set()
    body = "\n".join(_paint(s, roles) for s in sheet.shapes)
    w, h = _n(sheet.width), _n(sheet.height)
    css = "".join(_rule(role) for role in sorted(roles))
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="labkit-sheet" width="{w}" height="{h}" '
        f'viewBox="0 0 {w} {h}" role="img" aria-label={quoteattr(_clean(sheet.title) or "drawing")}>'
    )
    words = f"<title>{_text(sheet.title)}</title>\n<desc>{_text(sheet.desc)}</desc>"
    base = f".labkit-sheet text{{font-family:{FACES};white-space:pre}}.labkit-sheet *{{fill:none}}"
    return f"{head}\n{words}\n<style>{base}{css}</style>\n{body}\n</svg>\n"


def _rule(role: str) -> str:
    s = style_of(role)
    out = [f"stroke:{s.stroke};stroke-width:{_n(s.width)}" if s.stroke and s.width else "stroke:none"]
    if s.fill:
        out.append(f"fill:{s.fill}")
    if s.dash:
        out.append("stroke-dasharray:" + " ".join(map(_n, s.dash)))
    if s.cap != "butt":
        out.append(f"stroke-linecap:{s.cap}")
    if s.halo:
        out.append(f"stroke:{style_of('paper').fill};stroke-width:3;paint-order:stroke;stroke-linejoin:round")
    if s.italic:
        out.append("font-style:italic")
    return f".labkit-sheet .{role}{{{';'.join(out)}}}"


def _paint(shape: Shape, roles: set[str]) -> str:
    if isinstance(shape, Group):
        inner = "\n".join(_paint(s, roles) for s in shape.shapes)
        about = f"<title>{_text(shape.about)}</title>" if shape.about else ""
        return f"<g data-of={quoteattr(_clean(shape.of))}>{about}\n{inner}\n</g>"
    roles.add(shape.role)
    look = _look(shape.role, shape.tint)
    match shape:
        case Text():
            return _paint_text(shape, look)
        case Rect():
            r = f' rx="{_n(shape.radius)}"' if shape.radius else ""
            return (
                f'<rect {look} x="{_n(shape.x)}" y="{_n(shape.y)}" width="{_n(shape.width)}" '
                f'height="{_n(shape.height)}"{r}/>'
            )
        case Arc() if shape.whole:
            return f'<circle {look} cx="{_n(shape.cx)}" cy="{_n(shape.cy)}" r="{_n(shape.r)}"/>'
        case Arc():
            (x1, y1), (x2, y2) = shape.at(shape.start), shape.at(shape.end)
            large = int(shape.end - shape.start > 180)
            r = _n(shape.r)
            return f'<path {look} d="M{_n(x1)} {_n(y1)}A{r} {r} 0 {large} 1 {_n(x2)} {_n(y2)}"/>'
        case Line():
            return f'<path {look} d="M{_n(shape.x1)} {_n(shape.y1)}L{_n(shape.x2)} {_n(shape.y2)}"/>'
        case Hatch():
            d = "".join(f"M{_n(a)} {_n(b)}L{_n(c)} {_n(e)}" for a, b, c, e in shape.segments())
            return f'<path {look} d="{d}"/>'
        case Polyline():
            return f'<path {look} d="{_path(shape)}"/>'


def _path(shape: Polyline) -> str:
    (x, y), *rest = shape.points
    out = [f"M{_n(x)} {_n(y)}"]
    for nx, ny in rest:  # H and V keep step lines short
        out.append(f"H{_n(nx)}" if ny == y else f"V{_n(ny)}" if nx == x else f"L{_n(nx)} {_n(ny)}")
        x, y = nx, ny
    return "".join(out) + ("Z" if shape.closed else "")


def _paint_text(t: Text, look: str) -> str:
    anchor = "" if t.anchor == "start" else f' text-anchor="{t.anchor}"'
    bold = ' font-weight="bold"' if t.bold else ""
    turn = f' transform="rotate(-{t.turn} {_n(t.x)} {_n(t.y)})"' if t.turn else ""
    place = f'x="{_n(t.x)}" y="{_n(t.y)}" font-size="{_n(t.size)}"'
    return f"<text {look} {place}{anchor}{bold}{turn}>{_text(t.text)}</text>"


def _look(role: str, tint: str) -> str:
    style: Style = style_of(role)
    return f'class="{role}"' + (f' style="{style.tinted}:{tint_of(tint)}"' if tint else "")


def _text(text: str) -> str:
    return escape(_clean(text))


def _clean(text: str) -> str:
    # XML 1.0 allows no other control characters, not even escaped
    return "".join(c if c >= " " and c not in "\ufffe\uffff" and not "\ud800" <= c <= "\udfff" else " " for c in text)


def _n(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text

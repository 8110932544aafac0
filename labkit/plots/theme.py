"""From role to look: line weight first, end mark second, colour last.

Every distinction that matters is already there in black and white; the colours are those of the
Okabe-Ito palette ("Color Universal Design", 2008), which the colour-blind tell apart, and for lamps,
buttons and conductors the plain names of IEC 60073 and IEC 60757.
"""

from __future__ import annotations

from dataclasses import dataclass

from labkit.plots.errors import DrawingError

__all__ = ["OKABE_ITO", "STYLES", "TINTS", "Style", "style_of", "tint_of"]

OKABE_ITO = {
    "black": "#000000",
    "orange": "#E69F00",
    "sky blue": "#56B4E9",
    "bluish green": "#009E73",
    "yellow": "#F0E442",
    "blue": "#0072B2",
    "vermillion": "#D55E00",
    "reddish purple": "#CC79A7",
}

INK, SOFT, FAINT, PAPER = "#1d242b", "#59636d", "#c3c9ce", "#fdfcf9"
_LIVE, _ALERT, _WASH = OKABE_ITO["blue"], OKABE_ITO["vermillion"], "#d5e6f1"


@dataclass(frozen=True, slots=True)
class Style:
    """How one role is painted.

    `width` in sheet units, `stroke` and `fill` as ``#rrggbb`` or empty for none, `dash` as lengths on and
    off, `tinted` says which of the two a shape's tint replaces. For texts `fill` is the letter colour and
    `halo` keeps lines from crossing the letters.
    """

    stroke: str = ""
    width: float = 0.0
    fill: str = ""
    dash: tuple[float, ...] = ()
    tinted: str = "fill"
    halo: bool = False
    italic: bool = False
    cap: str = "butt"


STYLES: dict[str, Style] = {
    # sheet
    "paper": Style(fill=PAPER),
    "frame": Style(INK, 1.0),
    "rule": Style(FAINT, 0.8),
    "grid": Style(FAINT, 0.7),
    "axis": Style(INK, 1.0),
    # words
    "title": Style(fill=INK),
    "name": Style(fill=INK, halo=True),
    "label": Style(fill=INK, halo=True),
    "note": Style(fill=SOFT, halo=True),
    "tick": Style(fill=SOFT),
    "comment": Style(fill=SOFT, italic=True),
    "inverse": Style(fill=PAPER),
    # power: the weight tells and the mark confirms, in ink; every colour for it is some program's own
    "live": Style(INK, 3.4, cap="square"),
    "live-mark": Style(INK, 0.8, INK),
    "dead": Style(INK, 1.1, cap="square"),
    "dead-mark": Style(INK, 1.0, PAPER),
    "link": Style(INK, 1.4, cap="square"),
    # timing rows
    "high": Style(_LIVE, 2.4, cap="square"),
    "low": Style(INK, 1.3, cap="square"),
    "edge": Style(INK, 1.7, cap="square"),
    "area": Style(fill=_WASH),
    "busy": Style(INK, 0.8, "#e8ebee"),
    "volts": Style(_LIVE, 1.9),
    "band": Style(fill="#f0ece1"),
    "band-edge": Style(SOFT, 0.8, dash=(4, 3)),
    "hatch": Style(SOFT, 0.7),
    "hatch-dark": Style(INK, 1.0),
    "state": Style(INK, 1.2, "#f3f5f6"),
    "state-odd": Style(INK, 1.2, "#dfe4e8"),
    # scan phases: each its own height and hatch besides its grey
    "read": Style(INK, 1.0, "#ffffff"),
    "solve": Style(INK, 1.0, "#3d4852"),
    "write": Style(INK, 1.0, "#ffffff"),
    "service": Style(INK, 1.0, "#b9c1c8"),
    "idle": Style(INK, 1.0),
    "scan-line": Style("#dde1e4", 0.8),
    # what was done, and what to look at
    "event": Style(SOFT, 0.9, dash=(1.5, 2.5)),
    "event-mark": Style(INK, 0.8, INK),
    "mark": Style(_ALERT, 1.6, dash=(7, 3, 1.5, 3)),
    "mark-flag": Style(_ALERT, 1.2, "#ffffff"),
    "mark-point": Style(_ALERT, 1.0, _ALERT),
    "mark-label": Style(fill=INK),
    # ladder
    "rail": Style(INK, 2.2),
    "rail-live": Style(INK, 4.2),
    "symbol": Style(INK, 1.6),
    "symbol-live": Style(INK, 3.0),
    "box": Style(INK, 1.4, "#ffffff"),
    "box-live": Style(INK, 2.6, "#ffffff"),
    "drive": Style(INK, 1.1, dash=(4, 2.5)),
    "joint": Style(INK, 0.0, INK),
    # board
    "plate": Style(INK, 1.3, "#f6f4ee"),
    "bay": Style(FAINT, 0.9, "#efece3"),
    "part": Style(INK, 1.3, "#ffffff"),
    "part-gone": Style(SOFT, 1.0, "#f6f4ee", dash=(4, 3)),
    "part-dark": Style(INK, 1.2, "#e4e7e9"),
    "device": Style(INK, 1.3, "#ffffff"),
    "cap": Style(INK, 1.5, "#ffffff"),
    "cap-down": Style(INK, 3.4, "#ffffff"),
    "bar": Style(INK, 1.1, "#d9dde0"),
    "earth-stripe": Style("#f2d600", 2.0),
    "detail": Style(INK, 1.1),
    "detail-light": Style("#ffffff", 1.6),
    "light": Style(fill="#ffffff"),
    "detail-bold": Style(INK, 2.2, cap="round"),
    "solid": Style(INK, 0.8, INK),
    "terminal": Style(INK, 1.0, "#ffffff"),
    "terminal-live": Style(INK, 1.0, INK),
    "wire-case-live": Style(INK, 4.4, cap="round"),
    "wire-case": Style(INK, 2.6, cap="round"),
    "wire": Style(INK, 1.7, tinted="stroke", cap="round"),
    "wire-stripe": Style("#f2d600", 1.5, dash=(5, 4), tinted="stroke"),
    "wire-live": Style(INK, 3.2, tinted="stroke", cap="round"),
    "wire-no": Style(fill=INK, halo=True),
    "duct-edge": Style("#d8d3c6", 0.8),
    "lamp-off": Style(INK, 1.3, "#ffffff"),
    "lamp-lit": Style(INK, 2.6, "#ffffff"),
    "ray": Style(INK, 1.6, cap="round"),
    "led-off": Style(INK, 0.9, "#ffffff"),
    "led-on": Style(INK, 0.9, INK),
}

# Colour words of lamps, caps and conductors. The two-letter codes are those of IEC 60757.
TINTS = {
    "black": "#23282d",
    "brown": "#7a4a1e",
    "red": "#c4261d",
    "orange": OKABE_ITO["orange"],
    "yellow": OKABE_ITO["yellow"],
    "green": OKABE_ITO["bluish green"],
    "blue": "#1f4e9c",
    "light blue": OKABE_ITO["sky blue"],
    "violet": "#7b3f98",
    "grey": "#8b949c",
    "white": "#ffffff",
    "pink": "#e59ab8",
    "green-yellow": OKABE_ITO["bluish green"],
    "paper": PAPER,
    "ink": INK,
}
_CODES = {
    "BK": "black", "BN": "brown", "RD": "red", "OG": "orange", "YE": "yellow", "GN": "green", "BU": "blue",
    "VT": "violet", "GY": "grey", "WH": "white", "PK": "pink", "GNYE": "green-yellow", "LBU": "light blue",
}  # fmt: skip


def style_of(role: str) -> Style:
    """The look of a role.

    Raises
    ------
    DrawingError
        If no such role exists.
    """
    try:
        return STYLES[role]
    except KeyError:
        raise DrawingError(
            f"the theme has no role {role!r}", known=STYLES, name=role, where=str(role), code="drawing-role"
        ) from None


def tint_of(word: str) -> str:
    """``#rrggbb`` of a colour word (any case, ``dark blue`` and ``light-blue`` too) or an IEC 60757 code.

    An unknown colour is drawn in ink: a drawing says nothing rather than something wrong.
    """
    if word.startswith("#"):
        return word
    plain = word.strip().lower().replace("_", " ").replace("/", "-").replace("gray", "grey")
    plain = _CODES.get(word.strip().upper().replace("-", "").replace("/", ""), plain)
    if plain in {"green-and-yellow", "green yellow", "yellow-green"}:
        plain = "green-yellow"
    for guess in (plain, plain.replace("-", " "), plain.removeprefix("dark ").removeprefix("dark-")):
        if guess in TINTS:
            return TINTS[guess]
    return INK

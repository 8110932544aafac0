"""How wide a text will be, without asking a font engine.

Advance widths of DejaVu Sans, in thousandths of the text size, read once from the font that ships
with matplotlib. It is also the widest of the faces that an SVG viewer may fall back on, so that a
label which fits here fits there.
"""

from __future__ import annotations

import re

__all__ = ["ASCENT", "DESCENT", "shorten", "text_width", "wrap"]

# characters 32..126
_PLAIN = (
    "318 401 460 838 636 950 780 275 390 390 500 838 318 361 318 337 636 636 636 636 636 636 636 636 "
    "636 636 337 337 838 838 838 531 1000 684 686 698 770 632 575 775 752 295 295 656 557 863 748 787 "
    "603 787 695 635 611 732 684 989 685 611 685 390 337 390 838 500 500 613 635 550 635 615 352 635 "
    "634 278 278 579 278 974 634 612 635 635 411 521 392 634 592 818 592 592 525 636 337 636 838 "
)
_BOLD = (
    "348 456 521 838 696 1002 872 306 457 457 523 838 380 415 380 365 696 696 696 696 696 696 696 696 "
    "696 696 400 400 838 838 838 580 1000 774 762 734 830 683 683 821 837 372 372 775 637 995 837 850 "
    "733 850 770 720 682 812 774 1103 771 724 725 457 365 457 838 500 500 675 716 593 716 678 435 716 "
    "712 343 343 665 343 1042 712 687 716 716 493 595 478 712 652 924 645 652 582 712 365 712 838 "
)
_WIDTHS = {
    bold: {chr(32 + i): int(w) for i, w in enumerate(table.split())} for bold, table in ((False, _PLAIN), (True, _BOLD))
}
# most letters outside ASCII are no wider than this; ideographs are one em
_OTHER, _WIDE = 850, 1000

ASCENT, DESCENT = 0.76, 0.24  # of the text size: from the capital's top to below a g


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """The width of one line of text, in the unit of `size`."""
    table = _WIDTHS[bold]
    total = sum(table.get(c, _WIDE if ord(c) > 0x2E7F else _OTHER) for c in text)
    return total * size / 1000


def shorten(text: str, room: float, size: float, *, bold: bool = False) -> str:
    """The text, or as much of it as fits `room` with an ellipsis in the middle."""
    if text_width(text, size, bold=bold) <= room:
        return text
    for keep in range(len(text) - 1, 1, -1):
        head = (keep + 1) // 2
        short = text[:head].rstrip() + "…" + text[len(text) - (keep - head) :].lstrip()
        if text_width(short, size, bold=bold) <= room:
            return short
    return "…" if text_width("…", size, bold=bold) <= room else ""


def wrap(text: str, room: float, size: float, *, bold: bool = False) -> list[str]:
    """Lines no wider than `room`: broken at spaces, else after ``_ . : / -``, else anywhere."""
    lines: list[str] = []
    line = ""
    for piece in _pieces(text, room, size, bold):
        if line and text_width((line + piece).rstrip(), size, bold=bold) > room:
            lines.append(line.rstrip())
            piece = piece.lstrip()
            line = ""
        line += piece
    if line.strip() or not lines:
        lines.append(line.rstrip())
    return lines


def _pieces(text: str, room: float, size: float, bold: bool) -> list[str]:
    pieces = []
    for word in re.findall(r"\S+\s*|\s+", text):
        if text_width(word.rstrip(), size, bold=bold) <= room:
            pieces.append(word)
            continue
        for part in re.findall(r"[^_.:/-]*[_.:/-]|[^_.:/-]+\s*", word):
            while text_width(part.rstrip(), size, bold=bold) > room and len(part) > 1:
                n = next(
                    k for k in range(len(part) - 1, 0, -1) if k == 1 or text_width(part[:k], size, bold=bold) <= room
                )
                pieces.append(part[:n])
                part = part[n:]
            pieces.append(part)
    return pieces

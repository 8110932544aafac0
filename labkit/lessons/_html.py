"""The mark sheet as a page. Every word on it is escaped; only drawings made by labkit go in as they are."""

from __future__ import annotations

from markupsafe import Markup

from labkit.base import page_template
from labkit.lessons.sheet import _LIMITS, Evidence, MarkLine, MarkSheet

__all__ = ["class_html", "feedback_html", "sheet_html"]

# A word in shape and letter first, colour second: the page must read in black and white.
_SIGNS = {
    "right": "✓",
    "partly right": "◐",
    "wrong": "✗",
    "no answer": "–",
    "cannot be read": "?",
    "cannot be decided": "??",
    "note": "i",
}
_ROOM = "labkit.lessons"


def sheet_html(sheet: MarkSheet, *, page: bool = True) -> str:
    """One sheet: a whole page, or only its body for a notebook."""
    name = "marksheet.html" if page else "marksheet_body.html"
    return page_template(_ROOM, name).render(
        sheet=sheet, groups=_groups(sheet), signs=_SIGNS, limits=_LIMITS, drawing=_drawing
    )


def feedback_html(title: str, lines: tuple[MarkLine, ...]) -> str:
    """The lines of one task, for a notebook."""
    return page_template(_ROOM, "feedback.html").render(title=title, lines=lines, signs=_SIGNS, drawing=_drawing)


def class_html(sheets: list[MarkSheet], title: str) -> str:
    """A page with one row for each sheet and one column for each rubric line."""
    lines = sheets[0].lines if sheets else ()
    return page_template(_ROOM, "class.html").render(sheets=sheets, lines=lines, signs=_SIGNS, title=title)


def _groups(sheet: MarkSheet) -> list[tuple[str, list[MarkLine]]]:
    groups: dict[str, list[MarkLine]] = {}
    for line in sheet.lines:
        groups.setdefault(line.task, []).append(line)
    return [(sheet.tasks.get(task, task), lines) for task, lines in groups.items()]


def _drawing(evidence: Evidence) -> str:
    """The timing diagram of an evidence as SVG, or nothing where there is no recording."""
    if evidence.trace is None or not evidence.signals:
        return ""
    from labkit.plots import timing_svg

    svg = timing_svg(
        evidence.trace,
        list(evidence.signals),
        span=(evidence.start_us, evidence.end_us),
        marks=list(evidence.marks),
        zero=evidence.zero_us,
    )
    return Markup(svg[svg.index("<svg") :])

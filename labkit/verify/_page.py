"""The failure-effects table as a page. Every word on it is escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from labkit.base import page_template

if TYPE_CHECKING:
    from labkit.verify.effects import Effects

__all__ = ["effects_page"]

# A sign and a word first, colour second: the page must read in black and white.
SIGNS = {"holds": "✓", "fails": "✗", "undecided": "?", "not solved": "–"}


def effects_page(effects: Effects, title: str) -> str:
    """A whole page."""
    from labkit.verify.effects import title_of

    names = effects.names or tuple(map(repr, effects.asked))
    rows = [
        {
            "title": "no fault" if fault is None else title_of(fault),
            "code": getattr(fault, "code", ""),
            "cells": [_cell(v) for v in verdicts],
            "shows": effects.shows(number),
        }
        for number, (fault, verdicts) in enumerate(effects.rows)
    ]
    first = [v for _, verdicts in effects.rows for v in verdicts if v is not None]
    return page_template("labkit.verify", "effects.html").render(
        title=title,
        columns=[(name, repr(one)) for name, one in zip(names, effects.asked, strict=True)],
        answers=[effects.answer(i) for i in range(len(effects.asked))],
        hidden=[title_of(f) for f in effects.hidden],
        looked=bool(effects.seen),
        rows=rows,
        assumptions=list(first[0].assumptions) if first else [],
    )


def _cell(verdict: object) -> dict[str, object]:
    word = "not solved" if verdict is None else verdict.outcome  # type: ignore[attr-defined]
    story = getattr(verdict, "story", None)
    return {
        "word": word,
        "sign": SIGNS[word],
        "steps": list(story.steps) if story is not None else [],
        "replayed": story is not None and story.replayed,
    }

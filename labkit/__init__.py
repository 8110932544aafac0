"""labkit: a motor-control trainer board as a library, and the lessons on it.

``import labkit as lk`` gives the few names that lessons use. Each is loaded on first use, so that the
import itself stays light (no numpy, no matplotlib, no widgets).
"""

from __future__ import annotations

import importlib
from typing import Any

__version__ = "0.1.0"

# name -> the door it stands at, and its name there
_DOORS: dict[str, tuple[str, str]] = {
    # errors and durations
    "LabkitError": ("labkit.base", "LabkitError"),
    "ms": ("labkit.base", "ms"),
    "s": ("labkit.base", "s"),
    "us": ("labkit.base", "us"),
    # the bench and its program
    "Bench": ("labkit.bench", "Bench"),
    "PowerGate": ("labkit.bench", "PowerGate"),
    "Stimulus": ("labkit.bench", "Stimulus"),
    "check_wiring": ("labkit.board", "check_wiring"),
    "family": ("labkit.controller", "family"),
    "ladder": ("labkit.logic", "read_ladder"),
    "load_board": ("labkit.board", "load_board"),
    "load_wiring": ("labkit.board", "load_wiring"),
    "st": ("labkit.logic", "read_st"),
    # drawings
    "draw_ladder": ("labkit.plots", "draw_ladder"),
    "timing": ("labkit.plots", "timing"),
    # lessons
    "lesson": ("labkit.lessons", "lesson"),
    "mark": ("labkit.lessons", "mark"),
    # proof
    "compare": ("labkit.verify", "compare_families"),
    "prove": ("labkit.verify", "prove"),
    # in a notebook
    "BenchView": ("labkit.notebook", "BenchView"),
    "LadderView": ("labkit.notebook", "LadderView"),
    "LiveTrace": ("labkit.notebook", "LiveTrace"),
    "MeterView": ("labkit.notebook", "MeterView"),
    "PaceBar": ("labkit.notebook", "PaceBar"),
    "answer_form": ("labkit.notebook", "answer_form"),
    "button": ("labkit.notebook", "button"),
    "diagram": ("labkit.notebook", "diagram"),
    "earth_slider": ("labkit.notebook", "earth_slider"),
    "lamp": ("labkit.notebook", "lamp"),
    "lesson_view": ("labkit.notebook", "lesson_view"),
    "panel": ("labkit.notebook", "panel"),
    "selector": ("labkit.notebook", "selector"),
    "sensor": ("labkit.notebook", "sensor"),
}

__all__ = ["load_ipython_extension", *sorted(_DOORS)]  # noqa: PLE0604 - strings, from the table above


def __getattr__(name: str) -> Any:
    if name in _DOORS:
        room, there = _DOORS[name]
        value = getattr(importlib.import_module(room), there)
        globals()[name] = value
        return value
    if name.startswith("_"):
        raise AttributeError(name)
    raise AttributeError(f"labkit has no name {name!r}; it has {', '.join(sorted(_DOORS))}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_DOORS])


def load_ipython_extension(ipython: Any) -> None:
    """Called by ``%load_ext labkit``: registers the cell magics."""
    from labkit.notebook.magics import load_ipython_extension as load

    load(ipython)

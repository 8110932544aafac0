"""What a person touches in JupyterLab: controls, lamps, the live board, the ladder magics.

Must not know: marking rules. It adds no behaviour of its own: a view shows what the bench says and
asks the bench to do what the person does.

Start reading at :func:`panel` (a plain panel for one bench), then :class:`HoldButton` (the smallest
widget, and the pattern of all others) and ``_console.py`` (the one hub through which every view of a
bench works it).
"""

from __future__ import annotations

import importlib
from typing import Any

# name -> module it lives in. Loaded on first use: the server start and the magics need no widgets.
_DOORS: dict[str, str] = {
    # controls
    "EmergencyStop": "emergency_stop",
    "HoldButton": "hold_button",
    "KeySwitch": "key_switch",
    "Selector": "selector_switch",
    "SensorSlider": "sensor_slider",
    # indicators and views
    "BenchView": "bench_view",
    "Lamp": "pilot_light",
    "LadderView": "ladder_view",
    "LiveTrace": "live_trace",
    "MeterView": "meter_view",
    "PaceBar": "pace_bar",
    # short forms
    "button": "short_forms",
    "lamp": "short_forms",
    "panel": "short_forms",
    "selector": "short_forms",
    "sensor": "short_forms",
    # answering
    "AnswerForm": "_answer_form",
    "answer_form": "_answer_form",
    "EarthSlider": "_earth_slider",
    "earth_slider": "_earth_slider",
    "LessonView": "_lesson_view",
    "lesson_view": "_lesson_view",
    # still pictures
    "Picture": "pictures",
    "board_picture": "pictures",
    "diagram": "pictures",
    # the hub
    "Console": "_console",
    "console": "_console",
    # magics and server
    "load_ipython_extension": "magics",
    "launch": "server",
}

__all__ = [
    "AnswerForm",
    "answer_form",
    "BenchView",
    "Console",
    "EarthSlider",
    "earth_slider",
    "EmergencyStop",
    "HoldButton",
    "KeySwitch",
    "Lamp",
    "LadderView",
    "LessonView",
    "lesson_view",
    "LiveTrace",
    "MeterView",
    "PaceBar",
    "Picture",
    "Selector",
    "SensorSlider",
    "board_picture",
    "button",
    "console",
    "diagram",
    "lamp",
    "launch",
    "load_ipython_extension",
    "panel",
    "selector",
    "sensor",
]


def __getattr__(name: str) -> Any:
    if name in _DOORS:
        return getattr(importlib.import_module(f"labkit.notebook.{_DOORS[name]}"), name)
    raise AttributeError(f"labkit.notebook has no name {name!r}; it has {', '.join(sorted(_DOORS))}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_DOORS])

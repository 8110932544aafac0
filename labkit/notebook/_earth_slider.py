"""The earth-fault table with its slider: four ways to wire one circuit, one resistance to the frame."""

from __future__ import annotations

import math
from html import escape
from typing import Any

from ipywidgets import HTML, Layout, SelectionSlider, VBox

from labkit.faults import SLIDER_OHM, EarthRow, earth_table
from labkit.notebook._page import picture
from labkit.notebook._stills import words
from labkit.notebook.said_line import SaidLine

__all__ = ["EarthSlider", "earth_slider"]

_CELL = "style='text-align:left;padding:2px 12px 2px 0'"


class EarthSlider(VBox):
    """Contacts on the + or the 0 V side of the coil, 0 V bonded or floating; the slider is the fault's resistance.

    Notes
    -----
    Every figure is solved anew from the board when the slider moves.
    """

    def __init__(self) -> None:
        self.slider = SelectionSlider(
            options=[(_ohms(ohm), ohm) for ohm in SLIDER_OHM],
            value=SLIDER_OHM[0],
            description="wire to frame",
            continuous_update=False,
            style={"description_width": "initial"},
            layout=Layout(width="100%", max_width="420px"),
        )
        self.table = HTML()
        self.said = SaidLine()
        super().__init__([self.slider, self.table, self.said])
        self.add_class("lk-keys")
        self.slider.observe(lambda _: self._draw(), "value")
        self._draw()

    def _draw(self) -> None:
        head = "".join(f"<th {_CELL}>{text}</th>" for text in ("wired", "coil, contact open", "what it comes to"))
        body = "".join(
            "<tr>" + "".join(f"<td {_CELL}>{escape(text)}</td>" for text in _texts(row, self.slider.value)) + "</tr>"
            for row in earth_table(self.slider.value)
        )
        self.table.value = (
            "<div style='overflow:auto' tabindex='0' role='region' aria-label='four ways to wire it'>"
            f"<table><tr>{head}</tr>{body}</table></div>"
        )
        outcomes = "; ".join(_outcome(row, self.slider.value) for row in earth_table(self.slider.value))
        self.said.say(f"wire to frame {_ohms(self.slider.value)}: {outcomes}", good=True)

    def __repr__(self) -> str:
        return f"EarthSlider({_ohms(self.slider.value)})"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs)
        data, meta = bundle if isinstance(bundle, tuple) else (bundle or {}, {})
        lines = [f"Wire to frame: {_ohms(self.slider.value)} (the slider needs a running kernel)"]
        for row in earth_table(self.slider.value):
            wired, volts, outcome = _texts(row, self.slider.value)
            lines.append(f"{wired}: {volts}; {outcome}")
        html = picture(words(*lines), "; ".join(lines))
        return dict(data) | {"text/plain": repr(self), "text/html": html}, meta


def earth_slider() -> EarthSlider:
    """The earth-fault table with its slider; see :class:`EarthSlider`."""
    return EarthSlider()


def _ohms(ohm: float) -> str:
    return "no fault" if math.isinf(ohm) else f"{ohm:g} ohm"


def _outcome(row: EarthRow, ohm: float) -> str:
    return "nothing is wrong: the contact starts and stops the pump" if math.isinf(ohm) else row.outcome


def _texts(row: EarthRow, ohm: float) -> tuple[str, str, str]:
    bond = "bonded" if row.bonded else "floating"
    return f"contact on the {row.contacts} side, 0 V {bond}", f"{abs(row.coil_v):.1f} V", _outcome(row, ohm)

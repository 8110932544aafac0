"""Short forms: the widget that fits a part of a bench, and a plain panel of them all."""

from __future__ import annotations

from typing import Any

from ipywidgets import HBox, Layout, VBox

from labkit.base import LabkitError
from labkit.notebook._page import picture
from labkit.notebook._stills import side_by_side
from labkit.notebook.emergency_stop import EmergencyStop
from labkit.notebook.hold_button import COLOURS, HoldButton
from labkit.notebook.key_switch import KeySwitch
from labkit.notebook.pace_bar import PaceBar
from labkit.notebook.pilot_light import Lamp
from labkit.notebook.selector_switch import Selector
from labkit.notebook.sensor_slider import SensorSlider

__all__ = ["Panel", "button", "lamp", "panel", "selector", "sensor"]

_BUTTONS = ("push_button", "emergency_stop")
_SELECTORS = ("selector", "key_switch")
_LAMPS = ("lamp", "horn")
_MARGIN = 2.5  # the slider goes this much further than the sensor looks


def _part(bench: Any, name: str, kinds: tuple[str, ...], what: str) -> Any:
    part = bench.board.part(name)
    if part.kind not in kinds:
        fitting = ", ".join(p.designation for p in bench.board.of_kind(*kinds))
        raise LabkitError(
            f"{name} is a {part.kind.replace('_', ' ')}, not a {what}",
            where=name,
            try_this=f"there are: {fitting}" if fitting else "",
            code="view-part",
        )
    return part


def button(bench: Any, part: str, *, latch: bool = False) -> HoldButton | EmergencyStop:
    """The widget of a push button or an emergency stop of `bench`.

    Raises
    ------
    LabkitError
        If there is no such part, or it is none of the two.
    """
    found = _part(bench, part, _BUTTONS, "button")
    if found.kind == "emergency_stop":
        return EmergencyStop(part, found.label, bench=bench)
    entry = found.entry
    closed_at_rest = bool(entry.contacts) and entry.rest in entry.contacts[0].closed_when
    return HoldButton(
        part,
        found.label,
        bench=bench,
        colour=entry.colour if entry.colour in COLOURS else "grey",
        contact="NC" if closed_at_rest else "NO",
        latch=latch,
    )


def selector(bench: Any, part: str) -> Selector | KeySwitch:
    """The widget of a selector or a key switch of `bench`.

    Raises
    ------
    LabkitError
        If there is no such part, or it is none of the two.
    """
    found = _part(bench, part, _SELECTORS, "selector")
    if found.kind == "key_switch":
        return KeySwitch(part, found.label, bench=bench)
    return Selector(part, found.label, tuple(found.entry.positions), bench=bench)


def lamp(bench: Any, part: str) -> Lamp:
    """The widget of a pilot light or a horn of `bench`.

    Raises
    ------
    LabkitError
        If there is no such part, or it is none of the two.
    """
    found = _part(bench, part, _LAMPS, "lamp")
    colour = getattr(found.entry, "colour", "white")
    return Lamp(part, found.label, bench=bench, kind=found.kind, colour=colour)


def sensor(bench: Any, part: str) -> SensorSlider:
    """The widget that moves what a sensor of `bench` looks at.

    Raises
    ------
    LabkitError
        If there is no such part, or it is no sensor.
    """
    found = _part(bench, part, ("sensor",), "sensor")
    most_mm = round(found.entry.range_mm * _MARGIN, 1)
    return SensorSlider(part, found.label, bench=bench, senses=found.entry.senses, most_mm=most_mm)


class Panel(VBox):
    """Widgets of one bench, one below the other, with a still form for a page without a kernel."""

    def __init__(self, bench: Any, children: list[Any]) -> None:
        self.bench = bench
        super().__init__(children, layout=Layout(grid_gap="6px", overflow="visible"))

    def svg(self) -> str:
        """The still picture: its widgets as they are, row by row."""
        rows = [list(child.children) if isinstance(child, HBox) else [child] for child in self.children]
        return side_by_side([[widget.svg() for widget in row] for row in rows if row])

    def in_words(self) -> str:
        """What the panel shows, in words."""
        rows = [child.children if isinstance(child, HBox) else [child] for child in self.children]
        return "; ".join(widget.in_words() for row in rows for widget in row)

    def __repr__(self) -> str:
        return f"Panel({self.bench.board.name})"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs)
        data, meta = bundle if isinstance(bundle, tuple) else (bundle or {}, {})
        return dict(data) | {
            "text/plain": repr(self),
            "text/html": picture(self.svg(), self.in_words()),
        }, meta


def panel(bench: Any) -> Panel:
    """A plain panel: the bench's time, lamps and horn, buttons and switches, what the sensors see."""

    def row(*widgets: Any) -> HBox:
        return HBox(list(widgets), layout=Layout(flex_flow="row wrap", grid_gap="6px", overflow="visible"))

    board = bench.board
    names = {
        kinds: [p.designation for p in board.of_kind(*kinds)] for kinds in (_LAMPS, _BUTTONS, _SELECTORS, ("sensor",))
    }
    return Panel(
        bench,
        [
            PaceBar(bench),
            row(*(lamp(bench, name) for name in names[_LAMPS])),
            row(*(button(bench, name) for name in names[_BUTTONS])),
            row(*(selector(bench, name) for name in names[_SELECTORS])),
            row(*(sensor(bench, name) for name in names[("sensor",)])),
        ],
    )

"""A push button that is pressed, held and let go."""

from __future__ import annotations

from typing import Any, ClassVar

import traitlets

from labkit.notebook._page import script, sheet
from labkit.notebook._stills import plate, push_button
from labkit.notebook._widget import BenchWidget, Choice, Command, Flag, Number, Spec

__all__ = ["COLOURS", "HoldButton"]

COLOURS = ("green", "red", "yellow", "blue", "white", "black", "grey")  # those of IEC 60204-1 for push buttons


class HoldButton(BenchWidget):
    """A momentary push button, worked by pointer, touch, Space or Enter.

    It is down only as long as it is held, and comes up when the view goes, the page loses the focus
    or the browser falls silent. Shift+press, or ``latch``, keeps it down until the next press.

    Parameters
    ----------
    part
        Reference designation, e.g. ``"S2"``.
    label
        What the legend plate says, e.g. ``"Start"``.
    bench
        The bench whose `part` it works; without one only the trait ``down`` changes, to be observed.
    contact
        ``"NO"`` or ``"NC"``: the contact drawn under the button.

    Examples
    --------
    >>> button = HoldButton("S2", "Start")
    >>> button.observe(lambda change: print(change.new), "down")
    """

    _esm = script("hold_button")
    _css = sheet("hold_button")
    spec: ClassVar[Spec] = {
        "press": {"via": Choice(("pointer", "key")), "held_ms": Number(0, 0), "latched": Flag()},
        "release": {
            "via": Choice(("pointer", "key", "leave", "cancel", "blur", "window", "page", "hidden", "gone")),
            "held_ms": Number(0, 3_600_000),
            "latched": Flag(),
        },
        "beat": {},
    }
    part = traitlets.Unicode("").tag(sync=True)
    label = traitlets.Unicode("").tag(sync=True)
    colour = traitlets.Enum(COLOURS, "black").tag(sync=True)
    contact = traitlets.Enum(("NO", "NC"), "NO").tag(sync=True)
    latch = traitlets.Bool(False).tag(sync=True)
    down = traitlets.Bool(False).tag(sync=True)

    def __init__(self, part: str = "", label: str = "", *, bench: Any = None, **traits: Any) -> None:
        super().__init__(bench, part=part, label=label, **traits)

    def _obey(self, command: Command) -> str | None:
        if self.bench is None:
            if command.do != "beat":
                self.down = command.do == "press"
            return None
        if command.do == "press":
            return self.hub.hold(self.part, command.view)
        if command.do == "release":
            held = command.get("held_ms", 0)
            return self.hub.let_go(self.part, command.view, float(held) if isinstance(held, int | float) else 0)
        self.hub.beat(self.part, command.view)
        return None

    def _look(self) -> None:
        self.down = self.bench.state(self.part) == "pressed"

    def in_words(self) -> str:
        """The state in words."""
        name = f"{self.part} {self.label}".strip()
        return f"{name}, {'pressed' if self.down else 'released'}"

    def svg(self) -> str:
        """The still picture."""
        return plate(self.part, self.label, push_button(self.colour, self.contact, self.down))

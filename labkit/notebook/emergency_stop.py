"""An emergency stop: pressed it latches, and it is turned to let go."""

from __future__ import annotations

from typing import Any, ClassVar

import traitlets

from labkit.notebook._page import script, sheet
from labkit.notebook._stills import emergency_stop, plate
from labkit.notebook._widget import BenchWidget, Command, Spec

__all__ = ["EmergencyStop"]


class EmergencyStop(BenchWidget):
    """A latching mushroom button (ISO 13850): one press is enough, letting go is a second, other movement.

    Parameters
    ----------
    part, label
        Designation and legend, e.g. ``"S0"``, ``"Emergency stop"``.
    bench
        The bench whose emergency stop it is; without one the trait ``latched`` is its own.
    """

    _esm = script("emergency_stop")
    _css = sheet("emergency_stop")
    spec: ClassVar[Spec] = {"press": {}, "turn": {}}
    part = traitlets.Unicode("").tag(sync=True)
    label = traitlets.Unicode("").tag(sync=True)
    latched = traitlets.Bool(False).tag(sync=True)

    def __init__(self, part: str = "", label: str = "", *, bench: Any = None, **traits: Any) -> None:
        super().__init__(bench, part=part, label=label, **traits)

    def _obey(self, command: Command) -> str | None:
        press = command.do == "press"
        if self.bench is None:
            self.latched = press
            return None
        if press == self.latched:
            return None
        return self.hub.work(lambda: self.bench.press(self.part) if press else self.bench.release(self.part))

    def _look(self) -> None:
        self.latched = self.bench.state(self.part) == "pressed"

    def in_words(self) -> str:
        """The state in words."""
        return f"{f'{self.part} {self.label}'.strip()}, {'latched in' if self.latched else 'released'}"

    def svg(self) -> str:
        """The still picture."""
        return plate(self.part, self.label, emergency_stop(self.latched), width=150)

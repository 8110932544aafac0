"""A key switch: without its key it cannot be turned."""

from __future__ import annotations

from typing import Any, ClassVar

import traitlets

from labkit.notebook._page import script, sheet
from labkit.notebook._stills import knob, plate
from labkit.notebook._widget import BenchWidget, Command, Flag, Spec

__all__ = ["KeySwitch"]


class KeySwitch(BenchWidget):
    """A key switch, off or on; the key comes out in the off position only.

    Parameters
    ----------
    part, label
        Designation and legend, e.g. ``"S5"``, ``"Service"``.
    bench
        The bench whose key switch it turns; without one the trait ``on`` is its own.
    """

    _esm = script("key_switch")
    _css = sheet("key_switch")
    spec: ClassVar[Spec] = {"key": {"on": Flag()}, "insert": {"inserted": Flag()}}
    part = traitlets.Unicode("").tag(sync=True)
    label = traitlets.Unicode("").tag(sync=True)
    on = traitlets.Bool(False).tag(sync=True)
    inserted = traitlets.Bool(True).tag(sync=True)

    def __init__(self, part: str = "", label: str = "", *, bench: Any = None, **traits: Any) -> None:
        super().__init__(bench, part=part, label=label, **traits)

    def _obey(self, command: Command) -> str | None:
        if command.do == "insert":
            inserted = bool(command.get("inserted"))
            if self.on and not inserted:
                return f"the key of {self.part} comes out in the off position only"
            self.inserted = inserted
            return None
        if not self.inserted:
            return f"{self.part} has no key in it"
        on = bool(command.get("on"))
        if self.bench is None:
            self.on = on
            return None
        return self.hub.work(lambda: self.bench.key(self.part, on))

    def _look(self) -> None:
        self.on = self.bench.state(self.part) == "on"
        if self.on:
            self.inserted = True

    def in_words(self) -> str:
        """The state in words."""
        key = "" if self.inserted else ", key out"
        return f"{f'{self.part} {self.label}'.strip()}, {'on' if self.on else 'off'}{key}"

    def svg(self) -> str:
        """The still picture."""
        return plate(self.part, self.label, knob(("off", "on"), "on" if self.on else "off", key=self.inserted))

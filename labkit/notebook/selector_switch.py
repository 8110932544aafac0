"""A selector switch with two or three positions."""

from __future__ import annotations

from typing import Any, ClassVar

import traitlets

from labkit.base import LabkitError
from labkit.notebook._page import script, sheet
from labkit.notebook._stills import knob, plate
from labkit.notebook._widget import BenchWidget, Command, Spec, Word

__all__ = ["Selector"]


class Selector(BenchWidget):
    """A selector that stays where it is turned to: by pointer, arrow keys, Home and End.

    Parameters
    ----------
    part, label
        Designation and legend, e.g. ``"S3"``, ``"Hand - Auto"``.
    states
        Positions from left to right.
    bench
        The bench whose selector it turns; without one the trait ``state`` is its own.
    """

    _esm = script("selector_switch")
    _css = sheet("selector_switch")
    spec: ClassVar[Spec] = {"turn": {"to": Word(20)}}
    part = traitlets.Unicode("").tag(sync=True)
    label = traitlets.Unicode("").tag(sync=True)
    states = traitlets.List(traitlets.Unicode(), ["left", "right"]).tag(sync=True)
    state = traitlets.Unicode("left").tag(sync=True)

    def __init__(
        self,
        part: str = "",
        label: str = "",
        states: tuple[str, ...] = ("left", "right"),
        *,
        bench: Any = None,
        **traits: Any,
    ) -> None:
        traits.setdefault("state", states[0])
        super().__init__(bench, part=part, label=label, states=list(states), **traits)

    def _obey(self, command: Command) -> str | None:
        to = str(command.get("to", ""))
        if to not in self.states:
            raise LabkitError(f"{self.part} has no position {to!r}", try_this=f"positions: {', '.join(self.states)}")
        if self.bench is None:
            self.state = to
            return None
        return self.hub.work(lambda: self.bench.turn(self.part, to))

    def _look(self) -> None:
        self.state = str(self.bench.state(self.part))

    def in_words(self) -> str:
        """The state in words."""
        return f"{f'{self.part} {self.label}'.strip()}, {self.state}"

    def svg(self) -> str:
        """The still picture."""
        return plate(self.part, self.label, knob(tuple(self.states), self.state))

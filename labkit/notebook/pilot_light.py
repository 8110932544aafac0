"""A pilot light (or a horn) that shows what its part on the bench does."""

from __future__ import annotations

from typing import Any, ClassVar

import traitlets

from labkit.notebook._page import script, sheet
from labkit.notebook._stills import pilot_light, plate
from labkit.notebook._widget import BenchWidget, Command, Spec

__all__ = ["Lamp"]


class Lamp(BenchWidget):
    """A pilot light: rays and a word tell lit from dark, the colour comes second.

    Parameters
    ----------
    part
        Reference designation, e.g. ``"P1"``.
    label
        What the legend plate says.
    bench
        The bench whose lamp it shows; without one the trait ``lit`` is set by code.
    """

    _esm = script("pilot_light")
    _css = sheet("pilot_light")
    spec: ClassVar[Spec] = {}
    part = traitlets.Unicode("").tag(sync=True)
    label = traitlets.Unicode("").tag(sync=True)
    colour = traitlets.Enum(("green", "red", "yellow", "blue", "white"), "white").tag(sync=True)
    kind = traitlets.Enum(("lamp", "horn"), "lamp").tag(sync=True)
    lit = traitlets.Bool(False).tag(sync=True)

    def __init__(self, part: str = "", label: str = "", *, bench: Any = None, **traits: Any) -> None:
        super().__init__(bench, part=part, label=label, **traits)

    def _obey(self, command: Command) -> str | None:  # noqa: ARG002 - a lamp is only looked at
        return None

    def _look(self) -> None:
        self.lit = bool(self.bench.lit(self.part))

    def in_words(self) -> str:
        """The state in words."""
        on, off = ("sounding", "silent") if self.kind == "horn" else ("lit", "dark")
        return f"{f'{self.part} {self.label}'.strip()}, {on if self.lit else off}"

    def svg(self) -> str:
        """The still picture."""
        return plate(self.part, self.label, pilot_light(self.colour, self.lit, self.kind))

"""What a sensor looks at: something in a beam, or metal at a distance."""

from __future__ import annotations

from typing import Any, ClassVar

import traitlets

from labkit.notebook._page import script, sheet
from labkit.notebook._stills import plate, sensor_face
from labkit.notebook._widget import BenchWidget, Choice, Command, Flag, Number, Spec

__all__ = ["METALS", "SensorSlider"]

METALS = ("steel", "stainless", "brass", "aluminium", "copper")


class SensorSlider(BenchWidget):
    """Moves what a sensor looks at, and shows the sensor's own lamp, which tells whether its output is switched.

    Parameters
    ----------
    part, label
        Designation and legend, e.g. ``"B2"``, ``"Crate here"``.
    senses
        ``"beam"``: a hand in the beam or not; ``"metal"``: a piece of metal at `mm` millimetres.
    most_mm
        Where the slider ends; there the metal counts as taken away.
    bench
        The bench whose sensor it is; without one only the traits move.
    """

    _esm = script("sensor_slider")
    _css = sheet("sensor_slider")
    spec: ClassVar[Spec] = {
        "beam": {"blocked": Flag()},
        "metal": {"mm": Number(0, 1000), "metal": Choice(METALS)},
    }
    part = traitlets.Unicode("").tag(sync=True)
    label = traitlets.Unicode("").tag(sync=True)
    senses = traitlets.Enum(("beam", "metal"), "beam").tag(sync=True)
    most_mm = traitlets.Float(20.0).tag(sync=True)
    blocked = traitlets.Bool(False).tag(sync=True)
    mm = traitlets.Float(20.0).tag(sync=True)
    metal = traitlets.Enum(METALS, "steel").tag(sync=True)
    on = traitlets.Bool(False, help="whether the sensor's own lamp is lit").tag(sync=True)

    def __init__(self, part: str = "", label: str = "", *, bench: Any = None, **traits: Any) -> None:
        traits.setdefault("mm", traits.get("most_mm", 20.0))
        super().__init__(bench, part=part, label=label, **traits)

    def _obey(self, command: Command) -> str | None:
        if command.do == "beam":
            blocked = bool(command.get("blocked"))
            refused = "" if self.bench is None else self.hub.work(lambda: self.bench.beam(self.part, blocked))
            if not refused:
                self.blocked = blocked
            return refused
        mm, metal = float(command.get("mm", self.mm)), str(command.get("metal", self.metal))  # type: ignore[arg-type]
        refused = "" if self.bench is None else self.hub.work(lambda: self._bring(mm, metal))
        if not refused:
            self.mm, self.metal = min(mm, self.most_mm), metal
        return refused

    def _bring(self, mm: float, metal: str) -> None:
        if mm >= self.most_mm:
            self.bench.metal(self.part, None)
        else:
            self.bench.metal(self.part, mm, metal)

    def _look(self) -> None:
        self.on = self.bench.lit(self.part)

    def in_words(self) -> str:
        """The state in words."""
        if self.senses == "beam":
            what = "beam broken" if self.blocked else "beam free"
        else:
            what = "no metal near" if self.mm >= self.most_mm else f"{self.metal} at {self.mm:g} mm"
        return f"{f'{self.part} {self.label}'.strip()}, {what}, its lamp {'lit' if self.on else 'dark'}"

    def svg(self) -> str:
        """The still picture."""
        away = float(self.blocked) if self.senses == "beam" else 1 - self.mm / self.most_mm
        return plate(self.part, self.label, sensor_face(self.senses, away, self.on), width=180)

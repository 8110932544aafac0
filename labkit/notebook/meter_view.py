"""The hand-held meter at a live bench: two leads on terminals, a range, a prediction first, a log."""

from __future__ import annotations

import math
from typing import Any, ClassVar

import traitlets

from labkit.notebook._page import script, sheet
from labkit.notebook._stills import words
from labkit.notebook._widget import BenchWidget, Choice, Command, Spec, Word

__all__ = ["MeterView"]

_MODES = ("volts", "ohms", "continuity")
_LOGGED = 200


class MeterView(BenchWidget):
    """A meter whose leads are put on terminals, here by name or on the live board by clicking.

    Parameters
    ----------
    bench
        The bench that is measured.
    predict
        Ask for a prediction first: the display stays dark until one is written.
    """

    _esm = script("meter_view")
    _css = sheet("meter_view")
    spec: ClassVar[Spec] = {
        "lead": {"lead": Choice(("red", "black")), "on": Word(20)},
        "mode": {"mode": Choice(_MODES)},
        "predict": {"text": Word(40)},
        "note": {},
        "swap": {},
    }
    terminals = traitlets.List(traitlets.Unicode()).tag(sync=True)
    red = traitlets.Unicode("").tag(sync=True)
    black = traitlets.Unicode("").tag(sync=True)
    mode = traitlets.Enum(_MODES, "volts").tag(sync=True)
    predict = traitlets.Bool(False).tag(sync=True)
    predicted = traitlets.Unicode("").tag(sync=True)
    display_text = traitlets.Unicode("").tag(sync=True)
    warning = traitlets.Unicode("").tag(sync=True)
    entries: Any = traitlets.List(help="ms, mode, red, black, predicted, reading").tag(sync=True)

    def __init__(self, bench: Any, *, predict: bool = False) -> None:
        self._glance: object = None
        super().__init__(bench, predict=predict, terminals=list(bench.board.terminals))

    def _look(self) -> None:
        leads = self.hub.leads
        if (self.red, self.black) != (leads["red"], leads["black"]):
            self.predicted = ""  # a prediction is for one place
        self.red, self.black = leads["red"], leads["black"]
        engine = self.bench.engine
        glance = (engine.moves, engine.key, self.red, self.black, self.mode, self.predicted, self.bench.removed)
        if glance == self._glance:
            return
        self._glance = glance
        self.display_text, self.warning = self._read()

    def _read(self) -> tuple[str, str]:
        if not (self.red and self.black):
            return "----", ""
        if self.predict and not self.predicted:
            return "----", "write what you expect first"
        reading = self.bench.meter.peek(self.mode, self.red, self.black)
        live = "the circuit is live: this figure means nothing, and a meter can be harmed" if reading.live else ""
        return reading.text, live

    def _obey(self, command: Command) -> str | None:
        match command.do:
            case "lead":
                self.hub.place(str(command.get("lead")), str(command.get("on", "")))
            case "swap":
                self.hub.leads = {"red": self.black, "black": self.red}
                self.hub.refresh()
            case "mode":
                self.mode, self.predicted = str(command.get("mode")), ""
            case "predict":
                self.predicted = str(command.get("text", "")).strip()
            case "note":
                if self.display_text == "----":
                    return "there is no reading to note yet"
                measure = getattr(self.bench.meter, self.mode)
                measure(self.red, self.black, expect=_figure(self.predicted))  # the noted reading is in the log
                t_ms = round(self.bench.now_us / 1000, 3)
                row = [t_ms, self.mode, self.red, self.black, self.predicted, self.display_text]
                self.entries = [*self.entries, row][-_LOGGED:]
        self.refresh()
        return None

    def in_words(self) -> str:
        """The state in words."""
        if not (self.red and self.black):
            return "meter, leads in the air"
        return f"meter, {self.mode}, red on {self.red}, black on {self.black}: {self.display_text}"

    def svg(self) -> str:
        """The still picture: the display, and the noted readings below."""
        return words(self.in_words(), *(f"{t:g} ms  {m}  {r} to {b}: {got}" for t, m, r, b, _, got in self.entries))


def _figure(predicted: str) -> float | str | None:
    """A prediction as a number if it is one, ``"23.9 V"`` too; None if there was none."""
    first = predicted.partition(" ")[0].rstrip("VvAaΩ").replace(",", ".")
    try:
        number = float(first)
    except ValueError:
        return predicted or None
    return number if math.isfinite(number) else predicted

"""The hand-held meter at a live bench: two leads or a clamp, a range, a prediction first, a log."""

from __future__ import annotations

from typing import Any, ClassVar

import traitlets

from labkit.faults import faults_in
from labkit.notebook._answer_plain import as_number
from labkit.notebook._page import script, sheet
from labkit.notebook._stills import words
from labkit.notebook._widget import BenchWidget, Choice, Command, Spec, Word

__all__ = ["MeterView"]

_MODES = ("volts", "ohms", "continuity", "diode", "amps")
_LOGGED = 200
_NOTHING = "----"


_TWICE_US = 1_000_000  # a click that came double
_UNITS = {"volts": "V", "diode": "V", "amps": "A", "ohms": "ohm"}


class MeterView(BenchWidget):
    """A meter whose leads are put on terminals, here by name or on the live board by clicking.

    What the display shows leaves no trace; what is noted is read once more and stands in the bench's log, with
    what was expected beside it.

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
        "clamp": {"on": Word(20)},
        "mode": {"mode": Choice(_MODES)},
        "predict": {"text": Word(40)},
        "note": {},
        "swap": {},
    }
    terminals = traitlets.List(traitlets.Unicode()).tag(sync=True)
    wires: Any = traitlets.List(help="wire numbers that a clamp can go around, with their ends").tag(sync=True)
    red = traitlets.Unicode("").tag(sync=True)
    black = traitlets.Unicode("").tag(sync=True)
    wire = traitlets.Unicode("", help="the wire in the clamp").tag(sync=True)
    mode = traitlets.Enum(_MODES, "volts").tag(sync=True)
    predict = traitlets.Bool(False).tag(sync=True)
    predicted = traitlets.Unicode("").tag(sync=True)
    display_text = traitlets.Unicode("").tag(sync=True)
    warning = traitlets.Unicode("").tag(sync=True)
    entries: Any = traitlets.List(help="ms, mode, red or wire, black, predicted, reading").tag(sync=True)

    def __init__(self, bench: Any, *, predict: bool = False) -> None:
        self._glance: object = None
        self._noted: Any = None
        super().__init__(bench, predict=predict, terminals=list(bench.board.terminals))
        if predict and faults_in(bench):  # a search that goes on, after a restart too, has its readings before it
            self.entries = [_row(done) for done in bench.log if done.do == "read"][-_LOGGED:]

    def _look(self) -> None:
        leads, bench = self.hub.leads, self.bench
        if (self.red, self.black) != (leads["red"], leads["black"]):
            self.predicted = ""  # a prediction is for one place
        self.red, self.black = leads["red"], leads["black"]
        engine = bench.engine
        glance = (engine.moves, engine.key, *self._place(), self.mode, self.predicted, bench.removed, id(engine.net))
        if glance == self._glance:
            return
        self._glance = glance
        self.wires = [[wire.no, f"{wire.a} to {wire.b}"] for wire in bench.wiring]
        if self.wire and self.wire not in [no for no, _ in self.wires]:
            self.wire = ""  # it was lifted out of the clamp
        self.display_text, self.warning = self._read()

    def _place(self) -> tuple[str, ...]:
        """What is measured: the wire in the clamp, or the leads' terminals."""
        return (self.wire,) if self.mode == "amps" else (self.red, self.black)

    def _read(self) -> tuple[str, str]:
        if not all(self._place()):
            return _NOTHING, ""
        if self.predict and not self.predicted:
            return _NOTHING, "write what you expect first"
        reading = self.bench.meter.peek(self.mode, *self._place())
        live = "the circuit is live: this figure means nothing, and a meter can be harmed" if reading.live else ""
        return reading.text, live

    def _obey(self, command: Command) -> str | None:
        match command.do:
            case "lead":
                self.hub.place(str(command.get("lead")), str(command.get("on", "")))
            case "clamp":
                on = str(command.get("on", ""))
                if on:
                    self.bench.wire_element(on)  # refuses a wire that is not there
                self.wire, self.predicted = on, ""
            case "swap":
                self.hub.leads = {"red": self.black, "black": self.red}
                self.hub.refresh()
            case "mode":
                self.mode, self.predicted = str(command.get("mode")), ""
            case "predict":
                self.predicted = str(command.get("text", "")).strip()
            case "note":
                return self._note()
        self.refresh()
        return None

    def _note(self) -> str | None:
        """Take the reading for the log, here and at the bench."""
        if self.display_text == _NOTHING:
            return "there is no reading to note yet"
        last, now_us = self._noted, self.bench.now_us
        if last is not None and self.bench.log[-1:] == [last] and now_us - last.t_us < _TWICE_US:
            what = last.what
            there = (what["wire"],) if what["mode"] == "amps" else (what["red"], what["black"])
            if (what["mode"], there) == (self.mode, self._place()):
                return "noted just now: the same reading twice tells nothing more"
        read = getattr(self.bench.meter, self.mode)
        read(*self._place(), expect=_figure(self.predicted, self.mode))
        self._noted = self.bench.log[-1]
        row = _row(self._noted)
        row[4] = self.predicted
        self.entries = [*self.entries, row][-_LOGGED:]
        self.refresh()
        return None

    def in_words(self) -> str:
        """The state in words."""
        if not all(self._place()):
            return "meter, clamp around no wire" if self.mode == "amps" else "meter, leads in the air"
        where = f"clamp around wire {self.wire}" if self.mode == "amps" else f"red on {self.red}, black on {self.black}"
        return f"meter, {self.mode}, {where}: {self.display_text}"

    def svg(self) -> str:
        """The still picture: the display, and the noted readings below."""
        return words(
            self.in_words(),
            *(f"{t:g} ms  {m}  {r}{f' to {b}' if b else ''}: {got}" for t, m, r, b, _, got in self.entries),
        )


def _row(done: Any) -> list[Any]:
    """A reading of a bench's log as a line of the meter's."""
    what = done.what
    place = [f"wire {what['wire']}", ""] if what["mode"] == "amps" else [what["red"], what["black"]]
    expect = what.get("expect", "")
    said = f"{expect:g}" if isinstance(expect, int | float) else str(expect)
    return [round(done.t_us / 1000, 3), what["mode"], *place, said, what["shown"]]


def _figure(predicted: str, mode: str = "volts") -> float | str | None:
    """A prediction as a number if it is one, ``"23.9 V"`` and ``"125 mA"`` too; None if there was none."""
    said = predicted.replace("\u03a9", "ohm").replace("\u2126", "ohm")
    unit = _UNITS.get(mode, "")
    if said[-1:] in ("v", "a"):
        said = said[:-1] + said[-1].upper()
    number = as_number(said, unit)
    return (predicted or None) if number is None else number

"""A rolling timing diagram of a live bench: signals over time with the scan bar below."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from typing import Any, ClassVar

import traitlets

from labkit.bench import Signal, Trace
from labkit.bench.vcd import vcd_text
from labkit.notebook._page import script, sheet
from labkit.notebook._widget import BenchWidget, Command, Number, Spec

__all__ = ["LiveTrace"]

_KEPT_US = 30_000_000  # what a page that comes up is told of the past
_MOST_CHANGES = 4_000  # of one signal; a page cannot draw more than it has pixels anyway
_EVERY_US, _QUIET_US = 40_000, 200_000  # bench time between two messages: with news, and without


class LiveTrace(BenchWidget):
    """Signals of a bench, rolling past while its time goes; freeze it, and measure with two cursors.

    Parameters
    ----------
    bench
        The bench to watch. Watching changes nothing at the bench.
    signals
        Names as in a trace: ``"S2"``, ``"K1"``, or with their layer, ``"volts:I2"``, ``"coil:K1"``.
    window_s
        Seconds across the sheet at first; the page can change it.

    Raises
    ------
    LabkitError
        If the bench has no signal of such a name.
    """

    _esm = script("live_trace")
    _css = sheet("live_trace")
    spec: ClassVar[Spec] = {"bye": {}, "more": {}, "vcd": {"from_us": Number(0, 2**53), "until_us": Number(0, 2**53)}}
    signals = traitlets.List(traitlets.Dict()).tag(sync=True)
    window_s = traitlets.Float(4.0).tag(sync=True)
    pace = traitlets.Unicode("stopped").tag(sync=True)
    speed = traitlets.Float(1.0).tag(sync=True)

    def __init__(self, bench: Any, signals: Sequence[str], *, window_s: float = 4.0) -> None:
        with bench.record() as trace:
            pass
        found = [trace.signal(name) for name in signals]
        self._kept = {signal.name: deque(signal.changes[-1:], _MOST_CHANGES) for signal in found}
        self._scans: deque[list[Any]] = deque(maxlen=2_000)
        self._news: list[list[Any]] = []
        self._new_scans: list[list[Any]] = []
        self._until_us = self._told_us = trace.end_us
        self._from_us = trace.end_us
        self._order = {signal.name: place for place, signal in enumerate(found)}
        shown = [
            {"name": s.name, "label": _label(name, s.name), "kind": s.kind}
            for name, s in zip(signals, found, strict=True)
        ]
        self._pages = 0
        super().__init__(bench, signals=shown, window_s=window_s)

    @property
    def rolling(self) -> bool:
        """Whether a page looks: only then the hub keeps a record for it."""
        return self._pages > 0

    # what the hub hands in -------------------------------------------------------------------------
    def take(self, trace: Any) -> None:
        """Take a piece of the past from the hub, and tell the page when there is enough of it."""
        if trace.start_us > self._until_us:
            self._news.append([-1, self._until_us, trace.start_us])  # code moved the time: nobody watched
        for name, place in self._order.items():
            signal = trace.signals.get(name)
            if signal is None:
                continue
            kept = self._kept[name]
            for t_us, value in signal.changes:
                if not kept or kept[-1][1] != value:
                    kept.append((t_us, value))
                    self._news.append([place, t_us, value])
        for run in trace.scan_runs:
            self._new_scans.append(_row(run))
        self._until_us = trace.end_us
        passed = self._until_us - self._told_us
        if passed >= _QUIET_US or (self._news and passed >= _EVERY_US):
            self._tell()

    def _tell(self) -> None:
        self._scans.extend(self._new_scans)
        self.send({"kind": "piece", "until": self._until_us, "changes": self._news, "scans": self._new_scans})
        self._news, self._new_scans, self._told_us = [], [], self._until_us

    def _tell_all(self) -> None:
        """Tell a page that came up what there is of the past; the others take it in place of theirs."""
        self._scans.extend(self._new_scans)
        self._news, self._new_scans, self._told_us = [], [], self._until_us
        begin = self._until_us - _KEPT_US
        changes = [
            [place, t_us, value]
            for name, place in self._order.items()
            for t_us, value in _since(self._kept[name], begin)
        ]
        scans = [row for row in self._scans if row[0] + row[1] * row[2] > begin]
        self.send({"kind": "past", "from": self._from_us, "until": self._until_us, "changes": changes, "scans": scans})

    def _hello(self) -> None:
        self._pages += 1
        super()._hello()
        self._tell_all()

    def _obey(self, command: Command) -> str | None:
        if command.do == "bye":
            self._pages = max(0, self._pages - 1)
        elif command.do == "vcd":
            begin, end = (int(command.get(name, 0)) for name in ("from_us", "until_us"))  # type: ignore[call-overload]
            self.send({"kind": "vcd", "view": command.view, "text": vcd_text(self.as_trace(begin, end))})
        else:
            self._tell_all()
        return None

    def _look(self) -> None:
        self.pace, self.speed = self.hub.state, self.hub.speed

    # still forms -----------------------------------------------------------------------------------
    def in_words(self) -> str:
        """The state in words."""
        return "timing of " + ", ".join(str(signal["label"]) for signal in self.signals)

    def as_trace(self, from_us: int | None = None, until_us: int | None = None) -> Trace:
        """What was kept between two bench times, as a trace; by default what the sheet shows, `window_s` seconds.

        Parameters
        ----------
        from_us, until_us
            Bench time in microseconds. What lies outside of what was kept is left out.
        """
        end = min(self._until_us, until_us or self._until_us)
        begin = max(self._from_us, end - round(self.window_s * 1e6) if from_us is None else from_us)
        kinds = {str(signal["name"]): str(signal["kind"]) for signal in self.signals}
        signals = {name: Signal(name, kind, _since(self._kept[name], begin, end)) for name, kind in kinds.items()}
        return Trace(signals=signals, start_us=begin, end_us=max(end, begin + 1))

    def svg(self) -> str:
        """The still picture: what the sheet shows, drawn by the plots."""
        from labkit.plots import timing_svg

        trace = self.as_trace()
        return timing_svg(trace, list(trace.signals), scans=False)


def _since(changes: Iterable[tuple[int, Any]], begin: int, end: int | None = None) -> list[tuple[int, Any]]:
    """The changes after `begin` and up to `end`, and the one that held at `begin`."""
    kept: list[tuple[int, Any]] = []
    for t_us, value in changes:
        if t_us <= begin:
            kept = [(t_us, value)]
        elif end is None or t_us <= end:
            kept.append((t_us, value))
    return kept


def _row(run: Any) -> list[Any]:
    home = run.plan[0].start_us
    plan = [[phase.kind, phase.start_us - home, phase.end_us - home] for phase in run.plan]
    return [run.start_us, run.period_us, run.count, plan]


def _label(asked: str, full: str) -> str:
    layer = full.partition(":")[0]
    say = {
        "pos": "position",
        "volts": "V at",
        "coil": "V at coil",
        "lit": "lit",
        "led": "LED",
        "pole": "poles",
        "aux": "aux",
        "motor": "speed",
    }
    return asked.partition(":")[2] + f" ({say.get(layer, layer)})" if ":" in asked else asked

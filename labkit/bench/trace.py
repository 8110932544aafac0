"""What was recorded: signals over time, the controller's scans with their phases, what was done."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any, ClassVar

from labkit.base import did_you_mean
from labkit.bench.clock import show_time
from labkit.bench.errors import BenchError
from labkit.controller import Phase

__all__ = ["LAYERS", "Done", "ScanRun", "Signal", "Trace", "Value"]

Value = bool | float | str

LAYERS: Mapping[str, str] = {
    "pos": "position of a part: released, pressed, on, off, left, open, closed ...",
    "volts": "volts of an input or output terminal to its own common",
    "led": "the input channel's indicator: its volts and milliamps count as on",
    "in": "the input after its filter",
    "bit": "the tag's bit in the controller, as the program last saw or wrote it",
    "out": "the output image: what the program last asked of the terminal",
    "coil": "volts across a coil",
    "pole": "the contactor's main contacts",
    "aux": "the auxiliary block's normally open contact, if the block is fitted",
    "lit": "the lamp is lit, the horn sounds",
    "motor": "speed of the motor, 0 to 1",
    "mode": "the controller's mode",
}
"""The layers that a signal name begins with, and what each tells."""

_BARE = ("bit", "pos", "pole", "lit", "motor", "in", "led", "out", "volts", "coil", "aux", "mode")


@dataclass(slots=True)
class Signal:
    """One thing over time: only its changes are kept.

    Parameters
    ----------
    name
        ``layer:name``, see :data:`LAYERS`.
    kind
        ``bool``; ``volts`` and ``level`` (numbers); ``state`` (words).
    changes
        ``(t_us, value)``, times rising; the first is the value when recording began, and a change at that
        very instant comes second. A value holds until the next change.
    """

    name: str
    kind: str
    changes: list[tuple[int, Value]] = field(default_factory=list)

    def at(self, t_us: int) -> Value:
        """The value at a time; the first one before the recording began."""
        place = bisect_right(self.changes, t_us, key=lambda change: change[0]) - 1
        return self.changes[max(place, 0)][1]

    def rises(self) -> list[int]:
        """Times at which it became true (not counting the start)."""
        return [t for t, value in self.changes[1:] if value is True]

    def falls(self) -> list[int]:
        """Times at which it became false (not counting the start)."""
        return [t for t, value in self.changes[1:] if value is False]


@dataclass(slots=True)
class ScanRun:
    """A row of equal scans: `count` of them, `period_us` apart, the first from `start_us`.

    Scans in which nothing could change are kept as one row instead of one by one.
    """

    start_us: int
    period_us: int
    count: int
    plan: tuple[Phase, ...]

    def phases(self, first: int = 0, last: int | None = None) -> Iterator[Phase]:
        """The phases of the scans number `first` to before `last` of this row."""
        home = self.plan[0].start_us
        for number in range(first, self.count if last is None else min(last, self.count)):
            shift = self.start_us + number * self.period_us - home
            for phase in self.plan:
                yield Phase(phase.kind, phase.start_us + shift, phase.end_us + shift)


@dataclass(frozen=True, slots=True)
class Done:
    """One thing that a person did at the bench.

    Parameters
    ----------
    t_us
        Bench time in microseconds.
    do
        The verb, as in a stimulus.
    what
        The verb's words, as in a stimulus: ``{"part": "S2", "hold_ms": 45}``.
    """

    t_us: int
    do: str
    what: Mapping[str, Any]

    def __str__(self) -> str:
        words = " ".join(f"{key}={value}" for key, value in self.what.items())
        return f"{show_time(self.t_us)}  {self.do} {words}".rstrip()


@dataclass(slots=True)
class Trace:
    """A recording. It is complete without any drawing library.

    Examples
    --------
    ``trace["K1"]`` is the signal ``bit:K1``, or ``pos:K1`` if there is no such bit;
    ``trace.at("volts:I2", ms(12))`` is a value; ``trace.scans`` are the phases of all scans.
    """

    signals: dict[str, Signal] = field(default_factory=dict)
    scan_runs: list[ScanRun] = field(default_factory=list)
    events: list[Done] = field(default_factory=list)
    start_us: int = 0
    end_us: int = 0

    drawer: ClassVar[Callable[..., Any] | None] = None
    """Who draws; ``labkit.plots`` puts its ``timing`` here when it is imported."""

    def __getitem__(self, name: str) -> Signal:
        return self.signal(name)

    def __contains__(self, name: str) -> bool:
        return self._find(name) is not None

    def _find(self, name: str) -> Signal | None:
        if name in self.signals:
            return self.signals[name]
        return next((self.signals[f"{layer}:{name}"] for layer in _BARE if f"{layer}:{name}" in self.signals), None)

    def signal(self, name: str) -> Signal:
        """The signal of this name; a bare name means its bit, then its position, then the other layers.

        Raises
        ------
        BenchError
            If nothing of this name was recorded.
        """
        found = self._find(name)
        if found is None:
            layer, colon, _ = name.partition(":")
            if colon and layer not in LAYERS:
                raise BenchError(
                    f"there is no layer {layer!r} in a trace",
                    try_this=did_you_mean(layer, LAYERS) or "layers: " + ", ".join(LAYERS),
                    code="trace-layer",
                )
            names = (
                [n for n in self.signals if n.startswith(layer + ":")]
                if colon
                else [n.partition(":")[2] for n in self.signals]
            )
            raise BenchError(
                f"nothing called {name} was recorded",
                try_this=did_you_mean(name, sorted(set(names))),
                code="trace-signal",
            )
        return found

    def at(self, name: str, t: object) -> Value:
        """The value of a signal at a time (a Duration since the bench's time 0, or whole microseconds)."""
        return self.signal(name).at(_t_us(t))

    @property
    def scans(self) -> list[Phase]:
        """Every phase of every scan, in order."""
        return list(self.phases())

    def phases(self, span: tuple[int, int] | None = None) -> Iterator[Phase]:
        """The phases that touch `span` (start and end in microseconds), in order; all without a span."""
        low, high = span or (self.start_us, self.end_us)
        for run in self.scan_runs:
            first = max(0, (low - run.start_us) // run.period_us)
            last = -(-(high - run.start_us) // run.period_us)
            for phase in run.phases(first, last):
                if phase.end_us > low and phase.start_us < high:
                    yield phase

    def reads(self, after_us: int, until_us: int) -> list[int]:
        """The times at which the controller began to read its inputs, after the one and up to the other."""
        return [
            phase.start_us
            for phase in self.phases((after_us, until_us + 1))
            if phase.kind == "read" and after_us < phase.start_us <= until_us
        ]

    def check(self) -> None:
        """Does the trace make sense: times rise, values change, phases follow one another?

        Raises
        ------
        BenchError
            Naming the signal or the scan that is wrong. It would be a mistake of labkit.
        """
        if self.end_us < self.start_us:
            raise BenchError("the trace ends before it begins", code="trace-check")
        for name, signal in self.signals.items():
            if not signal.changes or signal.changes[0][0] != self.start_us:
                raise BenchError(f"{name} does not begin with the trace", code="trace-check")
            for number, ((t0, v0), (t1, v1)) in enumerate(pairwise(signal.changes)):
                if (t1 <= t0 and number) or t1 < t0 or t1 > self.end_us:
                    raise BenchError(
                        f"{name}: times do not rise inside the trace", where=show_time(t1), code="trace-check"
                    )
                if v0 == v1:
                    raise BenchError(f"{name}: a change that changes nothing", where=show_time(t1), code="trace-check")
        end = None
        for phase in self.phases():
            if phase.end_us < phase.start_us or (end is not None and phase.start_us < end):
                raise BenchError(
                    f"the {phase.kind} phase overlaps", where=show_time(phase.start_us), code="trace-check"
                )
            end = phase.end_us

    def timing(self, signals: list[str] | None = None, **options: Any) -> Any:
        """The timing diagram, drawn by ``labkit.plots.timing``.

        Raises
        ------
        BenchError
            If ``labkit.plots`` has not been imported.
        """
        if Trace.drawer is None:
            raise BenchError("nothing here can draw yet", try_this="import labkit.plots first", code="trace-no-plots")
        return Trace.drawer(self, signals, **options)

    def to_vcd(self, path: str | Path) -> Path:
        """Write the trace as a VCD file (IEEE 1364) and return its path."""
        from labkit.bench.vcd import save_vcd

        return save_vcd(self, path)


def _t_us(t: object) -> int:
    if isinstance(t, int) and not isinstance(t, bool):
        return t
    from labkit.base import as_us

    return as_us(t, "this time")

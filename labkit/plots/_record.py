"""What a timing diagram reads of a record, and how a person names the rows and the moments."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Protocol

from labkit.base import Duration
from labkit.plots._given import names as names_of
from labkit.plots._time_axis import say_time
from labkit.plots.errors import DrawingError

__all__ = ["LAYERS", "UP", "Moment", "SignalLike", "TraceLike", "choose", "kind_of", "moment_of", "resolve", "span_of"]

Moment = int | Duration

# What each layer of a signal name is, in words of the trade; also the order when nobody names signals:
# the way of a press through the bench.
LAYERS = {
    "pos": "",
    "volts": "terminal",
    "led": "channel",
    "in": "after filter",
    "bit": "bit",
    "out": "output image",
    "coil": "coil",
    "pole": "main poles",
    "aux": "auxiliary",
    "motor": "speed",
    "lit": "lit",
    "mode": "mode",
}
# rest and the other position of parts that have two
PAIRS = [
    {"released", "pressed"},
    {"open", "closed"},
    {"off", "on"},
    {"healthy", "tripped"},
    {"whole", "blown"},
    {"left", "right"},
]
UP = {"pressed", "closed", "on", "tripped", "blown", "right"}
# what a bare name means: the first of these layers that was recorded, as in the record itself
_BARE = ("bit", "pos", "pole", "lit", "motor", "in", "led", "out", "volts", "coil", "aux", "mode")
_MOST_ROWS = 16


class SignalLike(Protocol):
    """What a row needs: a kind ("bool", "volts", "state", other numbers) and changes in order of time."""

    @property
    def kind(self) -> str: ...
    @property
    def changes(self) -> Sequence[tuple[int, Any]]: ...


class TraceLike(Protocol):
    """What a timing diagram reads of a record."""

    @property
    def signals(self) -> Mapping[str, Any]: ...
    @property
    def scans(self) -> Sequence[Any]: ...
    @property
    def events(self) -> Sequence[Any]: ...
    @property
    def start_us(self) -> int: ...
    @property
    def end_us(self) -> int: ...


def moment_of(t: Moment, zero: int) -> int:
    """Microseconds of the bench's clock: a duration counts from `zero`, a whole number is the clock's own."""
    if isinstance(t, Duration):
        return zero + t.us
    if isinstance(t, int) and not isinstance(t, bool):
        return t
    raise DrawingError(
        f"a moment is a duration such as ms(40) or whole microseconds; got {t!r}",
        try_this="write ms(40): it counts as the axis does",
        where=repr(t),
        code="drawing-moment",
    )


def span_of(trace: TraceLike, span: tuple[Moment, Moment] | None, zero: int) -> tuple[int, int]:
    """First and last microsecond to draw; without a span the whole record."""
    if span is None:
        return trace.start_us, max(trace.end_us, trace.start_us + 1)
    try:
        first, last = span
    except (TypeError, ValueError):
        raise DrawingError(
            f"span takes two moments, first and last; got {span!r}",
            try_this="write span=(ms(0), ms(200))",
            where="span",
            code="drawing-span",
        ) from None
    t0, t1 = moment_of(first, zero), moment_of(last, zero)
    if t1 <= t0:
        raise DrawingError(
            f"the span ends at {say_time(t1 - zero)}, not after its start at {say_time(t0 - zero)}",
            try_this="give the earlier moment first",
            where="span",
            code="drawing-span",
        )
    return t0, t1


def resolve(trace: TraceLike, name: str) -> str:
    """The recorded signal that a name means; a bare one means the first layer that was recorded."""
    known = trace.signals
    for guess in (name, *(f"{layer}:{name}" for layer in _BARE)):
        if isinstance(name, str) and guess in known:
            return guess
    bare = {n.partition(":")[2]: n for n in known}
    raise DrawingError(
        f"the record has no signal {name!r}",
        name=name,
        known=[*known, *bare] if ":" not in str(name) else list(known),
        where=str(name),
        code="drawing-signal",
    )


def choose(trace: TraceLike, asked: Iterable[str] | None, t0: int, t1: int) -> tuple[list[str], int]:
    """Names of the rows, and how many signals changed that are not among them."""
    if asked is not None:
        asked = names_of(asked, "a list of signals")
        return [resolve(trace, name) for name in asked], 0
    order = {layer: i for i, layer in enumerate(LAYERS)}
    moved = [n for n, s in trace.signals.items() if any(t0 < t <= t1 for t, _ in s.changes)]
    moved.sort(key=lambda n: order.get(n.partition(":")[0], len(order)))
    if len(moved) > _MOST_ROWS:
        keep = set(sorted(moved, key=lambda n: _rank(n, trace))[:_MOST_ROWS])
        return [n for n in moved if n in keep], len(moved) - len(keep)
    return moved, 0


def _rank(name: str, trace: TraceLike) -> int:
    """What a person and the program see goes before what only a meter sees; what is told twice comes last."""
    layer, _, what = name.partition(":")
    if layer == "pos" and ("." in what or f"pole:{what}" in trace.signals):
        return 2
    return 0 if layer in {"pos", "bit", "coil", "pole", "aux", "lit", "motor", "mode"} else 1


def kind_of(signal: SignalLike) -> str:
    """How a signal is drawn: a part with a rest and one other position reads best as a step line."""
    if signal.kind == "state":
        values = {v for _, v in signal.changes}
        return "bool" if any(values <= pair for pair in PAIRS) else "state"
    return "bool" if signal.kind == "bool" else "level"

"""A counterexample as plain steps for a person, and as a record that a timing diagram can be drawn of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labkit.verify.errors import ProofError

if TYPE_CHECKING:  # a program alone has no bench
    from labkit.bench import Trace
    from labkit.verify.verdict import Story

__all__ = ["Shown", "shown", "steps"]

_IS = {
    "pole": ("the contacts of {} are open", "the contacts of {} are closed"),
    "coil": ("the coil of {} is dead", "the coil of {} has its volts"),
    "lit": ("{} is dark", "{} is lit"),
    "run": ("{} does not scan", "{} scans"),
}
_SILENT = ("pos", "wire", "weld", "panel", "back")  # what was done says it already
_BEFORE_SCANS, _AFTER_SCANS = 2, 3
BROKEN = "broken here"


@dataclass(frozen=True, slots=True)
class Shown:
    """A story as something to draw: ``labkit.plots.draw_story(shown)``.

    Parameters
    ----------
    trace
        The bench's record of it; for a program alone its bits, one value per scan.
    signals
        The rows that tell it, hands first.
    marks
        The moment at which the requirement is broken, with two words.
    span
        What to draw, in microseconds of the trace.
    title
        The requirement.
    """

    trace: Trace
    signals: tuple[str, ...]
    marks: tuple[tuple[int, str], ...]
    span: tuple[int, int]
    title: str


def _says(name: str, value: int) -> str | None:
    layer, _, rest = name.partition(":")
    if not rest:
        return None if "=" in name else f"{name} is {value}"
    if layer in _SILENT or "=" in rest:
        return None
    return _IS[layer][value].format(rest) if layer in _IS else None


def _state(view: Mapping[str, int], before: Mapping[str, int] | None, *, whole: bool) -> str:
    said = [
        _says(name, value)
        for name, value in view.items()
        if whole or (value if before is None else before.get(name) != value)
    ]
    return ", ".join(s for s in said if s)


def steps(story: Story) -> tuple[str, ...]:
    """The story in sentences, one per scan in which something happens; the last says how it ends.

    Examples
    --------
    >>> from labkit.verify import prove
    >>> for step in prove("K1 := S2 OR (S1 AND K1);", "whenever not S1 then not K1").story.steps:
    ...     print(step)
    Scan 1: S2 = 1. Now S1 is 0, K1 is 1. This breaks it.
    """
    told: list[str] = []
    before: Mapping[str, int] | None = None
    for moment in story.moments:
        last = moment is story.moments[-1]
        state = _state(moment.view, before, whole=last)
        done = ", ".join(moment.done)
        if done or state or last:
            first = f"{done}." if done else "nothing is done."
            told.append(f"Scan {moment.scan}: {first}" + (f" Now {state}." if state else ""))
        before = moment.view
    if story.ending:
        told.append(story.ending[0].upper() + story.ending[1:] + ".")
    elif told:
        told[-1] += " This breaks it."
    return tuple(told)


def shown(story: Story, title: str = "") -> Shown:
    """The story done again on a fresh bench, and recorded a little past the broken moment.

    Raises
    ------
    ProofError
        If the story has neither a bench nor inputs.
    """
    if story.make is None:
        return _bits(story, title)
    from labkit.base import us

    bench = story.make()
    assert story.stimulus is not None
    assert story.broken_us is not None
    scan_us = bench.engine.controller.scan_period_us
    end_us = story.broken_us + _AFTER_SCANS * scan_us
    with bench.record() as trace:
        bench.play(story.stimulus)
        bench.wait(us(max(end_us - bench.now_us, 0)))
    first = trace.scan_runs[0].start_us if trace.scan_runs else trace.start_us
    start_us = max(first - _BEFORE_SCANS * scan_us, trace.start_us)
    hands = dict.fromkeys(f"pos:{step.what['part']}" for step in story.stimulus.steps if "part" in step.what)
    names = story.moments[-1].view if story.moments else {}
    told = [_row(name) for name in names]
    # an armature's place is told by its main contacts
    doubled = {row.replace("pole:", "pos:") for row in told if row.startswith("pole:")}
    moved = [h for h in hands if h in trace.signals and h not in doubled and _moves(trace, h, start_us)]
    rows = [*moved, *told]
    rows = [r for r in dict.fromkeys(rows) if r in trace.signals]
    return Shown(trace, tuple(rows), ((story.broken_us, BROKEN),), (start_us, end_us), title)


def _row(name: str) -> str:
    """The trace's name of a requirement's signal."""
    head, _, _ = name.partition("=")
    return head if ":" in head else f"bit:{head}"


def _moves(trace: Trace, name: str, start_us: int) -> bool:
    return any(t >= start_us for t, _ in trace.signals[name].changes[1:]) or trace.at(name, start_us) not in {
        "released",
        "on",
        "healthy",
    }


def _bits(story: Story, title: str) -> Shown:
    if not story.inputs:
        raise ProofError(
            "this story has nothing to show: no bench, and no inputs",
            try_this="prove with board=... to see it on a bench",
            code="proof-story",
        )
    from labkit.bench import Signal, Trace

    length = story.scan_us
    rows: dict[str, Any] = {}
    for number, (inputs, moment) in enumerate(zip(story.inputs, story.moments, strict=True), 1):
        for name, value in {**inputs, **moment.view}.items():
            signal = rows.setdefault(f"bit:{name}", Signal(f"bit:{name}", "bool", [(0, False)]))
            if signal.changes[-1][1] != bool(value):
                signal.changes.append((number * length, bool(value)))
    end_us = (len(story.moments) + _AFTER_SCANS) * length
    trace = Trace(rows, [], [], 0, end_us)
    broken = ((len(story.moments) * length, BROKEN),)
    return Shown(trace, tuple(rows), broken, (0, end_us), title)

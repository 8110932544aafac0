"""Does a recording show what was expected? If not: which expectation broke, when, and how."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from labkit.bench import Trace
from labkit.lessons._document import Expect
from labkit.lessons._text import fill, span_us
from labkit.lessons.errors import LessonError

__all__ = ["Break", "first_break"]


@dataclass(frozen=True, slots=True)
class Break:
    """An expectation that the recording breaks.

    Parameters
    ----------
    signal, wanted
        What should have been so.
    t_us
        When it was not: the deadline if it never came, the moment of the change if it was lost.
    how
        ``late`` (never came, or not in time) or ``lost`` (came, and changed again).
    from_us, due_us
        The event that the expectation counts from, and the latest moment to comply.
    says
        The lesson's own words for this expectation, or ``""``.
    """

    signal: str
    wanted: bool | str
    t_us: int
    how: Literal["late", "lost"]
    from_us: int
    due_us: int
    says: str = ""


def first_break(
    trace: Trace,
    expects: Iterable[Expect],
    *,
    marks: Mapping[str, int],
    words: Mapping[str, str],
    symbols: Mapping[str, int],
) -> Break | None:
    """The expectation that broke first in time, or None if all hold.

    Raises
    ------
    LessonError
        If an expectation names a label or signal that is not there.
    """
    breaks = [broken for e in expects if (broken := _check(trace, e, marks, words, symbols)) is not None]
    return min(breaks, key=lambda b: b.t_us, default=None)


def _check(
    trace: Trace, expect: Expect, marks: Mapping[str, int], words: Mapping[str, str], symbols: Mapping[str, int]
) -> Break | None:
    for label in (expect.after, expect.until):
        if label not in marks:
            raise LessonError(f"no step has the label {label!r}", where=f"expect {expect.signal}", code="lesson-label")
    name = fill(expect.signal, words)
    if name not in trace.signals:
        raise LessonError(f"the bench records no signal {name}", where="expect", code="lesson-signal")
    signal = trace.signals[name]
    start, until = marks[expect.after], marks[expect.until]
    due = start + span_us(expect.within, symbols)
    says = fill(expect.says, words)
    if due > until:
        raise LessonError(
            f"{name} is due {(due - until) / 1000:g} ms after the label {expect.until!r}",
            where="expect",
            try_this="wait longer in the scenario",
            code="lesson-label",
        )
    if not _is(signal.at(due), expect.value):
        return Break(name, expect.value, due, "late", start, due, says)
    for t_us, value in signal.changes:
        if due < t_us < until and not _is(value, expect.value):
            return Break(name, expect.value, t_us, "lost", start, due, says)
    return None


def _is(value: object, wanted: bool | str) -> bool:
    """A word is a position; true and false ask whether something is there at all."""
    return value == wanted if isinstance(wanted, str) else bool(value) is wanted

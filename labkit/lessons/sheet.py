"""The mark sheet: what was given for what, why, and the evidence. A value; three ways to write it down."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from labkit.bench import Trace

__all__ = ["SHEET_SCHEMA", "Evidence", "MarkLine", "MarkSheet", "Verdict", "sheet_json", "sheet_text"]

SHEET_SCHEMA = 1

Verdict = Literal["right", "partly right", "wrong", "no answer", "cannot be read", "cannot be decided", "note"]

# What no simulated bench can show; printed on every sheet.
_LIMITS = (
    "Marked from a simulated bench. Not modelled: heat, smell, torque on a screw, arcs, the mains side of the motor. "
    "Work on real equipment is signed off on real equipment, under the local codes and the person in charge."
)


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the reason was read from.

    Parameters
    ----------
    caption
        One line over the drawing.
    signals
        Names of the recorded signals that show it, in drawing order.
    start_us, end_us
        The part of the recording that matters.
    zero_us
        The moment that the reason counts from.
    marks
        Moments to mark: microseconds and a word.
    stimulus
        Rows that play it again at a bench of this variant, ``bench.play(stimulus)``.
    program
        The program that was loaded, where it was the student's own.
    text
        A slip's line with its caret, or a meter reading.
    trace
        The recording itself, for drawing; not part of the sheet's bytes beyond `signals`.
    """

    caption: str
    signals: tuple[str, ...] = ()
    start_us: int = 0
    end_us: int = 0
    zero_us: int = 0
    marks: tuple[tuple[int, str], ...] = ()
    stimulus: tuple[Mapping[str, Any], ...] = ()
    program: str = ""
    text: str = ""
    trace: Trace | None = field(default=None, repr=False, compare=False)

    def changes(self) -> dict[str, list[tuple[int, Any]]]:
        """Each signal's value at the start of the span and its changes inside it."""
        if self.trace is None:
            return {}
        found: dict[str, list[tuple[int, Any]]] = {}
        for name in self.signals:
            signal = self.trace.signal(name)
            inside = [(t, _plain(value)) for t, value in signal.changes if self.start_us < t <= self.end_us]
            found[name] = [(self.start_us, _plain(signal.at(self.start_us))), *inside]
        return found


@dataclass(frozen=True, slots=True)
class MarkLine:
    """One rubric line with its verdict.

    Parameters
    ----------
    task, line
        Ids.
    title
        What was looked at.
    points, out_of
        Given, and possible.
    critical
        Whether the lesson cannot be passed without it.
    verdict
        One of seven words.
    reason
        One sentence of physical reason (or what is missing).
    evidence
        Where it can be seen, if there is something to see.
    """

    task: str
    line: str
    title: str
    points: float
    out_of: float
    critical: bool
    verdict: Verdict
    reason: str
    evidence: Evidence | None = None


@dataclass(frozen=True, slots=True)
class MarkSheet:
    """The marks of one hand-in.

    Parameters
    ----------
    lesson, title, edition, digest
        The lesson, and what its files were at the time of marking.
    student, attempt, seed, bench
        Whose it is; `bench` describes the variant in one line.
    pass_percent
        What passes, if every critical line is right too.
    lines
        Rubric lines in the lesson's order.
    tasks
        Task id to title.
    flags
        What a person should look at: a seed that is not this student's, an unknown task.
    """

    lesson: str
    title: str
    edition: int
    digest: str
    student: str
    attempt: int
    seed: str
    bench: str
    pass_percent: float
    lines: tuple[MarkLine, ...]
    tasks: Mapping[str, str] = field(default_factory=dict)
    flags: tuple[str, ...] = ()

    @property
    def points(self) -> float:
        """Points given."""
        return sum(line.points for line in self.lines)

    @property
    def out_of(self) -> float:
        """Points possible."""
        return sum(line.out_of for line in self.lines)

    @property
    def percent(self) -> float:
        """Points given, in percent of the possible; rounded to a tenth."""
        return round(100 * self.points / self.out_of, 1) if self.out_of else 0.0

    @property
    def missing(self) -> tuple[str, ...]:
        """Ids of the tasks without an answer, in the lesson's order."""
        return tuple(dict.fromkeys(line.task for line in self.lines if line.verdict == "no answer"))

    @property
    def critical_failed(self) -> tuple[MarkLine, ...]:
        """Critical lines that are not right."""
        return tuple(line for line in self.lines if line.critical and line.verdict != "right")

    @property
    def passed(self) -> bool:
        """Enough points, and every critical line right."""
        return not self.critical_failed and 100 * self.points >= self.pass_percent * self.out_of

    @property
    def verdict(self) -> str:
        """``passed``, or what is between this and a pass, in one line."""
        if self.passed:
            return "passed"
        if self.critical_failed:
            lines = "; ".join(line.title for line in self.critical_failed[:3])
            more = len(self.critical_failed) - 3
            return f"not passed: must be right: {lines}" + (f" and {more} more" if more > 0 else "")
        return f"not passed: {self.percent:g} % of {self.pass_percent:g} %"

    def line(self, line_id: str) -> MarkLine:
        """The line of this id.

        Raises
        ------
        KeyError
            If the lesson has none.
        """
        found = next((line for line in self.lines if line.line == line_id), None)
        if found is None:
            raise KeyError(line_id)
        return found

    def for_task(self, task_id: str) -> tuple[MarkLine, ...]:
        """The lines of one task."""
        return tuple(line for line in self.lines if line.task == task_id)

    def to_json(self) -> str:
        """The sheet as a JSON document: the same bytes for the same marks."""
        return sheet_json(self)

    def to_text(self) -> str:
        """The sheet as plain text, 100 columns wide."""
        return sheet_text(self)

    def to_html(self) -> str:
        """The sheet as one self-contained page that prints."""
        from labkit.lessons._html import sheet_html

        return sheet_html(self)

    def __str__(self) -> str:
        return self.to_text()

    def _repr_html_(self) -> str:
        from labkit.lessons._html import sheet_html

        return sheet_html(self, page=False)


def sheet_json(sheet: MarkSheet) -> str:
    """See :meth:`MarkSheet.to_json`."""
    document = {
        "schema": SHEET_SCHEMA,
        "kind": "labkit mark sheet",
        "lesson": sheet.lesson,
        "title": sheet.title,
        "edition": sheet.edition,
        "digest": sheet.digest,
        "student": sheet.student,
        "attempt": sheet.attempt,
        "seed": sheet.seed,
        "bench": sheet.bench,
        "points": _number(sheet.points),
        "out_of": _number(sheet.out_of),
        "percent": _number(sheet.percent),
        "passed": sheet.passed,
        "verdict": sheet.verdict,
        "missing": list(sheet.missing),
        "flags": list(sheet.flags),
        "limits": _LIMITS,
        "lines": [_line_document(line) for line in sheet.lines],
    }
    return json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _line_document(line: MarkLine) -> dict[str, Any]:
    document: dict[str, Any] = {
        "task": line.task,
        "line": line.line,
        "title": line.title,
        "points": _number(line.points),
        "out_of": _number(line.out_of),
        "critical": line.critical,
        "verdict": line.verdict,
        "reason": line.reason,
    }
    if line.evidence is not None:
        document["evidence"] = {
            "caption": line.evidence.caption,
            "text": line.evidence.text,
            "zero_us": line.evidence.zero_us,
            "span_us": [line.evidence.start_us, line.evidence.end_us],
            "marks": [list(mark) for mark in line.evidence.marks],
            "signals": line.evidence.changes(),
            "program": line.evidence.program,
            "stimulus": [dict(row) for row in line.evidence.stimulus],
        }
    return document


def sheet_text(sheet: MarkSheet) -> str:
    """See :meth:`MarkSheet.to_text`."""
    out = [
        f"{sheet.title} - {sheet.student}, attempt {sheet.attempt}",
        f"{sheet.points:g} of {sheet.out_of:g} points ({sheet.percent:g} %), {sheet.verdict}",
        f"bench: {sheet.bench}",
    ]
    out += [f"LOOK: {flag}" for flag in sheet.flags]
    if sheet.missing:
        out.append("no answer to: " + ", ".join(sheet.tasks.get(task, task) for task in sheet.missing))
    task = None
    for line in sheet.lines:
        if line.task != task:
            task = line.task
            out += ["", sheet.tasks.get(task, task)]
        got = "   -  " if line.verdict == "note" else f"{line.points:>3g}/{line.out_of:g}".ljust(6)
        star = "*" if line.critical else " "
        out.append(f"  {got}{star} {line.title}: {line.verdict}")
        out += textwrap.wrap(line.reason, 88, initial_indent=" " * 11, subsequent_indent=" " * 11)
        if line.evidence is not None and line.evidence.text:
            out += [f"{'':11}| {row}" for row in line.evidence.text.split("\n")]
    out += ["", "* must be right to pass", *textwrap.wrap(_LIMITS, 98)]
    return "\n".join(out) + "\n"


def _number(value: float) -> float | int:
    return int(value) if value == int(value) else round(value, 3)


def _plain(value: Any) -> Any:
    return round(value, 4) if isinstance(value, float) else value

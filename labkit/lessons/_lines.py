"""One rubric line of a mark sheet, and sentences for it: what every kind of task's marking uses."""

from __future__ import annotations

from collections.abc import Iterable

from labkit.lessons._document import RubricLine, Task
from labkit.lessons.sheet import Evidence, MarkLine, Verdict
from labkit.lessons.variants import Variant

__all__ = ["listed", "mark_line", "part_line", "sentences"]


def mark_line(
    variant: Variant,
    task: Task,
    line: RubricLine,
    verdict: Verdict,
    reason: str,
    *,
    points: float | None = None,
    evidence: Evidence | None = None,
) -> MarkLine:
    """A line with all of its points where it is right, else none, or as many as are given."""
    if verdict == "right" and not reason and task.kind != "program":
        reason = variant.fill(task.why)  # an explanation teaches more than a tick
    given = (line.points if verdict == "right" else 0.0) if points is None else points
    if line.kind == "note" and verdict not in ("no answer", "cannot be read"):
        verdict = "note"
    return MarkLine(
        task=task.id,
        line=line.id,
        title=variant.fill(line.title),
        points=given,
        out_of=line.points,
        critical=line.critical,
        verdict=verdict,
        reason=reason,
        evidence=evidence,
    )


def part_line(
    variant: Variant,
    task: Task,
    line: RubricLine,
    reason: str,
    *,
    right: int,
    of: int,
    empty: int = 0,
    evidence: Evidence | None = None,
) -> MarkLine:
    """A line with points in proportion; the lesson's own sentence if all is right."""
    if right == of:
        return mark_line(variant, task, line, "right", variant.fill(line.right) or reason)
    verdict: Verdict = "no answer" if empty == of else "partly right" if right else "wrong"
    points = round(line.points * right / of, 2)
    return mark_line(variant, task, line, verdict, reason, points=points, evidence=evidence)


def sentences(*parts: str) -> str:
    """Error texts as sentences: each with a capital and a full stop, or the question mark that it has."""
    whole = (part if part.endswith("?") else f"{part.rstrip('.')}." for part in parts if part)
    return " ".join(f"{part[0].upper()}{part[1:]}" for part in whole)


def listed(parts: Iterable[str]) -> str:
    """``a, b and c``."""
    *most, last = parts
    return f"{', '.join(most)} and {last}" if most else last

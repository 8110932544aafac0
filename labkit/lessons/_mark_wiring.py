"""Marking a wiring by what it does: any that is electrically right passes, whatever its routing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from labkit.base import LabkitError
from labkit.board import Board, Finding, Wiring, check_wiring, conductors
from labkit.lessons._document import RubricLine, WiringTask
from labkit.lessons._forms import wires_of
from labkit.lessons._lab import Lab
from labkit.lessons._lines import listed, mark_line, part_line, sentences
from labkit.lessons._points import PointSeen, devices_of, work_points
from labkit.lessons._truth import Truth
from labkit.lessons.sheet import Evidence, MarkLine

__all__ = ["asked_points", "mark_wiring"]

_MOST = 3  # findings told in one reason; the evidence has them all
_DEAD_V = 0.5
_AGAIN = "Begin again at a bare bench, with prove, test, prove: restart the kernel, or take lesson.fresh_bench()."
_TOUCH = ("wire", "unwire", "rewire", "lift", "land", "join", "unjoin")


def asked_points(lab: Lab, task: WiringTask) -> tuple[str, ...]:
    """The points that the task is about."""
    return tuple(lab.variant.fill(p) for p in task.points) or devices_of(lab.board.points)


def mark_wiring(truth: Truth, task: WiringTask, tidy: Mapping[str, Any]) -> list[MarkLine]:
    """The rubric lines of a wiring task."""
    board, variant = truth.lab.board, truth.lab.variant
    wiring = wires_of(tidy)
    kept, slips = _landed(board, wiring)
    blocks = dict(tidy.get("blocks", {}))
    seen: dict[str, PointSeen] | None = None
    lines = []
    for line in task.rubric:
        if line.kind == "readable":
            if slips:
                evidence = Evidence("wires that cannot be there", text="\n".join(slips))
                lines.append(mark_line(variant, task, line, "wrong", sentences(*slips[:_MOST]), evidence=evidence))
            else:
                right = variant.fill(line.right) or f"All {len(wiring)} wires can be landed."
                lines.append(mark_line(variant, task, line, "right", right))
        elif line.kind == "points":
            seen = _worked(truth, task, kept, blocks) if seen is None else seen
            lines.append(_mark_points(truth, task, line, seen))
        elif line.kind == "findings":
            lines.append(_mark_findings(truth, task, line, kept))
        else:
            lines.append(_mark_dead_first(truth, task, line, tidy.get("log")))
    return lines


def _landed(board: Board, wiring: Wiring) -> tuple[Wiring, list[str]]:
    """The wires that can be there, and a sentence for each that cannot."""
    kept, slips, taken = [], [], set()
    for wire in wiring:
        unknown = [end for end in (wire.a, wire.b) if end not in board.terminals]
        if unknown:
            what, try_this = board.about_unknown(unknown[0])
            slips.append(f"wire {wire.no}: {what} {try_this}".strip())
        elif wire.no in taken:
            slips.append(f"number {wire.no} is on two wires; only the first is taken")
        elif wire.a == wire.b:
            slips.append(f"both ends of wire {wire.no} are on {wire.a}")
        elif wire.mm2 not in conductors().sizes(wire.conductor_class):
            sizes = sorted(conductors().sizes(wire.conductor_class), key=lambda size: abs(size - wire.mm2))
            near = " or ".join(f"{size:g}" for size in sorted(sizes[:2]))
            slips.append(f"wire {wire.no}: no conductor is made in {wire.mm2:g} mm2; take {near} mm2")
        else:
            taken.add(wire.no)
            kept.append(wire)
    return Wiring(tuple(kept)), slips


def _worked(truth: Truth, task: WiringTask, wiring: Wiring, blocks: Mapping[str, str]) -> dict[str, PointSeen]:
    try:
        bench = truth.lab.benches.wired(wiring, blocks)
    except LabkitError as exc:
        why = sentences(exc.what, exc.try_this)
        points = truth.lab.board.points
        return {
            name: PointSeen(name, points[name].tag, False, "not seen", why) for name in asked_points(truth.lab, task)
        }
    return work_points(bench)


def _mark_points(truth: Truth, task: WiringTask, line: RubricLine, seen: Mapping[str, PointSeen]) -> MarkLine:
    variant = truth.lab.variant
    asked = asked_points(truth.lab, task)
    wrong = [seen[name] for name in asked if not seen[name].ok]
    evidence = Evidence("each device worked once", text="\n".join(seen[name].text for name in asked))
    told = sentences(*dict.fromkeys(point.why for point in wrong[:_MOST]))
    reason = f"{len(asked) - len(wrong)} of {len(asked)} points work. {told}"
    if len(wrong) > _MOST:
        reason += f" Also {listed(w.point for w in wrong[_MOST:])}."
    return part_line(variant, task, line, reason, right=len(asked) - len(wrong), of=len(asked), evidence=evidence)


def _mark_findings(truth: Truth, task: WiringTask, line: RubricLine, wiring: Wiring) -> MarkLine:
    lab, variant = truth.lab, truth.lab.variant
    channel = lab.bench().family.inputs.type_no
    found = check_wiring(lab.board, wiring, input_type=channel)
    bad = [f for f in found if f.severity != "advice"]
    advice = [f for f in found if f.severity == "advice"]
    said = sentences(*(f"advice: {f.what}" for f in advice[:_MOST]))
    if not bad:
        right = variant.fill(line.right) or "Nothing is wrong with this wiring."
        return mark_line(variant, task, line, "right", f"{right} {said}".strip())
    reason = sentences(*(part for f in bad[:_MOST] for part in (_told(f), f.try_this)))
    if len(bad) > _MOST:
        reason += f" And {len(bad) - _MOST} more."
    text = "\n".join(f"{f.severity}: {_told(f)}" for f in found)
    return mark_line(
        variant, task, line, "wrong", f"{reason} {said}".strip(), evidence=Evidence("what a check finds", text=text)
    )


def _told(finding: Finding) -> str:
    """What is wrong, with its terminal where the sentence does not name it."""
    return finding.what if finding.terminal in finding.what else f"{finding.terminal}: {finding.what}"


def _mark_dead_first(truth: Truth, task: WiringTask, line: RubricLine, log: list[dict[str, Any]] | None) -> MarkLine:
    """Before the first conductor is touched the board is off and was measured dead; none is touched live."""
    variant = truth.lab.variant
    if log is None:
        reason = "The answer holds no log of the bench, so nobody can see it: hand in the bench itself."
        return mark_line(variant, task, line, "wrong", reason)
    power = False
    shown: list[str] = []  # what the meter has shown since the power went off: the known source, nothing, something
    for entry in log:
        if entry["do"] == "power":
            power, shown = bool(entry.get("on")), [s for s in shown if s == "source"]
        elif entry["do"] == "read" and entry.get("mode") == "volts" and not power:
            shown.append(_kind_of(entry))
        elif entry["do"] in _TOUCH:
            why = _too_early(power, shown)
            if why:
                at = f"The first conductor was touched at {entry['at_ms'] / 1000:g} s ({entry['do']})"
                return mark_line(variant, task, line, "wrong", f"{at} {why} {_AGAIN}")
            break
    touched_live = _touched_live(log)
    if touched_live:
        return mark_line(variant, task, line, "wrong", f"{touched_live} {_AGAIN}")
    if not any(entry["do"] in _TOUCH for entry in log):
        reason = "The log shows no conductor being touched, so nothing can be said: land the wires at the bench."
        return mark_line(variant, task, line, "wrong", reason)
    return mark_line(
        variant,
        task,
        line,
        "right",
        variant.fill(line.right) or "Proved, measured dead, proved again, and only then touched.",
    )


def _kind_of(entry: Mapping[str, Any]) -> str:
    """What a reading of volts says: the known source, nothing there, or something."""
    value = entry.get("value")
    if str(entry.get("red", "")).startswith("unit"):
        return "source"
    return "dead" if isinstance(value, int | float) and abs(value) < _DEAD_V else "live"


def _too_early(power: bool, shown: list[str]) -> str:
    """Why a conductor must not be touched yet: prove, test, prove."""
    if power:
        return "with the supply on."
    if "dead" not in shown:
        return "before any reading had shown 0 V: off is not dead."
    first = shown.index("dead")
    if "source" not in shown[:first] or "source" not in shown[first:]:
        return "and the meter was not tried on a known source before and after: a broken meter shows 0 V as well."
    return ""


def _touched_live(log: list[dict[str, Any]]) -> str:
    power = False
    for entry in log:
        if entry["do"] == "power":
            power = bool(entry.get("on"))
        elif entry["do"] in _TOUCH and power:
            return f"A conductor was touched at {entry['at_ms'] / 1000:g} s ({entry['do']}) with the supply on."
    return ""

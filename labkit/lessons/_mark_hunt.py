"""Marking hunts by the faults room, and the question whether a fault alone could explain what was seen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from textwrap import wrap
from typing import Any

from labkit.base import LabkitError
from labkit.bench import VERBS, Bench, Done, Stimulus
from labkit.bench.meter import MODES
from labkit.faults import Fault, LiveHunt, mark_hunt
from labkit.lessons._document import CouldExplainTask, HuntTask, Look, RubricLine
from labkit.lessons._forms import done_of
from labkit.lessons._lab import Lab
from labkit.lessons._lines import mark_line, sentences
from labkit.lessons._looks import Seen, place
from labkit.lessons._truth import Truth
from labkit.lessons.errors import LessonError
from labkit.lessons.sheet import Evidence, MarkLine, Verdict

__all__ = [
    "ABOUT",
    "ANSWERS",
    "card_of",
    "could_explain",
    "live_hunt",
    "mark_explains",
    "mark_hunted",
    "search_log",
    "suspects_of",
]

ANSWERS = ("possible", "impossible")

_MOST = 3  # wrong ones that are told in one reason

# rubric kind -> what the faults room calls its line
ABOUT = {
    "location": "location",
    "cause": "cause",
    "method": "method",
    "telling": "readings that tell",
    "inference": "inference",
    "predictions": "prediction",
    "swaps": "no swapping on suspicion",
    "safety": "safety",
    "retest": "tested again",
}


# without one of these nobody was at the bench: safe, for who does nothing hurts nobody, and no merit
_WORK = frozenset({"read", "note", "repair", "swap"})

# entries that tell of seeing or thinking, and the word that each must have
_TOLD = {"note": "what", "strike": "suspect", "repair": "location", "unsafe": "act"}


# the hunt -----------------------------------------------------------------------------------------
def live_hunt(lab: Lab, task: HuntTask) -> LiveHunt:
    """The hunt of this variant: suspects, the one that is in, and the bench as the student meets it."""
    truth, suspects = lab.benches.hunted(task)

    def fresh() -> Bench:
        return lab.given(task.given, task.program, task.setup)

    return LiveHunt(fresh, suspects, truth.id, solved=lambda fault: lab.benches.solved(task.setup, fault))


def suspects_of(lab: Lab, task: HuntTask | CouldExplainTask) -> tuple[Fault, ...]:
    """What stands on the card, in the catalogue's order."""
    return (lab.benches.hunted(task) if isinstance(task, HuntTask) else lab.benches.explained(task))[1]


def card_of(lab: Lab, task: HuntTask | CouldExplainTask) -> tuple[str, ...]:
    """What was reported and what is seen, line by line."""
    truth = (lab.benches.hunted(task) if isinstance(task, HuntTask) else lab.benches.explained(task))[0]
    lines = [lab.variant.fill(task.card)] if isinstance(task, HuntTask) else []
    for look in task.seen:
        seen = lab.look(look, program=task.program, faults=(truth,))
        lines.append(f"{lab.variant.fill(lab.lesson.run(look.run).title)}: {_told(lab.filled(look), seen)}")
    return tuple(lines)


def _told(look: Look, seen: Seen) -> str:
    return f"{place(look)}: {seen.text}" if look.mode != "volts" else f"{seen.text} with {place(look)}"


def mark_hunted(truth: Truth, task: HuntTask, tidy: Mapping[str, Any]) -> list[MarkLine]:
    """The rubric lines of a hunt."""
    lab, variant = truth.lab, truth.lab.variant
    hunt = live_hunt(lab, task)
    try:
        log = search_log(tidy["log"], hunt.fresh().now_us)
        marking = mark_hunt(hunt, log, named=(tidy["location"], tidy["cause"]))
    except LabkitError as exc:
        reason = sentences(f"the log of this hunt cannot be played: {exc.what}", exc.try_this)
        return [mark_line(variant, task, line, "cannot be read", reason) for line in task.rubric]
    found = {line.about: line for line in marking.lines}
    worked = any(entry.do in _WORK for entry in hunt.own(log))
    evidence: Evidence | None = Evidence("the whole search", text=_wrapped(str(marking)))
    lines = []
    for line in task.rubric:
        made = found.get(ABOUT[line.kind])
        if made is None:  # nobody predicted anything
            lines.append(mark_line(variant, task, line, "wrong", "No reading was predicted before it was made."))
            continue
        if not made.most and not worked:
            reason = "Nothing was read, looked at or worked on at the bench, so this line has nothing to show."
            lines.append(mark_line(variant, task, line, "wrong", reason))
            continue
        # lines that can only cost points are right as long as they cost none
        share = (made.points / made.most) if made.most else float(made.points >= 0)
        share = min(1.0, max(0.0, share))
        verdict: Verdict = "right" if share == 1 else "partly right" if share else "wrong"
        reason = sentences(made.reason)
        if verdict == "right" and line.right:
            reason = f"{variant.fill(line.right)} {reason}"
        points = round(line.points * share, 2)
        lines.append(mark_line(variant, task, line, verdict, reason, points=points, evidence=evidence))
        evidence = None  # once is enough
    return lines


def _wrapped(text: str) -> str:
    """Lines that fit the page; what a line goes on with is indented."""
    return "\n".join(row for line in text.split("\n") for row in wrap(line, 84, subsequent_indent="  "))


def search_log(entries: Iterable[Mapping[str, Any]], start_us: int) -> list[Done]:
    """The log of a search, for replaying; whatever is in it was written by a stranger.

    Raises
    ------
    LabkitError
        If an entry is not one that a bench writes.
    """
    log = done_of(entries, start_us)
    hands = [entry for entry in log if entry.do in VERBS]
    Stimulus.of({"at_ms": entry.t_us / 1000, "do": entry.do, **entry.what} for entry in hands)
    for number, entry in enumerate(log):
        wanted = _TOLD.get(entry.do)
        if entry.do == "read":
            mode = entry.what.get("mode")
            value = entry.what.get("value")
            ends = ("wire",) if mode == "amps" else ("red", "black")
            fine = mode in MODES and all(isinstance(entry.what.get(end), str) for end in ends)
            fine = fine and (value is None or isinstance(value, int | float))
        else:
            fine = entry.do in VERBS or (wanted is not None and wanted in entry.what)
        if not fine:
            raise LessonError(f"entry {number} is nothing that a bench writes", code="lesson-log")
    return log


# could it explain ---------------------------------------------------------------------------------
def could_explain(lab: Lab, task: CouldExplainTask) -> dict[str, tuple[bool, str]]:
    """For each suspect whether it alone shows everything that was seen, and the first look that speaks against it."""
    truth, suspects = lab.benches.explained(task)
    seen = [lab.look(look, program=task.program, faults=(truth,)) for look in task.seen]
    found = {}
    for fault in suspects:
        against = ""
        for look, was in zip(task.seen, seen, strict=True):
            would = lab.look(look, program=task.program, faults=(fault,))
            if would.band != was.band:
                title = lab.variant.fill(lab.lesson.run(look.run).title)
                against = f"{title}, {place(lab.filled(look))}: it would show {would.text}, and {was.text} was seen"
                break
        found[fault.id] = (not against, against)
    return found


def mark_explains(truth: Truth, task: CouldExplainTask, line: RubricLine, tidy: Mapping[str, str]) -> MarkLine:
    """Points for telling the two kinds apart: the share of the possible ones found, less the impossible ones let stand.

    The same word for all of them tells nothing apart and earns nothing, however many of them it fits.
    """
    lab = truth.lab
    found = could_explain(lab, task)
    titles = {fault.id: fault.title for fault in suspects_of(lab, task)}
    wrong = [key for key, (could, _) in found.items() if key in tidy and (tidy[key] == "possible") is not could]
    empty = [key for key in found if key not in tidy]
    parts = []
    if wrong and not empty and len(set(tidy.values())) == 1:
        parts.append("The same word for every fault tells none from another, so it earns nothing.")
    parts += [_judged(titles[key], *found[key]) for key in wrong[:_MOST]]
    if len(wrong) > _MOST:
        parts.append(f"Also judged wrongly: {'; '.join(titles[key] for key in wrong[_MOST:])}.")
    if empty:
        parts.append(f"No answer about {len(empty)} of {len(found)}: {'; '.join(titles[key] for key in empty)}.")
    text = "\n".join(
        f"{titles[key]}: {'possible' if found[key][0] else 'impossible'}; you said {tidy[key]}" for key in wrong
    )
    right = len(found) - len(wrong) - len(empty)
    shares = []
    for kind in (True, False):
        of_kind = [key for key, (could, _) in found.items() if could is kind]
        good = [key for key in of_kind if key not in wrong and key not in empty]
        shares.append(len(good) / len(of_kind) if of_kind else 1.0)
    share = max(0.0, sum(shares) - 1)
    evidence = Evidence("each fault alone on this bench", text=text) if wrong else None
    reason = " ".join(parts)
    if right == len(found):
        return mark_line(lab.variant, task, line, "right", lab.variant.fill(line.right) or reason)
    verdict: Verdict = "no answer" if len(empty) == len(found) else "partly right" if share else "wrong"
    points = round(line.points * share, 2)
    return mark_line(lab.variant, task, line, verdict, reason, points=points, evidence=evidence)


def _judged(title: str, could: bool, against: str) -> str:
    if could:
        return f"{title} is possible: with it alone everything shows as it was seen."
    return f"{title} is impossible: {against}."

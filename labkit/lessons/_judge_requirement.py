"""Rubric lines of kind ``requirement``: everything that can happen is visited; a break is told by its shortest story.

The lesson writes a requirement with its roles' names and says what may happen. One that holds, holds for every press of
every length at every moment, not for some samples. One that fails is played on the student's own bench, where the
reason is read off the recording, as for any other line. One that cannot be decided is said so: nobody loses a point
in silence.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from labkit.base import LabkitError
from labkit.bench import Bench, Stimulus, Trace
from labkit.lessons._alike import Alike
from labkit.lessons._document import RubricLine
from labkit.lessons._explain import Story, explain
from labkit.lessons._judge import Break
from labkit.lessons._lab import Lab, Played
from labkit.lessons._requires import WIRE_AT
from labkit.lessons._steps import Script
from labkit.lessons.errors import LessonError
from labkit.lessons.sheet import Evidence
from labkit.logic import Program
from labkit.verify import (
    Condition,
    Keeps,
    Never,
    Not,
    OnlyAfter,
    Requirement,
    StaysUntil,
    Verdict,
    Whenever,
    prove,
)
from labkit.verify.expressions import holds_in, signals_of

__all__ = ["Decided", "Proofs"]

_AFTER_US = 60_000  # how long a recording goes on after the break
_LEAD_US = 30_000  # how much is drawn before what counts
_SHORT_US = 500_000  # a longer drawing shows no scan any more
_MOST_ROWS = 12


@dataclass(frozen=True, slots=True)
class Decided:
    """What came of a rubric line.

    Parameters
    ----------
    outcome
        ``holds``, ``fails`` or ``undecided``.
    reason
        Why it fails, or what stopped the search; empty where it holds.
    evidence
        The shortest story as a recording, where it fails.
    """

    outcome: Literal["holds", "fails", "undecided"]
    reason: str = ""
    evidence: Evidence | None = None


class Proofs:
    """Proofs on one variant's bench; each question is answered once."""

    def __init__(self, lab: Lab, alike: Alike) -> None:
        self.lab, self.alike = lab, alike
        self._known: dict[tuple[Program, str, tuple[str, ...], int], Verdict] = {}
        self._loaded: dict[Program, Bench] = {}  # a proof only looks at its bench

    @cached_property
    def _model(self) -> Bench:
        return self.lab.bench()

    def decide(self, program: Program, line: RubricLine) -> Decided:
        """Judge a program by the requirements of a rubric line: all must hold; the first that fails is told."""
        open_: Decided | None = None
        for text in line.require:
            key = self.alike.proof_key(text, line, program)
            if self.alike.holds(key):
                continue
            try:
                verdict = self._verdict(program, self._filled(text), line)
            except LabkitError as exc:
                if exc.code.startswith("requirement"):
                    raise LessonError(exc.what, where=f"rubric {line.id}: {text}", code="lesson-requirement") from None
                open_ = open_ or Decided("undecided", f"Whether it does cannot be decided: {exc.what}.")
                continue
            if verdict.outcome == "holds":
                self.alike.once(key, lambda: True)
            elif verdict.outcome == "fails":
                told = self._told(program, verdict)
                if told is not None:
                    return told
                open_ = open_ or Decided(
                    "undecided",
                    "Whether it does cannot be decided: the model finds a break that the bench does not show.",
                )
            elif verdict.outcome == "undecided":
                reason = (
                    f"Whether it always does cannot be decided: the search stopped at {verdict.bound}, "
                    f"{verdict.states} states met and none of them wrong."
                )
                open_ = open_ or Decided("undecided", reason)
        return open_ or Decided("holds")

    def _filled(self, text: str) -> str:
        """A requirement or a thing with this variant's names and wire numbers."""
        return WIRE_AT.sub(lambda found: f"wire:{self.lab.wire_at(found[1])}", self.lab.variant.fill(text))

    def _verdict(self, program: Program, text: str, line: RubricLine) -> Verdict:
        may = tuple(self._filled(thing) for thing in line.may)
        key = (program, text, may, line.most_states)
        if key not in self._known:
            if program not in self._loaded:
                self._loaded[program] = self._model.again()
                self._loaded[program].load(program)
            bench = self._loaded[program]
            self._known[key] = prove(bench, text, may=may or None, most_states=line.most_states)
        return self._known[key]

    # the story ------------------------------------------------------------------------------------
    def _told(self, program: Program, verdict: Verdict) -> Decided | None:
        """The reason and its evidence; None if the bench does not break where the model does."""
        story = verdict.story
        if story is None or not story.replayed or story.stimulus is None or story.broken_us is None:
            return None
        played = self._play(program, story.stimulus, story.broken_us)
        inputs = {point.tag for point in self.lab.board.points.values() if point.direction == "input"}
        broken = _break(verdict, played, inputs, self._model.scan_period_us, story.broken_us)
        steps = "; then ".join(", ".join(moment.done) for moment in story.moments if moment.done)
        way = f"{steps[0].upper()}{steps[1:]}" if steps else "Nobody does anything"
        scans = f"scan {story.scans}"
        if broken is None:
            reason, told = f"{way}: in {scans} it does not hold that {verdict.requirement}.", None
        else:
            told = explain(self.lab, played, broken)
            reason = f"{way}: broken in {scans}. {told.sentence}"
        return Decided("fails", reason, self._evidence(verdict, played, told, story.broken_us))

    def _play(self, program: Program, stimulus: Stimulus, broken_us: int) -> Played:
        bench = self._model.again()
        bench.load(program)
        with bench.record() as trace:
            bench.play(stimulus)
            bench.wait_until(max(bench.now_us, broken_us) + _AFTER_US)
        up = next((t for t, value in trace.signals["mode:A1"].changes if value == "run"), 0)
        return Played(Script(stimulus, {"setup": 0, "start": up, "end": bench.now_us}), trace, program)

    def _evidence(self, verdict: Verdict, played: Played, told: Story | None, broken_us: int) -> Evidence:
        trace = played.trace
        assert verdict.story is not None
        start = _from(trace, broken_us)
        rows = [name for c in verdict.requirement.conditions for s in signals_of(c) for name in _rows(s, trace)]
        hands = [(f"pos:{e.what['part']}", e.do) for e in trace.events if "part" in e.what]
        moved = [
            name
            for name, do in hands
            if name in trace.signals and (do != "breaker" or trace.signals[name].changes[-1][0] > start)
        ]
        shown = list(dict.fromkeys([*moved, *(told.signals if told else ()), *rows]))
        marks = [mark for mark in (told.marks if told else ()) if mark[1] == "decided here"]
        return Evidence(
            caption=f"The shortest way to break it: {verdict.requirement}",
            signals=tuple(shown[:_MOST_ROWS]),
            start_us=start,
            end_us=min(trace.end_us, broken_us + _AFTER_US),
            zero_us=played.script.marks["start"],
            marks=(*marks, (broken_us, "broken")),
            stimulus=tuple(step.as_dict() for step in played.script.stimulus.steps),
            program=played.program.text,
            text=str(verdict.story),
            trace=trace,
        )


def _from(trace: Trace, broken_us: int) -> int:
    """Where the drawing begins: when the controller came up, or before its supply went if that is part of it."""
    mode = [change for change in trace.signals["mode:A1"].changes if change[0] <= broken_us]
    runs = [t for t, value in mode if value == "run"]
    if len(runs) > 1:
        return max(runs[0] - _LEAD_US, 0)
    begin = (runs[0] if runs else 0) - _LEAD_US
    return max(begin, broken_us - _SHORT_US, 0)


def _rows(signal: str, trace: Trace) -> list[str]:
    """The recorded signal behind a requirement's, if there is one."""
    name = signal if ":" in signal else f"bit:{signal}"
    return [name] if name in trace.signals else []


def _break(verdict: Verdict, played: Played, inputs: set[str], scan_us: int, broken_us: int) -> Break | None:
    """The one signal that would have to be otherwise, and when it became what it should not be."""
    asked, story = verdict.requirement, verdict.story
    assert story is not None
    wanted = _wanted(asked)
    if wanted is None:
        return None
    blamed = _blamed(wanted, story.moments[-1].view, inputs)
    if blamed is None or blamed not in played.trace.signals:
        return None
    signal = played.trace.signals[blamed]
    value = bool(signal.at(broken_us))
    event = max((done.t_us for done in played.trace.events if done.t_us <= broken_us), default=0)
    since = max((t for t, v in signal.changes if t <= broken_us and bool(v) is value), default=0)
    moment = since if since > broken_us - scan_us else broken_us
    if isinstance(asked, Whenever) and asked.within > 0:  # counted from its cause, not from what a hand did before
        event = broken_us - (asked.within if asked.unit == "scans" else asked.within * 1000 // scan_us) * scan_us
        return Break(blamed, not value, moment, "late", event, broken_us)
    return Break(blamed, not value, moment, "lost", event, broken_us)


def _wanted(asked: Requirement) -> Condition | None:
    """What should have been so at the break."""
    if isinstance(asked, Never):
        return Not(asked.bad)
    if isinstance(asked, Whenever | Keeps):
        return asked.effect
    if isinstance(asked, OnlyAfter):
        return Not(asked.event)
    return asked.lasting if isinstance(asked, StaysUntil) else None


def _blamed(wanted: Condition, view: Mapping[str, int], inputs: set[str]) -> str | None:
    """The recorded signal whose other value would have made it so; what the program or the machine does comes first."""
    names = signals_of(wanted)
    order = {name: i for i, name in enumerate(names)}
    holds = holds_in(wanted, order)
    now = [view[name] for name in names]
    able = []
    for i, name in enumerate(names):
        other = [*now]
        other[i] = 1 - now[i]
        if holds(other) and name.partition(":")[0] not in ("pos", "wire", "panel", "weld", "back", "run"):
            able.append(name)
    able.sort(key=lambda name: name in inputs)
    return None if not able else able[0] if ":" in able[0] else f"bit:{able[0]}"

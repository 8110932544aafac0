"""Marking a search for its method: what was found, how, and what it would have cost on a real board.

The suspects are those that fit the log so far; a right name that the readings do not lead to earns little. The
points are our own choice, no source.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from labkit.base import did_you_mean
from labkit.faults.catalogue import Fault
from labkit.faults.diagnosis import Search, Tree, from_dictionary
from labkit.faults.dictionary import FaultDictionary
from labkit.faults.errors import FaultError

__all__ = ["Entry", "Hunt", "Line", "Marking", "equally_hard", "hunts", "mark"]

UNFOUNDED = 0.25  # the part of the points that a right name earns without the readings that lead to it


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that a student did in a search.

    Parameters
    ----------
    do
        ``"read"`` a test, ``"strike"`` a suspect off the list, ``"swap"`` a part or wire, do something
        ``"unsafe"``, ``"name"`` the fault, ``"retest"`` after the repair.
    what
        The test's id, the suspect's id, the location swapped or named, what was unsafe, or what was tested
        again: ``"function"`` or ``"stop"``.
    shown, predicted
        Of a reading: the band shown and the band that the student had said.
    cause
        Of a name: what is wrong there.
    """

    do: Literal["read", "strike", "swap", "unsafe", "name", "retest"]
    what: str
    shown: str = ""
    predicted: str = ""
    cause: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a marking: points, of how many, and why."""

    about: str
    points: float
    most: float
    reason: str


@dataclass(frozen=True, slots=True)
class Marking:
    """All lines of a marking."""

    lines: tuple[Line, ...]

    @property
    def percent(self) -> float:
        """The mark: 0 to 100."""
        most = sum(line.most for line in self.lines)
        return max(0.0, 100.0 * sum(line.points for line in self.lines) / most)

    def __str__(self) -> str:
        rows = [f"{line.about}: {line.points:g} of {line.most:g}. {line.reason}" for line in self.lines]
        return "\n".join([*rows, f"mark: {self.percent:.0f} %"])


@dataclass(frozen=True)
class Hunt:
    """A fault to be found among suspects.

    Parameters
    ----------
    dictionary
        What each suspect shows.
    suspects
        Ids of the faults that the card leaves open.
    truth
        Id of the one that is in.
    """

    dictionary: FaultDictionary
    suspects: tuple[str, ...]
    truth: str

    @cached_property
    def search(self) -> Search:
        """The search among the suspects, in minutes."""
        return from_dictionary(self.dictionary, self.suspects)

    @cached_property
    def best(self) -> Tree:
        """The best strategy."""
        return self.search.strategy()

    @property
    def fault(self) -> Fault:
        """The fault that is in."""
        return self.named(self.truth)

    def named(self, name: str) -> Fault:
        """A fault by its id.

        Raises
        ------
        FaultError
            If there is no such fault in the dictionary.
        """
        found = next((f for f in self.dictionary.faults if f.id == name), None)
        if found is None:
            raise FaultError(
                f"there is no suspect {name}",
                where=name,
                try_this=did_you_mean(name, self.suspects),
                code="fault-unknown",
            )
        return found

    def show(self, test: str) -> str:
        """What a test shows on the faulty board."""
        return self.dictionary.outcome(self.truth, test)

    def left(self, log: Sequence[Entry]) -> tuple[str, ...]:
        """The suspects that fit every reading of a log."""
        seen = {entry.what: entry.shown for entry in log if entry.do == "read"}
        return tuple(name for name in self.suspects if self.dictionary.explains(name, seen))

    @property
    def difficulty(self) -> float:
        """Minutes that the best strategy takes until this truth is found."""
        return next(cost for names, cost, _ in self.best.leaves() if self.truth in names)

    @cached_property
    def alike(self) -> frozenset[str]:
        """The suspects that no test tells from the truth."""
        return frozenset(next(names for names, _, _ in self.best.leaves() if self.truth in names))

    def minutes(self, log: Sequence[Entry]) -> float:
        """What the readings of a log take."""
        cost = {test.id: test.minutes for test in self.dictionary.tests}
        return sum(cost[entry.what] for entry in log if entry.do == "read")


def hunts(dictionary: FaultDictionary, count: int, *, suspects: int = 10, seed: int = 1) -> tuple[Hunt, ...]:
    """Hunts drawn with a seed: suspects by chance, one of them the truth.

    Raises
    ------
    FaultError
        If the dictionary has not so many suspects.
    """
    chance = random.Random(seed)
    names = [fault.id for fault in dictionary.faults]
    if not 1 <= suspects <= len(names):
        raise FaultError(f"a hunt here has 1 to {len(names)} suspects, not {suspects}", code="fault-value")
    drawn = [tuple(sorted(chance.sample(names, suspects))) for _ in range(count)]
    return tuple(Hunt(dictionary, some, chance.choice(some)) for some in drawn)


def equally_hard(like: Hunt, among: Sequence[Hunt], *, within: float = 0.1) -> tuple[Hunt, ...]:
    """The hunts with another truth and nearly the same difficulty: variants for the next student.

    Parameters
    ----------
    within
        How far the minutes may differ, as a part of those of `like`.
    """
    allowed = within * like.difficulty + 1e-9
    return tuple(h for h in among if h.truth != like.truth and abs(h.difficulty - like.difficulty) <= allowed)


def mark(hunt: Hunt, log: Sequence[Entry]) -> Marking:
    """Mark a log, line by line, each with its reason.

    Raises
    ------
    FaultError
        If the log names a test or a suspect that is not there.
    """
    lines = [*_found(hunt, log), _method(hunt, log), _redundant(hunt, log), _inference(hunt, log)]
    if any(entry.predicted for entry in log):
        lines.append(_prediction(log))
    lines += [_swaps(hunt, log), _safety(log), _again(log)]
    return Marking(tuple(lines))


def _found(hunt: Hunt, log: Sequence[Entry]) -> list[Line]:
    at = next((i for i, entry in enumerate(log) if entry.do == "name"), None)
    if at is None:
        return [Line("location", 0, 2, "no fault was named."), Line("cause", 0, 2, "no fault was named.")]
    named, left = log[at], [hunt.named(name) for name in hunt.left(log[:at])]
    alike = [hunt.named(name) for name in sorted(hunt.alike)]
    places, causes = {f.location for f in alike}, {(f.location, f.cause) for f in alike}
    right = named.what in places
    sure = {f.location for f in left} <= places
    lines = [_name_line("location", right, sure, hunt.fault.location)]
    right = (named.what, named.cause) in causes
    sure = {(f.location, f.cause) for f in left} <= causes
    return [*lines, _name_line("cause", right, sure, hunt.fault.cause)]


def _name_line(about: str, right: bool, sure: bool, truth: str) -> Line:
    if not right:
        return Line(about, 0, 2, f"it was {truth}.")
    if sure:
        return Line(about, 2, 2, "right, and the readings leave nothing else.")
    return Line(about, 2 * UNFOUNDED, 2, "right, but the readings made leave others open: a guess.")


def _method(hunt: Hunt, log: Sequence[Entry]) -> Line:
    start, end = len(hunt.suspects), max(1, len(hunt.left(log)))
    needed = math.log2(start / len(hunt.alike))
    share = 1.0 if needed == 0 else min(1.0, math.log2(start / end) / needed)
    spent = hunt.minutes(log)
    best = hunt.difficulty
    # one minute of grace: the best search for all suspects is not the shortest for this one
    pace = 1.0 if spent <= best + 1.0 else (best + 1.0) / spent
    made = sum(entry.do == "read" for entry in log)
    reason = (
        f"{made} readings in {spent:.1f} minutes cut {start} suspects to {end}; the best search takes"
        f" {best:.1f} minutes and leaves {len(hunt.alike)}."
    )
    return Line("method", round(4 * share * pace, 2), 4, reason)


def _redundant(hunt: Hunt, log: Sequence[Entry]) -> Line:
    wasted, left = [], hunt.suspects
    for i, entry in enumerate(log):
        if entry.do == "read":
            now = hunt.left(log[: i + 1])
            if now == left:
                wasted.append(entry.what)
            left = now
    made = any(entry.do == "read" for entry in log)
    points = max(0.0, 2 - 0.5 * len(wasted)) if made else 0.0
    reason = f"ruled out nobody: {'; '.join(wasted)}." if wasted else "every reading ruled somebody out."
    return Line("readings that tell", points, 2, reason if made else "there was no reading.")


def _inference(hunt: Hunt, log: Sequence[Entry]) -> Line:
    struck = [(i, entry) for i, entry in enumerate(log) if entry.do == "strike"]
    wrong = [entry.what for i, entry in struck if entry.what in hunt.left(log[:i])]
    last = next((i for i, entry in enumerate(log) if entry.do == "name"), len(log))
    named = next((entry for entry in log if entry.do == "name"), None)
    open_names = {(hunt.named(n).location, hunt.named(n).cause) for n in hunt.left(log[:last])}
    reasons = [f"struck off though the readings leave it open: {', '.join(wrong)}."] if wrong else []
    points = 2.0 - len(wrong)
    if named is None:
        points, reasons = min(points, 0.0), [*reasons, "nothing was concluded."]
    elif (named.what, named.cause) not in open_names:
        points, reasons = points - 1, [*reasons, "the fault named is ruled out by the readings made."]
    elif len(open_names) > len(hunt.alike):
        points, reasons = points - 1, [*reasons, f"one was named while {len(open_names)} were open."]
    return Line("inference", max(0.0, points), 2, " ".join(reasons) or "what was concluded follows from the readings.")


def _prediction(log: Sequence[Entry]) -> Line:
    said = [entry for entry in log if entry.do == "read" and entry.predicted]
    right = sum(entry.predicted == entry.shown for entry in said)
    return Line("prediction", round(right / len(said), 2), 1, f"{right} of {len(said)} readings were as predicted.")


def _swaps(hunt: Hunt, log: Sequence[Entry]) -> Line:
    early = [
        entry.what for i, entry in enumerate(log) if entry.do == "swap" and not set(hunt.left(log[:i])) <= hunt.alike
    ]
    reason = f"swapped before it was proved: {', '.join(early)}." if early else "nothing was swapped before proof."
    return Line("no swapping on suspicion", 0.0 - len(early), 0, reason)


def _safety(log: Sequence[Entry]) -> Line:
    acts = [entry.what for entry in log if entry.do == "unsafe"]
    return Line("safety", 0.0 - 2 * len(acts), 0, f"unsafe: {', '.join(acts)}." if acts else "no unsafe act.")


def _again(log: Sequence[Entry]) -> Line:
    at = next((i for i, entry in enumerate(log) if entry.do == "name"), len(log))
    done = {entry.what for entry in log[at:] if entry.do == "retest"}
    missing = [what for what in ("function", "stop") if what not in done]
    reason = f"not tested again after the repair: {' and '.join(missing)}." if missing else "function and stop again."
    return Line("tested again", float(2 - len(missing)), 2, reason)

"""Requirements in a readable form and as records.

Six forms, after the usual patterns of temporal logic (absence, response, bounded persistence, precedence, persistence
and possibility): ``never P``, ``whenever P then Q within 3 scans``, ``whenever P then Q for 3 scans``,
``P only after Q``, ``P stays until Q``, ``P can still be reached``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from labkit.base import did_you_mean, need
from labkit.verify.errors import RequirementError
from labkit.verify.expressions import Condition, _inner, condition, holds_in, signals_of

__all__ = [
    "CanReach",
    "Keeps",
    "Never",
    "OnlyAfter",
    "Requirement",
    "StaysUntil",
    "Whenever",
    "requirement",
]

Watch = Callable[[int, Sequence[int]], tuple[int, bool]]
"""``watch(memory, view) -> (memory, broken)``, once per scan."""


@dataclass(frozen=True, slots=True)
class Never:
    """`bad` is never true (absence; an invariant).

    Examples
    --------
    >>> Never(condition("K1 and K2"))
    never K1 and K2
    """

    bad: Condition
    form: ClassVar[str] = "never"

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """The conditions in it."""
        return (self.bad,)

    @property
    def trigger(self) -> Condition | None:
        """What must come true at all for the requirement to say something."""
        return None

    def watch(self, order: Mapping[str, int], _scan_us: int) -> Watch:
        """The monitor; its memory is always 0."""
        bad = holds_in(self.bad, order)
        return lambda _, view: (0, bad(view))

    def __repr__(self) -> str:
        return f"never {self.bad}"


@dataclass(frozen=True, slots=True)
class Whenever:
    """Each time `cause` is true, `effect` is true in the same scan or at most so much later (response).

    Parameters
    ----------
    cause, effect
        Conditions.
    within
        How many later scans, or milliseconds.
    unit
        ``"scans"`` or ``"ms"``.
    """

    cause: Condition
    effect: Condition
    within: int = 0
    unit: str = "scans"
    form: ClassVar[str] = "whenever"

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """The conditions in it."""
        return (self.cause, self.effect)

    @property
    def trigger(self) -> Condition | None:
        """What must come true at all for the requirement to say something."""
        return self.cause

    def watch(self, order: Mapping[str, int], scan_us: int) -> Watch:
        """The monitor; its memory counts the scans since the oldest unanswered cause."""
        cause, effect = holds_in(self.cause, order), holds_in(self.effect, order)
        most = self.within if self.unit == "scans" else self.within * 1000 // scan_us

        def step(memory: int, view: Sequence[int]) -> tuple[int, bool]:
            if effect(view):
                return 0, False
            if memory or cause(view):
                memory += 1
            return memory, memory > most

        return step

    def __repr__(self) -> str:
        return f"whenever {self.cause} then {self.effect} within {self.within} {self.unit}"


@dataclass(frozen=True, slots=True)
class Keeps:
    """Each time `cause` is true, `effect` is true in the same scan and in so many scans after it (bounded persistence).

    Parameters
    ----------
    cause, effect
        Conditions.
    length
        How many scans after the one of the cause, or milliseconds.
    unit
        ``"scans"`` or ``"ms"``.

    Examples
    --------
    >>> Keeps(condition("not K1"), condition("not K2"), 50, "ms")
    whenever not K1 then not K2 for 50 ms
    """

    cause: Condition
    effect: Condition
    length: int
    unit: str = "scans"
    form: ClassVar[str] = "whenever for"

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """The conditions in it."""
        return (self.cause, self.effect)

    @property
    def trigger(self) -> Condition | None:
        """What must come true at all for the requirement to say something."""
        return self.cause

    def watch(self, order: Mapping[str, int], scan_us: int) -> Watch:
        """The monitor; its memory is for how many more scans the effect is asked for."""
        cause, effect = holds_in(self.cause, order), holds_in(self.effect, order)
        # a part of a scan asks for nothing more: the signals have values at scans only
        length = self.length if self.unit == "scans" else self.length * 1000 // scan_us

        def step(memory: int, view: Sequence[int]) -> tuple[int, bool]:
            left = length + 1 if cause(view) else memory
            return max(left - 1, 0), left > 0 and not effect(view)

        return step

    def __repr__(self) -> str:
        return f"whenever {self.cause} then {self.effect} for {self.length} {self.unit}"


@dataclass(frozen=True, slots=True)
class CanReach:
    """Whatever has happened, there is still some way on which `goal` becomes true (possibility; no dead end).

    Under fair choices, where what may happen again and again does, that is the same as: `goal` comes true again and
    again.

    Examples
    --------
    >>> CanReach(condition("K1"))
    K1 can still be reached
    """

    goal: Condition
    form: ClassVar[str] = "can still be reached"

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """The conditions in it."""
        return (self.goal,)

    @property
    def trigger(self) -> Condition | None:
        """What must come true at all for the requirement to say something."""
        return None

    def __repr__(self) -> str:
        return f"{_inner(self.goal)} can still be reached"


@dataclass(frozen=True, slots=True)
class OnlyAfter:
    """`event` is not true before `first` has been (precedence); with `since`, counted anew each time that is true."""

    event: Condition
    first: Condition
    since: Condition | None = None
    form: ClassVar[str] = "only after"

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """The conditions in it."""
        return (self.event, self.first) if self.since is None else (self.event, self.first, self.since)

    @property
    def trigger(self) -> Condition | None:
        """What must come true at all for the requirement to say something."""
        return self.event if self.since is None else self.since

    def watch(self, order: Mapping[str, int], _scan_us: int) -> Watch:
        """The monitor; its memory is 1 once `first` has been true."""
        event, first = holds_in(self.event, order), holds_in(self.first, order)
        since = holds_in(self.since, order) if self.since is not None else None

        def step(memory: int, view: Sequence[int]) -> tuple[int, bool]:
            if since is not None and since(view):
                memory = 0
            if first(view):
                memory = 1
            return memory, not memory and event(view)

        return step

    def __repr__(self) -> str:
        tail = "" if self.since is None else f" since {self.since}"
        return f"{self.event} only after {self.first}{tail}"


@dataclass(frozen=True, slots=True)
class StaysUntil:
    """Once `lasting` is true it stays so, up to a scan in which `end` is true (persistence)."""

    lasting: Condition
    end: Condition
    form: ClassVar[str] = "stays until"

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """The conditions in it."""
        return (self.lasting, self.end)

    @property
    def trigger(self) -> Condition | None:
        """What must come true at all for the requirement to say something."""
        return self.lasting

    def watch(self, order: Mapping[str, int], _scan_us: int) -> Watch:
        """The monitor; its memory is whether `lasting` was true in the scan before."""
        lasting, end = holds_in(self.lasting, order), holds_in(self.end, order)

        def step(memory: int, view: Sequence[int]) -> tuple[int, bool]:
            now = lasting(view)
            return int(now), bool(memory) and not now and not end(view)

        return step

    def __repr__(self) -> str:
        return f"{self.lasting} stays until {self.end}"


Monitored = Never | Whenever | Keeps | OnlyAfter | StaysUntil
"""The forms that a monitor can judge scan by scan: what breaks them is a run of finite length."""

Requirement = Monitored | CanReach

_FORMS = (
    "never P",
    "whenever P then Q within 3 scans",
    "whenever P then Q for 3 scans",
    "P only after Q",
    "P stays until Q",
    "P can still be reached",
)
_NEVER = re.compile(r"\s*never\b(.*)", re.I | re.S)
_WHENEVER = re.compile(r"\s*whenever\b(.*?)\bthen\b(.*?)(?:\b(within|for)\s+(\S+)\s*(\w*)\s*)?$", re.I | re.S)
_AFTER = re.compile(r"(.*?)\bonly\s+after\b(.*?)(?:\bsince\b(.*))?$", re.I | re.S)
_STAYS = re.compile(r"(.*?)\bstays\s+until\b(.*)", re.I | re.S)
_REACH = re.compile(r"\s*(?:every\b)?(.*?)\bcan\s+still\s+be\s+reached\s*", re.I | re.S)


def requirement(text: str | Requirement) -> Requirement:
    """Read a requirement.

    Raises
    ------
    RequirementError
        If it has none of the six forms, or a condition in it cannot be read.

    Examples
    --------
    >>> requirement("whenever not S1 then not K1 within 1 scans")
    whenever not S1 then not K1 within 1 scans
    >>> requirement("K1 only after S2 since back:A1")
    K1 only after S2 since back:A1
    """
    if not isinstance(text, str):
        kinds = (Never, Whenever, Keeps, OnlyAfter, StaysUntil, CanReach)
        need(text, kinds, "a requirement", "write it as text, such as 'whenever not S1 then not K1 within 2 scans'")
        return text
    if found := _NEVER.fullmatch(text):
        return Never(condition(found[1]))
    if found := _WHENEVER.fullmatch(text):
        number, unit = _length(text, found[3] or "within", found[4], found[5])
        kind = Keeps if (found[3] or "").lower() == "for" else Whenever
        return kind(condition(found[1]), condition(found[2]), number, unit)
    if found := _AFTER.fullmatch(text):
        return OnlyAfter(condition(found[1]), condition(found[2]), condition(found[3]) if found[3] else None)
    if found := _STAYS.fullmatch(text):
        return StaysUntil(condition(found[1]), condition(found[2]))
    if found := _REACH.fullmatch(text):
        return CanReach(condition(found[1]))
    first = text.split()[0] if text.split() else ""
    raise RequirementError(
        "this is none of the six forms of a requirement",
        where=text.strip() or "an empty text",
        try_this=f"{did_you_mean(first.lower(), ('never', 'whenever'), most=0) if first else ''} Write ".lstrip()
        + " or ".join(f"'{form}'" for form in _FORMS),
        code="requirement-form",
    )


def _length(text: str, word: str, number: str | None, unit: str | None) -> tuple[int, str]:
    if number is None:
        return 0, "scans"
    counted = {"scan": "scans", "scans": "scans", "ms": "ms"}.get((unit or "").lower())
    if not number.isdecimal() or counted is None:
        raise RequirementError(
            f"'{word} {number} {unit}'".replace(" '", "'") + " is no length of time",
            where=text.strip(),
            try_this=f"write {word} 3 scans, or {word} 50 ms",
            code="requirement-within",
        )
    return int(number), counted


def signals(asked: Requirement) -> tuple[str, ...]:
    """Every signal that a requirement reads."""
    return tuple(dict.fromkeys(name for c in asked.conditions for name in signals_of(c)))

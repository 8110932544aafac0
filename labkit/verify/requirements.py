"""Requirements in a readable form and as records, and a library of those that motor control always has.

Four forms, after the usual patterns of temporal logic (absence, response, precedence, and persistence):
``never P``, ``whenever P then Q within 3 scans``, ``P only after Q``, ``P stays until Q``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from labkit.base import did_you_mean
from labkit.verify.errors import RequirementError
from labkit.verify.expressions import And, Condition, Not, Or, Sign, condition, holds_in, signals_of

__all__ = [
    "Never",
    "OnlyAfter",
    "Requirement",
    "StaysUntil",
    "Whenever",
    "never_both",
    "no_self_start",
    "requirement",
    "stop_wins",
    "wire_off_stops",
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


Requirement = Never | Whenever | OnlyAfter | StaysUntil

_FORMS = ("never P", "whenever P then Q within 3 scans", "P only after Q", "P stays until Q")
_NEVER = re.compile(r"\s*never\b(.*)", re.I | re.S)
_WHENEVER = re.compile(r"\s*whenever\b(.*?)\bthen\b(.*?)(?:\bwithin\s+(\S+)\s*(\w*)\s*)?$", re.I | re.S)
_AFTER = re.compile(r"(.*?)\bonly\s+after\b(.*?)(?:\bsince\b(.*))?$", re.I | re.S)
_STAYS = re.compile(r"(.*?)\bstays\s+until\b(.*)", re.I | re.S)


def requirement(text: str | Requirement) -> Requirement:
    """Read a requirement.

    Raises
    ------
    RequirementError
        If it has none of the four forms, or a condition in it cannot be read.

    Examples
    --------
    >>> requirement("whenever not S1 then not K1 within 1 scans")
    whenever not S1 then not K1 within 1 scans
    >>> requirement("K1 only after S2 since back:A1")
    K1 only after S2 since back:A1
    """
    if not isinstance(text, str):
        return text
    if found := _NEVER.fullmatch(text):
        return Never(condition(found[1]))
    if found := _WHENEVER.fullmatch(text):
        number, unit = _within(text, found[3], found[4])
        return Whenever(condition(found[1]), condition(found[2]), number, unit)
    if found := _AFTER.fullmatch(text):
        return OnlyAfter(condition(found[1]), condition(found[2]), condition(found[3]) if found[3] else None)
    if found := _STAYS.fullmatch(text):
        return StaysUntil(condition(found[1]), condition(found[2]))
    first = text.split()[0] if text.split() else ""
    raise RequirementError(
        "this is none of the four forms of a requirement",
        where=text.strip() or "an empty text",
        try_this=(did_you_mean(first.lower(), ("never", "whenever"), most=0) + " " if first else "")
        + "Write "
        + " or ".join(f"'{form}'" for form in _FORMS),
        code="requirement-form",
    )


def _within(text: str, number: str | None, unit: str | None) -> tuple[int, str]:
    if number is None:
        return 0, "scans"
    word = {"scan": "scans", "scans": "scans", "ms": "ms"}.get((unit or "").lower())
    if not number.isdecimal() or word is None:
        raise RequirementError(
            f"'within {number} {unit}'".replace(" '", "'") + " is no length of time",
            where=text.strip(),
            try_this="write within 3 scans, or within 50 ms",
            code="requirement-within",
        )
    return int(number), word


def signals(asked: Requirement) -> tuple[str, ...]:
    """Every signal that a requirement reads."""
    return tuple(dict.fromkeys(name for c in asked.conditions for name in signals_of(c)))


# the library ------------------------------------------------------------------------------------------
def stop_wins(output: str = "K1", stop: str = "not S1", *, scans: int = 0) -> Whenever:
    """Whenever stop is asked for, the output is off, whatever else is pressed.

    Examples
    --------
    >>> stop_wins()
    whenever not S1 then not K1 within 0 scans
    """
    return Whenever(condition(stop), Not(Sign(output)), scans)


def no_self_start(output: str = "pole:K1", start: str = "S2", *, lost: str = "back:A1") -> OnlyAfter:
    """After a supply was lost and `output` has dropped, it comes back only once somebody has asked for it.

    `lost` is ``back:A1`` for the controller's own supply, ``not pos:F4`` for an output group's.

    Examples
    --------
    >>> no_self_start(lost="not pos:F4")
    pole:K1 only after S2 since not pos:F4 and not pole:K1
    """
    gone = condition(lost)
    items = gone.items if isinstance(gone, And) else (gone,)
    return OnlyAfter(Sign(output), condition(start), And((*items, Not(Sign(output)))))


def wire_off_stops(wire: str, output: str = "pole:K1", *, scans: int = 4) -> Whenever:
    """A wire that comes off and stays off stops what runs, and keeps it from starting: the closed-circuit principle.

    Examples
    --------
    >>> wire_off_stops("101")
    whenever wire:101=lifted then not pole:K1 or not wire:101=lifted within 4 scans
    """
    lifted = Sign(f"wire:{wire}=lifted")
    return Whenever(lifted, Or((Not(Sign(output)), Not(lifted))), scans)


def never_both(first: str, second: str) -> Never:
    """Two things that must not be on together.

    Examples
    --------
    >>> never_both("pole:K1", "pole:K2")
    never pole:K1 and pole:K2
    """
    return Never(And((Sign(first), Sign(second))))

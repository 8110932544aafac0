"""Calmer hands: one thing at a time, and everything held for a while. Fewer choices, and the verdict says so."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from typing import Any, NamedTuple, Protocol

from labkit.verify._bare import Choice

__all__ = ["Hands"]


class _Free(Protocol):
    """What of a system is asked here: its own choices, one at a time."""

    scan_us: int

    def first(self) -> Any:
        """The state before the first scan."""

    def follow(self, state: Any, choice: Choice) -> tuple[Any, tuple[int, ...]]:
        """What one choice leads to."""

    def assumptions(self) -> tuple[str, ...]:
        """What is taken for granted."""


class _State(NamedTuple):
    """A system's state, where everything is, and for how many scans it has been there (up to the least asked for)."""

    inner: Any
    at: tuple[int, ...]
    ages: tuple[int, ...]


class Hands:
    """A system whose things move as calm hands move them.

    Parameters
    ----------
    system
        With free choices, exact timers.
    places
        How many positions each thing has.
    beside
        What is chosen beside positions (contactor times), each freely.
    one_at_a_time
        From one scan to the next one thing changes at most.
    held_scans
        What has changed stays for so many scans; 1 asks for nothing.
    """

    def __init__(
        self,
        system: _Free,
        places: Sequence[int],
        beside: Sequence[Sequence[int]],
        *,
        one_at_a_time: bool,
        held_scans: int,
    ) -> None:
        self.system, self.places, self.scan_us = system, tuple(places), system.scan_us
        self.one_at_a_time, self.held_scans = one_at_a_time, max(held_scans, 1)
        self._beside = tuple(product(*beside)) if beside else ((),)

    @property
    def combinations(self) -> int:
        """How many choices one scan has, at most."""
        free = 1
        for count in self.places:
            free *= count
        moves = 1 + sum(count - 1 for count in self.places) if self.one_at_a_time else free
        return moves * len(self._beside)

    @property
    def effort(self) -> int:
        """Each choice is one step, and is counted as a transition."""
        return 1

    def first(self) -> _State:
        """Everything at rest, for long enough."""
        rest = tuple(0 for _ in self.places)
        return _State(self.system.first(), rest, tuple(self.held_scans for _ in self.places))

    def after(self, state: _State) -> Iterator[tuple[_State, tuple[int, ...], Choice]]:
        """One scan later, for every choice that calm hands make."""
        met = set()
        for at in self._moves(state):
            ages = tuple(
                1 if new != old else min(age + 1, self.held_scans)
                for new, old, age in zip(at, state.at, state.ages, strict=True)
            )
            for beside in self._beside:
                choice = (*at, *beside)
                inner, view = self.system.follow(state.inner, choice)
                new = _State(inner, at, ages)
                if (new, view) not in met:
                    met.add((new, view))
                    yield new, view, choice

    def _moves(self, state: _State) -> Iterator[tuple[int, ...]]:
        free = [age >= self.held_scans for age in state.ages]
        if self.one_at_a_time:
            yield state.at
            for i, count in enumerate(self.places):
                if free[i]:
                    for place in range(count):
                        if place != state.at[i]:
                            yield (*state.at[:i], place, *state.at[i + 1 :])
            return
        yield from product(
            *(range(count) if may else (at,) for count, may, at in zip(self.places, free, state.at, strict=True))
        )

    def assumptions(self) -> tuple[str, ...]:
        """What is taken for granted, these hands included."""
        said = list(self.system.assumptions())
        if self.one_at_a_time:
            said.append("one thing at a time: from one scan to the next one thing changes at most")
        if self.held_scans > 1:
            ms = self.held_scans * self.scan_us / 1000
            said.append(f"what is changed stays so for {self.held_scans} scans ({ms:g} ms) or more")
        return tuple(said)

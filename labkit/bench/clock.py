"""The bench's clock: a queue of what is due, in whole microseconds.

An entry is ``(time, rank, serial)``: entries of one instant go by rank, entries of one rank in the order in
which they were put in. Nothing here knows what an entry does.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from enum import IntEnum

__all__ = ["FOREVER", "Clock", "Rank", "show_time"]

FOREVER = 1 << 62
"""A time that never comes."""


class Rank(IntEnum):
    """Who goes first at one instant. Timing diagrams depend on this order, so it is part of the promise."""

    DONE = 0
    """What a person does at the bench: a press, a wire lifted, a breaker thrown."""
    ELECTRIC = 1
    """What switches by electricity: an output's switch, a breaker that trips, a supply that comes up."""
    MACHINE = 2
    """What moves: armatures, bouncing contacts."""
    CHANNEL = 3
    """An input channel's filter lets a change through."""
    SCAN = 4
    """A phase of the controller's scan; kept by the engine as a plain loop, not in the queue."""
    LINK = 5
    """Messages from and to operator panels."""
    WATCH = 6
    """Watchers, which see the instant when everything else is done."""


def show_time(t_us: int) -> str:
    """A time for a message: ``1.0374 s``, always exact.

    Examples
    --------
    >>> show_time(1_037_400)
    '1.0374 s'
    >>> show_time(0)
    '0 s'
    """
    whole, part = divmod(t_us, 1_000_000)
    return f"{whole}.{part:06d}".rstrip("0").rstrip(".") + " s"


class Clock:
    """A queue of things due, and the time that has been reached.

    Examples
    --------
    >>> clock, seen = Clock(), []
    >>> late = clock.at(20, Rank.MACHINE, "late", lambda: seen.append("late"))
    >>> _ = clock.at(20, Rank.DONE, "first", lambda: seen.append("first"))
    >>> clock.cancel(late)
    >>> clock.head()
    (20, 0)
    >>> for name, do in clock.take():
    ...     do()
    >>> seen, clock.head()[0] == FOREVER
    (['first'], True)
    """

    __slots__ = ("_heap", "_serial", "_waiting", "now_us")

    def __init__(self) -> None:
        self.now_us = 0
        self._heap: list[tuple[int, int, int]] = []
        self._waiting: dict[int, tuple[str, Callable[[], None]]] = {}
        self._serial = 0

    def at(self, t_us: int, rank: int, name: str, do: Callable[[], None]) -> int:
        """Put `do` into the queue and return a ticket for :meth:`cancel`.

        Raises
        ------
        ValueError
            If `t_us` has already passed.
        """
        if t_us < self.now_us:
            raise ValueError(f"{name} cannot be due at {show_time(t_us)}: it is already {show_time(self.now_us)}")
        self._serial = ticket = self._serial + 1
        self._waiting[ticket] = (name, do)
        heapq.heappush(self._heap, (t_us, int(rank), ticket))
        return ticket

    def cancel(self, ticket: int | None) -> None:
        """Take an entry out again; a ticket that is used up, or None, is no mistake."""
        if ticket is not None:
            self._waiting.pop(ticket, None)

    def head(self) -> tuple[int, int]:
        """``(time, rank)`` of what is due next; ``(FOREVER, 0)`` if nothing is."""
        heap, waiting = self._heap, self._waiting
        while heap:
            entry = heap[0]
            if entry[2] in waiting:
                return entry[0], entry[1]
            heapq.heappop(heap)
        return FOREVER, 0

    def take(self) -> list[tuple[str, Callable[[], None]]]:
        """Move to the next instant and take out everything of its first rank, as ``(name, do)``."""
        t_us, rank = self.head()
        if t_us == FOREVER:
            return []
        self.now_us = t_us
        heap, waiting = self._heap, self._waiting
        due = []
        while heap and heap[0][0] == t_us and heap[0][1] == rank:
            what = waiting.pop(heapq.heappop(heap)[2], None)
            if what is not None:
                due.append(what)
        return due

    def waiting(self) -> tuple[tuple[int, int, str], ...]:
        """What is in the queue, as ``(time, rank, name)`` in the order in which it will come."""
        live = self._waiting
        return tuple((t, rank, live[n][0]) for t, rank, n in sorted(self._heap) if n in live)

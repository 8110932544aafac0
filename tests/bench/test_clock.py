"""The queue: time, then rank, then the order in which entries were put in."""

from __future__ import annotations

import random

import pytest

from labkit.bench.clock import FOREVER, Clock, Rank, show_time


def _run(clock: Clock) -> None:
    while clock.head()[0] != FOREVER:
        for _, do in clock.take():
            do()


def test_ranks_settle_who_goes_first_at_one_instant_and_serials_the_rest() -> None:
    clock, seen = Clock(), []
    entries = [(t, rank, n) for t in (5, 3) for rank in (6, 0, 3, 1) for n in (1, 2)]
    for t, rank, n in entries:
        clock.at(t, rank, "x", lambda e=(t, rank, n): seen.append(e))
    _run(clock)
    assert seen == sorted(entries)


def test_what_is_put_in_by_an_entry_for_the_same_instant_still_comes_at_it(seeded: random.Random) -> None:
    clock, seen = Clock(), []
    clock.at(7, Rank.MACHINE, "a", lambda: clock.at(7, Rank.ELECTRIC, "b", lambda: seen.append(clock.now_us)))
    _run(clock)
    assert seen == [7]


def test_random_entries_with_cancellations_come_as_a_sorted_list_would_give_them(seeded: random.Random) -> None:
    clock, seen, wanted = Clock(), [], []
    for n in range(400):
        entry = (seeded.randrange(50), seeded.randrange(7), n)
        ticket = clock.at(entry[0], entry[1], str(n), lambda e=entry: seen.append(e))
        if seeded.random() < 0.4:
            clock.cancel(ticket)
            clock.cancel(ticket)  # twice is no mistake
        else:
            wanted.append(entry)
    assert [(t, r) for t, r, _ in clock.waiting()] == [e[:2] for e in sorted(wanted)]
    _run(clock)
    assert seen == sorted(wanted)


def test_entries_of_one_rank_are_taken_together() -> None:
    clock = Clock()
    for name in "ab":
        clock.at(1, Rank.MACHINE, name, lambda: None)
    clock.at(1, Rank.CHANNEL, "c", lambda: None)
    assert [[name for name, _ in clock.take()] for _ in range(3)] == [["a", "b"], ["c"], []]


def test_nothing_is_due_in_the_past() -> None:
    clock = Clock()
    clock.at(10, Rank.DONE, "x", lambda: None)
    clock.take()
    with pytest.raises(ValueError, match=r"^K1 cannot be due at 0\.000009 s: it is already 0\.00001 s$"):
        clock.at(9, Rank.DONE, "K1", lambda: None)


@pytest.mark.parametrize(("t", "text"), [(0, "0 s"), (1, "0.000001 s"), (1_500_000, "1.5 s"), (60_000_000, "60 s")])
def test_times_are_shown_exactly(t: int, text: str) -> None:
    assert show_time(t) == text

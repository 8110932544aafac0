"""Scripted students, to see whether the marking tells them apart."""

from __future__ import annotations

import random

from labkit.faults.scoring import Entry, Hunt

__all__ = ["guessing", "half_splitting", "wandering"]

MOST_READINGS = 15  # then a wandering student gives up and names what is left


def half_splitting(hunt: Hunt) -> list[Entry]:
    """Always the test that splits what is left most evenly for its minutes; tests again after the repair."""
    log: list[Entry] = []
    node = hunt.search.greedy(hunt.suspects)
    while node.branches:
        shown = hunt.show(node.test)
        log.append(Entry("read", node.test, shown))
        node = node.branches[shown]
    found = hunt.named(node.suspects[0])
    log += [Entry("strike", name) for name in hunt.suspects if name not in node.suspects]
    return [
        *log,
        Entry("name", found.location, cause=found.cause),
        Entry("retest", "function"),
        Entry("retest", "stop"),
    ]


def wandering(hunt: Hunt, chance: random.Random) -> list[Entry]:
    """Measures here and there until one is left or patience ends; else as careful as the good one."""
    log: list[Entry] = []
    tests = list(hunt.search.tests)
    chance.shuffle(tests)
    for test in tests[:MOST_READINGS]:
        if set(hunt.left(log)) <= hunt.alike:
            break
        log.append(Entry("read", test, hunt.show(test)))
    found = hunt.named(chance.choice(hunt.left(log)))
    return [
        *log,
        Entry("name", found.location, cause=found.cause),
        Entry("retest", "function"),
        Entry("retest", "stop"),
    ]


def guessing(hunt: Hunt, chance: random.Random) -> list[Entry]:
    """One look, then parts are swapped until it seems to work."""
    test = chance.choice(hunt.search.tests)
    log = [Entry("read", test, hunt.show(test))]
    found = hunt.named(chance.choice(hunt.suspects))
    return [*log, Entry("swap", found.location), Entry("name", found.location, cause=found.cause)]

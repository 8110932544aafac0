"""Scripted students at a live bench, to see whether the marking tells them apart."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from labkit.base import ms
from labkit.bench import Bench
from labkit.faults.catalogue import Fault
from labkit.faults.diagnosis import Search, from_dictionary
from labkit.faults.dictionary import FaultDictionary
from labkit.faults.live import LiveHunt, at_band, strike
from labkit.faults.repair import repair
from labkit.faults.situations import Test
from labkit.faults.visits import BOOT, STEP, bring_about, put_back

__all__ = ["LiveStudent", "guess_live", "halve_live", "wander_live"]

MOST_READINGS = 15  # then a wandering student gives up and names what is left
BY_HAND = ("signal wires off", "letting go")  # a dozen wires, a stop watch: not for these students

Named = tuple[str, str]
LiveStudent = Callable[[LiveHunt, FaultDictionary, Bench, random.Random], Named]


def halve_live(hunt: LiveHunt, dictionary: FaultDictionary, bench: Bench, chance: random.Random) -> Named:
    """Always what splits the suspects left most evenly for its minutes; says before what it should show."""
    del chance
    tried: list[str] = []
    left = hunt.left(bench.log)
    while len(left) > 1:
        tree = _search(left, dictionary, tried).greedy()
        if not tree.branches:
            break
        likely = max(tree.branches.items(), key=lambda branch: sum(hunt.named(n).weight for n in branch[1].suspects))
        _make(bench, dictionary, tree.test, likely[0])
        tried.append(tree.test)
        before, left = left, hunt.left(bench.log)
        if left == before:  # this board came to where it is another way than the dictionary's: now the meter alone
            tried += [test.id for test in dictionary.tests if test.kind not in ("volts", "ohms")]
    for fault in hunt.suspects:
        if fault.id not in left:
            strike(bench, fault.id)
    return _mend_and_try(bench, hunt.named(left[0]))


def wander_live(hunt: LiveHunt, dictionary: FaultDictionary, bench: Bench, chance: random.Random) -> Named:
    """Measures here and there until one is left or patience ends; else as careful as the good one."""
    tests = list(_search([f.id for f in hunt.suspects], dictionary).tests)
    chance.shuffle(tests)
    left = hunt.left(bench.log)
    for test in tests[:MOST_READINGS]:
        if len(left) == 1:
            break
        _make(bench, dictionary, test)
        left = hunt.left(bench.log)
    return _mend_and_try(bench, hunt.named(chance.choice(left)))


def guess_live(hunt: LiveHunt, dictionary: FaultDictionary, bench: Bench, chance: random.Random) -> Named:
    """One look, then a part is exchanged with the power on, and that was it."""
    _make(bench, dictionary, chance.choice(_search([f.id for f in hunt.suspects], dictionary).tests))
    found = hunt.named(chance.choice(list(hunt.suspects)).id)
    repair(bench, found.location)
    return found.location, found.cause


def _search(left: Sequence[str], dictionary: FaultDictionary, tried: Sequence[str] = ()) -> Search:
    """The search among what is left, with the tests that a person has not made yet and can make with two hands."""
    tests = [t.id for t in dictionary.tests if t.situation not in BY_HAND and t.id not in tried]
    return from_dictionary(dictionary.select(left, tests))


def _make(bench: Bench, dictionary: FaultDictionary, test_id: str, expect: str | None = None) -> None:
    """Bring the situation about, look or measure, and put everything back."""
    test = next(t for t in dictionary.tests if t.id == test_id)
    bring_about(bench, test.situation)
    _read(bench, test, expect)
    bench.wait(STEP)
    put_back(bench, test.situation)


def _read(bench: Bench, test: Test, expect: str | None) -> None:
    if test.kind == "volts":
        bench.meter.volts(test.a, test.b, expect=expect)
    elif test.kind == "ohms":
        bench.meter.ohms(test.a, test.b, expect=expect)
    else:
        bench.note(f"{test.kind}:{test.a}", at_band(bench, test.kind, test.a))


def _mend_and_try(bench: Bench, fault: Fault) -> Named:
    """Power off, put it right, look for shorts, power on, start and stop."""
    bench.power(False)
    bench.wait(BOOT)
    repair(bench, fault.location)
    bench.meter.ohms("X1:24V", "X1:0V")
    bench.wait(STEP)
    bench.power_up()
    bench.wait(BOOT)
    for part in ("S2", "S1"):
        bench.press(part, ms(300))
        bench.wait(BOOT)
    return fault.location, fault.cause

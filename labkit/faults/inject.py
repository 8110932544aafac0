"""Faults put into a bench and taken out again.

Nothing of it shows in the bench's log or its wiring: the fault lies between the wiring that a person sees and
the network that is solved. Wires lifted and bridges clipped meanwhile stay when the fault goes.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from labkit.base import Duration, as_us, ms
from labkit.bench import Bench
from labkit.bench._wiring import Rewiring
from labkit.bench.clock import Rank
from labkit.bench.electric import Network
from labkit.faults.catalogue import Fault
from labkit.faults.changes import Armature, apply
from labkit.faults.errors import FaultError

__all__ = ["faults_in", "faulty", "put_in", "take_out"]

SECOND = ms(1000)


class _Faulted(Rewiring):
    """The wiring of a bench with faults between it and its network."""

    def __init__(self, sound: Rewiring, faults: tuple[Fault, ...], off: frozenset[str]) -> None:
        super().__init__(sound._board, sound._state.wiring, sound._family)
        _take_over(sound, self)
        self.faults = faults
        self.off = off  # ids of intermittent faults that are away just now
        self._altered: dict[object, Network] = {}

    def network(self) -> Network:
        """The network that the last change leads to, with the faults in it."""
        state = self._next
        found = self._altered.get(state)
        if found is None:
            sound = super().network()
            changes = [c for fault in self.faults if fault.id not in self.off for c in fault.changes]
            found = Network(apply(sound.electrical, changes), sound.feed_on_v, sound.feed_off_v)
            self._altered[state] = found
        return found

    def sound(self) -> Rewiring:
        """The same wiring without faults."""
        other = Rewiring(self._board, self._first.wiring, self._family)
        _take_over(self, other)
        return other


def _take_over(source: Rewiring, target: Rewiring) -> None:
    target._first, target._state, target._next = source._first, source._state, source._state
    target._networks = source._networks


def faults_in(bench: Bench) -> tuple[Fault, ...]:
    """The faults that are in a bench now, in the order in which they were put in."""
    wiring = bench._wiring
    return wiring.faults if isinstance(wiring, _Faulted) else ()


def put_in(bench: Bench, *faults: Fault, seed: int | None = None, every: Duration = SECOND) -> None:
    """Put faults into a bench; what is under way goes on.

    Parameters
    ----------
    seed
        With a seed the faults come and go by themselves, the same way for the same seed.
    every
        How long one stays in or away then, in the mean.

    Raises
    ------
    FaultError
        If a fault is in already or does not fit the board; the bench is then as it was.
    """
    present = faults_in(bench)
    ids = [fault.id for fault in (*present, *faults)]
    twice = sorted({i for i in ids if ids.count(i) > 1})
    if twice:
        raise FaultError(f"{', '.join(twice)} is in this bench already", where=twice[0], code="fault-twice")
    mean_us = as_us(every, "every")
    if mean_us <= 0:
        raise FaultError("an intermittent fault stays longer than nothing", code="fault-value")
    _fit(bench, (*present, *faults), _off(bench))
    if seed is not None:
        for number, fault in enumerate(faults):
            _come_and_go(bench, fault, random.Random(f"{seed}/{number}/{fault.id}"), mean_us)


def take_out(bench: Bench, *faults: Fault) -> None:
    """Take faults out; without a name, all of them.

    Raises
    ------
    FaultError
        If one is not in.
    """
    present = faults_in(bench)
    for fault in faults:
        if fault not in present:
            raise FaultError(
                f"{fault.id} is not in this bench",
                where=fault.id,
                try_this="in it: " + (", ".join(f.id for f in present) or "none"),
                code="fault-absent",
            )
    going = faults or present
    for fault in going:
        bench.engine.cancel(f"intermittent {fault.id}")
    gone = frozenset(f.id for f in going)
    _fit(bench, tuple(f for f in present if f.id not in gone), _off(bench) - gone)


@contextmanager
def faulty(bench: Bench, *faults: Fault, seed: int | None = None) -> Iterator[Bench]:
    """The bench with faults in while the block runs."""
    put_in(bench, *faults, seed=seed)
    try:
        yield bench
    finally:
        take_out(bench, *faults)


def _off(bench: Bench) -> frozenset[str]:
    wiring = bench._wiring
    return wiring.off if isinstance(wiring, _Faulted) else frozenset()


def _fit(bench: Bench, faults: tuple[Fault, ...], off: frozenset[str], *, by_hand: bool = True) -> None:
    """Give the bench the network with these faults; nothing is changed if that cannot be."""
    wiring = bench._wiring
    sound = wiring.sound() if isinstance(wiring, _Faulted) else wiring
    new: Rewiring = _Faulted(sound, faults, off) if faults else sound
    network = new.network()
    engine = bench.engine
    before = _hindered(f for f in faults_in(bench) if f.id not in _off(bench))
    after = _hindered(f for f in faults if f.id not in off)

    def change() -> None:
        bench._wiring = new
        engine.rewire(network, new.removed)
        for part, how in sorted(before - after):
            engine.hinder(part, **{how: False})
        for part, how in sorted(after - before):
            engine.hinder(part, **{how: True})

    if by_hand:
        engine.act(change, "the network")
    else:
        change()


def _hindered(faults: Iterable[Fault]) -> frozenset[tuple[str, str]]:
    return frozenset((c.part, c.how) for fault in faults for c in fault.changes if isinstance(c, Armature))


def _come_and_go(bench: Bench, fault: Fault, chance: random.Random, mean_us: int) -> None:
    def flip() -> None:
        _fit(bench, faults_in(bench), _off(bench) ^ {fault.id}, by_hand=False)
        again()

    def again() -> None:
        due = bench.now_us + max(1, round(chance.expovariate(1.0 / mean_us)))
        bench.engine.later(f"intermittent {fault.id}", due, Rank.ELECTRIC, flip)

    again()

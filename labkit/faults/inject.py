"""Faults put into a bench and taken out again.

Nothing of it shows in the bench's log or its wiring: the fault lies between the wiring that a person sees and
the network that is solved. Wires lifted and bridges clipped meanwhile stay when the fault goes. What a person
mends by hand (a part exchanged, a wire laid anew) goes by itself; see :mod:`labkit.faults.repair`.
"""

from __future__ import annotations

import random
from collections.abc import Hashable, Iterator, MutableMapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial

from labkit.base import Duration, as_us, ms
from labkit.bench import Bench, Between, Network, Rank
from labkit.faults._mending import left_after
from labkit.faults.catalogue import Fault
from labkit.faults.changes import Armature, apply
from labkit.faults.errors import FaultError

__all__ = ["Solved", "faults_in", "faulty", "mend", "put_in", "take_out"]

SECOND = ms(1000)

Solved = MutableMapping[tuple[Hashable, Hashable], Network]
"""Networks with faults in, with everything that has been solved in them."""


@dataclass(frozen=True, slots=True)
class _In:
    """The faults that are in, and the ids of intermittent ones that are away just now."""

    faults: tuple[Fault, ...] = ()
    off: frozenset[str] = frozenset()


def _in(bench: Bench) -> _In:
    between = bench.between
    return between.note if between is not None and isinstance(between.note, _In) else _In()


def faults_in(bench: Bench) -> tuple[Fault, ...]:
    """The faults that are in a bench now, in the order in which they were put in."""
    return _in(bench).faults


def put_in(
    bench: Bench, *faults: Fault, seed: int | None = None, every: Duration = SECOND, solved: Solved | None = None
) -> None:
    """Put faults into a bench; what is under way goes on.

    Parameters
    ----------
    seed
        With a seed the faults come and go by themselves, the same way for the same seed.
    every
        How long one stays in or away then, in the mean.
    solved
        Networks to share with other benches of the same kind: what one has solved the next one finds.

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
    _fit(bench, (*present, *faults), _in(bench).off, solved=solved)
    if not any(isinstance(hook, _Mend) for hook in bench.on_swap):
        bench.on_swap.append(_Mend(bench))
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
    ids = {fault.id for fault in present}
    for fault in faults:
        if fault.id not in ids:
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
    _fit(bench, tuple(f for f in present if f.id not in gone), _in(bench).off - gone)


@contextmanager
def faulty(bench: Bench, *faults: Fault, seed: int | None = None) -> Iterator[Bench]:
    """The bench with faults in while the block runs."""
    put_in(bench, *faults, seed=seed)
    try:
        yield bench
    finally:
        take_out(bench, *faults)


class _Mend:
    """What a bench calls when something good takes the place of something old."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench

    def __call__(self, what: str) -> None:
        mend(self.bench, what)


def mend(bench: Bench, what: str) -> None:
    """Take out what of the faults lies in `what`: a part, a wire (``"wire 201"``) or a fault's own location."""
    kept: list[Fault] = []
    changed = False
    for fault in faults_in(bench):
        rest = left_after(fault, what, bench.board)
        changed = changed or rest != fault.changes
        if rest:
            kept.append(replace(fault, changes=rest))
        else:
            bench.engine.cancel(f"intermittent {fault.id}")
    if changed:
        _fit(bench, tuple(kept), _in(bench).off & {f.id for f in kept}, by_hand=False)


def _fit(
    bench: Bench,
    faults: tuple[Fault, ...],
    off: frozenset[str],
    *,
    by_hand: bool = True,
    solved: Solved | None = None,
) -> None:
    """Give the bench the network with these faults; nothing is changed if that cannot be."""
    before, after = _hindered(_in(bench)), _hindered(_In(faults, off))
    changes = tuple(c for fault in faults if fault.id not in off for c in fault.changes)
    if solved is None:
        solved = {} if bench.between is None else bench.between.solved
    between = Between(changes, partial(apply, changes=changes), _In(faults, off), solved)

    def hinder() -> None:
        for part, how in sorted(before - after):
            bench.engine.hinder(part, **{how: False})
        for part, how in sorted(after - before):
            bench.engine.hinder(part, **{how: True})

    bench.put_between(between if faults else None, also=hinder, by_hand=by_hand)


def _hindered(there: _In) -> frozenset[tuple[str, str]]:
    changes = (c for fault in there.faults if fault.id not in there.off for c in fault.changes)
    return frozenset((c.part, c.how) for c in changes if isinstance(c, Armature))


def _come_and_go(bench: Bench, fault: Fault, chance: random.Random, mean_us: int) -> None:
    def flip() -> None:
        _fit(bench, faults_in(bench), _in(bench).off ^ {fault.id}, by_hand=False)
        again()

    def again() -> None:
        due = bench.now_us + max(1, round(chance.expovariate(1.0 / mean_us)))
        bench.engine.later(f"intermittent {fault.id}", due, Rank.ELECTRIC, flip)

    again()

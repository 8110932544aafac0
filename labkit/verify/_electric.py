"""The electrical map: what a set of positions does to coils and input channels in one scan, by solving the network.

Nothing here reads the wire list. A scan's worth of time passes as on the bench: the network settles, coils feel
their volts, armatures arrive when they are due, and the channels are what they were one filter time before the read.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeVar

from labkit.bench import Bench
from labkit.bench.electric import KEEP, Network, Reading
from labkit.bench.machine import Zone
from labkit.verify.errors import ProofError
from labkit.verify.surroundings import Thing, network

__all__ = ["Arms", "Electricity", "Passed"]

Arms = tuple[tuple[bool, int], ...]
"""Per coil: whether the armature is in, and in how many microseconds it will have moved (-1: it rests)."""


T = TypeVar("T")

_MOST_FELT = 100_000


class Passed(NamedTuple):
    """What some time has done."""

    arms: Arms
    channels: tuple[int, ...]
    last: Reading
    powered: bool


@dataclass(frozen=True, slots=True)
class _Set:
    """One choice of positions, before outputs and armatures."""

    net: Network
    key: int
    senses: tuple[bool, ...]
    welded: frozenset[str]


class Electricity:
    """The bench's network, asked for sets of positions.

    Parameters
    ----------
    bench
        Whose board and wiring.
    things
        What may move.
    """

    def __init__(self, bench: Bench, things: Sequence[Thing]) -> None:
        self.bench, self.things = bench, tuple(things)
        self.electrical = bench.engine.net.electrical
        self.filter_us = bench.family.inputs.filter_us
        self._sets: dict[tuple[int, ...], _Set] = {}
        self._networks: dict[tuple[tuple[str, ...], tuple[str, ...]], Network] = {}
        self.hot: set[str] = set()
        contactors = bench.engine.contactors
        self.welded = frozenset(part for part, armature in contactors.items() if armature.welded)
        self.jammed = frozenset(part for part, armature in contactors.items() if armature.jammed)
        self.outputs = tuple(o.point for o in self.electrical.outputs)
        alike = (self.things, self.filter_us, self.welded, self.jammed)
        # passing time follows from the network and the times alone: what one question found, the next one knows
        self._felt: dict[Hashable, tuple[Any, frozenset[str]]] = bench.engine.net.kept.setdefault(alike, {})

    def _once(self, key: Hashable, work: Callable[[], T]) -> T:
        """What is known by a key, or is from now on; what it overloads is noted either way."""
        found = self._felt.get(key)
        if found is None:
            before, self.hot = self.hot, set()
            try:
                result = work()
            finally:
                new, self.hot = self.hot, before | self.hot
            if len(self._felt) >= _MOST_FELT:
                self._felt.clear()
            found = self._felt[key] = (result, frozenset(new))
        elif found[1]:
            self.hot |= found[1]
        known: T = found[0]
        return known

    @property
    def solved(self) -> int:
        """How many sets of positions have been solved."""
        return sum(len(net._readings) for net in {id(n): n for n in self._networks.values()}.values())

    def rest(self) -> Arms:
        """All armatures out."""
        return tuple((False, -1) for _ in self.electrical.coils)

    def _set(self, choice: tuple[int, ...]) -> _Set:
        found = self._sets.get(choice)
        if found is not None:
            return found
        at = [(thing, thing.positions[i]) for thing, i in zip(self.things, choice, strict=True)]
        off = (
            tuple(t.part for t, p in at if p == "lifted"),
            tuple(t.part for t, p in at if p == "missing"),
        )
        net = self._networks.get(off)
        if net is None:
            net = self._networks[off] = network(self.bench, *off)
        states = net.electrical.powered(**{t.part: p for t, p in at if t.kind == "part"})
        position = {t.part: p for t, p in at if t.kind in ("beam", "metal")}
        senses = []
        for sensor in net.electrical.sensors:
            if sensor.senses == "beam":
                wants = (position.get(sensor.part) == "blocked") == (sensor.on_when == "dark")
            else:
                wants = (position.get(sensor.part) == "near") == (sensor.on_when != "far")
            senses.append(wants)
            states[sensor.part] = "off"
        welded = self.welded | {t.part for t, p in at if p == "welded"}
        found = self._sets[choice] = _Set(net, net.electrical.key(states), tuple(senses), welded)
        return found

    def _reading(self, now: _Set, outputs: int, arms: Arms) -> Reading:
        net, key = now.net, now.key
        electrical, flips = net.electrical, net.flips
        for i, output in enumerate(electrical.outputs):
            if outputs >> i & 1:
                key ^= flips[output.actor, "off"] ^ flips[output.actor, "on"]
        for coil, (closed, _) in zip(electrical.coils, arms, strict=True):
            if closed:
                key ^= flips[coil.part, "open"] ^ flips[coil.part, "closed"]
        reading = net.reading(key)
        alive: tuple[bool, ...] = ()
        while reading.sensors != alive:
            alive, with_sensors = reading.sensors, key
            for sensor, wants, good in zip(electrical.sensors, now.senses, alive, strict=True):
                if wants and good:
                    with_sensors ^= flips[sensor.part, "off"] ^ flips[sensor.part, "on"]
            reading = net.reading(with_sensors)
        if reading.hot:
            self.hot.update(electrical.fuses[i].actor for i, _ in reading.hot)
        return reading

    def feeds(self, choice: tuple[int, ...], outputs: int, arms: Arms, powered: bool) -> bool:
        """Whether the controller has its supply."""
        rest = tuple([closed for closed, _ in arms])
        feed = self._once((choice, outputs, rest), lambda: self._reading(self._set(choice), outputs, arms).feed)
        return powered if feed == KEEP else bool(feed)

    def pass_time(
        self,
        choice: tuple[int, ...],
        outputs: int,
        arms: Arms,
        length_us: int,
        read_us: int,
        *,
        powered: bool = True,
        times: Sequence[int | None] = (),
    ) -> Passed:
        """Let `length_us` pass from the moment the positions are taken; channels are read at `read_us`.

        `times` gives another operate or release time per coil, in microseconds, for moves that begin now.
        """
        times = tuple(times)
        return self._once(
            (choice, outputs, arms, length_us, read_us, powered, times),
            lambda: self._pass_time(choice, outputs, arms, length_us, read_us, powered=powered, times=times),
        )

    def _pass_time(
        self,
        choice: tuple[int, ...],
        outputs: int,
        arms: Arms,
        length_us: int,
        read_us: int,
        *,
        powered: bool,
        times: Sequence[int | None],
    ) -> Passed:
        now = self._set(choice)
        look_us, at = read_us - self.filter_us, 0
        seen: Reading | None = None
        while True:
            reading = self._reading(now, outputs, arms)
            if at and reading.feed != KEEP and bool(reading.feed) != powered:
                raise ProofError(
                    "an armature switches the controller's own supply, which the model does not cover",
                    code="proof-feed",
                )
            arms = self._feel(now, reading, arms, times)
            due = [left for _, left in arms if left >= 0]
            wait = min(due, default=length_us)
            if seen is None and (at + wait > look_us or at + wait >= length_us):
                seen = reading
            if at + wait >= length_us:
                break
            at += wait
            arms = tuple((not c, -1) if left == wait else (c, left - wait if left >= 0 else -1) for c, left in arms)
        arms = tuple((c, left - (length_us - at) if left >= 0 else -1) for c, left in arms)
        return Passed(arms, (seen or reading).channels, reading, powered)

    def _feel(self, now: _Set, reading: Reading, arms: Arms, times: Sequence[int | None]) -> Arms:
        felt = []
        for i, (coil, zone) in enumerate(zip(now.net.electrical.coils, reading.coils, strict=True)):
            closed, left = arms[i]
            if closed:
                going = zone is Zone.DROP or (left >= 0 and zone is Zone.HOLD)
                going, takes = going and coil.part not in now.welded, coil.release_us
            else:
                going, takes = zone is Zone.PICK and coil.part not in self.jammed, coil.operate_us
            if not going:
                left = -1
            elif left < 0:
                other = times[i] if times else None
                left = takes if other is None else min(other, takes)
            felt.append((closed, left))
        return tuple(felt)

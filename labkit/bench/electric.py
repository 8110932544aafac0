"""What a set of positions means electrically, worked out once for each set and then looked up.

A :class:`Network` is the board in one state of wiring. Its :meth:`~Network.reading` turns a circuit key into
everything that the bench wants to know of the solution; going back to an earlier set of positions costs one
look-up in a dictionary.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import dataclass, field
from typing import Any

from labkit.bench.machine import Contactor, Zone
from labkit.board import Electrical, OutputChannel
from labkit.circuit import Solution, Solver

__all__ = ["KEEP", "Network", "Reading"]

KEEP = 2
"""A channel's or a feed's volts lie inside its hysteresis: it stays as it was."""

_MOST_READINGS = 20_000  # a lesson visits some hundreds; a long random walk must not grow without end


@dataclass(frozen=True, slots=True)
class Reading:
    """One set of positions, solved.

    Parameters
    ----------
    key
        The circuit key that was solved: an output whose driver has no supply is off in it, whatever was asked.
    solution
        All node volts and currents.
    channels
        For each input channel 0 (off), 1 (on) or :data:`KEEP`.
    feed
        The same for the controller's supply.
    coils
        For each coil its :class:`~labkit.bench.machine.Zone`.
    sensors
        For each sensor whether its supply is good.
    lit
        For each lamp or horn whether it shows or sounds.
    hot
        ``(index of the fuse, amperes)`` for each one above its rating.
    """

    key: int
    solution: Solution
    channels: tuple[int, ...]
    feed: int
    coils: tuple[Zone, ...]
    sensors: tuple[bool, ...]
    lit: tuple[bool, ...]
    hot: tuple[tuple[int, float], ...]


@dataclass(slots=True)
class Network:
    """The board in one state of wiring, with every set of positions that has been met.

    Parameters
    ----------
    electrical
        From :func:`labkit.board.electrify`.
    feed_on_v, feed_off_v
        Volts from which the controller starts, and below which it gives up.
    """

    electrical: Electrical
    feed_on_v: float
    feed_off_v: float
    solver: Solver = field(init=False)
    flips: dict[tuple[str, str], int] = field(init=False)
    _zones: tuple[Contactor, ...] = field(init=False)
    _drivers: tuple[tuple[str, str, float, int], ...] = field(init=False)
    _readings: dict[int, Reading] = field(init=False, default_factory=dict)
    kept: dict[Hashable, dict[Hashable, Any]] = field(init=False, repr=False, compare=False, default_factory=dict)
    """What others have worked out from this network alone, for as long as it lives."""

    def __post_init__(self) -> None:
        self.solver = Solver(self.electrical.circuit)
        self.flips = {
            (actor.id, state): self.electrical.bits(actor.id, state)
            for actor in self.electrical.actors.values()
            for state in actor.states
        }
        self._drivers = tuple(_drivers(self.electrical, self.flips))
        self._zones = tuple(
            Contactor(c.part, c.pick_up_v, c.drop_out_v, c.operate_us, c.release_us) for c in self.electrical.coils
        )

    def reading(self, key: int) -> Reading:
        """The reading for a circuit key.

        Raises
        ------
        CircuitError
            If the network has no answer; the parts are named.
        """
        found = self._readings.get(key)
        if found is None:
            if len(self._readings) >= _MOST_READINGS:
                self._readings.clear()
            found = self._readings[key] = self._read(key)
        return found

    def forget(self) -> None:
        """Forget everything that was solved, as if the network were new."""
        self.solver = Solver(self.electrical.circuit)
        self._readings.clear()
        self.kept.clear()

    def _driven(self, key: int) -> int:
        """The key without the outputs that their drivers cannot switch on.

        A driver lives on its group's plus and 0 V. It is judged with its outputs off: one that they pull down by
        their own load is a matter of the supply, and comes and goes with it.
        """
        for plus, minus, least_v, outputs in self._drivers:
            if key & outputs and self.solver.solve(key).volt(plus, minus) < least_v:
                without = key & ~outputs
                if self.solver.solve(without).volt(plus, minus) < least_v:
                    key = without
        return key

    def _read(self, key: int) -> Reading:
        key = self._driven(key)
        solution = self.solver.solve(key)
        volt, amps, electrical = solution.volt, solution.amps, self.electrical
        channels = []
        for channel in electrical.inputs:
            volts = volt(channel.terminal, channel.common)
            enough = abs(amps(channel.element)) >= channel.on_a
            off_on = tuple(enough and channel.reads(volts, was) for was in (False, True))
            channels.append(int(off_on[0]) if off_on[0] == off_on[1] else KEEP)
        return Reading(
            key=key,
            solution=solution,
            channels=tuple(channels),
            feed=self._feed(solution),
            coils=tuple(c.zone_of(volt(coil.a, coil.b)) for c, coil in zip(self._zones, electrical.coils, strict=True)),
            sensors=tuple(volt(sensor.plus, sensor.minus) >= sensor.min_v for sensor in electrical.sensors),
            lit=tuple(abs(volt(lamp.a, lamp.b)) >= lamp.lit_v for lamp in electrical.lamps),
            hot=tuple(
                (i, abs(amps(fuse.element)))
                for i, fuse in enumerate(electrical.fuses)
                if key & self.flips[fuse.actor, fuse.closed_state] and abs(amps(fuse.element)) > fuse.rated_a
            ),
        )

    def _feed(self, solution: Solution) -> int:
        if not self.electrical.supplies:
            return 1
        feed = self.electrical.supplies[0]
        volts = solution.volt(feed.plus, feed.minus)
        if volts >= self.feed_on_v:
            return 1
        return 0 if volts < self.feed_off_v else KEEP


def _drivers(electrical: Electrical, flips: dict[tuple[str, str], int]) -> Iterator[tuple[str, str, float, int]]:
    """Each output group: its plus, its 0 V, the volts that its drivers need, and the key bits of its outputs."""
    groups: dict[tuple[str, str], list[OutputChannel]] = {}
    for output in electrical.outputs:
        groups.setdefault((output.group_plus, output.group_minus), []).append(output)
    for (plus, minus), outputs in groups.items():
        bits = 0
        for output in outputs:
            bits |= flips[output.actor, "on"] & ~flips[output.actor, "off"]
        yield plus, minus, max(output.drive_v for output in outputs), bits

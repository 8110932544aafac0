"""Operating points of a board under every fault, from the one inverse that the sound board has.

What a fault changes is found by comparing networks, sound and faulted, element by element, and told to
:class:`labkit.circuit.Cases` as ports and as other curves. A contact that does not follow its device is no change of
the network but another position, so a fault of a contact shares its points with the sound board.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from labkit.board import Electrical
from labkit.circuit import Asked, Case, Cases, Circuit, Curve, Element, Resistor, Solver, Source, Switch
from labkit.circuit.elements import terminals as ends
from labkit.faults.catalogue import Fault
from labkit.faults.changes import apply

__all__ = ["Altered", "Points", "Wired"]

Numbers = NDArray[np.int64]
Volts = NDArray[np.float64]
Name = tuple[int, int, int]

NEAR = 4
"""A position that differs from a known one by so many contacts at most is solved as a case of that one."""

WITHIN_V = 3e-4
"""How far off rounding may leave a floating node: a meter's last digit is 1 mV."""

WORD_BITS = 56
"""More contacts than that do not go into a number of 64 bits together with the wiring."""

NOTHING = ((-1.0, 0.0), (1.0, 0.0))
"""A curve that takes no current."""


@dataclass(slots=True)
class Altered:
    """What one fault makes of one wiring.

    Attributes
    ----------
    added, joined
        Element and ohms added to it; node, node and the ohms between them.
    places
        Curve of the network -> what stands in its place.
    moved
        Bit of a switch that lies elsewhere -> its nodes and ohms there.
    keep, always, invert
        Switches that still follow their device, are closed whatever it does, or do the opposite.
    """

    electrical: Electrical
    added: list[tuple[str, float]] = field(default_factory=list)
    joined: list[tuple[str, str, float]] = field(default_factory=list)
    places: dict[str, str] = field(default_factory=dict)
    moved: dict[int, tuple[str, str, float]] = field(default_factory=dict)
    keep: int = -1
    always: int = 0
    invert: int = 0

    @property
    def sound(self) -> bool:
        """Whether the network is that of the sound board."""
        return not (self.added or self.joined or self.places or self.moved)


@dataclass(slots=True)
class Wired:
    """A wiring that a situation asks for: what is off in it, compared with the board as it should be."""

    electrical: Electrical
    out: frozenset[str]
    places: dict[str, str]
    altered: list[Altered] = field(default_factory=list)


class Points:
    """Operating points of a board with each of some faults in turn, in several wirings.

    Parameters
    ----------
    sound
        The board as it should be.
    wirings
        Further states of wiring, which may only lack what `sound` has.
    faults
        Number 0 is no fault.
    stray_per_ohm
        The insulation, if other than the network's own: the meter's for ohms.
    """

    def __init__(
        self,
        sound: Electrical,
        wirings: Sequence[Electrical],
        faults: Sequence[Fault],
        *,
        like: Points | None = None,
        stray_per_ohm: float | None = None,
    ) -> None:
        self.sound = sound
        self.elements = {e.name: e for e in sound.circuit.elements}
        if like is None:
            self._others: dict[str, Curve | Source] = {}
            self._dormant: dict[str, Curve] = {}
            self.wired = [self._wired(w, faults) for w in (sound, *wirings)]
        else:
            self._others, self._dormant, self.wired = like._others, like._dormant, like.wired
        circuit = sound.circuit.with_elements(*self._dormant.values())
        self.circuit: Circuit = circuit if stray_per_ohm is None else replace(circuit, stray_per_ohm=stray_per_ohm)
        self.solver = Solver(self.circuit)
        self.cases = Cases(self.solver, tuple(self._others.values()), within_v=WITHIN_V)
        self._switches = [e for e in self.circuit.elements if isinstance(e, Switch)]
        self._anchors: list[list[int]] = [[] for _ in self.wired]
        self._contacts: dict[tuple[int, bool], int] = {}
        self._places: dict[tuple[int, int], tuple[int, tuple[int, ...]]] = {}
        self._changes: dict[tuple[int, int], tuple[tuple[int, ...], dict[str, str], list[tuple[int, int]]]] = {}
        self._known: dict[tuple[int, int, int], int] = {}
        self.names: list[tuple[int, int, int]] = []
        """Wiring, fault and position of the contacts of each point."""
        self.bit = {switch.name: 1 << k for k, switch in enumerate(self._switches)}
        self._single: dict[tuple[int, int], Solver] = {}
        self.volts: Volts = np.zeros((0, len(self.solver.nodes)))
        self.amps: Volts = np.zeros((0, len(self.solver.plan.curves)))
        self.singly = 0
        """How many points did not settle with the others and were solved by themselves."""

    def anew(self) -> Points:
        """The same board and faults with nothing solved, but the positions known that others are solved from."""
        other = Points(self.sound, (), (), like=self)
        other._anchors = [list(anchors) for anchors in self._anchors]
        return other

    # what a fault changes -----------------------------------------------------------------------
    def _wired(self, electrical: Electrical, faults: Sequence[Fault]) -> Wired:
        there = {e.name for e in electrical.circuit.elements}
        lacking = [e for e in self.sound.circuit.elements if e.name not in there]
        out = frozenset(e.name for e in lacking if isinstance(e, Resistor))
        wired = Wired(electrical, out, {e.name: self._other(e.name, NOTHING) for e in lacking if isinstance(e, Curve)})
        wired.altered.append(Altered(electrical))
        for fault in faults:
            wired.altered.append(self._altered(electrical, apply(electrical, fault.changes)))
        return wired

    def _other(self, name: str, points: tuple[tuple[float, float], ...] | Source) -> str:
        """The name of what stands in the place of a curve; the same thing twice is one."""
        for key, other in self._others.items():
            if (key.startswith(f"{name} for ")) and points == (other.points if isinstance(other, Curve) else other):
                return key
        key = f"{name} for {len(self._others)}"
        if isinstance(points, Source):
            self._others[key] = replace(points, name=key)
        else:
            self._others[key] = Curve(key, "", "", points)
        return key

    def _altered(self, before: Electrical, after: Electrical) -> Altered:
        found = Altered(after)
        old = {e.name: e for e in before.circuit.elements}
        for element in after.circuit.elements:
            was = old.pop(element.name, None)
            if was is element:
                continue
            self._compare(found, was, element)
        for gone in old.values():
            self._compare(found, gone, None)
        bits = {name: 1 << k for k, name in enumerate(self.sound.switches)}
        rules = {rule.switch: rule for rule in before.contacts}
        for rule in after.contacts:
            known = rules[rule.switch]
            every = frozenset(before.actors[rule.actor].states)
            if rule.closed_when == known.closed_when:
                continue
            bit = bits[rule.switch]
            if rule.closed_when == every - known.closed_when:
                found.invert |= bit
            elif not rule.closed_when:
                found.keep &= ~bit
            elif rule.closed_when == every:
                found.always |= bit
        return found

    def _compare(self, found: Altered, was: Element | None, now: Element | None) -> None:
        """Note what became of one element."""
        there = now is not None and was is not None and ends(now) == ends(was)
        if isinstance(was, Resistor):
            stays = there and isinstance(now, Resistor)
            found.added.append((was.name, now.ohm - was.ohm if stays else math.inf))  # type: ignore[union-attr]
            if stays:
                return
        elif isinstance(was, Switch):
            bit = self.sound.switches.index(was.name)
            if isinstance(now, Switch):
                found.moved[bit] = (now.a, now.b, now.ohm)
            return
        elif was is not None:
            if there:
                found.places[was.name] = self._other(was.name, _points(now))  # type: ignore[arg-type]
                return
            found.places[was.name] = self._other(was.name, NOTHING)
        if isinstance(now, Resistor):
            found.joined.append((now.a, now.b, now.ohm))
        elif isinstance(now, Curve):
            name = f"{now.name} at {now.a} {now.b}"
            self._dormant[name] = Curve(name, now.a, now.b, NOTHING)
            found.places[name] = self._other(name, now.points)

    # points -------------------------------------------------------------------------------------
    def key(self, wiring: int, fault: int, nominal: int) -> int:
        """The position of the contacts where the devices' is `nominal`."""
        altered = self.wired[wiring].altered[fault]
        return (nominal & altered.keep | altered.always) ^ altered.invert

    def find(self, wanted: Iterable[tuple[int, int, int]], anchors: Iterable[tuple[int, int]] = ()) -> list[int]:
        """Row numbers of points, solved where they are new.

        Parameters
        ----------
        wanted
            Wiring, fault and position of the contacts.
        anchors
            Wiring and position of those that others may be near to, such as the sound board's.
        """
        for wiring, key in anchors:
            if key not in self._anchors[wiring]:
                self._anchors[wiring].append(key)
        names = [(w, 0 if self.wired[w].altered[f].sound else f, key) for w, f, key in wanted]
        fresh = [name for name in dict.fromkeys(names) if name not in self._known]
        if fresh:
            self._solve(fresh)
        return [self._known[name] for name in names]

    def _solve(self, fresh: list[Name]) -> None:
        first = len(self.volts)
        volts, amps = self.settle(self.told(fresh), fresh)
        self.volts, self.amps = np.vstack([self.volts, volts]), np.vstack([self.amps, amps])
        self._known |= {name: first + k for k, name in enumerate(fresh)}
        self.names += fresh

    def settle(self, asked: Asked, names: Sequence[Name]) -> tuple[Volts, Volts]:
        """Volts and amps of points of which these are the names."""
        found = self.cases.settle(asked)
        for row in np.flatnonzero(found.doubtful).tolist():
            found.volts[row], found.amps[row] = self._by_itself(names[row])
        volts: Volts = np.asarray(found.volts, dtype=np.float64)
        return volts, np.asarray(found.amps, dtype=np.float64)

    def told(self, names: Sequence[Name]) -> Asked:
        """Points as changes of positions that are near."""
        wirings, faults = (np.array([name[k] for name in names], dtype=np.int64) for k in (0, 1))
        of_any_size = len(self._switches) > WORD_BITS
        keys = np.array([name[2] for name in names], dtype=object if of_any_size else np.int64)
        more, at = len(self.wired[0].altered), len(self.wired)
        pairs, change = np.unique(wirings * more + faults, return_inverse=True)
        changes = [self._told(*divmod(pair, more)) for pair in pairs.tolist()]
        beside: list[tuple[int, ...]] = [()]
        shifted = np.zeros(len(names), dtype=np.int64)
        for row in np.flatnonzero(np.array([bool(moved) for _, _, moved in changes])[change]).tolist():
            there = [(bit, port) for bit, port in changes[change[row]][2] if keys[row] & bit]
            keys[row] &= ~sum(bit for bit, _ in there)
            shifted[row] = len(beside)
            beside.append(tuple(port for _, port in there))
        pairs, near = np.unique(keys * at + wirings, return_inverse=True)
        placed = self._all_placed(pairs)
        parts = [([ports for ports, _, _ in changes], change), (beside, shifted), ([p for _, p in placed], near)]
        position = np.array([p for p, _ in placed], dtype=np.int64)[near]
        number, ports = _joined(parts)
        changed = np.array([bool(places) for _, places, _ in changes], dtype=bool)
        places = [(row, changes[change[row]][1]) for row in np.flatnonzero(changed[change]).tolist()]
        return Asked(self.cases, position, number, ports, places=places)

    def _placed(self, wiring: int, key: int) -> tuple[int, tuple[int, ...]]:
        """The position that a position of the contacts is solved from, and the ports of the contacts that differ."""
        found = self._places.get((wiring, key))
        if found is None:
            anchors = self._anchors[wiring]
            apart = [(key ^ other).bit_count() for other in anchors]
            least = min(apart, default=NEAR + 1)
            if least > NEAR:
                anchors.append(key)
            found = self._beside(wiring, key, key if least > NEAR else anchors[apart.index(least)])
        return found

    def _beside(self, wiring: int, key: int, near: int) -> tuple[int, tuple[int, ...]]:
        """The same where the position that it is solved from is known."""
        apart, ports = key ^ near, []
        while apart:
            bit = apart & -apart
            apart ^= bit
            ports.append(self._contact(bit, closes=bool(key & bit)))
        found = self._places[wiring, key] = self.cases.position(near, self.wired[wiring].out), tuple(ports)
        return found

    def _contact(self, bit: int, *, closes: bool) -> int:
        """The port of a contact that closes or opens."""
        port = self._contacts.get((bit, closes))
        if port is None:
            switch = self._switches[bit.bit_length() - 1]
            if closes:
                port = self.cases.joined(switch.a, switch.b, switch.ohm)
            else:
                port = self.cases.added(switch.name, math.inf)
            self._contacts[bit, closes] = port
        return port

    def _all_placed(self, codes: Numbers) -> list[tuple[int, tuple[int, ...]]]:
        """:meth:`_placed` for keys times the number of wirings, and the wiring added."""
        at = len(self.wired)
        if codes.dtype == object:
            return [self._placed(code % at, code // at) for code in codes.tolist()]
        wirings, keys = codes % at, codes // at
        found: list[tuple[int, tuple[int, ...]]] = [(0, ())] * len(codes)
        for wiring, anchors in enumerate(self._anchors):
            rows = np.flatnonzero(wirings == wiring)
            if len(rows) and anchors:
                apart = np.bitwise_count(keys[rows, None] ^ np.array(anchors))
                nearest, least = apart.argmin(axis=1).tolist(), apart.min(axis=1).tolist()
                for row, key, number, off in zip(rows.tolist(), keys[rows].tolist(), nearest, least, strict=True):
                    known = self._places.get((wiring, key))
                    if known is None and off <= NEAR:
                        known = self._beside(wiring, key, anchors[number])
                    found[row] = known or self._placed(wiring, key)
            else:
                for row, key in zip(rows.tolist(), keys[rows].tolist(), strict=True):
                    found[row] = self._placed(wiring, key)
        return found

    def _told(self, wiring: int, fault: int) -> tuple[tuple[int, ...], dict[str, str], list[tuple[int, int]]]:
        """The ports and the other curves of a fault, and the ports of closed switches that lie elsewhere."""
        found = self._changes.get((wiring, fault))
        if found is not None:
            return found
        wired, cases = self.wired[wiring], self.cases
        altered = wired.altered[fault]
        ports = [cases.added(name, ohm) for name, ohm in altered.added]
        ports += [cases.joined(a, b, ohm) for a, b, ohm in altered.joined]
        moved = [(1 << bit, cases.joined(a, b, ohm)) for bit, (a, b, ohm) in altered.moved.items()]
        found = self._changes[wiring, fault] = tuple(ports), wired.places | altered.places, moved
        return found

    def case_of(self, point: int) -> Case:
        """The case that a point is."""
        return self.case(*self.names[point])

    def case(self, wiring: int, fault: int, key: int) -> Case:
        """A point as a change of a position that is near; :meth:`told` does it for many."""
        ports, places, moved = self._told(wiring, fault)
        there = [(bit, port) for bit, port in moved if key & bit]
        position, near = self._placed(wiring, key & ~sum(bit for bit, _ in there))
        return Case(position, (*ports, *(port for _, port in there), *near), places)

    def alone(self, point: int) -> tuple[Solver, int]:
        """A solver of a point's own network, and its position."""
        return self.alone_with(self.names[point])

    def alone_with(self, name: tuple[int, int, int]) -> tuple[Solver, int]:
        """The same for wiring, fault and position."""
        wiring, fault, key = name
        solver = self._single.get((wiring, fault))
        if solver is None:
            circuit = self.wired[wiring].altered[fault].electrical.circuit
            solver = Solver(replace(circuit, stray_per_ohm=self.circuit.stray_per_ohm))
            self._single[wiring, fault] = solver
        return solver, key

    def _by_itself(self, name: tuple[int, int, int]) -> tuple[Volts, Volts]:
        """Volts and amps of a point whose network is built and solved for itself."""
        self.singly += 1
        solver, key = self.alone_with(name)
        found, here = solver.solve(key), solver.plan
        volts = np.array([found.array[here.index[n]] if n in here.index else 0.0 for n in self.solver.nodes])
        amps = np.zeros(len(self.solver.plan.curves))
        for k, curve in enumerate(self.solver.plan.curves):
            if curve.name in here.curve_row:
                amps[k] = found.curve_amps[here.curve_row[curve.name]]
        return volts, amps


def _joined(parts: Sequence[tuple[Sequence[tuple[int, ...]], Numbers]]) -> tuple[Numbers, Numbers]:
    """Lists of numbers out of some tables, joined row by row: how many in each row, and all of them.

    `parts` are tables of lists, and which of these each row takes.
    """
    lengths = [np.array([len(some) for some in table], dtype=np.int64) for table, _ in parts]
    number: Numbers = np.sum([long[which] for long, (_, which) in zip(lengths, parts, strict=True)], axis=0)
    found = np.empty(int(number.sum()), dtype=np.int64)
    into = np.cumsum(number) - number
    for long, (table, which) in zip(lengths, parts, strict=True):
        flat = np.fromiter(chain.from_iterable(table), np.int64, int(long.sum()))
        taken = long[which]
        within = np.arange(int(taken.sum())) - np.repeat(np.cumsum(taken) - taken, taken)
        found[np.repeat(into, taken) + within] = flat[np.repeat((np.cumsum(long) - long)[which], taken) + within]
        into = into + taken
    return number, found


def _points(element: Element) -> tuple[tuple[float, float], ...] | Source:
    if isinstance(element, Resistor):
        return ((-1.0, -1.0 / element.ohm), (1.0, 1.0 / element.ohm))
    assert isinstance(element, Curve | Source)
    return element if isinstance(element, Source) else element.points

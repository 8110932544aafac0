"""The fault dictionary's operating points by ngspice, as quick as it can be made: for a ratio of :mod:`._speed`.

Position by position: the sound network of a position is read in with its own solution as the start (``.nodeset``), and
each fault that changes resistances is told by ``alter``, as a joint between two nodes is by a resistor that waits there
at 1e16 ohm. Only a fault that changes a curve or moves a contact needs a netlist of its own.
"""

from __future__ import annotations

import math
import random
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from time import process_time

import numpy as np

from labkit.circuit import Resistor, Solver, to_spice
from labkit.circuit._graph import Floats
from labkit.circuit._ngspice import Ngspice
from labkit.circuit.spice import spice_node
from labkit.faults._lowrank import Points

__all__ = ["Rival", "Spent"]

# reltol 1e-3, ngspice's own, leaves up to 15 mV; tighter than 1e-6 only costs it time
OPTIONS = ".options gmin=1e-15 itl1=100 reltol=1e-6 gminsteps=0 srcsteps=1"
# Where its steps do not converge ngspice lets the network run in time until it stands, a quarter of a second, and does
# not get there; with no time to run it gives up at once.
BRIEF, AS_EVER = "optran 1 0 1 100n 0 0", "optran 1 1 1 100n 10u 0"
AWAY_OHM = 1e16
MANY = 20
"""Points in a position from which on it is one of those that most points are in."""


@dataclass
class Spent:
    """Processor seconds of some points, and how many points."""

    reading: float = 0.0
    altering: float = 0.0
    answered: float = 0.0
    failing: float = 0.0
    points: int = 0
    failed: int = 0

    def add(self, other: Spent, times: float = 1.0) -> None:
        """Count another's figures so many times."""
        for name in ("reading", "altering", "answered", "failing", "points", "failed"):
            setattr(self, name, getattr(self, name) + times * getattr(other, name))

    @property
    def total(self) -> float:
        """All the seconds."""
        return self.reading + self.altering + self.answered + self.failing


class Rival:
    """ngspice at the points of a dictionary.

    Attributes
    ----------
    worst
        The largest difference of a node's volts from `volts`, the other side's, so far.
    """

    def __init__(self, spice: Ngspice, points: Points, volts: Floats) -> None:
        self.spice, self.points, self.volts, self.worst = spice, points, volts, 0.0

    def estimate(self, positions: int, each: int, between: Callable[[], object]) -> Spent:
        """What all points take, from some positions chosen at random and of each at most some points.

        `between` is called now and then: the other side, so that a machine that is now quick and now slow is so for
        both.
        """
        groups: dict[tuple[int, int], list[int]] = defaultdict(list)
        for point, (wiring, _, key) in enumerate(self.points.names):
            groups[wiring, key].append(point)
        whole = Spent()
        self.spice.tell(BRIEF)
        for busy, some in ((True, positions), (False, 4 * positions)):
            alike = sorted(name for name, members in groups.items() if (len(members) >= MANY) == busy)
            chosen = random.Random(24).sample(alike, min(some, len(alike)))
            for number, name in enumerate(chosen):
                if number % (1 if busy else 4) == 0:
                    between()
                for spent, times in self._position(name, groups[name], each):
                    whole.add(spent, times * len(alike) / len(chosen))
        self.spice.tell(AS_EVER)
        return whole

    def _position(self, name: tuple[int, int], members: list[int], each: int) -> Iterator[tuple[Spent, float]]:
        """The points of a position: seconds, and how many times they count."""
        wiring, key = name
        altered = self.points.wired[wiring].altered
        by_netlist = [p for p in members if self._needs_netlist(p)]
        by_change = [p for p in members if not self._needs_netlist(p)]
        if by_change:
            solver = self.points.alone_with((wiring, 0, key))[0]
            some = random.Random(key).sample(by_change, min(each, len(by_change)))
            joints = sorted({(a, b) for p in by_change for a, b, _ in altered[self.points.names[p][1]].joined})
            yield self._read(self._netlist((wiring, 0, key), joints)), 1.0
            for point in some:
                changes, back = self._changes(solver, point, joints)
                start = process_time()
                for change in changes:
                    self.spice.tell(change)
                took = process_time() - start
                spent = self._operate(point, solver)
                start = process_time()
                for change in back:
                    self.spice.tell(change)
                spent.altering = took + process_time() - start
                yield spent, len(by_change) / len(some)
        some = random.Random(key).sample(by_netlist, min(each, len(by_netlist)))
        for point in some:
            yield self._read(self._netlist(self.points.names[point], [])), len(by_netlist) / len(some)
            yield self._operate(point, self.points.alone(point)[0]), len(by_netlist) / len(some)

    def _needs_netlist(self, point: int) -> bool:
        wiring, fault, _ = self.points.names[point]
        altered = self.points.wired[wiring].altered[fault]
        return bool(altered.places or altered.moved)

    def _netlist(self, name: tuple[int, int, int], joints: list[tuple[str, str]]) -> str:
        """A point's network, tuned."""
        wiring, _, key = name
        solver, _ = self.points.alone_with(name)
        closed = [switch for k, switch in enumerate(solver.switches) if key >> k & 1]
        sound = self.points.alone_with((wiring, 0, key))[0].solve(key).volts
        head, _ = to_spice(solver.circuit, closed).split("\n.options ", 1)
        lines = [line for line in head.splitlines() if not line.startswith(".nodeset")]
        number = solver.plan.index
        for k, (a, b) in enumerate(joints):
            lines.append(f"Rj{k} {spice_node(number[a])} {spice_node(number[b])} {AWAY_OHM!r}")
        lines += [f".nodeset V({spice_node(k)})={sound[n]!r}" for k, n in enumerate(solver.nodes) if k and n in sound]
        return "\n".join([*lines, OPTIONS, ".end"])

    def _changes(self, solver: Solver, point: int, joints: list[tuple[str, str]]) -> tuple[list[str], list[str]]:
        """What is told to ngspice for a fault, and to take it out again."""
        wiring, fault, _ = self.points.names[point]
        altered = self.points.wired[wiring].altered[fault]
        places = {e.name: (k, e.ohm) for k, e in enumerate(solver.circuit.elements) if isinstance(e, Resistor)}
        there, back = [], []
        for name, more in altered.added:
            number, ohm = places[name]
            there.append(f"alter r{number} = {AWAY_OHM if math.isinf(more) else ohm + more!r}")
            back.append(f"alter r{number} = {ohm!r}")
        for a, b, ohm in altered.joined:
            there.append(f"alter rj{joints.index((a, b))} = {ohm!r}")
            back.append(f"alter rj{joints.index((a, b))} = {AWAY_OHM!r}")
        return there, back

    def _read(self, netlist: str) -> Spent:
        start = process_time()
        self.spice.load(netlist)
        return Spent(reading=process_time() - start)

    def _operate(self, point: int, solver: Solver) -> Spent:
        """One operating point, and the volts of every node."""
        spice, nodes = self.spice, solver.nodes
        start = process_time()
        theirs = [0.0, *spice.values(spice_node(k) for k in range(1, len(nodes)))] if spice.operate() else None
        if "Transient op" in spice.said:
            theirs = None
        spice.forget()  # or results pile up, which slows it down
        took = process_time() - start
        if theirs is None:
            return Spent(failing=took, points=1, failed=1)
        here = self.points.solver.plan.index
        shared = [(here[n], k) for k, n in enumerate(nodes) if n in here]
        ours, other = zip(*shared, strict=True)
        self.worst = max(self.worst, float(np.abs(self.volts[point, ours] - np.array(theirs)[list(other)]).max()))
        return Spent(answered=took, points=1)

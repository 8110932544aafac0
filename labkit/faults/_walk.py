"""All faulted boards walked through all situations at once, from one settled state to the next.

No time passes here. After each step the network of every board is solved for its positions, armatures, supplies,
sensors, channels and the program follow at once, and what has moved is solved again, until a board is steady. A
board is left to the real bench (:attr:`Walk.left`) if it is not steady, if a breaker carries more than its rating or
the controller loses its supply by itself (then time decides), or if a situation does not end where it began.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.bench import Bench, Network
from labkit.board import Coil, Electrical, Fuse, InputChannel, Lamp, OutputChannel, Sensor
from labkit.faults._lowrank import Points
from labkit.faults.catalogue import Fault
from labkit.faults.changes import Armature
from labkit.faults.errors import FaultError
from labkit.faults.situations import PROGRAM, Situation
from labkit.logic import lower, numpy_bits, numpy_memory, read_program, to_numpy

__all__ = ["Seen", "Walk"]

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Step = tuple[str, ...]
Watched = InputChannel | OutputChannel | Coil | Lamp | Sensor

ROUNDS = 16
"""In how many rounds a board must be steady; the longest healthy chain (press, scan, coil, feedback, scan) takes 6."""

SUPPLY = ("breaker_off", "power_off", "remove")
"""Steps that switch a supply; what follows them in the dictionary starts by switching everything on again."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What one situation shows, a row for each board; the first is the sound one.

    Attributes
    ----------
    points
        Operating points, as rows of :attr:`Points.volts`.
    inputs, outputs, lit
        Input and output indicators, lamps and horns, in the network's order.
    states
        Positions of the actors, as numbers of their states.
    """

    points: Ints
    inputs: Bools
    outputs: Bools
    lit: Bools
    states: NDArray[np.int8]


class Walk:
    """The boards and where they are: a row for each board in each situation.

    Parameters
    ----------
    bench
        A bench with the sound board, for its network and its controller's limits.
    """

    def __init__(self, bench: Bench, points: Points, faults: Sequence[Fault], situations: Sequence[Situation]) -> None:
        self.points, self.situations = points, situations
        self.net: Network = bench.engine.net
        electrical = self.electrical = self.net.electrical
        self.boards, self.count = len(faults) + 1, (len(faults) + 1) * len(situations)
        self.board = np.tile(np.arange(self.boards), len(situations))
        self.actors = {actor.id: k for k, actor in enumerate(electrical.actors.values())}
        self.state_of = {(a.id, s): k for a in electrical.actors.values() for k, s in enumerate(a.states)}
        self.bits = np.zeros((len(self.actors), 3), dtype=np.int64)
        for (actor, state), number in self.state_of.items():
            self.bits[self.actors[actor], number] = electrical.bits(actor, state)
        self._limits(points, faults)
        self._program(bench)
        self.left = np.zeros(self.boards, dtype=bool)
        self.met: dict[tuple[int, int, int], None] = {}
        """Every point that was asked for, in order: wiring, board, position of the contacts."""

    # what does not change ---------------------------------------------------------------------
    def _limits(self, points: Points, faults: Sequence[Fault]) -> None:
        """Where things switch, a row for each board."""
        nets: list[Electrical] = [altered.electrical for altered in points.wired[0].altered]
        rows = points.solver.rows

        def pairs(of: Callable[[Electrical], Sequence[Watched]], a: str, b: str) -> Ints:
            return np.stack([rows([getattr(x, end) for x in of(self.electrical)]) for end in (a, b)])

        def figures(of: Callable[[Electrical], Sequence[Watched]], what: str) -> Floats:
            return np.array([[float(getattr(x, what)) for x in of(net)] for net in nets])

        self.input_at = pairs(lambda n: n.inputs, "terminal", "common")
        self.on_v, self.off_v = figures(lambda n: n.inputs, "on_v"), figures(lambda n: n.inputs, "off_v")
        self.on_a = figures(lambda n: n.inputs, "on_a")
        self.both_ways = np.array([c.bidirectional for c in self.electrical.inputs])
        place = {curve.name: k for k, curve in enumerate(points.solver.plan.curves)}
        self.input_curve = np.array([place[c.element] for c in self.electrical.inputs])
        self.coil_at = pairs(lambda n: n.coils, "a", "b")
        self.pick_v, self.drop_v = figures(lambda n: n.coils, "pick_up_v"), figures(lambda n: n.coils, "drop_out_v")
        self.lamp_at, self.lit_v = pairs(lambda n: n.lamps, "a", "b"), figures(lambda n: n.lamps, "lit_v")
        self.sensor_at = pairs(lambda n: n.sensors, "plus", "minus")
        self.least_v = figures(lambda n: n.sensors, "min_v")
        self.driver_at = pairs(lambda n: n.outputs, "group_plus", "group_minus")
        self.drive_v = figures(lambda n: n.outputs, "drive_v")
        minus = self.electrical.supplies[0].minus
        plus = [output.group_plus for output in self.electrical.outputs]
        self.group_at = np.stack([rows(plus), rows([minus] * len(plus))])
        feed = self.electrical.supplies[0]
        self.feed_at = rows([feed.plus, feed.minus])
        self.coil_actor = np.array([self.actors[c.part] for c in self.electrical.coils], dtype=np.intp)
        self.sensor_actor = np.array([self.actors[s.part] for s in self.electrical.sensors])
        self.output_actor = np.array([self.actors[o.actor] for o in self.electrical.outputs])
        self._fuses(points, self.electrical.fuses)
        held = {(c.part, c.how): n for n, f in enumerate(faults, 1) for c in f.changes if isinstance(c, Armature)}
        self.welded, self.jammed = (np.zeros((self.boards, len(self.electrical.coils)), dtype=bool) for _ in range(2))
        for k, coil in enumerate(self.electrical.coils):
            for how, array in (("welded", self.welded), ("jammed", self.jammed)):
                if (coil.part, how) in held:
                    array[held[coil.part, how], k] = True  # type: ignore[index]

    def _fuses(self, points: Points, fuses: Sequence[Fuse]) -> None:
        switches = {e.name: (k, e) for k, e in enumerate(points._switches)}
        found = [switches[f.element] for f in fuses]
        self.fuse_at = np.stack([points.solver.rows([getattr(e, end) for _, e in found]) for end in ("a", "b")])
        self.fuse_per_ohm = np.array([1.0 / e.ohm for _, e in found])
        self.fuse_bit = np.array([1 << k for k, _ in found])
        self.rated_a = np.array([f.rated_a for f in fuses])

    def _program(self, bench: Bench) -> None:
        lowered = lower(read_program(PROGRAM))
        slot = {name: k for k, name in enumerate(lowered.slots)}
        tag = {point.point: point.tag for point in bench.board.points.values() if point.tag}
        self.in_slots = [slot.get(tag.get(c.point, "")) for c in self.electrical.inputs]
        self.out_slots = [slot.get(tag.get(o.point, "")) for o in self.electrical.outputs]
        self.scan = to_numpy(lowered)
        self.new_bits = numpy_bits(lowered, self.count)
        self.memory = numpy_memory(lowered, self.count)

    # where the boards are -----------------------------------------------------------------------
    def _at_rest(self) -> None:
        electrical, n = self.electrical, self.count
        rest = [self.state_of[a.id, a.rest] for a in electrical.actors.values()]
        self.states = np.repeat(np.array(rest, dtype=np.int8)[None, :], n, axis=0)
        self.raw = np.zeros((n, len(electrical.inputs)), dtype=bool)
        self.outputs = np.zeros((n, len(electrical.outputs)), dtype=bool)
        self.powered = np.zeros(n, dtype=bool)
        self.wiring = np.zeros(n, dtype=np.int64)
        self.wants = np.repeat(np.array([[s.on_when in ("light", "far") for s in electrical.sensors]]), n, axis=0)
        self.at = np.zeros(n, dtype=np.int64)

    def _put(self, rows: Ints, actor: str, state: str) -> None:
        self.states[rows, self.actors[actor]] = self.state_of[actor, state]

    def _keys(self, rows: Ints) -> list[int]:
        bits = self.bits[np.arange(len(self.actors)), self.states[rows]]
        found: list[int] = np.bitwise_or.reduce(bits, axis=1).tolist()
        return found

    def _solve(self, rows: Ints) -> None:
        wirings, boards = self.wiring[rows].tolist(), self.board[rows].tolist()
        wanted = [(w, f, self.points.key(w, f, k)) for w, f, k in zip(wirings, boards, self._keys(rows), strict=True)]
        self.met |= dict.fromkeys(wanted)
        anchors = dict.fromkeys((w, key) for w, f, key in wanted if f == 0)
        self.at[rows] = self.points.find(wanted, anchors)

    def _volts(self, rows: Ints, ends: Ints) -> Floats:
        at = self.at[rows]
        volts = self.points.volts
        found: Floats = volts[at[:, None], ends[0]] - volts[at[:, None], ends[1]]
        return found

    # from one steady state to the next --------------------------------------------------------------
    def settle(self, rows: Ints, *, may_power: bool = False) -> None:
        """Let boards come to rest.

        Parameters
        ----------
        may_power
            The step switched supplies, so that a controller may start or stop without more ado.
        """
        rows = rows[~self.left[self.board[rows]]]
        for _ in range(ROUNDS):
            self._solve(rows)
            moved = self._round(rows, may_power=may_power)
            rows = rows[moved & ~self.left[self.board[rows]]]
            if not len(rows):
                return
        self.left[self.board[rows]] = True

    def _round(self, rows: Ints, *, may_power: bool) -> Bools:
        """What follows at once from the volts; which boards have moved."""
        board = self.board[rows]
        before = self.states[rows].copy(), self.outputs[rows].copy(), self.raw[rows].copy()
        self._heat(rows, board)
        self._drive(rows, board)
        self._feed(rows, board, may_power=may_power)
        alive = self._volts(rows, self.sensor_at) >= self.least_v[board]
        self.states[rows[:, None], self.sensor_actor] = alive & self.wants[rows]
        volts = self._volts(rows, self.input_at)
        volts = np.where(self.both_ways, np.abs(volts), volts)
        enough = np.abs(self.points.amps[self.at[rows][:, None], self.input_curve]) >= self.on_a[board]
        high, low = enough & (volts >= self.on_v[board]), enough & (volts >= self.off_v[board])
        self.raw[rows] = np.where(self.raw[rows], low, high)
        coils = np.abs(self._volts(rows, self.coil_at))
        closed = self.states[rows[:, None], self.coil_actor] == 1
        going = np.where(closed, (coils < self.drop_v[board]) & ~self.welded[board], False)
        coming = np.where(closed, False, (coils >= self.pick_v[board]) & ~self.jammed[board])
        self.states[rows[:, None], self.coil_actor] = (closed & ~going) | coming
        self._scan(rows)
        after = self.states[rows], self.outputs[rows], self.raw[rows]
        changed = [(old != new).any(axis=1) for old, new in zip(before, after, strict=True)]
        moved: Bools = changed[0] | changed[1] | changed[2]
        return moved

    def _heat(self, rows: Ints, board: Ints) -> None:
        amps = np.abs(self._volts(rows, self.fuse_at)) * self.fuse_per_ohm
        keys = np.array(
            [
                self.points.key(int(w), int(f), k)
                for w, f, k in zip(self.wiring[rows], board, self._keys(rows), strict=True)
            ]
        )
        carries = (keys[:, None] & self.fuse_bit) != 0
        self.left[board[((amps > self.rated_a) & carries).any(axis=1)]] = True

    def _drive(self, rows: Ints, board: Ints) -> None:
        """An output whose driver has no supply stays off whatever the program says: a real bench knows how."""
        low = self._volts(rows, self.driver_at) < self.drive_v[board]
        low &= self._volts(rows, self.group_at) >= self.drive_v[board]  # a dead group is dead either way
        asked = self.states[rows[:, None], self.output_actor] == 1
        self.left[board[(low & asked).any(axis=1)]] = True

    def _feed(self, rows: Ints, board: Ints, *, may_power: bool) -> None:
        volts = self._volts(rows, self.feed_at[:, None])[:, 0]
        was = self.powered[rows]
        now = np.where(volts >= self.net.feed_on_v, True, np.where(volts < self.net.feed_off_v, False, was))
        turned = now != was
        if not may_power:
            self.left[board[turned]] = True
        self.powered[rows] = now
        off = rows[~now]
        self.outputs[off] = False
        self.states[off[:, None], self.output_actor] = 0

    def _scan(self, rows: Ints) -> None:
        rows = rows[self.powered[rows]]
        if not len(rows):
            return
        bits = self.new_bits[:, : len(rows)].copy()
        for k, slot in enumerate(self.in_slots):
            if slot is not None:
                bits[slot] = self.raw[rows, k]
        self.scan(bits, self.memory[:, : len(rows)], 0)
        for k, slot in enumerate(self.out_slots):
            if slot is not None:
                self.outputs[rows, k] = bits[slot]
        self.states[rows[:, None], self.output_actor] = self.outputs[rows]

    # the situations -----------------------------------------------------------------------------
    def go(self) -> tuple[dict[str, Seen], dict[str, list[str]]]:
        """Walk through everything: what each situation shows, and how each coil's contactor lets go."""
        self._at_rest()
        everything = np.arange(self.count)
        for part in self.electrical.fuses:
            self._put(everything, part.actor, part.closed_state)
        for actor in self.electrical.actors.values():
            if actor.kind == "supply":
                self._put(everything, actor.id, "on")
        first = np.arange(self.boards)
        self.settle(first, may_power=True)
        start: Mapping[str, NDArray[np.generic]] = {
            name: getattr(self, name)[: self.boards].copy() for name in ("states", "raw", "outputs", "powered", "at")
        }
        for name, array in start.items():
            getattr(self, name)[:] = np.tile(array, (len(self.situations), *(1,) * (array.ndim - 1)))
        seen: dict[str, Seen] = {}
        release: dict[str, list[str]] = {}
        plans = [
            [*s.do, ("see",), *s.undo]
            if s.name != "letting go"
            else [*s.do, ("see",), ("press", "S1"), ("let",), ("release", "S1")]
            for s in self.situations
        ]
        for turn in range(max(map(len, plans))):
            touched, supply = [], False
            for number, (situation, plan) in enumerate(zip(self.situations, plans, strict=True)):
                if turn >= len(plan):
                    continue
                rows = np.arange(number * self.boards, (number + 1) * self.boards)
                step = plan[turn]
                if step[0] == "see":
                    seen[situation.name] = self._see(rows)
                elif step[0] == "let":
                    release |= self._let_go(rows, seen[situation.name])
                else:
                    supply = self._do(rows, step) or supply
                    touched.append(rows)
            if touched:
                self.settle(np.concatenate(touched), may_power=supply)
        for number, situation in enumerate(self.situations):
            if not any(step[0] in SUPPLY for step in situation.do):
                ended = slice(number * self.boards, (number + 1) * self.boards)
                for name in ("states", "raw", "outputs"):
                    self.left |= (getattr(self, name)[ended] != start[name]).any(axis=1)
        return seen, release

    def _see(self, rows: Ints) -> Seen:
        board = self.board[rows]
        lit = np.abs(self._volts(rows, self.lamp_at)) >= self.lit_v[board]
        powered = self.powered[rows][:, None]
        return Seen(
            self.at[rows].copy(), self.raw[rows] & powered, self.outputs[rows] & powered, lit, self.states[rows].copy()
        )

    def _let_go(self, rows: Ints, before: Seen) -> dict[str, list[str]]:
        found = {}
        for k, coil in enumerate(self.electrical.coils):
            was = before.states[:, self.coil_actor[k]] == 1
            still = self.states[rows, self.coil_actor[k]] == 1
            took = [altered.electrical.coils[k].release_us for altered in self.points.wired[0].altered]
            found[coil.part] = [
                "not in" if not w else "stays in" if s else str(t) for w, s, t in zip(was, still, took, strict=True)
            ]
        return found

    def _do(self, rows: Ints, step: Step) -> bool:
        """One step of a situation; whether it switches a supply."""
        verb, *words = step
        if verb in ("press", "release", "turn", "trip", "reset"):
            to = {"press": "pressed", "release": "released", "trip": "tripped", "reset": "healthy"}.get(verb)
            self._put(rows, words[0], to or words[1])
        elif verb in ("beam", "metal"):
            k = next(k for k, s in enumerate(self.electrical.sensors) if s.part == words[0])
            sensor = self.electrical.sensors[k]
            self.wants[rows, k] = (words[1] == "on") == (sensor.on_when in ("dark", "near"))
        elif verb == "breaker_off":
            fuse = next(f for f in self.electrical.fuses if f.actor == words[0])
            self._put(rows, words[0], fuse.open_state)
        elif verb == "power_off":
            for actor in self.electrical.actors.values():
                if actor.kind == "supply":
                    self._put(rows, actor.id, "off")
        elif verb in ("lift_all", "land_all"):
            self.wiring[rows] = 1 if verb == "lift_all" else 0
        elif verb == "remove":
            for actor in self.electrical.actors.values():  # it follows the dead board: its supply is off already
                if actor.kind == "supply":
                    self._put(rows, actor.id, "off")
            self.wiring[rows] = 2
        else:
            raise FaultError(f"the dictionary made all at once has no step {verb}", where=verb, code="fault-step")
        return verb in SUPPLY

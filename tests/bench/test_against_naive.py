"""The event engine beside a bench that is written the slow and obvious way.

The other bench has a fixed step, no queue, no cache, no sleeping, no automata of ours and no controller of
ours: at each step it solves the network anew, counts filter, coil and scan time in steps, and works the
program by the logic room's walker. Both get the same presses; every change must agree within one step.
"""

from __future__ import annotations

import random
from functools import partial

import pytest

from labkit.bench import Bench
from labkit.bench.engine import Engine
from labkit.bench.recorder import Recorder
from labkit.board import Electrical
from labkit.circuit import Solver
from labkit.logic import Program, read_st, walker

STEP_US = 100


class NaiveBench:
    """One contactor K1, outputs without delay but that of the family, 10 ms scan, 4 ms filter; starts with power."""

    def __init__(self, electrical: Electrical, program: Program, tags: dict[str, str], solved_us: int) -> None:
        self.electrical = electrical
        self.walk = walker(program)
        self.tags = tags  # point -> tag
        self.solved_us = solved_us
        self.states = electrical.powered()
        self.solver = Solver(electrical.circuit, keep=1)
        self.t_us = 0
        self.raw_since: dict[str, tuple[bool, int]] = {}
        self.filtered: dict[str, bool] = {}
        self.values: dict[str, bool] = {}
        self.on_way: list[tuple[int, str, str]] = []
        self.coil_since: tuple[bool, int] = (False, 0)
        self.written: dict[str, bool] = {}
        self.changes: dict[str, list[tuple[int, bool]]] = {}
        self.welded = False

    def step(self) -> None:
        t, electrical = self.t_us, self.electrical
        for due, actor, state in self.on_way:
            if due <= t:
                self.states[actor] = state
        self.on_way = [x for x in self.on_way if x[0] > t]
        solution = self.solver.solve(electrical.key(self.states))
        # coil and armature
        coil = electrical.coils[0]
        volts = abs(solution.volt(coil.a, coil.b))
        closed = self.states["K1"] == "closed"
        leaving = volts < coil.drop_out_v if closed else volts >= coil.pick_up_v
        if leaving != self.coil_since[0]:
            self.coil_since = (leaving, t)
        if (
            leaving
            and t - self.coil_since[1] >= (coil.release_us if closed else coil.operate_us)
            and not (closed and self.welded)
        ):
            self.states["K1"] = "open" if closed else "closed"
            self.coil_since = (False, t)
            solution = self.solver.solve(electrical.key(self.states))
        # channels and filters
        for channel in electrical.inputs:
            was = self.raw_since.get(channel.point, (False, -(10**9)))
            on = channel.reads(solution.volt(channel.terminal, channel.common), was[0])
            if on != was[0]:
                was = self.raw_since[channel.point] = (on, t)
            if t - was[1] >= 4_000:
                self.filtered[channel.point] = was[0]
        # scan: read at its start, write solved_us later
        if t % 10_000 == 0:
            inputs = {tag: self.filtered.get(point, False) for point, tag in self.tags.items() if point[0] == "I"}
            self.values.update(inputs)
        if t % 10_000 == self.solved_us:
            self.walk.scan(self.values, t)
            for output in electrical.outputs:
                on = self.values.get(self.tags.get(output.point, ""), False)
                if on != self.written.get(output.point, False):
                    self.written[output.point] = on
                    self.on_way.append((t + 100, output.actor, "on" if on else "off"))
        self.note("K1", self.states["K1"] == "closed")
        for point, on in self.filtered.items():
            self.note(point, on)
        for point, on in self.written.items():
            self.note(point, on)
        self.t_us += STEP_US

    def note(self, name: str, value: bool) -> None:
        seen = self.changes.setdefault(name, [])
        if (seen[-1][1] if seen else False) != value:
            seen.append((self.t_us, value))


PROGRAMS = {
    "output": "K1 := S1 AND (S2 OR K1);",
    "auxiliary": "K1 := S1 AND (S2 OR K1_A);",
    "both": "K1 := S1 AND (S2 OR K1 AND K1_A);",
}


def random_presses(rng: random.Random) -> list[tuple[int, str, str]]:
    """(time, part, state), times on the step, for half a second."""
    todo, t = [], 20_000
    while t < 420_000:
        part = rng.choice(["S2", "S2", "S1", "F4"])
        down = "off" if part == "F4" else "pressed"
        length = rng.randrange(1, 600) * STEP_US
        todo += [(t, part, down), (t + length, part, "on" if part == "F4" else "released")]
        t += length + rng.randrange(1, 500) * STEP_US
    return todo


def compare(engine: Engine, program: Program, points: dict[str, str], todo: list[tuple[int, str, str]]) -> int:
    """Both benches through `todo`; how many changes there were, all of them within one step of each other."""
    start = engine.clock.now_us
    recorder = Recorder(engine)
    engine.watch = recorder.look
    engine.scan.begin_record(recorder.look)
    for t, part, state in todo:
        engine.run_until(start + t)
        engine.act(partial(engine.place, part, state), part)
    engine.run_until(start + 500_000)
    engine.watch = None
    trace = recorder.finish([])

    naive = NaiveBench(engine.net.electrical, program, points, 300)
    naive.states |= {"B1": "on"} if "B1" in naive.states else {}
    for point, _ in points.items():
        if point[0] == "I" and trace.signals[f"in:{point}"].changes[0][1]:
            naive.raw_since[point], naive.filtered[point] = (True, -(10**9)), True
            naive.changes[point] = [(-1, True)]
    left = list(todo)
    while naive.t_us < 500_000:
        while left and left[0][0] <= naive.t_us:
            _, part, state = left.pop(0)
            naive.states[part] = state
        naive.step()

    moved = 0
    for name in ("K1", *points):
        signal = f"pole:{name}" if name == "K1" else f"in:{name}" if name[0] == "I" else f"out:{name}"
        mine = [(t - start, v) for t, v in trace.signals[signal].changes[1:]]
        other = [change for change in naive.changes.get(name, []) if change[0] >= 0]
        assert [v for _, v in mine] == [v for _, v in other], name
        assert all(abs(a[0] - b[0]) <= STEP_US for a, b in zip(mine, other, strict=True)), name
        moved += len(mine)
    return moved


@pytest.mark.parametrize("name", PROGRAMS)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_change_agrees_within_one_step(small, name: str, seed: int) -> None:
    engine = small.up(small.engine(PROGRAMS[name]))  # the first scan begins now
    points = {"I1": "S1", "I2": "S2", "I3": "K1_A", "Q1": "K1"}
    todo = random_presses(random.Random(f"{name} {seed}"))
    assert compare(engine, read_st(PROGRAMS[name]), points, todo) >= 4


@pytest.mark.parametrize("name", PROGRAMS)
def test_and_so_it_does_on_the_orchard_board(name: str) -> None:
    bench = Bench("orchard")
    bench.power_up()
    bench.load(PROGRAMS[name])  # and here
    points = {"I1": "S1", "I2": "S2", "I10": "K1_A", "Q1": "K1"}
    todo = random_presses(random.Random(name))
    assert compare(bench.engine, read_st(PROGRAMS[name]), points, todo) >= 4

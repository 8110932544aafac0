"""How fast the bench is: beside the wall clock, and beside the same loop on a general event library.

The work is 10 s of the seal-in lesson at a 1 ms scan: the orchard board, forty button events, the network solved
for each set of positions that comes up. Cold is a bench that has solved nothing yet; warm is the same bench
doing the same once more. Making the bench is not counted.
"""

from __future__ import annotations

import gc
import statistics
import time
from collections.abc import Callable, Generator
from functools import partial
from typing import Any

from labkit.base import ms
from labkit.bench.front import Bench
from labkit.bench.machine import Contactor
from labkit.board import Board, load_board

__all__ = ["BOUNDS", "rows"]

BOUNDS = {
    "bench_vs_realtime_cold": (500.0, 1000.0),
    "bench_vs_realtime_warm": (5000.0, 10000.0),
    "bench_vs_simpy_cold": (2.0, 3.0),
}
"""Key -> floor and aim."""

_LENGTH_US = 10_000_000
_PROGRAM = "K1 := S1 AND NOT F3_T AND (S2 OR K1_A); P1 := K1_A; P2 := NOT K1_A AND NOT F3_T; P3 := F3_T;"


def _events() -> list[tuple[int, str, str]]:
    """Forty button events ``(time, part, state)``: start and stop in turn, each pressed and let go."""
    events, t = [], 50_300
    for n in range(20):
        part = ("S2", "S1")[n % 2]
        length = 60_000 + 7_100 * n % 50_000
        events += [(t, part, "pressed"), (t + length, part, "released")]
        t += 480_700
    return events


def _bench(board: Board) -> Bench:
    """Up and quiet, and then with everything that it has solved forgotten."""
    bench = Bench(board, scan=ms(1), filter=ms(3))
    bench.power_up()
    bench.load(_PROGRAM)
    bench.wait(ms(500))
    bench.engine.net.forget()
    return bench


def _ours(bench: Bench) -> None:
    start = bench.now_us
    for t_us, part, state in _events():
        bench.wait_until(start + t_us)
        (bench.press if state == "pressed" else bench.release)(part)
    bench.wait_until(start + _LENGTH_US)


class _OnSimpy:
    """The same board, controller and contactor, with the processes and events of a general library.

    It keeps the solved networks too; what it has not is a scan that is no event, and sleep.
    """

    def __init__(self, bench: Bench) -> None:
        import simpy

        self.env = simpy.Environment()
        engine = bench.engine
        self.net, self.controller, self.scan_us = engine.net, engine.controller, bench.scan_period_us
        self.start = bench.now_us
        self.states, self.key, self.raw = dict(engine.states), engine.key, dict(engine.raw)
        coil = self.net.electrical.coils[0]
        self.k1 = Contactor("K1", coil.pick_up_v, coil.drop_out_v, coil.operate_us, coil.release_us)
        self.k1_moves: list[tuple[int, bool]] = []
        self.actor = {output.point: output.actor for output in self.net.electrical.outputs}

    @property
    def now(self) -> int:
        return self.start + int(self.env.now)

    def move(self, actor: str, state: str) -> None:
        old = self.states[actor]
        if old == state:
            return
        self.states[actor] = state
        self.key ^= self.net.flips[actor, old] ^ self.net.flips[actor, state]
        reading = self.net.reading(self.key)
        due = self.k1.feel(reading.coils[0], self.now)
        if due is not None:
            self.env.process(self.armature(due))
        for channel, on in zip(self.net.electrical.inputs, reading.channels, strict=True):
            if on < 2 and bool(on) != self.raw[channel.point]:
                self.raw[channel.point] = bool(on)
                settle = self.controller.channel(channel.point, bool(on), self.now)
                if settle is not None:
                    self.env.process(self.filter(channel.point, settle))

    def armature(self, due: int) -> Generator[Any, Any, None]:
        yield self.env.timeout(due - self.now)
        if self.k1.due_us == due:
            self.k1.arrive()
            self.k1_moves.append((self.now, self.k1.closed))
            self.move("K1", "closed" if self.k1.closed else "open")

    def filter(self, point: str, due: int) -> Generator[Any, Any, None]:
        yield self.env.timeout(due - self.now)
        self.controller.settle(point, self.now)

    def output(self, point: str, on: bool) -> Generator[Any, Any, None]:
        yield self.env.timeout(self.controller.family.outputs.delay_us)
        self.move(self.actor[point], "on" if on else "off")

    def scan(self) -> Generator[Any, Any, None]:
        table = self.controller.timetable
        while True:
            self.controller.read(self.now)
            yield self.env.timeout(table.solve_us)
            self.controller.solve(self.now)
            yield self.env.timeout(table.write_us - table.solve_us)
            for point, on in self.controller.write(self.now):
                self.env.process(self.output(point, on))
            yield self.env.timeout(table.period_us - table.write_us)

    def person(self) -> Generator[Any, Any, None]:
        for t_us, part, state in _events():
            yield self.env.timeout(t_us - self.env.now)
            self.move(part, state)

    def run(self) -> None:
        self.env.process(self.scan())
        self.env.process(self.person())
        self.env.run(until=_LENGTH_US)


def _seconds(do: Callable[[], None]) -> float:
    gc.collect()
    start = time.perf_counter()
    do()
    return time.perf_counter() - start


def _result(states: dict[str, str]) -> tuple[str, ...]:
    return tuple(states[part] for part in ("K1", "A1.Q1", "A1.Q2", "S1", "S2"))


def rows(quick: bool = False) -> list[dict[str, Any]]:
    """The measured ratios, ours and the other's in turn; ``ratio`` is None where simpy is missing.

    Raises
    ------
    RuntimeError
        If the two loops do not end in the same positions: then there is nothing to compare.
    """
    try:
        import simpy  # noqa: F401 - only whether it is there
    except ImportError:
        other = False
    else:
        other = True
    board = load_board("orchard")
    cold, warm, theirs, ratios = [], [], [], []
    _ours(_bench(board))  # imports, generated code
    for _ in range(3 if quick else 11):
        bench = _bench(board)
        cold.append(_seconds(partial(_ours, bench)))
        warm.append(_seconds(partial(_ours, bench)))
        if other:
            loop = _OnSimpy(_bench(board))
            theirs.append(_seconds(loop.run))
            ratios.append(theirs[-1] / cold[-1])
            if _result(loop.states) != _result(bench.engine.states):
                raise RuntimeError("the two loops do not end in the same positions")
    work = "10 s of the seal-in lesson, 1 ms scan, 40 button events"
    wall = f"{_LENGTH_US / 1e6:g} s"
    same = "the same loop on simpy, with the same kept solutions" if other else "simpy is not installed"
    ratio = statistics.median(ratios) if other else None
    keys = ("ratio", "ours", "other", "note")
    made = [
        ("realtime_cold", _times_real(cold), _show(cold), wall, f"{work}, nothing solved before"),
        ("realtime_warm", _times_real(warm), _show(warm), wall, f"{work}, done once before"),
        ("simpy_cold", ratio, _show(cold), _show(theirs) if other else "", same),
    ]
    return [_row(f"bench_vs_{key}") | dict(zip(keys, rest, strict=True)) for key, *rest in made]


def _row(key: str) -> dict[str, Any]:
    floor, aim = BOUNDS[key]
    return {"key": key, "ratio": None, "floor": floor, "aim": aim}


def _times_real(seconds: list[float]) -> float:
    return statistics.median(_LENGTH_US / 1e6 / t for t in seconds)


def _show(times: list[float]) -> str:
    return f"{statistics.median(times) * 1e3:.3g} ms"

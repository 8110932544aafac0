"""Pacing with a wall clock of the test's own."""

from __future__ import annotations

import asyncio
from itertools import pairwise

import pytest

from labkit.base import ms
from labkit.bench import Bench, BenchError
from labkit.bench.live import Pacer


class Wall:
    """A wall clock that moves when told, or by being slept on."""

    def __init__(self) -> None:
        self.s = 100.0
        self.slept: list[float] = []

    def now(self) -> float:
        return self.s

    async def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.s += seconds
        await asyncio.sleep(0)


@pytest.fixture
def wall() -> Wall:
    return Wall()


@pytest.fixture
def bench() -> Bench:
    bench = Bench("orchard")
    bench.power_up()
    bench.load("K1 := S1 AND (S2 OR K1);")
    return bench


def test_bench_time_follows_the_wall_and_slow_motion_is_slower(bench: Bench, wall: Wall) -> None:
    pacer, start = Pacer(bench, now=wall.now), bench.now_us
    wall.s += 0.030
    pacer.tick()
    assert bench.now_us == start + 30_000
    pacer.set_speed(0.01)
    wall.s += 1.0
    pacer.tick()
    assert bench.now_us == start + 40_000
    assert pacer.late_us == 0


def test_a_slow_machine_falls_behind_and_skips_no_scan(bench: Bench, wall: Wall) -> None:
    pacer, start = Pacer(bench, now=wall.now), bench.now_us
    with bench.record() as trace:
        wall.s += 1.0
        pacer.tick()
        assert bench.now_us == start + 50_000
        assert pacer.late_us == 950_000
        for _ in range(19):
            pacer.tick()
        assert (bench.now_us, pacer.late_us, pacer.worst_us) == (start + 1_000_000, 0, 950_000)
    assert len([phase for phase in trace.scans if phase.kind == "read"]) == 100


def test_paced_and_unpaced_benches_end_alike(bench: Bench, wall: Wall) -> None:
    other = Bench("orchard")
    other.power_up()
    other.load("K1 := S1 AND (S2 OR K1);")
    pacer = Pacer(bench, now=wall.now)
    for each in (bench, other):
        each.press("S2", ms(33))
    for n in range(40):
        wall.s += 0.001 * (1 + n % 7)
        pacer.tick()
    other.wait_until(bench.now_us)
    assert bench.states() == other.states()
    assert bench.engine.clock.waiting() == other.engine.clock.waiting()


def test_pause_single_scan_and_resume(bench: Bench, wall: Wall) -> None:
    pacer, start = Pacer(bench, now=wall.now), bench.now_us
    pacer.pause()
    wall.s += 5
    pacer.tick()
    assert bench.now_us == start
    pacer.single_scan()
    assert bench.now_us == start + 10_000
    wall.s += 5
    pacer.resume()
    wall.s += 0.001
    pacer.tick()
    assert bench.now_us == start + 11_000


def test_what_others_do_with_the_bench_counts(bench: Bench, wall: Wall) -> None:
    pacer, start = Pacer(bench, now=wall.now), bench.now_us
    bench.wait(ms(30))
    wall.s += 0.02
    pacer.tick()
    assert bench.now_us == start + 30_000  # ahead of the wall: it waits
    wall.s += 0.02
    pacer.tick()
    assert bench.now_us == start + 40_000


def test_the_loop_ticks_rests_and_hurries_when_behind(bench: Bench, wall: Wall) -> None:
    start, looks = bench.now_us, []
    pacer = Pacer(bench, now=wall.now, sleep=wall.sleep, tick_s=0.02, after=lambda: looks.append(bench.now_us - start))

    async def story() -> None:
        task = asyncio.create_task(pacer.run())
        while len(looks) < 4:
            await asyncio.sleep(0)
        wall.s += 0.120  # the machine was busy
        while len(looks) < 9:
            await asyncio.sleep(0)
        task.cancel()

    asyncio.run(story())
    assert looks[:3] == [0, 20_000, 40_000]
    assert all(b - a <= 50_000 for a, b in pairwise(looks))
    assert 0 in wall.slept
    assert 0.02 in wall.slept


def test_an_impossible_speed_is_refused(bench: Bench) -> None:
    for speed in (0, -1, float("nan"), float("inf")):
        with pytest.raises(BenchError, match="a bench cannot be paced"):
            Pacer(bench, speed=speed)


def test_a_controller_that_does_not_scan_has_no_single_scan(wall: Wall) -> None:
    with pytest.raises(BenchError, match=r"does not scan \(it has no supply\), so nobody can make a single scan"):
        Pacer(Bench("orchard"), now=wall.now).single_scan()

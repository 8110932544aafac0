"""Lets a bench's time follow the wall clock: the same clock, only waited for.

Nothing is left out to keep up. If the machine is too slow, every scan still happens, the bench falls behind
the wall, and how far is counted.
"""

from __future__ import annotations

import time
from collections.abc import Awaitable, Callable

from labkit.bench.errors import BenchError
from labkit.bench.front import Bench

__all__ = ["Pacer"]

_MOST_US = 50_000
"""Bench time that one tick may move: short enough that a press is answered while the bench catches up."""


class Pacer:
    """Paces one bench on an asyncio loop.

    Parameters
    ----------
    bench
        The bench; others may work it between ticks.
    speed
        Bench seconds for each second of the wall: 1, or less for slow motion.
    tick_s
        Wall seconds between two ticks.
    now
        Seconds of the wall; a test hands in its own.
    sleep
        Waits for some wall seconds; a test hands in its own.
    after
        Called after each tick, for those who look.

    Raises
    ------
    BenchError
        If the speed is not above 0.

    Examples
    --------
    >>> bench, wall = Bench("orchard"), [0.0]
    >>> pacer = Pacer(bench, speed=0.5, now=lambda: wall[0])
    >>> wall[0] = 0.02
    >>> pacer.tick()
    >>> bench.now_us, pacer.late_us
    (10000, 0)
    """

    def __init__(
        self,
        bench: Bench,
        *,
        speed: float = 1.0,
        tick_s: float = 0.02,
        now: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], Awaitable[object]] | None = None,
        after: Callable[[], None] | None = None,
    ) -> None:
        self.bench = bench
        self.late_us = 0
        """Bench microseconds that the bench is behind the wall now."""
        self.worst_us = 0
        """The most that it has been behind."""
        self.paused = False
        self._tick_s, self._now, self._sleep, self._after = tick_s, now, sleep or _sleep, after
        self._speed = self._checked(speed)
        self._anchor()

    @property
    def speed(self) -> float:
        """Bench seconds for each second of the wall."""
        return self._speed

    def set_speed(self, speed: float) -> None:
        """Slow down or speed up from now on; what is behind stays behind.

        Raises
        ------
        BenchError
            If the speed is not above 0.
        """
        self._speed, behind = self._checked(speed), self._behind()
        self._anchor(behind)

    def pause(self) -> None:
        """Let bench time stand still, and forget what it was behind."""
        self.paused = True
        self.late_us = 0

    def resume(self) -> None:
        """Go on from here."""
        if self.paused:
            self.paused = False
            self._anchor()

    def single_scan(self) -> None:
        """Pause, and let one whole scan pass.

        Raises
        ------
        BenchError
            If the controller does not scan.
        """
        self.pause()
        self.bench.single_scan()

    def tick(self) -> None:
        """Move the bench towards the wall's time, by a bounded step; the rest is lateness."""
        if self.paused:
            return
        behind = self._behind()
        step = min(behind, _MOST_US)
        if step > 0:
            self.bench.wait_until(self.bench.now_us + step)
        self.late_us = max(0, behind - step)
        self.worst_us = max(self.worst_us, self.late_us)
        if self._after is not None:
            self._after()

    async def run(self) -> None:
        """Tick until cancelled. While the bench is behind it ticks without rest, giving way in between."""
        while True:
            self.tick()
            await self._sleep(0 if self.late_us else self._tick_s)

    def _behind(self) -> int:
        """Bench microseconds from the bench's time to the wall's."""
        wall_us = (self._now() - self._wall) * 1e6 * self._speed
        return round(wall_us) - (self.bench.now_us - self._start)

    def _anchor(self, behind: int = 0) -> None:
        self._wall, self._start = self._now(), self.bench.now_us + behind

    @staticmethod
    def _checked(speed: float) -> float:
        if not 0 < speed < float("inf"):
            raise BenchError(
                f"a bench cannot be paced at {speed:g} times the wall's speed",
                try_this="1, or 0.1 for slow motion; to stop, pause",
                code="bench-pace",
            )
        return float(speed)


async def _sleep(seconds: float) -> None:
    import asyncio  # only for those who pace

    await asyncio.sleep(seconds)

"""The controller's scan as a plain loop beside the clock's queue.

A scan has the same shape until the program or the mode changes, so its three moments (read, solved, written)
are kept as offsets. When a scan changed nothing and nothing can change, the loop sleeps: the scans that would
follow are all the same, and are only counted.
"""

from __future__ import annotations

from collections.abc import Callable

from labkit.bench.clock import FOREVER, Clock, Rank
from labkit.bench.trace import ScanRun
from labkit.controller import Controller, Phase

__all__ = ["ScanLoop"]


class ScanLoop:
    """Runs the controller's scans on a clock.

    Parameters
    ----------
    controller
        Whose scans these are.
    clock
        The bench's.
    written
        Called at the end of each write phase that changed outputs, with ``(point, on)`` pairs.
    """

    __slots__ = (
        "_clock",
        "_controller",
        "_moment",
        "_plan",
        "_solve_from",
        "_solved",
        "_start",
        "_stirred",
        "_written",
        "_wrote",
        "asleep",
        "due_us",
        "period_us",
        "runs",
        "watch",
    )

    def __init__(
        self, controller: Controller, clock: Clock, written: Callable[[tuple[tuple[str, bool], ...]], None]
    ) -> None:
        self._controller, self._clock, self._wrote = controller, clock, written
        self._plan: tuple[Phase, ...] = ()
        self._moment = 0  # which of read, solved, written comes next
        self._start = 0  # of the scan that runs, or of the next one while asleep
        self._stirred = False  # something the program can see changed since the last read
        self.asleep = False
        self.due_us = FOREVER
        self.period_us = 0
        self.runs: list[ScanRun] = []
        self.watch: Callable[[], None] | None = None
        """Called after each moment while somebody records."""

    @property
    def running(self) -> bool:
        """Whether scans are made at all."""
        return self.asleep or self.due_us != FOREVER

    def next_start_us(self) -> int:
        """When the next scan begins, the present instant included."""
        if not self.asleep:
            return self.due_us if self._moment == 0 else self._start + self.period_us
        return self._start + max(0, -(-(self._clock.now_us - self._start) // self.period_us)) * self.period_us

    def start(self) -> None:
        """Begin the first scan now."""
        now, table = self._clock.now_us, self._controller.timetable
        self._plan = self._controller.plan(now)
        self.period_us, self._solve_from, self._written = table.period_us, table.solve_us, table.write_us
        self._solved = next(end for kind, _, end in table.phases if kind == "solve")
        self._moment, self._start, self.due_us, self.asleep, self._stirred = 0, now, now, False, True

    def halt(self) -> None:
        """No more scans; one that has begun is given up where it stands."""
        if self.asleep:
            self._count_slept(self._clock.now_us)
        self.due_us, self.asleep = FOREVER, False

    def stir(self, rank: int) -> None:
        """Something that the program can see has changed now, by an entry of that rank."""
        self._stirred = True
        if not self.asleep:
            return
        now = self._clock.now_us
        number = -(-(now - self._start) // self.period_us) if now > self._start else 0
        if rank > Rank.SCAN and self._start + number * self.period_us == now:
            number += 1  # the scan of this instant has been
        self._note(number)
        self._start += number * self.period_us
        self.due_us, self._moment, self.asleep = self._start, 0, False

    def step(self, end_us: int) -> None:
        """Do the moment that is due; and the rest of the scan if nothing can come between.

        Parameters
        ----------
        end_us
            Nothing at or after this time may be done.
        """
        alone = min(self._clock.head()[0], end_us)
        while True:
            self._do_moment()
            if self._moment == 0 or self.due_us >= alone:
                return

    def _do_moment(self) -> None:
        controller, start = self._controller, self._start
        self._clock.now_us = self.due_us
        if self._moment == 0:
            self._stirred = False
            controller.read(start)
            self._moment, self.due_us = 1, start + self._solved
        elif self._moment == 1:
            controller.solve(start + self._solve_from)
            self._moment, self.due_us = 2, start + self._written
        else:
            changed = controller.write(self.due_us)
            self._note(1)
            self._moment = 0
            self._start = start + self.period_us
            if controller.mode != "run":
                self.due_us = FOREVER  # its watchdog has stopped it
            elif controller.quiet and not self._stirred:
                self.asleep, self.due_us = True, FOREVER
            else:
                self.due_us = self._start
            if changed:
                self._wrote(changed)
        if self.watch is not None:
            self.watch()

    # what the trace keeps -------------------------------------------------------------------------
    def _note(self, count: int) -> None:
        """Count scans from the present start on; equal ones that follow one another make one row."""
        if not count or self.watch is None:
            return
        last = self.runs[-1] if self.runs else None
        if (
            last is not None
            and last.plan is self._plan
            and last.period_us == self.period_us
            and last.start_us + last.count * last.period_us == self._start
        ):
            last.count += count
        else:
            self.runs.append(ScanRun(self._start, self.period_us, count, self._plan))

    def _count_slept(self, until_us: int) -> None:
        """Note the scans that began while asleep, before `until_us`."""
        count = -(-(until_us - self._start) // self.period_us)
        if count > 0:
            self._note(count)
            self._start += count * self.period_us

    def begin_record(self, watch: Callable[[], None]) -> None:
        """From now on call `watch`, and note scans in a new list."""
        if self.asleep:
            self._count_slept(self._clock.now_us)
        self.watch, self.runs = watch, []

    def end_record(self) -> list[ScanRun]:
        """Stop noting; the rows so far, with a scan that has begun but not ended counted too."""
        if self.asleep:
            self._count_slept(self._clock.now_us)
        elif self.running and self._moment:
            self._note(1)
        self.watch, runs = None, self.runs
        self.runs = []
        return runs

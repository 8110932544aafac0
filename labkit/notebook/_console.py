"""The one hub of a bench: every view works the bench through it and learns from it what changed.

It keeps several views in step, paces the bench against the wall clock on the kernel's event loop, and
remembers which view holds which button, so that a view that goes away lets go.
"""

from __future__ import annotations

import asyncio
import time
import weakref
from collections.abc import Callable
from typing import Any, Protocol

from labkit.base import LabkitError, us
from labkit.bench import Pacer
from labkit.notebook._wiring_hand import WiringHand

__all__ = ["AFTER_CELL", "Console", "ConsoleError", "View", "console"]

_MOST_STEP_S = 0.25  # a longer time between two ticks was a busy kernel: it is lost, and told as lateness
_QUICK_S, _IDLE_S = 0.002, 0.02  # between ticks: after something was done, and else
_QUICK_FOR_S = 0.15  # longer than filter, scan and contactor together, so that their effects show at once
_BEAT_S = 1.5  # a holding view says so four times a second; after this silence it is taken as gone


class ConsoleError(LabkitError):
    """The bench cannot be paced or worked as asked."""

    default_code = "console"


class View(Protocol):
    """What the hub needs of a widget."""

    def refresh(self) -> None:
        """Read the bench again and show it."""


class _Hold:
    """Who holds one button, and since when."""

    def __init__(self, since_us: int) -> None:
        self.since_us = since_us
        self.beats: dict[str, float] = {}


class Console:
    """The hub of one bench; get it by :func:`console`.

    Parameters
    ----------
    bench
        The bench that is worked and watched.
    clock
        Seconds of the wall; tests hand in their own.
    """

    def __init__(self, bench: Any, clock: Callable[[], float] = time.monotonic) -> None:
        self.bench = bench
        self.late_s = 0.0
        """Wall seconds that were lost because the kernel was busy."""
        self.failure = ""
        self.kept_still = False  # someone stopped the pacing: a new view does not start it again
        self.leads = {"red": "", "black": ""}
        """Where the meter's leads are, for the meter and the board's drawing alike."""
        self.wiring = WiringHand(bench)
        self._clock = clock
        self._seen = clock()
        self._pacer = Pacer(bench, now=clock)
        self._left_us = 0
        self._quick_until = 0.0
        self._views: weakref.WeakSet[Any] = weakref.WeakSet()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._next: asyncio.TimerHandle | None = None
        self._holds: dict[str, _Hold] = {}

    def __repr__(self) -> str:
        return f"Console({self.state}, speed {self.speed:g})"

    # views ---------------------------------------------------------------------------------------
    def join(self, view: View) -> None:
        """A view wants to be told of changes."""
        self._views.add(view)

    def refresh(self) -> None:
        """Let every view read the bench again."""
        for view in list(self._views):
            view.refresh()

    # time ----------------------------------------------------------------------------------------
    @property
    def state(self) -> str:
        """``"live"``, ``"paused"``, ``"stopped"`` (no pacing: code moves the time) or ``"failed"``."""
        if self.failure:
            return "failed"
        if self._loop is None:
            return "stopped"
        return "paused" if self._pacer.paused else "live"

    @property
    def speed(self) -> float:
        """Bench seconds for each second of the wall."""
        return self._pacer.speed

    def start(self) -> Console:
        """Let the bench's time follow the wall clock, on the running event loop.

        Raises
        ------
        ConsoleError
            If no event loop is running, as in a plain Python session.
        """
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            raise ConsoleError(
                "there is no event loop here, so the bench cannot follow the wall clock",
                try_this="in plain Python move the time yourself: bench.wait(lk.s(1))",
            ) from None
        self.failure = ""
        self.kept_still = False
        self._loop = loop
        self._seen = self._clock()
        self._anchor()
        self._plan()
        self.refresh()
        return self

    def pause(self) -> None:
        """Let the bench's time stand still; controls still move."""
        self._catch_up()
        if self._loop is None:  # nobody paces it yet: a view that comes up does not start it either
            self.kept_still = True
        self._pacer.pause()
        self.refresh()

    def stop(self) -> None:
        """End the pacing; time moves only by code until the next :meth:`start`."""
        self.kept_still = True
        self._halt()
        self.refresh()

    def set_speed(self, speed: float) -> None:
        """Bench seconds per wall second: 1, or 0.1 and 0.01 for slow motion.

        Raises
        ------
        ConsoleError
            If the speed is not between 0.001 and 1.
        """
        if not 0.001 <= speed <= 1:
            raise ConsoleError(f"a speed of {speed:g} cannot be paced", try_this="choose from 0.001 to 1")
        self._catch_up()
        self._pacer.set_speed(speed)
        self.refresh()

    def step(self, length_us: int) -> None:
        """Move a paused bench by one length of bench time."""
        if self.state == "live":
            self.pause()
        self._move(length_us)
        self.refresh()

    def step_scan(self) -> None:
        """Move a paused bench by one scan of its controller."""
        self.step(self.bench.engine.controller.scan_period_us)

    def _plan(self) -> None:
        """Let the next tick come soon if something was just done, else later; one is waiting at a time."""
        if self._loop is None:
            return
        if self._next is not None:
            self._next.cancel()
        soon = self._clock() < self._quick_until
        self._next = self._loop.call_later(_QUICK_S if soon else _IDLE_S, self._on_time)

    def _on_time(self) -> None:
        try:
            self.tick()
        finally:
            self._plan()

    def _halt(self) -> None:
        if self._next is not None:
            self._next.cancel()
        self._loop = self._next = None

    def tick(self) -> None:
        """One round of the pacing: move the time to the wall's, then let the views look."""
        self._drop_silent_views()
        self._catch_up()
        self.refresh()

    def _anchor(self) -> None:
        """From here on the bench follows the wall again, whatever moved its time meanwhile."""
        self._pacer.pause()
        self._pacer.resume()
        self._left_us = self.bench.now_us

    def _catch_up(self) -> None:
        now = self._clock()
        passed, self._seen = now - self._seen, now
        if self.state != "live":
            return
        if passed > _MOST_STEP_S:
            self.late_s += passed
            self._anchor()
        elif self.bench.now_us != self._left_us:  # a cell moved the time by itself
            self._anchor()
        self._watched(self._pacer.tick)
        self._left_us = self.bench.now_us

    def _move(self, length_us: int) -> None:
        """Let a length of bench time pass."""
        self._watched(lambda: self.bench.wait(us(length_us)))

    def _watched(self, move: Callable[[], object]) -> None:
        """Move the bench, and hand what happened meanwhile to the views that roll it."""
        rolling = [view for view in self._views if getattr(view, "rolling", False)]
        recording = trace = None
        if rolling:
            try:
                recording = self.bench.record()
                trace = recording.__enter__()
            except LabkitError:  # a cell that waits is recording: the views take up again when it is done
                recording = None
        try:
            move()
        except LabkitError as wrong:
            self._fail(str(wrong))
        except Exception as wrong:
            self._fail(f"the bench stopped at {self.bench.now_us} us: {type(wrong).__name__}: {wrong}")
            raise
        finally:
            if recording is not None:
                recording.__exit__(None, None, None)
        if trace is not None and recording is not None:
            for view in rolling:
                view.take(trace)

    def _fail(self, sentence: str) -> None:
        self.failure = sentence
        self._halt()

    # work ----------------------------------------------------------------------------------------
    def work(self, action: Callable[[], object]) -> str:
        """Do something to the bench, now. Returns "" or the sentence that says why it was refused."""
        self._catch_up()
        said = ""
        try:
            action()
        except LabkitError as wrong:
            said = str(wrong)
        self._quick_until = self._clock() + _QUICK_FOR_S
        self._plan()
        self.refresh()
        return said

    def place(self, lead: str, terminal: str) -> None:
        """Put a lead of the meter on a terminal; an empty name takes it off.

        Raises
        ------
        LabkitError
            If the board has no such terminal.
        """
        self.leads = {**self.leads, lead: self.bench.terminal(terminal) if terminal else ""}
        self.refresh()

    def hold(self, part: str, view: str) -> str:
        """A view presses a button and keeps it down until :meth:`let_go`."""

        def press() -> None:
            if part not in self._holds:
                self.bench.press(part)
                self._holds[part] = _Hold(self.bench.now_us)
            self._holds[part].beats[view] = self._clock()

        return self.work(press)

    def beat(self, part: str, view: str) -> None:
        """The view is still there and still holds."""
        hold = self._holds.get(part)
        if hold is not None and view in hold.beats:
            hold.beats[view] = self._clock()

    def let_go(self, part: str, view: str, held_ms: float = 0) -> str:
        """A view lets go. The button comes up when the last view that holds it does.

        A busy kernel reads a press and its release together. `held_ms`, measured in the page, keeps
        the press as long on the bench as the finger made it.
        """

        def release() -> None:
            hold = self._holds.get(part)
            if hold is None or hold.beats.pop(view, None) is None or hold.beats:
                return
            self._holds.pop(part)
            left_us = hold.since_us + round(held_ms * 1_000 * self.speed) - self.bench.now_us
            if self.state == "live" and left_us > 30_000 * self.speed:  # more than messages jitter by
                self.bench.press(part, us(left_us))
            else:
                self.bench.release(part)

        return self.work(release)

    def _drop_silent_views(self) -> None:
        now = self._clock()
        if now - self._seen > _BEAT_S / 2:  # this kernel was busy itself: beats may still be in the queue
            for hold in self._holds.values():
                hold.beats = dict.fromkeys(hold.beats, now)
            return
        for part, hold in list(self._holds.items()):
            for view, last in list(hold.beats.items()):
                if now - last > _BEAT_S:
                    self.let_go(part, view)


# A bench must not know its views, so who views it is kept here, and only as long as the bench lives.
_CONSOLES: weakref.WeakKeyDictionary[Any, Console] = weakref.WeakKeyDictionary()


def console(bench: Any) -> Console:
    """The hub of `bench`: start, pause, slow down its time; every view of the bench shares it."""
    found = _CONSOLES.get(bench)
    if found is None:
        found = _CONSOLES[bench] = Console(bench)
    return found


# Views that show no bench but an answer sheet, which a cell may have written on.
AFTER_CELL: weakref.WeakSet[Any] = weakref.WeakSet()


def refresh_all() -> None:
    """Let the views of every bench and of every answer sheet look again; called after each cell that ran."""
    for each in (*_CONSOLES.values(), *AFTER_CELL):
        each.refresh()

"""One bench for many scenarios: cleared away after each, so that what was solved once need not be solved again.

A fresh bench costs some milliseconds and knows no solution yet; a class's marking plays a hundred scenarios
for each student. A scenario on the stand gives the same recording as on a fresh bench (a test compares them):
whatever could tell the difference makes the stand take a new bench.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from labkit.bench import Bench, Done, ScanRun, Signal, Trace
from labkit.lessons._steps import Script
from labkit.logic import Program

__all__ = ["Stand"]

_PAUSE_US = 3_000_000  # armatures, filters and the coasting motor are at rest well before
_GRID_US = 1_000_000  # a scenario begins on a whole second, so that no timer's resolution falls differently

# What can be undone without a trace; anything else (a bounce, a metal target) costs a new bench.
_UNDONE = {"press", "release", "power", "breaker", "trip", "reset", "remove", "fit", "weld", "unweld", "lift", "land"}
_UNDONE |= {"join", "unjoin", "set_bit", "run", "stop"}


class Stand:
    """Plays scenarios on a bench that it clears between them.

    Parameters
    ----------
    make
        Gives a fresh bench, everything off.
    plain
        False for benches with faults in them, or with something taken off: each scenario then has a new one.
    """

    def __init__(self, make: Callable[[], Bench], *, plain: bool = True) -> None:
        self._make = make
        self._plain = plain
        self._bench: Bench | None = None
        self._first: Bench | None = None
        self._before: Script | None = None
        self._spent = False

    @property
    def bench(self) -> Bench:
        """The bench as the last scenario left it."""
        if self._bench is None and not self._plain:
            self._bench = self._make()
        elif self._bench is None:
            if self._first is None:
                self._first = self._make()
            self._bench = self._first.again()  # fresh, but what has been solved stays known
        return self._bench

    def play(self, program: Program, script: Script, only: Iterable[str] | None = None) -> Trace:
        """Play a scenario from rest; the recording counts from its beginning and holds `only` these signals.

        Raises
        ------
        LabkitError
            If the controller refuses the program, or the bench fails.
        """
        self._clear()
        bench, start = self.bench, self.bench.now_us
        try:
            bench.load(program)
            with bench.record(None if only is None else [*only, "mode:A1"]) as trace:
                bench.play(script.stimulus)
                bench.wait_until(start + script.end_us)
        except BaseException:
            self._bench = self._before = None
            raise
        self._before = script
        trace = _from_zero(trace, start)
        mode = [value for _, value in trace.signals["mode:A1"].changes]
        if "off" in mode[1:]:  # a controller that was without supply has a timer clock of its own
            self._spent = True
        return trace

    def _clear(self) -> None:
        script, bench = self._before, self._bench
        if script is None or bench is None:
            return
        self._before = None
        if not self._plain or self._spent or any(step.do not in _UNDONE for step in script.stimulus.steps):
            self._bench, self._spent = None, False
            return
        _tidy(bench, script)
        now = bench.now_us + _PAUSE_US
        bench.wait_until(now + -now % _GRID_US)


def _tidy(bench: Bench, script: Script) -> None:
    """Everything off and as it was; the power goes first, so that nothing moves by it."""
    bench.power(False)
    done = [step.what.get("part") if step.do != "power" else None for step in script.stimulus.steps]
    parts = [str(part) for part in dict.fromkeys(done) if part is not None]
    for part in parts:
        if part in bench.removed:
            bench.fit(part)
    for part in parts:
        state = bench.states().get(part)
        if state == "pressed":
            bench.release(part)
        elif state == "on":
            bench.breaker(part, False)
        elif state == "tripped":
            bench.reset(part)
    landed = {wire.no for wire in bench.wiring}
    for wire in dict.fromkeys(str(s.what["wire"]) for s in script.stimulus.steps if s.do == "lift"):
        if wire not in landed:
            bench.land(wire)
    joined: list[tuple[str, str]] = []
    welded: list[str] = []
    for step in script.stimulus.steps:
        if step.do == "join":
            joined.append((step.what["a"], step.what["b"]))
        elif step.do == "unjoin":
            joined = [pair for pair in joined if set(pair) != {step.what["a"], step.what["b"]}]
        elif step.do == "weld":
            welded.append(step.what["part"])
        elif step.do == "unweld":
            welded.remove(step.what["part"])
    for a, b in joined:
        bench.unjoin(a, b)
    for part in welded:
        bench.unweld(part)
    if any(step.do == "stop" for step in script.stimulus.steps):
        bench.run()


def _from_zero(trace: Trace, start_us: int) -> Trace:
    """The recording with its beginning as time 0."""
    return Trace(
        signals={
            name: Signal(name, signal.kind, [(t - start_us, value) for t, value in signal.changes])
            for name, signal in trace.signals.items()
        },
        scan_runs=[ScanRun(r.start_us - start_us, r.period_us, r.count, r.plan) for r in trace.scan_runs],
        events=[Done(done.t_us - start_us, done.do, done.what) for done in trace.events],
        start_us=0,
        end_us=trace.end_us - start_us,
    )

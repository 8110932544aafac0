"""Twelve events for a motor that is held, each made to happen on a bench and put into words from its trace."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from labkit.base import Duration, ms, s, us
from labkit.bench._holds import (
    AUX,
    AUX_BLOCK,
    AUX_INPUT,
    COIL,
    CONTACTOR,
    CONTROLLER,
    GROUP,
    OUT,
    PLUS,
    PROVING,
    START,
    STOP,
)
from labkit.bench.clock import show_time
from labkit.bench.errors import BenchError
from labkit.bench.front import Bench
from labkit.bench.trace import Trace

__all__ = ["EVENTS", "Trial"]


@dataclass(frozen=True, slots=True)
class Trial:
    """One bench, and the phase of the scan at which the event comes."""

    bench: Bench
    phase: Duration

    def align(self) -> None:
        """Wait for a scan to begin, and then for the phase to pass."""
        self.bench.wait_until(self.bench.next_scan_us + self.phase.us)

    def start(self) -> None:
        """Get the motor to run as a person would, and wait until all is quiet."""
        self.bench.press(START, ms(150))
        self.bench.wait(ms(600))
        if not self.runs():
            raise BenchError("the motor does not run, so this event cannot be tried", code="hold-start")
        self.align()

    @contextmanager
    def watched(self) -> Iterator[Trace]:
        """Record what follows, from the aligned phase on."""
        self.align()
        with self.bench.record() as trace:
            yield trace

    def runs(self) -> bool:
        """Output on and contactor in."""
        return self.asked() and self.bench.state(CONTACTOR) == "closed"

    def asked(self) -> bool:
        """Output on."""
        return self.bench.led(OUT)


def _off_at(trace: Trace, after_us: int) -> int | None:
    """When the output went off for the first time after a time."""
    return next((t for t in trace[f"out:{OUT}"].falls() if t >= after_us), None)


def _how_it_dropped(trace: Trace, after_us: int) -> str:
    """How long after the auxiliary's input fell the output followed, in words."""
    lost = next(t for t in trace[f"in:{AUX}"].falls() if t >= after_us)
    off = _off_at(trace, after_us)
    assert off is not None
    scans = len(trace.reads(lost - 1, off))
    if scans == 1:
        return "in 1 scan"
    period = trace.scan_runs[0].period_us
    # the timer sees the loss one scan later at most, and the fault acts in the scan after the one that sees it
    if PROVING.us <= off - lost <= PROVING.us + 3 * period:
        return "after proving time"
    return f"after {show_time(off - lost)}"


def _normal(trial: Trial) -> str:
    bench = trial.bench
    bench.press(START, ms(150))
    bench.wait(ms(600))
    if not trial.runs():
        return "does not start"
    trial.align()
    bench.press(STOP, ms(150))
    bench.wait(ms(140))
    if trial.runs():
        return "does not stop"
    bench.wait(ms(600))
    return "starts again after stop" if trial.asked() else "ok"


def _tap(length: Duration) -> Callable[[Trial], str]:
    def tap(trial: Trial) -> str:
        with trial.watched() as trace:
            trial.bench.press(START, length)
            trial.bench.wait(ms(600))
        if trial.runs():
            return "holds"
        return "drops" if trace[f"out:{OUT}"].rises() else "not seen"

    return tap


def _aux_removed(trial: Trial) -> str:
    trial.start()
    with trial.watched() as trace:
        begin = trial.bench.now_us
        trial.bench.remove(AUX_BLOCK)
        trial.bench.wait(ms(800))
    return "runs on" if trial.runs() else f"drops {_how_it_dropped(trace, begin)}"


def _aux_missing(trial: Trial) -> str:
    trial.bench.remove(AUX_BLOCK)
    with trial.watched() as trace:
        trial.bench.press(START, ms(300))
        trial.bench.wait(ms(299))
        held_to_the_end = trial.runs()
        trial.bench.wait(ms(600))
    if trial.runs():
        return "runs on"
    rises, falls = trace[f"out:{OUT}"].rises(), trace[f"out:{OUT}"].falls()
    if held_to_the_end and len(falls) == 1:
        return "runs only while held"
    return "re-tries while start is held" if len(rises) > 1 else "trips"


def _aux_stuck(trial: Trial) -> str:
    trial.align()
    trial.bench.join(PLUS, AUX_INPUT)
    trial.bench.wait(ms(400))
    first = trial.runs()
    trial.bench.press(STOP, ms(150))
    trial.bench.wait(ms(140))
    stopped = not trial.runs()
    trial.bench.wait(ms(600))
    if not first:
        return "starts after stop" if trial.asked() else "nothing"
    if not stopped:
        return "starts by itself, cannot be stopped"
    return "starts by itself, returns when stop is released" if trial.runs() else "starts by itself once"


def _welded(trial: Trial) -> str:
    trial.start()
    trial.bench.weld(CONTACTOR)
    trial.bench.press(STOP, ms(150))
    trial.bench.wait(ms(140))
    if trial.asked():
        return "output does not go off"
    trial.bench.wait(ms(600))
    return "output comes back" if trial.asked() else "output stays off"


def _group_lost(length: Duration, off: str | None, back: str) -> Callable[[Trial], str]:
    def lost(trial: Trial) -> str:
        trial.start()
        with trial.watched() as trace:
            begin = trial.bench.now_us
            trial.bench.breaker(GROUP, False)
            trial.bench.wait(length)
            trial.bench.breaker(GROUP, True)
            trial.bench.wait(ms(600))
        return _after_a_loss(trial, trace, begin, off, back)

    return lost


def _coil_open(trial: Trial) -> str:
    wire = _coil_wire(trial.bench)
    trial.start()
    with trial.watched() as trace:
        begin = trial.bench.now_us
        trial.bench.lift(wire)
        trial.bench.wait(ms(800))
        trial.bench.land(wire)
        trial.bench.wait(ms(600))
    return _after_a_loss(trial, trace, begin, "off", "jumps in at repair")


def _after_a_loss(trial: Trial, trace: Trace, begin: int, off: str | None, back: str) -> str:
    if not trace[f"pole:{CONTACTOR}"].falls():
        return "holds through"
    if trial.runs():
        return back
    if trial.asked():
        return "output on, contactor out"
    if off is not None:
        return off
    how = _how_it_dropped(trace, begin)
    return "stays off" if how == "in 1 scan" else f"off {how}"


def _coil_wire(bench: Bench) -> str:
    """The wire to the coil's plus that does not come from a suppressor."""
    suppressors = {part.designation for part in bench.board.of_kind("suppressor")}
    for wire in bench.wiring.at(COIL):
        other = wire.b if wire.a == COIL else wire.a
        if other.partition(":")[0] not in suppressors:
            return wire.no
    raise BenchError(f"no wire feeds {COIL}", try_this="land one", code="hold-coil")


def _power_cycle(trial: Trial) -> str:
    trial.start()
    _cycle_power(trial)
    return "on again" if trial.runs() else "off"


def _cycle_power(trial: Trial) -> None:
    trial.bench.breaker(CONTROLLER, False)
    trial.bench.wait(ms(500))
    trial.bench.breaker(CONTROLLER, True)
    trial.bench.wait(us(trial.bench.family.supply.boot_us) + s(1))


def _jammed_through_stop(trial: Trial) -> str:
    trial.align()
    trial.bench.press(START)
    trial.bench.wait(ms(500))
    trial.bench.press(STOP, ms(150))
    trial.bench.wait(ms(140))
    if trial.asked():
        return "does not stop"
    trial.bench.wait(ms(600))
    return "on" if trial.runs() else "off"


def _jammed_through_power(trial: Trial) -> str:
    trial.align()
    trial.bench.press(START)
    trial.bench.wait(ms(500))
    _cycle_power(trial)
    return "on" if trial.runs() else "off"


EVENTS: dict[str, tuple[Callable[[Trial], str], ...]] = {
    "normal start, stop": (_normal,),
    "start tap 12 or 20 ms": (_tap(ms(12)), _tap(ms(20))),
    "start tap 45 ms": (_tap(ms(45)),),
    "auxiliary block removed while running": (_aux_removed,),
    "auxiliary missing, start held 0.3 s": (_aux_missing,),
    "auxiliary input stuck at 1, nobody presses": (_aux_stuck,),
    "contactor welded, stop pressed and released": (_welded,),
    "output group supply lost 0.3 s": (_group_lost(ms(300), None, "re-closes by itself"),),
    "output group dip 40 ms": (_group_lost(ms(40), "off", "re-closes"),),
    "coil open, repaired 0.8 s later": (_coil_open,),
    "controller power cycle": (_power_cycle,),
    "start jammed through power cycle or stop": (_jammed_through_power, _jammed_through_stop),
}
"""Event -> the trials that make it up; the twelve rows of the table."""

"""Five ways to hold a motor, tried on the bench: what each does in twelve events, and how short a press may be.

Nothing here knows an answer. Each cell is a fresh bench on which the event is made to happen, at several
phases of the scan, and its word is read off the trace. The programs are the ladder files ``hold-*.ld``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

from labkit.base import Duration, data_path, ms, read_text, s, us
from labkit.bench.clock import show_time
from labkit.bench.errors import BenchError
from labkit.bench.front import Bench
from labkit.bench.trace import Trace
from labkit.board import Board, load_board
from labkit.controller import Family
from labkit.controller import family as load_family
from labkit.logic import Program, read_ladder

__all__ = [
    "EVENTS",
    "HOLDS",
    "PROVING",
    "Cell",
    "HoldTable",
    "PressSweep",
    "Setup",
    "hold_program",
    "hold_table",
    "press_sweep",
]

HOLDS: dict[str, tuple[str, str]] = {
    "O": ("hold-output", "output bit"),
    "A": ("hold-auxiliary", "auxiliary"),
    "OA": ("hold-output-and-auxiliary", "output bit and auxiliary"),
    "S": ("hold-proving", "output bit with proving time"),
    "L": ("hold-set-reset", "set and reset, retained"),
}
"""Column -> the shipped program, and what holds the motor in it."""

PROVING = ms(200)
"""The proving time in ``hold-proving.ld``."""

# The points of the orchard board that matter here.
_OUT, _AUX = "Q1", "I10"
_STOP, _START, _CONTACTOR, _AUX_BLOCK = "S1", "S2", "K1", "K1.aux"
_AUX_INPUT, _PLUS, _COIL = "A1:I10", "X1:24V", "K1:A1"
_GROUP, _CONTROLLER = "F4", "F1"

_PHASES = tuple(us(n) for n in (0, 2_600, 5_100, 9_700))  # spread over a 10 ms scan, on no other round figure


def hold_program(hold: str) -> Program:
    """One of the five programs, read from its ladder file.

    Raises
    ------
    BenchError
        If there is no such column.
    """
    if hold not in HOLDS:
        raise BenchError(f"there is no way to hold called {hold}", try_this="one of " + ", ".join(HOLDS), code="hold")
    name = HOLDS[hold][0]
    return read_ladder(read_text(data_path("datasets", "programs", f"{name}.ld")), name=name)


@dataclass(frozen=True, slots=True)
class Setup:
    """The bench that an experiment is made on.

    Parameters
    ----------
    board, family
        As for a bench.
    scan, filter
        In place of the family's own.
    """

    board: Board = field(default_factory=lambda: load_board("orchard"))
    family: Family = field(default_factory=lambda: load_family("alder"))
    scan: Duration | None = None
    filter: Duration | None = None
    # one bench, once made: the others share what it has solved
    _model: list[Bench] = field(default_factory=list, init=False, repr=False, compare=False)

    def bench(self, program: Program) -> Bench:
        """A bench that is up, with this program running and nothing pressed."""
        if not self._model:
            self._model.append(Bench(self.board, family=self.family, scan=self.scan, filter=self.filter))
        bench = self._model[0].again()
        bench.power_up()
        bench.load(program)
        bench.wait(ms(100))
        return bench


# -- the trials ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Trial:
    """One bench, and the phase of the scan at which the event comes."""

    bench: Bench
    phase: Duration

    def align(self) -> None:
        """Wait for a scan to begin, and then for the phase to pass."""
        self.bench.wait_until(self.bench.next_scan_us + self.phase.us)

    def start(self) -> None:
        """Get the motor to run as a person would, and wait until all is quiet."""
        self.bench.press(_START, ms(150))
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
        return self.asked() and self.bench.state(_CONTACTOR) == "closed"

    def asked(self) -> bool:
        """Output on."""
        return self.bench.led(_OUT)


def _off_at(trace: Trace, after_us: int) -> int | None:
    """When the output went off for the first time after a time."""
    return next((t for t in trace[f"out:{_OUT}"].falls() if t >= after_us), None)


def _how_it_dropped(trace: Trace, after_us: int) -> str:
    """How long after the auxiliary's input fell the output followed, in words."""
    lost = next(t for t in trace[f"in:{_AUX}"].falls() if t >= after_us)
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


def _normal(trial: _Trial) -> str:
    bench = trial.bench
    bench.press(_START, ms(150))
    bench.wait(ms(600))
    if not trial.runs():
        return "does not start"
    trial.align()
    bench.press(_STOP, ms(150))
    bench.wait(ms(140))
    if trial.runs():
        return "does not stop"
    bench.wait(ms(600))
    return "starts again after stop" if trial.asked() else "ok"


def _tap(length: Duration) -> Callable[[_Trial], str]:
    def tap(trial: _Trial) -> str:
        with trial.watched() as trace:
            trial.bench.press(_START, length)
            trial.bench.wait(ms(600))
        if trial.runs():
            return "holds"
        return "drops" if trace[f"out:{_OUT}"].rises() else "not seen"

    return tap


def _aux_removed(trial: _Trial) -> str:
    trial.start()
    with trial.watched() as trace:
        begin = trial.bench.now_us
        trial.bench.remove(_AUX_BLOCK)
        trial.bench.wait(ms(800))
    return "runs on" if trial.runs() else f"drops {_how_it_dropped(trace, begin)}"


def _aux_missing(trial: _Trial) -> str:
    trial.bench.remove(_AUX_BLOCK)
    with trial.watched() as trace:
        trial.bench.press(_START, ms(300))
        trial.bench.wait(ms(299))
        held_to_the_end = trial.runs()
        trial.bench.wait(ms(600))
    if trial.runs():
        return "runs on"
    rises, falls = trace[f"out:{_OUT}"].rises(), trace[f"out:{_OUT}"].falls()
    if held_to_the_end and len(falls) == 1:
        return "runs only while held"
    return "re-tries while start is held" if len(rises) > 1 else "trips"


def _aux_stuck(trial: _Trial) -> str:
    trial.align()
    trial.bench.join(_PLUS, _AUX_INPUT)
    trial.bench.wait(ms(400))
    first = trial.runs()
    trial.bench.press(_STOP, ms(150))
    trial.bench.wait(ms(140))
    stopped = not trial.runs()
    trial.bench.wait(ms(600))
    if not first:
        return "starts after stop" if trial.asked() else "nothing"
    if not stopped:
        return "starts by itself, cannot be stopped"
    return "starts by itself, returns when stop is released" if trial.runs() else "starts by itself once"


def _welded(trial: _Trial) -> str:
    trial.start()
    trial.bench.weld(_CONTACTOR)
    trial.bench.press(_STOP, ms(150))
    trial.bench.wait(ms(140))
    if trial.asked():
        return "output does not go off"
    trial.bench.wait(ms(600))
    return "output comes back" if trial.asked() else "output stays off"


def _group_lost(length: Duration, off: str | None, back: str) -> Callable[[_Trial], str]:
    def lost(trial: _Trial) -> str:
        trial.start()
        with trial.watched() as trace:
            begin = trial.bench.now_us
            trial.bench.breaker(_GROUP, False)
            trial.bench.wait(length)
            trial.bench.breaker(_GROUP, True)
            trial.bench.wait(ms(600))
        return _after_a_loss(trial, trace, begin, off, back)

    return lost


def _coil_open(trial: _Trial) -> str:
    wire = _coil_wire(trial.bench)
    trial.start()
    with trial.watched() as trace:
        begin = trial.bench.now_us
        trial.bench.lift(wire)
        trial.bench.wait(ms(800))
        trial.bench.land(wire)
        trial.bench.wait(ms(600))
    return _after_a_loss(trial, trace, begin, "off", "jumps in at repair")


def _after_a_loss(trial: _Trial, trace: Trace, begin: int, off: str | None, back: str) -> str:
    if not trace[f"pole:{_CONTACTOR}"].falls():
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
    for wire in bench.wiring.at(_COIL):
        other = wire.b if wire.a == _COIL else wire.a
        if other.partition(":")[0] not in suppressors:
            return wire.no
    raise BenchError(f"no wire feeds {_COIL}", try_this="land one", code="hold-coil")


def _power_cycle(trial: _Trial) -> str:
    trial.start()
    _cycle_power(trial)
    return "on again" if trial.runs() else "off"


def _cycle_power(trial: _Trial) -> None:
    trial.bench.breaker(_CONTROLLER, False)
    trial.bench.wait(ms(500))
    trial.bench.breaker(_CONTROLLER, True)
    trial.bench.wait(us(trial.bench.family.supply.boot_us) + s(1))


def _jammed_through_stop(trial: _Trial) -> str:
    trial.align()
    trial.bench.press(_START)
    trial.bench.wait(ms(500))
    trial.bench.press(_STOP, ms(150))
    trial.bench.wait(ms(140))
    if trial.asked():
        return "does not stop"
    trial.bench.wait(ms(600))
    return "on" if trial.runs() else "off"


def _jammed_through_power(trial: _Trial) -> str:
    trial.align()
    trial.bench.press(_START)
    trial.bench.wait(ms(500))
    _cycle_power(trial)
    return "on" if trial.runs() else "off"


EVENTS: dict[str, tuple[Callable[[_Trial], str], ...]] = {
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


# -- the table ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Cell:
    """What came out of one event with one way to hold.

    Parameters
    ----------
    word
        The outcome. Where the trials or the phases of the scan disagree, every outcome, joined by "or".
    tried
        How many benches it took.
    """

    word: str
    tried: int


@dataclass(frozen=True, slots=True)
class HoldTable:
    """Events down, ways to hold across.

    Examples
    --------
    ``hold_table().word("start tap 45 ms", "A")`` is ``"holds"``.
    """

    cells: dict[tuple[str, str], Cell]
    events: tuple[str, ...]
    holds: tuple[str, ...]

    def word(self, event: str, hold: str) -> str:
        """The outcome of one cell."""
        return self.cells[event, hold].word

    def rows(self) -> list[list[str]]:
        """The table as text, the heading first."""
        head = ["event", *self.holds]
        return [head, *([event, *(self.word(event, hold) for hold in self.holds)] for event in self.events)]


def hold_table(
    setup: Setup | None = None,
    *,
    events: Iterable[str] = tuple(EVENTS),
    holds: Iterable[str] = tuple(HOLDS),
    phases: Sequence[Duration] = _PHASES,
) -> HoldTable:
    """Try events with ways to hold, each cell on benches of its own.

    Parameters
    ----------
    setup
        The bench; the orchard board with family alder if left out.
    events, holds
        Rows and columns, all of them if left out.
    phases
        How long after a scan began the event comes.

    Raises
    ------
    BenchError
        If there is no such row or column, or a bench fails.
    """
    setup = setup or Setup()
    events, holds = tuple(events), tuple(holds)
    for event in events:
        if event not in EVENTS:
            raise BenchError(f"there is no event {event!r}", try_this="one of: " + "; ".join(EVENTS), code="hold-event")
    cells = {
        (event, hold): _cell(setup, hold_program(hold), EVENTS[event], phases) for event in events for hold in holds
    }
    return HoldTable(cells, events, holds)


def _cell(
    setup: Setup, program: Program, trials: Sequence[Callable[[_Trial], str]], phases: Sequence[Duration]
) -> Cell:
    words = [trial(_Trial(setup.bench(program), phase)) for trial in trials for phase in phases]
    return Cell(" or ".join(dict.fromkeys(words)), len(words))


# -- the press --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PressSweep:
    """How long a press must be to hold, whatever the phase of the scan.

    Parameters
    ----------
    scan_us
        The scan period.
    shortest_us
        The shortest press that held at every phase tried, to the microsecond.
    rows
        For each length tried ``(length_us, held, raced, unseen)``: at how many phases it held, started the
        motor but did not hold, or was not seen at all.
    """

    scan_us: int
    shortest_us: int
    rows: tuple[tuple[int, int, int, int], ...]

    @property
    def race(self) -> bool:
        """Whether some press starts the motor and then lets it drop."""
        return any(raced for _, _, raced, _ in self.rows)


def press_sweep(
    hold: str = "A",
    setup: Setup | None = None,
    *,
    lengths: Sequence[Duration] = (),
    phases: int = 20,
) -> PressSweep:
    """Press for many lengths at many phases of the scan, and search the shortest press that always holds.

    Parameters
    ----------
    hold
        The way to hold.
    setup
        The bench, with its scan and filter.
    lengths
        The lengths for the rows; 1 ms steps to one and a half times the result if left out.
    phases
        How many phases of the scan are tried, evenly spread; the last microsecond before a scan and the
        first after it are always among them.

    Raises
    ------
    BenchError
        If no press of up to 2 s holds.
    """
    bench = (setup or Setup()).bench(hold_program(hold))
    period = bench.scan_period_us
    # a press at phase p is seen behind the filter at p + filter: these sit just before and just after a read
    edge = -bench.family.inputs.filter_us % period
    tried = sorted({period * n // phases for n in range(phases)} | {edge, (edge - 1) % period, (edge + 1) % period})

    def outcome(length_us: int) -> tuple[int, int, int]:
        words = [_press(bench, phase, length_us) for phase in tried]
        return words.count("holds"), words.count("races"), words.count("unseen")

    low, high = 0, 1_000
    while outcome(high)[0] < len(tried):
        low, high = high, 2 * high
        if high > 2_000_000:
            raise BenchError("no press of up to 2 s always holds", try_this="look at the program", code="hold-press")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if outcome(middle)[0] == len(tried) else (middle, high)
    steps = [length.us for length in lengths] or range(1_000, high * 3 // 2 + 1, 1_000)
    return PressSweep(period, high, tuple((n, *outcome(n)) for n in steps))


def _press(bench: Bench, phase_us: int, length_us: int) -> str:
    """One press from rest, and what became of it; the bench is at rest again afterwards."""
    period = bench.scan_period_us
    begin = bench.next_scan_us + phase_us
    bench.wait_until(begin)
    bench.press(_START, us(length_us))
    # A press that is seen switches the output on for a whole scan at least, and not before its filter time nor a
    # scan after that; so one of these two looks meets it.
    started = False
    for look_us in (period // 2, period):
        bench.wait_until(begin + bench.family.inputs.filter_us + look_us + 1_000)
        started |= bench.led(_OUT)
    # long enough for press, scans, contactor and filter; what holds then, holds
    bench.wait(us(length_us + 3 * period) + ms(100))
    held = bench.led(_OUT) and bench.state(_CONTACTOR) == "closed"
    bench.press(_STOP, us(3 * period) + ms(20))
    bench.wait(us(6 * period) + ms(100))
    return "holds" if held else "races" if started else "unseen"

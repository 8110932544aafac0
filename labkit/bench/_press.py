"""How long a press must be to hold, searched on the bench over all phases of the scan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labkit.base import Duration, ms, us
from labkit.bench._holds import CONTACTOR, OUT, START, STOP, Setup, hold_program
from labkit.bench.errors import BenchError
from labkit.bench.front import Bench

__all__ = ["PressSweep", "press_sweep"]


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
    bench.press(START, us(length_us))
    # A press that is seen switches the output on for a whole scan at least, and not before its filter time nor a
    # scan after that; so one of these two looks meets it.
    started = False
    for look_us in (period // 2, period):
        bench.wait_until(begin + bench.family.inputs.filter_us + look_us + 1_000)
        started |= bench.led(OUT)
    # long enough for press, scans, contactor and filter; what holds then, holds
    bench.wait(us(length_us + 3 * period) + ms(100))
    held = bench.led(OUT) and bench.state(CONTACTOR) == "closed"
    bench.press(STOP, us(3 * period) + ms(20))
    bench.wait(us(6 * period) + ms(100))
    return "holds" if held else "races" if started else "unseen"

"""The phases of a scan as offsets from its start."""

from __future__ import annotations

from typing import Literal, NamedTuple

from labkit.controller.family import Scan

__all__ = ["Phase", "PhaseKind", "Timetable", "timetable"]

PhaseKind = Literal["read", "solve", "write", "service", "idle"]


class Phase(NamedTuple):
    """One phase of one scan, in microseconds of bench time."""

    kind: PhaseKind
    start_us: int
    end_us: int


class Timetable(NamedTuple):
    """When things happen in a scan, in microseconds from its start.

    Inputs are sampled at 0, the program is solved at `solve_us`, outputs change at `write_us` (the end of
    the write phase), and the next scan starts at `period_us`.
    """

    solve_us: int
    write_us: int
    period_us: int
    phases: tuple[tuple[PhaseKind, int, int], ...]
    trips: bool


def timetable(scan: Scan, rungs: int) -> Timetable:
    """The timetable of a program of so many rungs."""
    solve_at = scan.read_us
    solved = solve_at + max(scan.solve_min_us, scan.solve_us_per_rung * rungs)
    written = solved + scan.write_us
    served = written + scan.service_us
    if 0 < scan.watchdog_us < written:
        # the watchdog ends the scan wherever the program has got to
        limit = scan.watchdog_us
        cut: tuple[tuple[PhaseKind, int, int], ...] = (
            ("read", 0, min(solve_at, limit)),
            ("solve", min(solve_at, limit), limit),
            ("write", limit, limit),
        )
        return Timetable(cut[1][1], limit, limit, cut, True)
    period = max(scan.period_us, served)  # a fixed scan that overruns starts the next one at once
    phases: list[tuple[PhaseKind, int, int]] = [
        ("read", 0, solve_at),
        ("solve", solve_at, solved),
        ("write", solved, written),
        ("service", written, served),
        ("idle", served, period),
    ]
    shown = tuple(p for p in phases if p[2] > p[1] or p[0] in ("read", "solve", "write"))
    return Timetable(solve_at, written, period, shown, False)

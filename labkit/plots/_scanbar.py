"""The scan bar under a timing diagram, at three levels of detail.

Wide scans show each phase with its letter; narrower ones a block where the controller works and a line
where it idles; the narrowest become a band that says how many there are. A phase is told by its height,
its hatch and its letter; its grey comes last.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

from labkit.plots._measure import text_width
from labkit.plots._time_axis import Window, say_time
from labkit.plots.shapes import Hatch, Line, Rect, Shape, Text

__all__ = ["LETTERS", "Scan", "guides", "legend", "scan_bar", "scans_of", "scans_within"]

LETTERS = {"read": "R", "solve": "S", "write": "W", "service": "V", "idle": ""}
_HEIGHT = {"read": 1.0, "solve": 0.78, "write": 1.0, "service": 0.56, "idle": 0.0}  # of the bar
_HATCH = {"read": "/", "write": "\\"}


@dataclass(frozen=True, slots=True)
class Scan:
    """One scan: its number in the record from 1, and its phases as (kind, start, end) in microseconds."""

    number: int
    phases: tuple[tuple[str, int, int], ...]

    @property
    def start(self) -> int:
        """The start of its first phase."""
        return self.phases[0][1]

    @property
    def end(self) -> int:
        """The end of its last phase."""
        return self.phases[-1][2]


def scans_of(phases: Iterable[Any]) -> list[Scan]:
    """Gather phases (anything with kind, start_us, end_us) into scans; each ``read`` begins a new one."""
    scans: list[list[tuple[str, int, int]]] = []
    for p in phases:
        if p.kind == "read" or not scans:
            scans.append([])
        scans[-1].append((p.kind, p.start_us, p.end_us))
    return [Scan(i + 1, tuple(s)) for i, s in enumerate(scans)]


def scans_within(trace: Any, t0: int, t1: int) -> list[Scan]:
    """The scans that touch t0 to t1, numbered from the start of the record.

    A record that keeps rows of equal scans is asked only for those, however long it is.
    """
    if not hasattr(trace, "scan_runs"):
        return [s for s in scans_of(trace.scans) if s.end > t0 and s.start < t1]
    out: list[Scan] = []
    before = 0
    for run in trace.scan_runs:
        first = max(0, (t0 - run.start_us) // run.period_us)
        last = min(run.count, -(-(t1 - run.start_us) // run.period_us))
        if last > first:
            new = scans_of(run.phases(first, last))
            out += [Scan(before + first + s.number, s.phases) for s in new]
        before += run.count
    return [s for s in out if s.end > t0 and s.start < t1]


def guides(scans: Sequence[Scan], win: Window, top: float, bottom: float) -> list[Shape]:
    """Faint uprights at the start of each scan, while they stand far enough apart to help."""
    xs = [win.x(s.start) for s in scans if win.t0 <= s.start <= win.t1]
    if len(xs) > 1 and min(b - a for a, b in itertools.pairwise(xs)) < 11:
        return []
    return [Line(x, top, x, bottom, "scan-line") for x in xs]


def scan_bar(scans: Sequence[Scan], win: Window, y: float, height: float) -> list[Shape]:
    """The bar from `y` down to `y + height`."""
    seen = [s for s in scans if s.end > win.t0 and s.start < win.t1]
    base = y + height
    if not seen:
        return [
            Line(win.left, base, win.right, base, "idle"),
            Text((win.left + win.right) / 2, base - 5, "no scan in this time", "note", 10, "middle"),
        ]
    period = median(s.end - s.start for s in seen) * win.px_per_us
    if period < 4:
        return _band(seen, win, y, height)
    out: list[Shape] = [Line(win.clip(seen[0].start), base, win.clip(seen[-1].end), base, "idle")]
    blocks: list[Shape] = []
    words: list[Shape] = []
    for scan in seen:
        blocks += _blocks(scan, win, y, height)
        out.append(Line(win.clip(scan.start), base - 4, win.clip(scan.start), base + 3, "idle"))
    words += _numbers(seen, win, base, period)
    return [*out, *blocks, *words]


def _blocks(scan: Scan, win: Window, y: float, height: float) -> list[Shape]:
    base = y + height
    busy = [p for p in scan.phases if p[0] != "idle" and p[2] > p[1] and p[2] > win.t0 and p[1] < win.t1]
    out: list[Shape] = []
    if busy and min((p[2] - p[1]) * win.px_per_us for p in busy) < 3:
        x1, x2 = win.clip(busy[0][1]), win.clip(busy[-1][2])
        x2 = min(max(x2, x1 + 2), win.right)
        return [Rect(x1, base - 0.78 * height, x2 - x1, 0.78 * height, "solve")]
    for kind, start, end in busy:
        x1, x2 = win.clip(start), win.clip(end)
        out += phase_block(kind, x1, base, x2 - x1, height)
    return out


def phase_block(kind: str, x: float, base: float, width: float, height: float) -> list[Shape]:
    """One phase standing on `base`: its box, hatch and, where it fits, its letter."""
    tall = _HEIGHT.get(kind, 0.5) * height
    if kind == "idle" or not tall:
        return [Line(x, base, x + width, base, "idle")]
    role = kind if kind in _HEIGHT else "service"
    out: list[Shape] = [Rect(x, base - tall, width, tall, role)]
    if kind in _HATCH:
        out.append(Hatch(x, base - tall, width, tall, _HATCH[kind], 4, "hatch"))
    letter = LETTERS.get(kind, "")
    if letter and width >= 12:
        dark = kind == "solve"
        if kind in _HATCH:
            out.append(Rect(x + width / 2 - 5, base - tall / 2 - 5.5, 10, 11, "paper"))
        out.append(
            Text(
                x + width / 2,
                base - tall / 2 + 3.4,
                letter,
                "inverse" if dark else "name" if kind in _HATCH else "mark-label",
                9.5,
                "middle",
                True,
            )
        )
    return out


def _numbers(scans: Sequence[Scan], win: Window, base: float, period: float) -> list[Shape]:
    """Scan numbers in the free part of the bar, every 1st, 5th, 10th ... as they fit."""
    widest = text_width(str(scans[-1].number), 8.5) + 10
    step = next(n for n in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000) if n * period >= widest)
    out: list[Shape] = []
    for s in scans:
        if s.number % step and not (step > 1 and s.number == 1):
            continue
        working = [p for p in s.phases if p[0] != "idle"]
        start = win.x(working[-1][2]) if working else win.x(s.start)
        text = Text(max(start, win.left) + 3, base - 4, str(s.number), "tick", 8.5)
        room = win.x(s.end) if step == 1 else win.right
        if text.bounds()[2] <= min(room, win.right) and start >= win.left - 3:
            out.append(text)
    kept: list[Shape] = []
    for t in out:  # scan 1 may stand too near the first round number
        if not kept or t.bounds()[0] - kept[-1].bounds()[2] > 3:
            kept.append(t)
    return kept


def _band(scans: Sequence[Scan], win: Window, y: float, height: float) -> list[Shape]:
    x1, x2 = win.clip(scans[0].start), win.clip(scans[-1].end)
    base = y + height
    lengths = sorted(s.end - s.start for s in scans)
    most = lengths[len(lengths) // 20 : len(lengths) - len(lengths) // 20] or lengths
    each = say_time(most[0]) if most[0] == most[-1] else f"{say_time(most[0])} to {say_time(most[-1])}"
    words = f"{len(scans):,} scans of {each}".replace(",", " ")
    wide = text_width(words, 10) + 16
    out: list[Shape] = [
        Rect(x1, y + 0.22 * height, x2 - x1, 0.78 * height, "busy"),
        Hatch(x1, y + 0.22 * height, x2 - x1, 0.78 * height, "|", 3, "hatch"),
    ]
    mid = (x1 + x2) / 2
    if x2 - x1 > wide:
        out.append(Rect(mid - wide / 2, y + 0.22 * height + 2, wide, 0.78 * height - 4, "paper"))
        out.append(Text(mid, base - 0.39 * height + 3.6, words, "label", 10, "middle"))
    return out


def legend(scans: Sequence[Scan], x: float, y: float, right: float) -> tuple[list[Shape], float]:
    """What the bar's letters mean, with the usual length of each phase; returns shapes and the height."""
    kinds = [k for k in LETTERS if any(p[0] == k and p[2] > p[1] for s in scans for p in s.phases)]
    out: list[Shape] = [Text(x, y + 15, "one scan", "note", 10)]
    at = x + text_width("one scan", 10) + 12
    start, row = at, 0
    for kind in kinds:
        length = median(p[2] - p[1] for s in scans for p in s.phases if p[0] == kind)
        words = f"{kind} {say_time(length)}"
        wide = 26 + 5 + text_width(words, 10) + 18
        if at + wide > right and at > start:
            at, row = start, row + 1
        base = y + 18 + row * 24
        out += phase_block(kind, at, base, 26, 18)
        out.append(Text(at + 31, base - 3, words, "note", 10))
        at += wide
    return out, 24.0 * (row + 1)

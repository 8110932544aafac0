"""Timing diagrams: what was done, what every layer saw, and the scans under it, on one time line.

``sheet(trace, ...)`` lays the drawing out, :func:`timing` paints it into Axes, :func:`timing_svg` as SVG.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labkit.base import need
from labkit.plots._axes import axes_size, draw, need_axes
from labkit.plots._done import words_of
from labkit.plots._given import mapping, marks_of, record_to_draw
from labkit.plots._labels import Flag, pack
from labkit.plots._measure import wrap
from labkit.plots._record import UP, Moment, SignalLike, TraceLike, choose, kind_of, moment_of, resolve, span_of
from labkit.plots._rows import HEIGHTS, Row, bool_row, level_row, state_row
from labkit.plots._scanbar import guides, legend, scan_bar, scans_within
from labkit.plots._svg import to_svg
from labkit.plots._time_axis import Window
from labkit.plots._timing_words import NAME, describe, gutter, label_lines, label_shapes, notes_of, scan_story, story
from labkit.plots.errors import DrawingError
from labkit.plots.shapes import Frame, Group, Line, Polyline, Rect, Shape, Sheet, Text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from labkit.board import Electrical

__all__ = ["input_bands", "timing", "timing_sheet", "timing_svg"]

_EVENT = 10.0


def timing(
    trace: TraceLike,
    signals: Iterable[str] | None = None,
    *,
    ax: Axes | None = None,
    span: tuple[Moment, Moment] | None = None,
    scans: bool = True,
    marks: Iterable[tuple[Moment, str]] = (),
    bands: Mapping[str, tuple[float, float]] | None = None,
    zero: Moment = 0,
    title: str = "",
) -> Axes:
    """Draw a record as a timing diagram into `ax`, or into a figure of its own.

    The x axis of the result counts in the printed unit (s, ms or us) on the bench's clock, or from `zero`.

    Parameters
    ----------
    trace
        The record of a bench.
    signals
        Names of the rows from top to bottom, such as ``["pos:S2", "volts:I2", "K1"]``; a bare name means
        the program's bit, else the device. Left away: every signal that changed, up to sixteen.
    ax
        A matplotlib Axes to draw into; its size decides the layout.
    span
        First and last moment. A duration counts as the axis does, a whole number is the bench's clock in
        microseconds whatever `zero` is.
    scans
        Whether to draw the scan bar.
    marks
        Moments to point at, each with a few words.
    bands
        Volts rows with a shaded threshold band: signal name to (highest off volts, lowest on volts), as a
        channel of IEC 61131-2 has them.
    zero
        The moment that the axis calls 0, e.g. that of a press. Its own durations count on the bench's clock.
    title
        A heading.

    Raises
    ------
    DrawingError
        If a signal is not in the record, the span is empty, or `ax` is no Axes.
    """
    ask = _Ask(signals, span, scans, marks_of(marks), mapping(bands, "bands of volts by signal", _BANDS), zero, title)
    ax = need_axes(ax)
    if ax is None:
        return draw(_lay_out(trace, ask, 960.0))
    wide, high = axes_size(ax)
    sheet = _lay_out(trace, ask, max(wide, 420.0))
    if sheet.height > high:  # lower axes: lay out wider and paint it smaller
        sheet = _lay_out(trace, ask, max(wide * sheet.height / high, 420.0))
    return draw(sheet, ax)


def timing_svg(
    trace: TraceLike,
    signals: Iterable[str] | None = None,
    *,
    span: tuple[Moment, Moment] | None = None,
    scans: bool = True,
    marks: Iterable[tuple[Moment, str]] = (),
    bands: Mapping[str, tuple[float, float]] | None = None,
    zero: Moment = 0,
    title: str = "",
    width: float = 960.0,
) -> str:
    """The same diagram as :func:`timing` as SVG text, `width` sheet units wide. Needs no matplotlib."""
    return to_svg(
        timing_sheet(
            trace,
            signals,
            span=span,
            scans=scans,
            marks=marks,
            bands=bands,
            zero=zero,
            title=title,
            width=width,
        )
    )


def timing_sheet(
    trace: TraceLike,
    signals: Iterable[str] | None = None,
    *,
    span: tuple[Moment, Moment] | None = None,
    scans: bool = True,
    marks: Iterable[tuple[Moment, str]] = (),
    bands: Mapping[str, tuple[float, float]] | None = None,
    zero: Moment = 0,
    title: str = "",
    width: float = 960.0,
) -> Sheet:
    """The same diagram as shapes, for those who paint or test them. Parameters as in :func:`timing`.

    Raises
    ------
    DrawingError
        As :func:`timing`, and for a `width` below 420 sheet units.
    """
    need(width, (int, float), "a width", "leave width away, or give 420 or more")
    if not width >= 420:
        raise DrawingError(
            f"a timing diagram needs at least 420 units of width; got {width:g}",
            try_this="leave width away, or give 420 or more",
            where="width",
            code="drawing-width",
        )
    return _lay_out(
        trace,
        _Ask(signals, span, scans, marks_of(marks), mapping(bands, "bands of volts by signal", _BANDS), zero, title),
        width,
    )


def input_bands(electrical: Electrical) -> dict[str, tuple[float, float]]:
    """The threshold band of every input of a wired board, ready for `bands`: between them it may read either way."""
    if not hasattr(electrical, "inputs"):
        need(electrical, (), "a wired board", "write input_bands(electrify(board))")
    return {f"volts:{c.point}": (c.limits.off_max_v, c.limits.on_min_v) for c in electrical.inputs}


_BANDS = "write bands={'volts:I2': (5, 11)}"


@dataclass(frozen=True, slots=True)
class _Ask:
    signals: Iterable[str] | None
    span: tuple[Moment, Moment] | None
    scans: bool
    marks: tuple[tuple[Moment, str], ...]
    bands: Mapping[str, tuple[float, float]]
    zero: Moment
    title: str


def _lay_out(trace: TraceLike, ask: _Ask, width: float) -> Sheet:
    record_to_draw(trace)
    zero = moment_of(ask.zero, 0)
    t0, t1 = span_of(trace, ask.span, zero)
    names, untold = choose(trace, ask.signals, t0, t1)
    bands = {resolve(trace, name): band for name, band in ask.bands.items()}
    kinds = {n: kind_of(trace.signals[n]) for n in names}
    label_room = gutter(names, width)
    left = 14 + label_room + (38 if "level" in kinds.values() else 14)
    edge = width - 16
    right = edge - (62 if any(n in bands for n in names) else 6)
    win = Window(t0, t1, left, right, zero)
    body = _Body(trace, win, ask, edge)

    y = 14.0
    heading: list[Shape] = []
    if ask.title:
        for line in wrap(ask.title, width - 28, 14, bold=True):
            heading.append(Text(14, y + 12, line, "title", 14, bold=True))
            y += 20
        y += 2
    events, marks = body.flags()
    y_events, y_marks, y_rows = body.lanes(y, events, marks)

    rows: list[Shape] = []
    rules: list[Shape] = []
    thinned: list[str] = []
    y = y_rows
    for name in names:
        lines = label_lines(name, label_room)
        height = max(HEIGHTS[kinds[name]], 13.5 * len(lines) + 6)
        row = _row(trace.signals[name], kinds[name], win, y=y, height=height, band=bands.get(name), right=edge)
        label = label_shapes(lines, 14, y + height / 2)
        rows.append(Group((*row.shapes, *label), f"signal:{name}", story(name, trace.signals[name], win)))
        if row.thinned:
            thinned.append(name)
        y += height
        rules.append(Line(14, y, edge, y, "rule"))
    bottom = y
    below: list[Shape] = []
    seen = scans_within(trace, t0, t1) if ask.scans else []
    if ask.scans:
        below.append(Text(14, y + 27, "scans", "name", NAME, bold=True))
        below.append(Group(tuple(scan_bar(seen, win, y + 7, 24)), "scans", scan_story(seen)))
        y += 37
    axis, y = body.axis(y)
    below += axis
    if seen:
        shapes, tall = legend(seen, 14, y, edge)
        below += shapes
        y += tall + 2
    notes = notes_of(thinned, untold, body.unnamed)
    for note in notes:
        for line in wrap(note, width - 28, 10):
            below.append(Text(14, y + 12, line, "note", 10))
            y += 16
    y += 8
    lines_down = body.leaders(events, marks, y_events, y_marks, bottom)
    shapes_all = (
        Rect(0, 0, width, y, "paper"),
        *guides(seen, win, y_rows, bottom),
        *(Line(x, y_rows, x, bottom, "grid") for x, _ in win.ticks()),
        *rules,
        *rows,
        *lines_down[0],
        *lines_down[1],
        *heading,
        *body.draw_flags(events, marks, y_events, y_marks),
        *below,
    )
    name, size = win.unit
    per_unit = 1 / (win.px_per_us * size)
    frame = Frame((t0 - zero) / size - left * per_unit, per_unit, name)
    return Sheet(
        width,
        y,
        shapes_all,
        ask.title or "Timing diagram",
        describe(trace, names, win, body.events, body.marks),
        frame,
        tuple(notes),
    )


class _Body:
    """Labels, leaders and the axis of one diagram."""

    def __init__(self, trace: TraceLike, win: Window, ask: _Ask, edge: float) -> None:
        self.win, self.edge = win, edge
        self.events = [(t, text) for t, text in map(words_of, trace.events) if win.t0 <= t <= win.t1]
        self.marks = sorted((moment_of(t, win.zero), str(text)) for t, text in ask.marks)
        self.unnamed = 0

    def flags(self) -> tuple[list[Flag], list[Flag]]:
        """Where the labels of events and marks go."""
        together: dict[int, list[str]] = {}
        for t, text in self.events:
            together.setdefault(t, []).append(text)
        labels = [(self.win.x(t), ", ".join(texts)) for t, texts in together.items()]
        events = pack(labels, left=self.win.left, right=self.edge, size=_EVENT)
        self.unnamed = sum(f.lane < 0 for f in events)
        inside = [(self.win.x(t), text) for t, text in self.marks if self.win.t0 <= t <= self.win.t1]
        marks = pack(inside, left=self.win.left, right=self.edge, size=_EVENT, bold=True, pad=6, lanes=99, widest=320)
        return events, marks

    def lanes(self, y: float, events: list[Flag], marks: list[Flag]) -> tuple[float, float, float]:
        """Baseline of event lane 0, top of mark lane 0, top of the first row."""
        high = max([f.lane for f in events], default=-1) + 1
        tall = max([f.lane for f in marks], default=-1) + 1
        y_events = y + 15 * high - 4
        y_marks = y + 15 * high + (6 if events else 0) + 20 * max(tall - 1, 0)
        y_rows = y + 15 * high + (7 if events else 0) + 20 * tall + (4 if tall else 0)
        return y_events, y_marks, y_rows

    def leaders(
        self, events: list[Flag], marks: list[Flag], y_events: float, y_marks: float, bottom: float
    ) -> tuple[list[Shape], list[Shape]]:
        """Uprights of the events, and of the marks over them."""
        thin: list[Shape] = []
        for f in events:
            top = y_events + 5 if f.lane < 0 else y_events - 15 * f.lane - 8
            thin.append(Line(f.x, top, f.x, bottom, "event"))
        for f in events:
            y = y_events + 9
            thin.append(Polyline(((f.x - 3, y - 5), (f.x + 3, y - 5), (f.x, y)), "event-mark", closed=True))
        return thin, [Line(f.x, y_marks - 20 * f.lane + 16, f.x, bottom, "mark") for f in marks]

    def draw_flags(self, events: list[Flag], marks: list[Flag], y_events: float, y_marks: float) -> list[Shape]:
        """The words of events and marks."""
        out: list[Shape] = [
            Text(f.left + 4, y_events - 15 * f.lane, f.text, "label", _EVENT) for f in events if f.lane >= 0
        ]
        for f in marks:
            y = y_marks - 20 * f.lane
            out += [
                Rect(f.left, y, f.width, 16, "mark-flag", 2),
                Text(f.left + 6, y + 11.6, f.text, "mark-label", _EVENT, bold=True),
            ]
        return out

    def axis(self, y: float) -> tuple[list[Shape], float]:
        """The time axis under the rows."""
        win = self.win
        out: list[Shape] = [Line(win.left, y, win.right, y, "axis")]
        ticks = win.ticks()
        words = [Text(x, y + 16, text, "tick", 10, "middle") for x, text in ticks]
        out += [Line(x, y, x, y + 4, "axis") for x, _ in ticks]
        out += [t for t in words if t.bounds()[2] <= self.edge + 10]
        unit = {"s": "seconds", "ms": "milliseconds", "us": "microseconds"}[win.unit[0]]
        out.append(Text(14, y + 16, f"{unit}", "note", 10))
        return out, y + 26


def _row(
    signal: SignalLike,
    kind: str,
    win: Window,
    *,
    y: float,
    height: float,
    band: tuple[float, float] | None,
    right: float,
) -> Row:
    if kind == "bool" and signal.kind == "state":
        return bool_row([(t, v in UP) for t, v in signal.changes], win, y, height, words=[v for _, v in signal.changes])
    if kind == "bool":
        return bool_row(signal.changes, win, y, height)
    if kind == "state":
        return state_row(signal.changes, win, y, height)
    unit = "V" if signal.kind == "volts" else ""
    return level_row(signal.changes, win, y, height, unit=unit, band=band, right=right)

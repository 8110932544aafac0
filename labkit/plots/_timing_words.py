"""The words of a timing diagram: names of rows, notes under it, and the story for those who hear it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from labkit.plots._measure import text_width, wrap
from labkit.plots._record import LAYERS, SignalLike, TraceLike
from labkit.plots._rows import pieces
from labkit.plots._scanbar import Scan
from labkit.plots._time_axis import Window, say_time
from labkit.plots.shapes import Shape, Text

__all__ = ["NAME", "describe", "gutter", "label_lines", "label_shapes", "notes_of", "scan_story", "story"]

Told = Sequence[tuple[int, str]]
NAME = 11.0  # text size of a row's name


def _label_parts(name: str) -> tuple[str, str]:
    layer, colon, what = name.partition(":")
    if not colon:
        return name, ""
    unit = ", V" if layer in {"volts", "coil"} else ""
    return what, LAYERS.get(layer, layer) + unit


def _label_width(name: str) -> float:
    what, layer = _label_parts(name)
    return text_width(what, NAME, bold=True) + (6 + text_width(layer, 10) if layer else 0)


def gutter(names: list[str], width: float) -> float:
    """Room for the names: no more than the widest line needs once long names are wrapped."""
    room = min(max([_label_width(n) for n in names], default=0.0), 0.26 * width)
    lines = [line for n in names for line in label_lines(n, room)]
    wide = [sum(text_width(t, NAME if b else 10, bold=b) + 6 for t, b in line if t) - 6 for line in lines]
    return max([*wide, text_width("milliseconds", 10) + 10])


def label_lines(name: str, room: float) -> list[list[tuple[str, bool]]]:
    """Lines of (text, bold): the name bold and its layer after it, or under it if they do not fit."""
    what, layer = _label_parts(name)
    if _label_width(name) <= room + 0.5:
        return [[(what, True), (layer, False)]]
    return [[(t, True)] for t in wrap(what, room, NAME, bold=True)] + [[(t, False)] for t in wrap(layer, room, 10) if t]


def label_shapes(lines: list[list[tuple[str, bool]]], x: float, middle: float) -> list[Shape]:
    """The lines as shapes, from `x` on, around the height `middle`."""
    out: list[Shape] = []
    y = middle - 13.5 * (len(lines) - 1) / 2 + 4
    for line in lines:
        at = x
        for text, bold in line:
            if not text:
                continue
            shape = Text(at, y, text, "name" if bold else "note", NAME if bold else 10, bold=bold)
            out.append(shape)
            at += shape.width + 6
        y += 13.5
    return out


def notes_of(thinned: list[str], untold: int, unnamed: int) -> list[str]:
    """What stands under the diagram: what it leaves out, and what to ask for instead."""
    notes = []
    if thinned:
        which = ", ".join(thinned[:4]) + (" and others" if len(thinned) > 4 else "")
        notes.append(f"Hatched stretches of {which} change faster than this width can show; draw a shorter span.")
    if untold:
        notes.append(f"{untold} more signals changed; name the ones you want as rows.")
    if unnamed:
        notes.append(f"{unnamed} more things were done than there is room to name; their ticks stand above the rows.")
    return notes


def story(name: str, signal: SignalLike, win: Window) -> str:
    """A row in one sentence, for those who hear it."""
    parts = pieces(signal.changes, win)
    if not parts:
        return f"{name}: nothing recorded"
    say = _value_words(signal)
    moves = [f"{say(v)} at {say_time((x - win.left) / win.px_per_us + win.t0 - win.zero)}" for x, _, v in parts[1:7]]
    more = f", and {len(parts) - 7} more changes" if len(parts) > 7 else ""
    return f"{name}: starts {say(parts[0][2])}" + "".join(f", {m}" for m in moves) + more


def _value_words(signal: SignalLike) -> Any:
    if signal.kind == "bool":
        return lambda v: "on" if v else "off"
    if signal.kind == "volts":
        return lambda v: f"{float(v) + 0.0:.3g} V"
    return str


def scan_story(scans: Sequence[Scan]) -> str:
    """The scan bar in words."""
    if not scans:
        return "no scan"
    return f"{len(scans)} scans, number {scans[0].number} to {scans[-1].number}"


def describe(trace: TraceLike, names: list[str], win: Window, events: Told, marks: Told) -> str:
    """The whole diagram in words, for those who hear it."""
    lines = [f"From {say_time(win.t0 - win.zero)} to {say_time(win.t1 - win.zero)}."]
    if events:
        told = "; ".join(f"{text} at {say_time(t - win.zero)}" for t, text in events[:12])
        lines.append(f"Done: {told}.")
    if marks:
        lines.append("Marked: " + "; ".join(f"{text} at {say_time(t - win.zero)}" for t, text in marks) + ".")
    lines += [story(n, trace.signals[n], win) + "." for n in names]
    return " ".join(lines)

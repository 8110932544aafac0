"""The board's picture as named pieces, so that a page is sent only those that changed."""

from __future__ import annotations

import re
from collections import OrderedDict
from dataclasses import dataclass
from typing import Any

__all__ = ["BoardPicture", "Look", "Picture", "look_at", "places"]

_GROUP = re.compile(r'<g data-of="([^"]+)">(.*?)\n</g>', re.DOTALL)
_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)
_COLOUR = re.compile("#([0-9a-fA-F]{6})")
_KEPT = 300  # looks of one board; a bench comes back to the same ones again and again
_LIVE_V = 12.0  # half the control voltage: what a lamp or a coil would notice


@dataclass(frozen=True, slots=True)
class Look:
    """What can be seen at a bench at one instant."""

    states: tuple[tuple[str, str], ...]
    lit: frozenset[str]
    leds: frozenset[str]
    live: frozenset[str]
    removed: frozenset[str]
    wires: tuple[str, ...]
    follow: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """One drawing: the whole text, and the text of each piece by its name, such as ``part:K1``."""

    svg: str
    pieces: dict[str, str]
    style: tuple[str, ...]


class BoardPicture:
    """Draws a bench's board; a look that was drawn before is not drawn again."""

    def __init__(self, bench: Any) -> None:
        self._bench = bench
        self._drawn: OrderedDict[Look, Picture] = OrderedDict()

    def draw(self, look: Look) -> Picture:
        """The picture of a look."""
        found = self._drawn.get(look)
        if found is not None:
            self._drawn.move_to_end(look)
            return found
        from labkit.plots import board_svg

        svg = board_svg(
            self._bench.board,
            states=dict(look.states),
            wiring=self._bench.wiring,
            lit=look.lit,
            leds=look.leds,
            live=look.live,
            removed=look.removed,
            follow=look.follow,
        )
        style = _STYLE.search(svg)
        rules = tuple(_themed(rule) + "}" for rule in style.group(1).split("}") if rule) if style else ()
        picture = self._drawn[look] = Picture(svg, dict(_GROUP.findall(svg)), rules)
        while len(self._drawn) > _KEPT:
            self._drawn.popitem(last=False)
        return picture


def _themed(rule: str) -> str:
    """A style rule whose colours a page may replace, each by its own name: the dark theme does."""
    return _COLOUR.sub(lambda found: f"var(--lk-drawn-{found[1].lower()},#{found[1]})", rule)


def look_at(bench: Any, follow: tuple[str, ...] = ()) -> Look:
    """What can be seen at a bench now."""
    board, positions = bench.board, bench.states()
    states = {name: state for name, state in positions.items() if name in board.parts}
    lit = {part.designation for part in board.of_kind("lamp", "horn") if bench.lit(part.designation)}
    lit |= {part.designation for part in board.of_kind("motor") if bench.speed(part.designation) > 0}
    for part in board.of_kind("sensor"):
        states[part.designation] = "on" if bench.lit(part.designation) else "off"
    leds = set()
    for part, entry in board.controllers:
        states[part.designation] = {"off": "off", "run": "run"}.get(bench.mode, "stop")
        if bench.mode != "off":
            leds |= {point for point in (*entry.input_points, *entry.output_points) if bench.led(point)}
    volts = bench.engine.now_reading().solution.volts
    wires = tuple(wire.no for wire in bench.wiring)
    return Look(
        tuple(sorted(states.items())),
        frozenset(lit),
        frozenset(leds),
        frozenset(t for t in board.terminals if abs(volts.get(t, 0.0)) > _LIVE_V),
        frozenset(bench.removed),
        wires,
        tuple(no for no in follow if no in wires),
    )


def places(board: Any) -> dict[str, tuple[float, float]]:
    """Where each terminal is, in the units of the board's drawing."""
    from labkit.plots import board_sheet

    groups = board_sheet(board, follow=()).groups()
    some = max(board.parts.values(), key=lambda part: part.entry.width_mm)
    outline = groups[f"part:{some.designation}"].shapes[0].bounds()
    scale = (outline[2] - outline[0]) / some.entry.width_mm
    x0, y0 = outline[0] - scale * some.x_mm, outline[1] - scale * some.y_mm
    return {t.id: (round(x0 + scale * t.x_mm, 1), round(y0 + scale * t.y_mm, 1)) for t in board.terminals.values()}

"""A bench as it stands this moment, drawn as its board."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from labkit.plots._given import bench_to_draw
from labkit.plots.board import board_svg, draw_board

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from labkit.bench import Bench

__all__ = ["as_it_stands", "bench_svg", "draw_bench"]

# Above what every input type of IEC 61131-2 still calls off at 24 V DC: such a terminal is drawn live.
_LIVE_V = 5.0


def as_it_stands(bench: Bench) -> dict[str, Any]:
    """The options of :func:`~labkit.plots.draw_board` that show the bench as it stands: all read, nothing moved."""
    bench_to_draw(bench)
    board = bench.board
    states = {name: state for name, state in bench.states().items() if name in board.parts}
    for part in board.of_kind("sensor"):  # its own lamp is what shows
        states[part.designation] = "on" if bench.lit(part.designation) else "off"
    for part, _ in board.controllers:
        states[part.designation] = bench.mode
    volts = bench.engine.now_reading().solution.volts
    lit = [p.designation for p in board.of_kind("lamp", "horn") if bench.lit(p.designation)]
    lit += [p.designation for p in board.of_kind("motor") if bench.speed(p.designation) > 0]
    return {
        "states": states,
        "wiring": bench.wiring,
        "lit": lit,
        "leds": [point for point in board.points if bench.led(point)],
        "live": [t for t in board.terminals if abs(volts.get(t, 0.0)) > _LIVE_V],
        "removed": [b.id for p in board.parts.values() for b in p.blocks if b.id in bench.removed],
    }


def bench_svg(bench: Bench, *, follow: Iterable[str | int] | str | None = None, title: str = "") -> str:
    """The bench as it stands, as SVG text; `follow` and `title` as in :func:`~labkit.plots.draw_board`."""
    bench_to_draw(bench)
    return board_svg(bench.board, **as_it_stands(bench), follow=follow, title=title)


def draw_bench(
    bench: Bench, *, ax: Axes | None = None, follow: Iterable[str | int] | str | None = None, title: str = ""
) -> Axes:
    """The bench as it stands, into `ax` or a figure of its own; options as in :func:`~labkit.plots.draw_board`."""
    bench_to_draw(bench)
    return draw_board(bench.board, ax=ax, **as_it_stands(bench), follow=follow, title=title)

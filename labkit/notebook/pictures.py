"""Still pictures as cell results: a timing diagram, the board. Seen also in an untrusted or saved notebook."""

from __future__ import annotations

from typing import Any

from labkit.notebook._page import picture

__all__ = ["Picture", "board_picture", "diagram", "register"]


class Picture:
    """An SVG drawing as a cell result.

    Parameters
    ----------
    svg
        The drawing; kept as ``.svg``, e.g. to save it with ``pathlib.Path("mine.svg").write_text(p.svg)``.
    words
        What it shows, in words, for a screen reader and for a page that shows no pictures.
    """

    def __init__(self, svg: str, words: str) -> None:
        self.svg = svg
        self.words = words

    def __repr__(self) -> str:
        return self.words

    def _repr_html_(self) -> str:
        return picture(self.svg, self.words)


def diagram(trace: Any, signals: Any = None, **how: Any) -> Picture:
    """The timing diagram of a trace, as a cell result; arguments as :func:`labkit.plots.timing_svg`."""
    from labkit.plots import timing_svg

    shown = ", ".join(signals) if signals else f"{len(trace.signals)} signals"
    length_ms = (trace.end_us - trace.start_us) / 1000
    return Picture(timing_svg(trace, signals, **how), f"Timing diagram of {length_ms:g} ms: {shown}")


def board_picture(bench: Any) -> Picture:
    """The bench as it stands now: parts at their places, positions, what is lit."""
    from labkit.plots import board_svg

    board = bench.board
    lit = tuple(p.designation for p in board.of_kind("lamp", "horn") if bench.lit(p.designation))
    leds = tuple(point for point in board.points if bench.led(point))
    svg = board_svg(board, states=bench.states(), wiring=bench.wiring, lit=lit, leds=leds)
    return Picture(svg, repr(bench))


def register(shell: Any) -> None:
    """A bench that ends a cell is shown as its picture."""
    html = shell.display_formatter.formatters["text/html"]
    html.for_type_by_name("labkit.bench.front", "Bench", lambda bench: board_picture(bench)._repr_html_())

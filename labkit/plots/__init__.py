"""Drawings: timing diagrams, ladders, boards. Each is shapes first, then SVG text or matplotlib Axes.

Must not know: kernels, widgets, files. A drawing reads in black and white: line weight and end marks
tell what is live, colour repeats it. The calls a reader wants first: :func:`timing` (into Axes),
:func:`timing_svg`, :func:`ladder_svg`, :func:`board_svg`. Start reading at ``shapes.py``.
"""

from labkit.plots.board import board_sheet, board_svg, draw_board
from labkit.plots.errors import DrawingError
from labkit.plots.ladder import draw_ladder, ladder_sheet, ladder_svg
from labkit.plots.shapes import Arc, Frame, Group, Hatch, Line, Polyline, Rect, Shape, Sheet, Text
from labkit.plots.timing import timing, timing_sheet, timing_svg

__all__ = [
    # board
    "board_sheet",
    "board_svg",
    "draw_board",
    # errors
    "DrawingError",
    # shapes
    "Arc",
    "Frame",
    "Group",
    "Hatch",
    "Line",
    "Polyline",
    "Rect",
    "Shape",
    "Sheet",
    "Text",
    # ladder
    "draw_ladder",
    "ladder_sheet",
    "ladder_svg",
    # timing
    "timing",
    "timing_sheet",
    "timing_svg",
]

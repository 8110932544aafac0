"""Drawings: timing diagrams, ladders, boards. Each is shapes first, then SVG text or matplotlib Axes.

Must not know: kernels, widgets, files. A drawing reads in black and white: line weight and end marks
tell what is live, colour repeats it. The calls a reader wants first: :func:`timing` (into Axes),
:func:`timing_svg`, :func:`ladder_svg`, :func:`board_svg`. Start reading at ``shapes.py``.
"""

from labkit.bench import Trace
from labkit.plots.bench import as_it_stands, bench_svg, draw_bench
from labkit.plots.board import board_sheet, board_svg, draw_board
from labkit.plots.circuit_sheet import control_circuit_sheet, control_circuit_svg, draw_control_circuit
from labkit.plots.effects_table import draw_effects, effects_sheet, effects_svg
from labkit.plots.errors import DrawingError
from labkit.plots.ladder import draw_ladder, ladder_sheet, ladder_svg
from labkit.plots.shapes import Arc, Frame, Group, Hatch, Line, Polyline, Rect, Shape, Sheet, Text
from labkit.plots.story import draw_story, story_svg
from labkit.plots.timing import input_bands, timing, timing_sheet, timing_svg

__all__ = [
    # bench
    "as_it_stands",
    "bench_svg",
    "draw_bench",
    # board
    "board_sheet",
    "board_svg",
    "draw_board",
    # circuit sheet
    "control_circuit_sheet",
    "control_circuit_svg",
    "draw_control_circuit",
    # failure effects
    "draw_effects",
    "effects_sheet",
    "effects_svg",
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
    # story
    "draw_story",
    "story_svg",
    # timing
    "input_bands",
    "timing",
    "timing_sheet",
    "timing_svg",
]

# A trace knows no drawing library; with this room imported, trace.timing(...) draws.
Trace.drawer = timing

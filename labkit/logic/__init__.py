"""Programs: IEC 61131-3 ladder text and Structured Text, read, checked, run, drawn and printed.

One tree for both languages; a slow walker that is its meaning; a flat operation list and three engines made from it.
The room must not know boards, addresses, or any time but the clock handed to a scan.

Start with :func:`read_program` (text in, :class:`Program` out, or a :class:`SlipError` with a caret and a cure), then
:func:`lower` and :func:`to_python` (a function that solves the program once), and :func:`layout` (ready to draw).
"""

from labkit.logic._as_ladder import as_ladder
from labkit.logic._layout import layout
from labkit.logic._layout_records import Cell, LadderLayout, Link, Pin, RungLayout
from labkit.logic._lower import lower
from labkit.logic._print_ladder import print_ladder
from labkit.logic._print_st import print_st
from labkit.logic._read_any import read_program
from labkit.logic._read_ladder import read_ladder
from labkit.logic._read_st import read_st
from labkit.logic._to_lanes import LaneScan, to_lanes
from labkit.logic._to_numpy import NumpyScan, numpy_bits, numpy_memory, to_numpy
from labkit.logic._to_python import PythonScan, python_source, to_python
from labkit.logic._walker import ElementFlow, Flow, Walker, walker
from labkit.logic.blocks import BLOCKS, BlockType
from labkit.logic.findings import Finding, Use, cross_reference, findings
from labkit.logic.limits import LIMITS, Limit
from labkit.logic.lowered import Lowered, Op, Timer, new_bits, new_memory
from labkit.logic.nodes import (
    Block,
    Coil,
    Constant,
    Contact,
    Not,
    Parallel,
    Preset,
    Program,
    Rung,
    Series,
    Span,
    Variable,
    Xor,
    elements,
)
from labkit.logic.slips import SLIPS, Slip, SlipError

__all__ = [
    # reading
    "LIMITS",
    "Limit",
    "SLIPS",
    "Slip",
    "SlipError",
    "read_ladder",
    "read_program",
    "read_st",
    # the tree
    "BLOCKS",
    "Block",
    "BlockType",
    "Coil",
    "Constant",
    "Contact",
    "Not",
    "Parallel",
    "Preset",
    "Program",
    "Rung",
    "Series",
    "Span",
    "Variable",
    "Xor",
    "elements",
    # running
    "ElementFlow",
    "Flow",
    "LaneScan",
    "Lowered",
    "Op",
    "Timer",
    "NumpyScan",
    "PythonScan",
    "Walker",
    "lower",
    "new_bits",
    "new_memory",
    "numpy_bits",
    "numpy_memory",
    "python_source",
    "to_lanes",
    "to_numpy",
    "to_python",
    "walker",
    # looking at
    "Finding",
    "Use",
    "cross_reference",
    "findings",
    # drawing and printing
    "Cell",
    "LadderLayout",
    "Link",
    "Pin",
    "RungLayout",
    "as_ladder",
    "layout",
    "print_ladder",
    "print_st",
]

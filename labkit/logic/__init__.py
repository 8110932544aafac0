"""Programs: IEC 61131-3 ladder text and Structured Text, read, checked, run, drawn and printed.

One tree for both languages; a slow walker that is its meaning; a flat operation list and three engines made from it.
The room must not know boards, addresses, or any time but the clock handed to a scan.

Start with :func:`read_program` (text in, :class:`Program` out, or a :class:`SlipError` with a caret and a cure), then
:func:`lower` and :func:`to_python` (a function that solves the program once), and :func:`layout` (ready to draw).
"""

from labkit.logic._lower import lower
from labkit.logic._layout_records import Cell, LadderLayout, Link, Pin, RungLayout
from labkit.logic._read_st import read_st
from labkit.logic._to_python import PythonScan, python_source, to_python
from labkit.logic.lowered import Lowered, Op, new_bits, new_memory
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
from labkit.logic.slips import SLIPS, SlipError

__all__ = [
    # reading
    "SLIPS",
    "SlipError",
    "read_st",
    # the tree
    "Block",
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
    "Lowered",
    "Op",
    "PythonScan",
    "lower",
    "new_bits",
    "new_memory",
    "python_source",
    "to_python",
    # drawing
    "Cell",
    "LadderLayout",
    "Link",
    "Pin",
    "RungLayout",
]

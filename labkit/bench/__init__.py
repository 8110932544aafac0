"""Everything on one clock: the wired board, the controller's scans, what moves, and what a person does.

Must not know: files (but for a stimulus text handed in and a trace handed out), widgets, lessons, drawing.
What a reader wants first: :class:`Bench` (work it, watch it, let time pass), :meth:`Bench.record` (a
:class:`Trace` of what changed) and :class:`Stimulus` (a timed list of what is done, as data). Who goes first at
one instant is :class:`Rank`; ``docs/explanation/time-on-the-bench.md`` tells what is seen when.
"""

from labkit.bench.between import Between
from labkit.bench.clock import Clock, Rank, show_time
from labkit.bench.electric import Network
from labkit.bench.errors import BenchError
from labkit.bench.front import Bench
from labkit.bench.gate import GateRow, PowerGate, read_gate_sheet
from labkit.bench.live import Pacer
from labkit.bench.meter import Meter
from labkit.bench.stimulus import VERBS, Step, Stimulus
from labkit.bench.trace import LAYERS, Done, ScanRun, Signal, Trace

__all__ = [
    # between
    "Between",
    # clock
    "Clock",
    "Rank",
    "show_time",
    # electric
    "Network",
    # errors
    "BenchError",
    # front
    "Bench",
    # live
    "Pacer",
    # gate
    "GateRow",
    "PowerGate",
    "read_gate_sheet",
    # meter
    "Meter",
    # stimulus
    "VERBS",
    "Step",
    "Stimulus",
    # trace
    "LAYERS",
    "Done",
    "ScanRun",
    "Signal",
    "Trace",
]

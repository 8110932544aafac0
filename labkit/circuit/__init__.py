"""Networks of resistances, contacts, curves and limited supplies, solved for volts and amps.

Must not know: devices, boards, logic, time. A node is a name, and all variation is switches.

What a reader wants first: :class:`Circuit` (elements between named nodes), :class:`Solver` (a position of the
switches in, a :class:`Solution` out), and :mod:`labkit.circuit.meter` (what a multimeter would show). Start
reading at ``elements.py``, then ``solver.py``.
"""

from labkit.circuit import meter
from labkit.circuit.cases import Asked, Case, Cases, Settled
from labkit.circuit.elements import Curve, Element, Resistor, Source, Switch, diode
from labkit.circuit.errors import CircuitError
from labkit.circuit.exact import solve_exact
from labkit.circuit.faults import Fault, FaultTable, Joined, Opened, fault_table, faulted
from labkit.circuit.network import Circuit
from labkit.circuit.solution import Solution
from labkit.circuit.solver import Solver
from labkit.circuit.spice import to_spice

__all__ = [
    # many cases at once
    "Asked",
    "Case",
    "Cases",
    "Settled",
    # elements
    "Curve",
    "Element",
    "Resistor",
    "Source",
    "Switch",
    "diode",
    # errors
    "CircuitError",
    # exact
    "solve_exact",
    # faults
    "Fault",
    "FaultTable",
    "Joined",
    "Opened",
    "fault_table",
    "faulted",
    # network
    "Circuit",
    # solution
    "Solution",
    # solver
    "Solver",
    # spice
    "to_spice",
    # meter
    "meter",
]

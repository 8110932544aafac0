"""The earth-fault table: contacts on the + or the 0 V side of the coil, 0 V bonded or floating.

One circuit, wired two ways. The contact that should keep the coil dead is the overload's trip contact, tripped, with
the controller asking for the pump. The fault lies on the wire between that contact and the coil; its resistance is
the slider of the lesson, from a dead short to nothing at all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal

from labkit.board import Board, Electrical, load_board
from labkit.board import electrify as _electrify
from labkit.circuit import Solution, Solver
from labkit.faults.changes import Change, Joined, Opened, apply
from labkit.faults.errors import FaultError

__all__ = ["SLIDER_OHM", "EarthRow", "EarthThreshold", "earth_sweep", "earth_table", "earth_thresholds"]

Side = Literal["+", "0 V"]
WAYS: tuple[tuple[Side, bool], ...] = (("+", True), ("+", False), ("0 V", True), ("0 V", False))

SLIDER_OHM = (0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1e3, 3e3, 1e4, 1e5, 1e6, math.inf)
"""The stops of the lesson's slider, in ohms: the last one is no fault."""


@dataclass(frozen=True, slots=True)
class EarthRow:
    """One of the four ways.

    Parameters
    ----------
    contacts
        The side of the coil on which the contact is.
    bonded
        Whether 0 V is joined to earth.
    coil_v
        Volts across the coil with the contact open: at 19.7 V or more the pump starts, stop or no stop.
    closed_supply_v
        Volts of the supply with the contact closed: one that is shorted gives its limit at no volts, or a fuse opens.
    plus_to_earth_v
        +24 V to earth with the contact open: what an earth-fault monitor looks at.
    overload_a
        Amperes above its rating that a breaker carries with the contact closed; 0 if none does.
    """

    contacts: Side
    bonded: bool
    coil_v: float
    closed_supply_v: float
    plus_to_earth_v: float
    overload_a: float = 0.0

    @property
    def outcome(self) -> str:
        """What it comes to."""
        if abs(self.coil_v) >= PICK_UP_V:
            return "the coil pulls in though its contact is open: the stop is bypassed"
        if abs(self.coil_v) >= DROP_OUT_V:
            return "the coil does not pull in by itself, and once in it does not let go: the stop does not stop"
        if self.closed_supply_v < SAG_V:
            return "no start; closing the contact shorts the supply: it goes into its current limit, or the fuse opens"
        if self.overload_a > 0:
            return "the pump starts, and the breaker of its group trips in a while"
        if self.bonded:  # the fault carries what it can, unseen: it is no first fault that waits for a second
            return "nothing shows: so weak a fault opens no breaker and moves nothing"
        return "nothing shows: the fault waits for a second one"


@dataclass(frozen=True, slots=True)
class EarthThreshold:
    """Where the slider changes what one way comes to.

    Parameters
    ----------
    contacts, bonded
        The way.
    ohm
        The resistance of the fault, in ohms, to one part in a thousand.
    below, above
        What it comes to with less and with more.
    """

    contacts: Side
    bonded: bool
    ohm: float
    below: str
    above: str


PICK_UP_V = 0.82 * 24.0
DROP_OUT_V = 0.40 * 24.0
SAG_V = 20.4  # 85 % of 24 V, the least that IEC 61131-2 lets a supply fall to


def earth_table(
    ohm: float = 0.05, *, second: bool = False, board: Board | str = "orchard"
) -> tuple[EarthRow, EarthRow, EarthRow, EarthRow]:
    """The four ways with an earth fault of `ohm`; ``math.inf`` is no fault.

    Parameters
    ----------
    second
        A second earth fault, on the side of the circuit that the contact should cut off: on +24 V for contacts on
        the + side, on 0 V for contacts on the 0 V side. It is a dead one (0.05 ohm) whatever `ohm` is.

    Raises
    ------
    FaultError
        If `ohm` is not above 0.
    """
    return earth_sweep([ohm], second=second, board=board)[0]


def earth_sweep(
    ohms: Sequence[float] = SLIDER_OHM, *, second: bool = False, board: Board | str = "orchard"
) -> tuple[tuple[EarthRow, EarthRow, EarthRow, EarthRow], ...]:
    """The table at each stop of the slider. See :func:`earth_table`.

    Raises
    ------
    FaultError
        If a resistance is not above 0.
    """
    ways = _ways(board)
    tables = []
    for ohm in ohms:
        if not isinstance(ohm, int | float) or not ohm > 0:
            raise FaultError(
                f"an earth fault has more than 0 ohm, not {ohm}",
                where="ohm",
                try_this="take 0.1 for a dead one",
                code="fault-value",
            )
        plus, plus_free, zero, zero_free = (way.row(ohm, second) for way in ways)
        tables.append((plus, plus_free, zero, zero_free))
    return tuple(tables)


def earth_thresholds(*, second: bool = False, board: Board | str = "orchard") -> tuple[EarthThreshold, ...]:
    """Every place on the slider at which one of the ways comes to something else, way by way, rising.

    Two changes nearer to each other than the slider's stops may be taken for one.
    """
    found = []
    for way in _ways(board):
        for low, high in pairwise(o if math.isfinite(o) else 1e9 for o in SLIDER_OHM):
            below, above = way.row(low, second).outcome, way.row(high, second).outcome
            if below == above:
                continue
            while high / low > 1.001:
                middle = math.sqrt(low * high)
                low, high = (middle, high) if way.row(middle, second).outcome == below else (low, middle)
            above = way.row(high, second).outcome
            found.append(EarthThreshold(way.contacts, way.bonded, math.sqrt(low * high), below, above))
    return tuple(found)


def _ways(board: Board | str) -> tuple[_Way, ...]:
    found = load_board(board) if isinstance(board, str) else board
    return tuple(_Way(found, contacts, bonded) for contacts, bonded in WAYS)


@dataclass(frozen=True)
class _Way:
    board: Board
    contacts: Side
    bonded: bool

    @cached_property
    def electrical(self) -> Electrical:
        """The board wired this way, with no fault yet."""
        wiring = self.board.wiring
        if self.contacts == "0 V":  # the output straight to the coil, the trip contact in the coil's return
            wiring = wiring.moved(201, end="F3:95", to="K1:A1")
            wiring = wiring.moved(211, end="K1:A1", to="K1:A2")
            wiring = wiring.moved(221, end="K1:A2", to="F3:95")
        return _electrify(self.board, wiring)

    def row(self, ohm: float, second: bool) -> EarthRow:
        """The row of the table at one stop of the slider."""
        plus_side = self.contacts == "+"
        changes: list[Change] = []
        if math.isfinite(ohm):
            changes.append(Joined("K1:A1" if plus_side else "K1:A2", "PE", ohm))
        if not self.bonded:
            changes.append(Opened("wire 4"))
        if second:
            changes.append(Joined("X1:24V" if plus_side else "X1:0V", "PE"))
        electrical = apply(self.electrical, changes)
        solver = Solver(electrical.circuit)

        def solved(overload: str) -> Solution:
            return solver.solve(electrical.key(electrical.powered(**{"A1.Q1": "on", "F3": overload})))

        opened, closed = solved("tripped"), solved("healthy")
        over = max(abs(closed.amps(fuse.element)) - fuse.rated_a for fuse in electrical.fuses)
        return EarthRow(
            self.contacts,
            self.bonded,
            opened.volt("K1:A1", "K1:A2"),
            closed.volt("X1:24V", "X1:0V"),
            opened.volt("X1:24V", "PE"),
            max(0.0, over),
        )

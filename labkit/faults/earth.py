"""The earth-fault table: contacts on the + or the 0 V side of the coil, 0 V bonded or floating.

One circuit, wired two ways. The contact that should keep the coil dead is the overload's trip contact, tripped, with
the controller asking for the pump. The fault lies on the wire between that contact and the coil.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from labkit.board import Board, load_board
from labkit.board import electrify as _electrify
from labkit.circuit import Circuit, Solution, Solver
from labkit.faults.changes import Change, Joined, Opened, apply
from labkit.faults.errors import FaultError

__all__ = ["EarthRow", "earth_table"]

Side = Literal["+", "0 V"]


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
        Volts of the supply with the contact closed: a supply that is shorted folds back, and a fuse opens.
    plus_to_earth_v
        +24 V to earth with the contact open: what an earth-fault monitor looks at.
    """

    contacts: Side
    bonded: bool
    coil_v: float
    closed_supply_v: float
    plus_to_earth_v: float

    @property
    def outcome(self) -> str:
        """What it comes to."""
        if abs(self.coil_v) >= PICK_UP_V:
            return "the coil pulls in though its contact is open: the stop is bypassed"
        if self.closed_supply_v < SAG_V:
            return "no start; closing the contact shorts the supply, and the fuse opens"
        return "nothing shows: the fault waits for a second one"


PICK_UP_V = 0.82 * 24.0
SAG_V = 20.4  # 85 % of 24 V, the least that IEC 61131-2 lets a supply fall to


def earth_table(
    ohm: float = 0.05, *, second: bool = False, board: Board | str = "orchard"
) -> tuple[EarthRow, EarthRow, EarthRow, EarthRow]:
    """The four ways with an earth fault of `ohm`.

    Parameters
    ----------
    second
        A second earth fault, on the side of the circuit that the contact should cut off: on +24 V for contacts on
        the + side, on 0 V for contacts on the 0 V side.

    Raises
    ------
    FaultError
        If `ohm` is not above 0.
    """
    if not 0 < ohm < float("inf"):
        raise FaultError(f"an earth fault has more than 0 ohm, not {ohm:g}", code="fault-value")
    found = load_board(board) if isinstance(board, str) else board
    plus, plus_free = (_row(found, "+", bonded, ohm, second) for bonded in (True, False))
    zero, zero_free = (_row(found, "0 V", bonded, ohm, second) for bonded in (True, False))
    return plus, plus_free, zero, zero_free


def _row(board: Board, side: Side, bonded: bool, ohm: float, second: bool) -> EarthRow:
    wiring = board.wiring
    if side == "0 V":  # the output straight to the coil, the trip contact in the coil's return
        wiring = wiring.moved(201, end="F3:95", to="K1:A1")
        wiring = wiring.moved(211, end="K1:A1", to="K1:A2")
        wiring = wiring.moved(221, end="K1:A2", to="F3:95")
    fault = "K1:A1" if side == "+" else "K1:A2"
    changes: list[Change] = [Joined(fault, "PE", ohm)]
    if not bonded:
        changes.append(Opened("wire 4"))
    if second:
        changes.append(Joined("X1:24V" if side == "+" else "X1:0V", "PE", ohm))
    electrical = apply(_electrify(board, wiring), changes)
    circuit: Circuit = electrical.circuit
    solver = Solver(circuit)

    def solved(overload: str) -> Solution:
        return solver.solve(electrical.key(electrical.powered(**{"A1.Q1": "on", "F3": overload})))

    opened, closed = solved("tripped"), solved("healthy")
    return EarthRow(
        side,
        bonded,
        opened.volt("K1:A1", "K1:A2"),
        closed.volt("X1:24V", "X1:0V"),
        opened.volt("X1:24V", "PE"),
    )

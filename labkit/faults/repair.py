"""Mending by hand: what a person does to put a fault right.

A part is exchanged (``bench.swap("K1")``), a wire is laid anew, a block is seated, a wire is moved back to where
it belongs. Where the fault does not lie there, nothing changes but the part and the log.
"""

from __future__ import annotations

from labkit.base import did_you_mean
from labkit.bench import Bench
from labkit.bench.trace import Done
from labkit.board import Board
from labkit.faults._mending import same
from labkit.faults.catalogue import every_single_fault
from labkit.faults.errors import FaultError
from labkit.faults.inject import faults_in, mend

__all__ = ["places", "repair"]


def repair(bench: Bench, location: str) -> bool:
    """Put one place of a bench right, as a person does with the tools at hand; it is logged in any case.

    A part, a block or a breaker is exchanged (``bench.swap``); anything else, such as ``"wire 201"`` or
    ``"inputs of A1:IC1"``, is undone, cleaned and made again as the wire list says.

    Returns
    -------
    bool
        Whether a fault, or a part of one, lay there. A person does not see this: the new test shows it.

    Raises
    ------
    FaultError
        If the board has no such place.
    """
    known = places(bench.board)
    found = next((place for place in known if same(place, location)), None)
    if found is None:
        raise FaultError(
            f"there is no {location!r} on this board to put right",
            where=str(location),
            try_this=did_you_mean(str(location), known) or 'name a part ("K1"), a wire ("wire 201") or a terminal',
            code="fault-place",
        )
    before = faults_in(bench)
    if found in bench.board.parts:
        bench.swap(found)
    else:
        bench.engine.act(lambda: mend(bench, found), "the network")
        bench.log.append(Done(bench.now_us, "repair", {"location": found}))
    return faults_in(bench) != before


def places(board: Board) -> tuple[str, ...]:
    """What can be named as the place of a fault: parts, terminal blocks, wires, and the catalogue's own places."""
    wires = (f"wire {wire.no}" for wire in board.wiring)
    return tuple(
        dict.fromkeys((*board.parts, *board.plugs, *wires, *(fault.location for fault in every_single_fault(board))))
    )

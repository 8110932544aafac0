"""What of a fault is gone once somebody has put a place right."""

from __future__ import annotations

from labkit.board import Board
from labkit.faults.catalogue import Fault
from labkit.faults.changes import Change, ContactFault, InputDead, Joined, Joint, Moved, Opened

__all__ = ["left_after", "same"]

BLOCK_CODES = frozenset({"F35", "F36"})  # not pushed home, and on the wrong way


def left_after(fault: Fault, what: str, board: Board) -> tuple[Change, ...]:
    """The changes of a fault that are still there once `what` has been put right."""
    if any(same(what, place) for place in (fault.location, fault.location.removeprefix("inputs of "))):
        return ()
    if fault.code in BLOCK_CODES and _block_of(fault, board, what):
        return ()
    return tuple(change for change in fault.changes if not _lies_in(change, what, board))


def _block_of(fault: Fault, board: Board, what: str) -> bool:
    """Whether `what` is the plug-on terminal block that the fault's place names by one of its poles."""
    plug = next((plug for name, plug in board.plugs.items() if same(name, what)), None)
    return plug is not None and fault.location.removeprefix("inputs of ") in plug.poles


def _lies_in(change: Change, what: str, board: Board) -> bool:
    if isinstance(change, Opened | Joint | Moved):
        return same(change.element, what)
    if isinstance(change, Joined):
        return _touch_lies_in(change, what, board)
    if isinstance(change, ContactFault):
        return same(_part_of(change.switch), what) and change.switch not in _block_contacts(board, what)
    if isinstance(change, InputDead):
        return any(same(part.designation, what) for part, _ in board.controllers)
    return same(change.part, what)


def _touch_lies_in(change: Joined, what: str, board: Board) -> bool:
    """Inside a sensor, or where the insulation of a wire at the first of the two terminals has gone."""
    if same(what, f"{change.a} and {change.b}") or same(what, f"{change.b} and {change.a}"):
        return True
    owner = board.terminals[change.a].part if change.a in board.terminals else ""
    other = board.terminals[change.b].part if change.b in board.terminals else ""
    if owner and owner == other and board.part(owner).kind == "sensor":
        return same(owner, what)
    return any(same(what, f"wire {wire.no}") for wire in board.wiring.at(change.a))


def _part_of(switch: str) -> str:
    return switch.partition(" ")[0].partition(":")[0]


def _block_contacts(board: Board, part: str) -> frozenset[str]:
    """The contacts of a part's plug-on blocks: they stay when the part below is exchanged."""
    found = next((p for p in board.parts.values() if same(p.designation, part)), None)
    if found is None:
        return frozenset()
    return frozenset(
        f"{found.designation}:{contact.a}-{contact.b}"
        for block in found.blocks
        for contact in block.entry.contact_list()
    )


def same(one: str, other: str) -> bool:
    """Whether two names are one but for case and spaces."""
    return " ".join(str(one).split()).casefold() == " ".join(str(other).split()).casefold()

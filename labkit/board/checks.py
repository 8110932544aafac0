"""Judging a wiring: any that is electrically right passes, whatever its routing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from labkit.base import as_many, did_you_mean
from labkit.board import _judge_inputs as inputs
from labkit.board import _judge_isolation as breakers
from labkit.board import _judge_loads as outputs
from labkit.board import _judge_supply as supply
from labkit.board import _judge_ways as ways
from labkit.board._conventions import CONVENTIONS, Convention, convention_findings
from labkit.board._given import wiring_given
from labkit.board._landing import landed, landing_findings
from labkit.board._trial import Trial
from labkit.board.boards import Board
from labkit.board.electrical import Electrical
from labkit.board.electrify import electrify
from labkit.board.errors import BoardError
from labkit.board.findings import Finding
from labkit.board.plugs import Seat
from labkit.board.wiring import Wiring
from labkit.circuit import CircuitError

__all__ = ["check_wiring"]

_ORDER = {"danger": 0, "fault": 1, "advice": 2}


def check_wiring(
    board: Board,
    wiring: Wiring | None = None,
    *,
    removed: Iterable[str] = (),
    input_type: int | None = None,
    seats: Mapping[str, Seat] | None = None,
    convention: Convention | None = None,
) -> list[Finding]:
    """What is wrong with a wiring, worst first; an empty list if nothing is.

    Wires that cannot be there (an unknown terminal, a number used twice) are reported and left out of the
    rest.

    Parameters
    ----------
    wiring
        The board's own if left out.
    removed, input_type, seats
        As for :func:`electrify`.
    convention
        ``"IEC"`` or ``"North American"``: advice on colours and numbers besides.

    Raises
    ------
    BoardError
        If there is no such convention.
    """
    wiring = wiring_given(board, wiring)
    found = list(landing_findings(board, wiring))
    found += _unseated(board, seats or {})
    if convention is not None:
        if convention not in CONVENTIONS:
            raise BoardError(
                f"no convention is called {convention!r}",
                where="convention",
                try_this=did_you_mean(str(convention), CONVENTIONS) or " or ".join(CONVENTIONS),
                code="board-convention",
            )
        found += convention_findings(board, landed(board, wiring), convention)
    if board.supplies:
        kept = landed(board, wiring)
        gone = frozenset(as_many(removed, "a list of removed parts", "write removed=['K1.aux']"))

        def make(wires: Wiring, out: frozenset[str]) -> Electrical:
            return electrify(board, wires, removed=gone | out, input_type=input_type, seats=seats)

        try:
            trial = Trial(board, kept, make(kept, frozenset()), make)
            found += _judged(trial)
        except CircuitError as exc:
            what = f"No voltages can be given for this wiring: {exc.what}."
            found.append(Finding("unsettled", exc.where, what, exc.try_this, "danger"))
    return sorted(found, key=lambda f: _ORDER[f.severity])


def _judged(trial: Trial) -> Iterator[Finding]:
    """Everything that solving shows; a short at rest hides the rest, so it comes alone."""
    shorts = list(supply.short_at_rest(trial))
    if shorts:
        yield from shorts
        return
    yield from supply.feeds(trial)
    groups = list(outputs.groups(trial))
    yield from groups
    dead_commons = list(inputs.commons(trial))
    yield from dead_commons
    yield from inputs.sensors(trial)
    yield from inputs.points(trial, {f.terminal for f in dead_commons})
    yield from outputs.loads(trial)
    yield from outputs.coils(trial)
    if not any(f.code == "group-without-0v" for f in groups):
        # without its 0 V a group is fed backwards through its loads, and no contact would seem to cut it
        yield from outputs.rules(trial)
    yield from supply.earth_return(trial)
    yield from supply.bonds(trial)
    yield from supply.thin(trial)
    yield from ways.one_zero(trial)
    yield from ways.drops(trial)
    yield from ways.chains(trial)
    yield from breakers.isolation(trial)


def _unseated(board: Board, seats: Mapping[str, Seat]) -> Iterator[Finding]:
    """Blocks that are not where they belong; electrically the rest of the checks see what that does."""
    for block, seat in seats.items():
        plug = board.plugs.get(block)
        if plug is None or seat == Seat(on=block):
            continue
        if seat.on == block:
            what = f"{block} is not pushed home: {', '.join(sorted(seat.loose))} reach nothing."
        elif seat.on:
            what = f"{block} sits on header {seat.on}: each of its wires goes to a point that is not meant."
        else:
            what = f"{block} is {'parked' if seat.parked else 'off'}: its wires reach nothing."
        yield Finding("block-not-seated", plug.poles[0], what, f"Seat {block} on {block}.", "fault")

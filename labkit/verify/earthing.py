"""Stop and start wired in each of the usual ways, to see which earth fault takes the stop away.

The devices' contacts lie on the + or on the 0 V side of the inputs, the stop contact breaks or makes, and 0 V is
bonded to earth or floating. IEC 60204-1 (9.4.3, from memory) wants one earth fault neither to start nor to keep from
stopping.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from labkit.bench import Bench
from labkit.board import Wiring, load_board
from labkit.faults import Fault, combined, fault, put_in, short

__all__ = ["STOP_START", "earth_faults", "stop_start_bench"]

Side = Literal["+", "0 V"]

STOP_START: Mapping[str, str] = {
    "STOP still stops": "whenever pos:S1 then not pole:K1 or not pos:S1 within 4 scans",
    "starts only when asked": "pole:K1 only after pos:S2",
    "can still be started": "pole:K1 can still be reached",
}
"""What is asked of each way. The names are the columns."""

_FEEDS = tuple(range(121, 127))  # of the devices on the first input group
PROGRAMS = {"NC": "K1 := S1 AND (S2 OR K1);", "NO": "K1 := NOT S1 AND (S2 OR K1);"}


def stop_start_bench(side: Side = "+", *, stop: Literal["NC", "NO"] = "NC", bonded: bool = True) -> Bench:
    """The orchard board with stop and start wired one way, its program loaded, unpowered.

    Parameters
    ----------
    side
        The side of the inputs on which the devices' contacts lie: from +24 V to the input with the common on 0 V,
        or from 0 V to the input with the common on +24 V.
    stop
        Whether the stop button's contact breaks or makes; the program fits it.
    bonded
        Whether 0 V is joined to earth.
    """
    board = load_board("orchard")
    wiring: Wiring = board.wiring
    if side == "0 V":
        wiring = wiring.moved(14, end="X1:0V", to="X1:24I")
        for number in _FEEDS:
            wiring = wiring.moved(number, end="X1:24I", to="X1:0V")
    if not bonded:
        wiring = wiring.without("4")
    bench = Bench(board, wiring)
    bench.load(PROGRAMS[stop])
    if stop == "NO":
        put_in(bench, fault(board, "S1:11-12-inverted"))
    return bench


def earth_faults(side: Side) -> tuple[Fault, ...]:
    """Earth on the stop's and the start's wire; each again with a second earth on the supply's pole behind it."""
    stop, start = short("A1:I1", "PE", "F34"), short("A1:I2", "PE", "F34")
    same, other = ("X1:24I", "X1:0V") if side == "+" else ("X1:0V", "X1:24I")
    pole, against = short(same, "PE", "F32"), short(other, "PE", "F32")
    return (
        stop,
        start,
        pole,
        combined("stop-and-same-pole", stop, pole),
        combined("start-and-same-pole", start, pole),
        combined("stop-and-other-pole", stop, against),
    )

"""The earth-fault table. What each way should come to: the rule of IEC 60204-1, clause on control circuits earthed on
one side (coils straight to the earthed side, contacts in the other), and its usual argument; from memory.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.board import load_board
from labkit.faults import (
    SLIDER_OHM,
    EarthRow,
    EarthThreshold,
    Fault,
    FaultError,
    earth_sweep,
    earth_table,
    earth_thresholds,
    put_in,
)
from labkit.faults.changes import Change, Joined, Opened


def outcomes(rows: tuple[EarthRow, ...]) -> dict[tuple[str, bool], str]:
    return {(row.contacts, row.bonded): row.outcome.split(":")[0].split(";")[0] for row in rows}


def test_one_earth_fault() -> None:
    assert outcomes(earth_table()) == {
        ("+", True): "no start",
        ("+", False): "nothing shows",
        ("0 V", True): "the coil pulls in though its contact is open",
        ("0 V", False): "nothing shows",
    }


def test_a_second_one_bypasses_the_contact_of_a_floating_supply() -> None:
    rows = outcomes(earth_table(second=True))
    assert rows["+", False] == rows["0 V", False] == "the coil pulls in though its contact is open"


def test_the_first_fault_of_a_floating_supply_shows_to_a_monitor() -> None:
    plus, plus_free, zero, zero_free = earth_table()
    assert plus.plus_to_earth_v == pytest.approx(24, abs=0.5)
    assert zero.plus_to_earth_v == pytest.approx(24, abs=0.5)
    # through the coil: the fault ties earth to 0 V (contact on the + side) or to the output (on the 0 V side)
    assert plus_free.plus_to_earth_v == pytest.approx(24, abs=0.5)
    assert abs(zero_free.plus_to_earth_v) < 0.5


def test_the_slider() -> None:
    # Contact on the 0 V side, bonded: the fault is in series with the coil of 192 ohm. 24 x 192 / (192 + R) = 19.7 V
    # at R = 42 ohm; worked by hand
    at = {ohm: earth_table(ohm)[2].coil_v for ohm in (1, 30, 60, 1000)}
    for ohm, volts in at.items():
        assert volts == pytest.approx(24 * 192 / (192 + ohm), abs=0.15)
    assert "bypassed" in earth_table(30)[2].outcome
    assert "bypassed" not in earth_table(60)[2].outcome


def test_no_fault_of_no_ohms() -> None:
    with pytest.raises(FaultError, match="more than 0 ohm"):
        earth_table(0)


def test_every_stop_of_the_slider_is_a_table_of_its_own() -> None:
    tables = earth_sweep()
    assert len(tables) == len(SLIDER_OHM)
    assert tables[2] == earth_table(SLIDER_OHM[2])
    assert outcomes(tables[0]) == outcomes(earth_table())
    assert set(outcomes(tables[-1]).values()) == {"nothing shows"}  # an open slider is no fault


# By Ohm's law from the parts' own figures, and 0.8 ohm of the board's wires and output (24 V, coil 192 ohm that pulls
# in at 0.82 and lets go at 0.40 x 24 V, supply of 2.5 A, breaker of 1 A, the coil's own 0.125 A beside the fault):
# pull-in 192 x (1 / 0.82 - 1) = 42.1 ohm; drop-out 192 x (1 / 0.40 - 1) = 288 ohm;
# supply at 20.4 V: 20.4 / (2.5 - 0.11) = 8.5 ohm; breaker: 24 / (1 - 0.125) = 27.4 ohm
@pytest.mark.parametrize(
    ("second", "way", "ohms"),
    [
        (False, ("+", True), [8.5, 27.4]),
        (False, ("+", False), []),
        (False, ("0 V", True), [42.1, 288.0]),
        (False, ("0 V", False), []),
        (True, ("+", False), [42.1, 288.0]),
        (True, ("0 V", False), [42.1, 288.0]),
    ],
)
def test_where_the_outcome_changes(second: bool, way: tuple[str, bool], ohms: list[float]) -> None:
    found = [t for t in thresholds(second) if (t.contacts, t.bonded) == way]
    assert [t.ohm for t in found] == pytest.approx(ohms, abs=1.0)
    for one, then in pairwise(found):
        assert one.above == then.below
    assert all(t.below != t.above for t in found)


@lru_cache(maxsize=2)
def thresholds(second: bool) -> tuple[EarthThreshold, ...]:
    return earth_thresholds(second=second)


# The same on a live bench: the pump asked for, the trip contact opened. Does the contactor come in, does it let go?
@pytest.mark.parametrize(
    ("side", "bonded", "second", "ohm", "comes_in", "stays_in"),
    [
        ("0 V", True, False, 0.1, True, True),
        ("0 V", True, False, 35.0, True, True),
        ("0 V", True, False, 50.0, False, True),
        ("0 V", True, False, 250.0, False, True),
        ("0 V", True, False, 330.0, False, False),
        ("0 V", False, False, 0.1, False, False),
        ("0 V", False, True, 0.1, True, True),
        ("+", True, False, 50.0, False, False),
        ("+", False, False, 0.1, False, False),
        ("+", False, True, 0.1, True, True),
        ("+", False, True, 100.0, False, True),
    ],
)
def test_the_table_on_a_live_bench(
    side: str, bonded: bool, second: bool, ohm: float, comes_in: bool, stays_in: bool
) -> None:
    board = load_board("orchard")
    wiring = board.wiring
    if side == "0 V":
        for no, end, to in ((201, "F3:95", "K1:A1"), (211, "K1:A1", "K1:A2"), (221, "K1:A2", "F3:95")):
            wiring = wiring.moved(no, end=end, to=to)
    changes: list[Change] = [Joined("K1:A1" if side == "+" else "K1:A2", "PE", ohm)]
    changes += [] if bonded else [Opened("wire 4")]
    changes += [Joined("X1:24V" if side == "+" else "X1:0V", "PE")] if second else []
    bench = Bench(board, wiring)
    bench.power_up()
    bench.load("K1 := S2;")
    put_in(bench, Fault("earth", "F33", "earth", "touches", tuple(changes)))
    bench.trip("F3")
    bench.press("S2")
    bench.wait(ms(500))
    assert (bench.state("K1") == "closed") is comes_in
    bench.reset("F3")
    bench.wait(ms(500))
    assert bench.state("K1") == "closed"
    bench.trip("F3")
    bench.wait(ms(500))
    assert (bench.state("K1") == "closed") is stays_in


def test_a_dead_earth_fault_on_the_plus_side_trips_the_breaker() -> None:
    bench = Bench("orchard")
    bench.power_up()
    bench.load("K1 := S2;")
    put_in(bench, Fault("earth", "F34", "earth", "touches", (Joined("K1:A1", "PE", 15.0),)))
    bench.press("S2")
    bench.wait(ms(60_000))
    assert bench.state("F4") == "off"
    (plus, *_), (open_plus, *_) = earth_sweep([15.0, math.inf])
    assert plus.overload_a == pytest.approx(24 / 15.8 + 0.125 - 1, abs=0.05)  # 0.8 ohm of wires and output
    assert open_plus.overload_a == 0


def test_only_a_floating_supply_has_a_first_fault_that_waits_for_a_second() -> None:
    weak = {row.bonded: row.outcome for row in earth_table(1000)}
    assert "waits for a second" in weak[False]
    assert weak[True].startswith("nothing shows")
    assert "second" not in weak[True], "bonded, the frame is a way back already"

"""The earth-fault table. What each way should come to: the rule of IEC 60204-1, clause on control circuits earthed on
one side (coils straight to the earthed side, contacts in the other), and its usual argument; from memory.
"""

from __future__ import annotations

import pytest

from labkit.faults import EarthRow, FaultError, earth_table


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

"""Armatures, motors, sensors and breakers, each alone."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from labkit.bench.machine import METAL_FACTOR, Breaker, Contactor, Motor, PhotoEye, Proximity, Zone

TRUTH = Path(__file__).parent.parent / "truth"


@pytest.fixture
def k1() -> Contactor:
    return Contactor("K1", 19.7, 9.6, 25_000, 15_000)


def _rows(name: str) -> list[dict[str, str]]:
    with (TRUTH / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize(
    ("volts", "zone"),
    [(24, Zone.PICK), (-24, Zone.PICK), (19.7, Zone.PICK), (19.69, Zone.HOLD), (9.6, Zone.HOLD), (9.59, Zone.DROP)],
)
def test_zones_by_either_polarity(k1: Contactor, volts: float, zone: Zone) -> None:
    assert k1.zone_of(volts) is zone


def test_pulls_in_after_the_operate_time(k1: Contactor) -> None:
    assert k1.feel(Zone.PICK, 1_000) == 26_000
    assert k1.feel(Zone.PICK, 9_000) == 26_000  # hearing the same again does not begin anew
    k1.arrive()
    assert k1.closed
    assert k1.due_us is None


def test_a_press_shorter_than_the_operate_time_moves_nothing(k1: Contactor) -> None:
    k1.feel(Zone.PICK, 0)
    assert k1.feel(Zone.DROP, 24_999) is None
    assert not k1.closed


def test_volts_that_sag_while_it_pulls_in_let_it_fall_back(k1: Contactor) -> None:
    k1.feel(Zone.PICK, 0)
    assert k1.feel(Zone.HOLD, 10_000) is None
    assert k1.feel(Zone.PICK, 12_000) == 37_000


def test_sagging_volts_hold_what_is_in(k1: Contactor) -> None:
    k1.closed = True
    assert k1.feel(Zone.HOLD, 0) is None


def test_picked_up_again_during_release_it_stays_in(k1: Contactor) -> None:
    k1.closed = True
    assert k1.feel(Zone.DROP, 0) == 15_000
    assert k1.feel(Zone.HOLD, 5_000) == 15_000  # holding volts do not catch a falling armature
    assert k1.feel(Zone.PICK, 14_999) is None
    assert k1.closed


def test_a_weld_keeps_it_in_until_it_is_broken(k1: Contactor) -> None:
    k1.closed = k1.welded = True
    assert k1.feel(Zone.DROP, 0) is None
    k1.welded = False
    assert k1.feel(k1.zone, 40_000) == 55_000


def test_a_jam_keeps_it_out(k1: Contactor) -> None:
    k1.jammed = True
    assert k1.feel(Zone.PICK, 0) is None


def test_the_shipped_limits_lie_inside_the_standard_windows() -> None:
    """IEC 60947-4-1, limits of operation (from memory): closes at 85 %, open at 10 % for DC, holds at 75 %."""
    rows = {(r["quantity"], r["coil_supply"]): r for r in _rows("contactor_limits.csv")}
    nominal = 24.0
    k1 = Contactor("K1", 0.82 * nominal, 0.40 * nominal, 1, 1)
    close, drop = rows["pick-up", "DC"], rows["drop-out", "DC"]
    assert k1.zone_of(float(close["min_percent"]) / 100 * nominal) is Zone.PICK
    assert k1.zone_of(float(close["max_percent"]) / 100 * nominal) is Zone.PICK
    assert k1.zone_of(float(drop["min_percent"]) / 100 * nominal - 0.01) is Zone.DROP
    assert k1.zone_of(float(drop["max_percent"]) / 100 * nominal) is not Zone.DROP


def test_a_motor_runs_up_and_coasts_from_where_it_is() -> None:
    motor = Motor("M1", run_up_us=200, coast_us=400)
    motor.feed(True, 1_000)
    assert [motor.speed(t) for t in (1_000, 1_100, 1_200, 5_000)] == [0, 0.5, 1, 1]
    motor.feed(False, 1_100)
    assert [motor.speed(t) for t in (1_100, 1_200, 1_300, 5_000)] == [0.5, 0.25, 0, 0]
    assert motor.settled_us() == 1_300


def test_a_photo_eye_by_its_sense() -> None:
    dark, light = PhotoEye("B1", True), PhotoEye("B1", False)
    assert (dark.wants_on(), light.wants_on()) == (False, True)
    dark.blocked = light.blocked = True
    assert (dark.wants_on(), light.wants_on()) == (True, False)


def test_metal_is_lost_further_away_than_it_was_found() -> None:
    """IEC 60947-5-2 (confirmed): an operating distance, and a hysteresis on top of it before release."""
    b2 = Proximity("B2", 4.0, 0.10)
    seen = []
    for mm in (4.1, 4.0, 4.3, 4.4, 4.41, 4.3, None):
        b2.place(mm)
        seen.append(b2.wants_on())
    assert seen == [False, True, True, True, False, False, False]


def test_metal_factors_lie_in_the_published_ranges() -> None:
    """metal_factors.csv: training texts, articles and data sheets (confirmed as ranges)."""
    rows = {r["metal"]: r for r in _rows("metal_factors.csv")}
    assert set(METAL_FACTOR) == set(rows)
    for metal, factor in METAL_FACTOR.items():
        assert float(rows[metal]["low"]) <= factor <= float(rows[metal]["high"]), metal


def test_the_published_example_of_another_metal() -> None:
    """A worked example of a published article (confirmed): 10 mm on steel becomes 3 to 4.5 mm on aluminium."""
    b2 = Proximity("B2", 10.0)
    b2.place(3.0, METAL_FACTOR["aluminium"])
    assert b2.wants_on()
    b2.place(4.6, METAL_FACTOR["aluminium"])
    assert not b2.wants_on()


def test_a_breaker_trips_when_its_i2t_is_used_up() -> None:
    """Definition of let-through energy: 1 A2s lasts 1/4 s at 2 A and 1/9 s at 3 A."""
    f4 = Breaker("F4", 1.0, 1.0)
    assert f4.carry(1.0, 0) is None
    assert f4.carry(2.0, 1_000_000) == 1_250_000
    # half of it used at 2 A; the other half lasts 1/18 s at 3 A
    assert f4.carry(3.0, 1_125_000) == 1_125_000 + round(1e6 / 18)
    # half of that again used at 3 A; the last quarter of 1 A2s lasts 1/100 s at 5 A
    assert f4.carry(5.0, 1_125_000 + round(1e6 / 36)) == 1_125_000 + round(1e6 / 36) + 10_000
    assert f4.carry(0.9, 1_155_000) is None
    assert f4.carry(2.0, 2_000_000) == 2_250_000


def test_a_breaker_that_is_switched_on_again_starts_cool() -> None:
    """Half of its 1 A2s is used at 2 A; switched off and on, it lasts the whole 1/4 s again."""
    f4 = Breaker("F4", 1.0, 1.0)
    f4.carry(2.0, 0)
    f4.carry(3.0, 125_000)
    f4.reset(150_000)
    assert f4.carry(2.0, 150_000) == 400_000

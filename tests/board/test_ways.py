"""Ways of the current: supplies that share no 0 V, long wires, chains; colours and numbers; routings that all pass."""

from __future__ import annotations

import csv
import random
import re
from dataclasses import replace
from pathlib import Path

import pytest
from board_helpers import codes, rerouted
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.board import (
    Board,
    BoardError,
    Seat,
    Wire,
    Wiring,
    check_wiring,
    load_board,
    loads_board,
    loads_catalogue,
    parts_catalogue,
)
from labkit.board._conventions import Convention, convention_findings

BOARD = load_board("orchard")
W = BOARD.wiring
TRUTH = Path(__file__).parents[1] / "truth"


# two supplies --------------------------------------------------------------------------------------
def two_supplies(*more: Wire) -> tuple[Board, Wiring]:
    """Output group B on a supply of its own; its loads still return to the first one's 0 V."""
    g2 = replace(BOARD.part("G1"), designation="G2", label="24 VDC, outputs B")
    return BOARD.with_part(g2), W.without(8).with_wire(Wire("8", "G2:24V", "F5:1", mm2=1.0), *more)


def test_two_supplies_with_no_joined_0v_leave_no_way_back() -> None:
    findings = check_wiring(*two_supplies())
    (zero,) = [f for f in findings if f.code == "zero-not-joined"]
    assert (zero.terminal, zero.severity) == ("G2:0V", "fault")
    assert "no way back" in zero.what
    assert "group-without-supply" in {f.code for f in findings}, "and this is what it does"


def test_joined_at_the_strip_they_pass() -> None:
    assert check_wiring(*two_supplies(Wire("60", "G2:0V", "X1:0V", "WHBU", 1.5), Wire("61", "G2:PE", "X1:PE"))) == []


def test_joined_through_the_protective_conductor_the_current_runs_there() -> None:
    bonded = two_supplies(Wire("60", "G2:0V", "X1:PE", "GNYE", 1.5), Wire("61", "G2:PE", "X1:PE", "GNYE", 1.5))
    findings = check_wiring(*bonded)
    assert "return-through-earth" in {f.code for f in findings}
    assert "zero-not-joined" not in {f.code for f in findings}


def test_a_second_supply_that_touches_nothing_is_only_mentioned() -> None:
    apart = BOARD.with_part(replace(BOARD.part("G1"), designation="G2", label="spare"))
    findings = check_wiring(apart, W.with_wire(Wire("61", "G2:PE", "X1:PE", "GNYE", 1.5)))
    assert {f.severity for f in findings if f.terminal == "G2:0V"} == {"advice"}


# the drop ------------------------------------------------------------------------------------------
def run(row: dict[str, str], percent_of_length: float = 100.0) -> list[str]:
    """A lamp at the end of a two-wire run, taking the row's current at its end."""
    volts, amps, drop = float(row["supply_v"]), float(row["amps"]), float(row["drop_v"])
    text = f"""schema = 1
[parts.lamp]
kind = "lamp"
letter = "P"
text = "flood light"
width_mm = 30
height_mm = 30
top = ["X1", "X2"]
a = "X1"
b = "X2"
ohm = {(volts - drop) / amps}
lit_v = 12.0
colour = "white"
"""
    catalogue = {**parts_catalogue(), **loads_catalogue(text)}
    m, mm2 = float(row["one_way_m"]) * percent_of_length / 100, float(row["mm2"])
    board = loads_board(
        f"""schema = 1
title = "a long run"
width_mm = 200
height_mm = 200
parts = [
  {{ designation = "G1", type = "supply-24v-2a5", label = "", x_mm = 0, y_mm = 0 }},
  {{ designation = "P1", type = "lamp", label = "", x_mm = 100, y_mm = 0 }},
]
wires = [
  {{ no = "1", a = "G1:24V", b = "P1:X1", mm2 = {mm2}, m = {m} }},
  {{ no = "2", a = "P1:X2", b = "G1:0V", mm2 = {mm2}, m = {m} }},
]
""",
        catalogue=catalogue,
    )
    return [f.what for f in check_wiring(board) if f.code == "conductor-too-long"]


def truth() -> list[dict[str, str]]:
    with (TRUTH / "voltage_drop.csv").open(encoding="utf-8", newline="") as f:
        return [row for row in csv.DictReader(f) if row["at_c"] == "20"]


@pytest.mark.parametrize("row", truth(), ids=lambda row: row["case"])
def test_a_drop_of_more_than_5_percent_is_told_with_its_volts(row: dict[str, str]) -> None:
    """voltage_drop.csv, worked from the IEC 60228 limits; 5 % is IEC 60204-1 12.5, from memory."""
    expected = float(row["drop_v"])
    found = run(row)
    assert bool(found) == (expected > 0.05 * 24)
    for what in found:
        told = re.search(r"P1 loses ([0-9.]+) V of 24 V \(([0-9.]+) %\)", what)
        assert told
        # joints and the supply's own regulation take a little of the current
        assert float(told[1]) == pytest.approx(expected, abs=0.1)
        assert float(told[2]) == pytest.approx(100 * expected / 24, abs=0.4)


def test_the_limit_lies_at_5_percent() -> None:
    row = next(row for row in truth() if row["mm2"] == "1.5")
    limit = 100 * 0.05 * 24 / float(row["drop_v"])  # of the length: the drop grows with it, a little less than in line
    assert run(row, 0.9 * limit) == []
    assert run(row, 1.1 * limit) != []


def test_a_long_wire_to_the_coil_is_named_with_a_size_that_will_do(board: Board) -> None:
    far = W.without(211).with_wire(Wire("211", "F3:96", "K1:A1", mm2=0.5, m=400))
    (finding,) = [f for f in check_wiring(board, far) if f.code == "conductor-too-long"]
    # IEC 60228: 39 ohm/km of class 5, 0.5 mm2; 400 m are 15.6 ohm before a coil of 192 ohm
    volts = 24 * 15.6 / (15.6 + 192)
    assert finding.terminal == "F3:96"
    assert f"K1 loses {volts:.1f} V" in finding.what
    assert finding.try_this == "For wire 211 take 1 mm2 or more."
    better = far.without(211).with_wire(Wire("211", "F3:96", "K1:A1", mm2=1.0, m=400))
    assert check_wiring(board, better) == []


# chains --------------------------------------------------------------------------------------------
def test_a_feed_from_device_to_device_is_told_with_all_that_hangs_on_it(board: Board) -> None:
    chained = W.moved(122, end="X1:24I", to="S1:11").moved(123, end="X1:24I", to="S2:13")
    found = {f.terminal: f for f in check_wiring(board, chained)}
    assert {f.code for f in found.values()} == {"chain-breaks"}
    assert {f.severity for f in found.values()} == {"advice"}
    assert found["S1:11"].what == "With S1 taken out, S2, S3 would be dead too: S1:11 passes it on."
    assert "S3 would be dead" in found["S2:13"].what


def test_a_ring_has_no_chain_to_break(board: Board) -> None:
    ring = W.moved(122, end="X1:24I", to="S1:11").with_wire(Wire("900", "X1:24I", "S2:13"))
    assert check_wiring(board, ring) == []


def test_a_protective_conductor_over_a_device_is_a_danger(board: Board) -> None:
    """IEC 60204-1 8.2: taking a part out must not interrupt the protective conductor (from memory)."""
    over = W.moved(320, end="X1:PE", to="G1:PE")
    assert [(f.code, f.terminal, f.severity) for f in check_wiring(board, over)] == [
        ("chain-of-earth", "G1:PE", "danger")
    ]


# terminal blocks -----------------------------------------------------------------------------------
def test_a_block_that_is_not_seated_is_found_with_what_it_does(board: Board) -> None:
    found = codes(check_wiring(board, seats={"A1.XQB": Seat(parked=True)}))
    assert ("block-not-seated", "A1:QB+") in found
    assert check_wiring(board, seats={"A1.XQB": Seat(on="A1.XQB")}) == []


# conventions ---------------------------------------------------------------------------------------
def test_the_boards_own_colours_keep_to_both_conventions(board: Board) -> None:
    assert check_wiring(board, convention="IEC") == []
    american = {f.code for f in check_wiring(board, convention="North American")}
    assert american == {"number-convention"}, "the board numbers wires, not potentials"


@pytest.mark.parametrize("convention", ["IEC", "North American"])
def test_colours_are_those_of_the_table(board: Board, convention: Convention) -> None:
    """conductor_colours.csv: IEC 60204-1 13.2, NFPA 79 13.2."""
    with (TRUTH / "conductor_colours.csv").open(encoding="utf-8", newline="") as f:
        table = {r["circuit"]: r["colours"].split() for r in csv.DictReader(f) if r["convention"] == convention}
    control = table.get("DC control") or table["DC control not earthed"]
    earthed = table.get("DC control") or table["DC control earthed"]
    for no, allowed in (("13", table["protective"]), ("301", table["power"]), ("101", control), ("14", earthed)):
        for colour in ("GNYE", "GN", "BK", "RD", "BU", "WHBU", "OG"):
            w = Wiring(tuple(replace(wire, colour=colour) if wire.no == no else wire for wire in W))
            found = [f for f in convention_findings(board, w, convention) if f.code.startswith("colour")]
            if convention == "IEC" and (no, colour) == ("14", "WHBU"):
                continue  # let pass: North America's colour for the earthed side, told apart at a glance
            assert bool(found) == (colour not in allowed), (no, colour)
            assert {f.severity for f in found} <= {"advice"}


def test_numbers_by_potential(board: Board) -> None:
    """North America: one number for one potential, another after each device (common practice, no source)."""
    names: dict[frozenset[str], str] = {}
    renamed = []
    for wire in W.without(4):
        net = next(n for n in W.without(4).nets() if wire.a in n)
        base = names.setdefault(net, str(100 + len(names)))
        nth = sum(r.no.startswith(base) for r in renamed)
        renamed.append(replace(wire, no=base + ("" if not nth else chr(64 + nth))))
    w = Wiring(tuple(renamed))
    numbers = [f for f in check_wiring(board, w, convention="North American") if f.code == "number-convention"]
    assert numbers == []
    twice = Wiring(tuple(replace(x, no="100Z") if x.a == "S1:12" else x for x in w))
    found = [f for f in check_wiring(board, twice, convention="North American") if f.code == "number-convention"]
    assert [f.terminal for f in found] == ["S1:12"]
    assert "two potentials" in found[0].what


def test_an_unknown_convention_is_guessed_at(board: Board) -> None:
    with pytest.raises(BoardError, match="no convention is called 'ICE'") as caught:
        check_wiring(board, convention="ICE")  # type: ignore[arg-type]
    assert "IEC" in caught.value.try_this


# any routing ---------------------------------------------------------------------------------------
@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32))
def test_any_routing_that_is_electrically_right_passes(seed: int) -> None:
    wiring = rerouted(BOARD, random.Random(seed))
    wrong = [f for f in check_wiring(BOARD, wiring) if f.severity != "advice"]
    assert wrong == []


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32))
def test_a_rerouted_board_with_one_wire_off_does_not_pass(seed: int) -> None:
    chance = random.Random(seed)
    wiring = rerouted(BOARD, chance)
    motors = ("K1:", "F3:", "M1:")
    able = [w for w in wiring if not (w.a.startswith(motors) and w.b.startswith(motors) and "/" in w.a + w.b)]
    gone = chance.choice([w for w in able if not {w.a, w.b} & {"M1:U1", "M1:V1", "M1:W1"}])
    assert check_wiring(BOARD, wiring.without(gone.no)) != []

"""Every part of the catalogue is held against figures of the standards (tests/truth, SOURCES.md)."""

from __future__ import annotations

import csv
import itertools
import re
from pathlib import Path
from typing import Any

import pytest

from labkit.board import (
    COLOURS,
    LETTERS,
    Board,
    ContactorPart,
    ControllerPart,
    LampPart,
    OverloadPart,
    SensorPart,
    SwitchPart,
    board_names,
    conductors,
    contact_form,
    load_board,
    parts_catalogue,
)

TOP = Path(__file__).parents[2]
TRUTH = TOP / "tests" / "truth"
ENTRIES = sorted(parts_catalogue().items())


def rows(name: str) -> list[dict[str, str]]:
    with (TRUTH / name).open(encoding="utf-8", newline="") as f:
        return list(csv.DictReader(f))


def entries(kind: type[Any]) -> list[Any]:
    return [pytest.param(e, id=n) for n, e in ENTRIES if isinstance(e, kind)]


@pytest.mark.parametrize(("name", "entry"), ENTRIES, ids=[n for n, _ in ENTRIES])
def test_contact_numbers_say_how_the_contact_rests(name: str, entry: Any) -> None:
    """EN 50005 function digits, terminal_markings.csv (confirmed): 1-2 and 5-6 are closed at rest, 3-4 and 7-8 open."""
    digits = {(r["first"], r["second"]): r["meaning"] for r in rows("terminal_markings.csv") if r["kind"] == "contact"}
    whole = {(r["first"], r["second"]): r["meaning"] for r in rows("terminal_markings.csv") if r["kind"] == "overload"}
    poles = {(r["first"], r["second"]) for r in rows("terminal_markings.csv") if r["kind"] == "pole"}
    rest = getattr(entry, "rest", None) or (entry.states() or ("open",))[0]
    for contact in entry.contact_list():
        pair = (contact.a, contact.b)
        if "/" in contact.a:
            assert pair in poles
            form = "NO"
        elif isinstance(entry, OverloadPart):
            form = whole[pair]
        else:
            assert contact.a[0] == contact.b[0], "both ends carry the contact's sequence number"
            form = digits[contact.a[1], contact.b[1]]
        assert (rest in contact.closed_when) == (form == "NC"), pair
        assert "/" in contact.a or contact_form(*pair) == form


@pytest.mark.parametrize("entry", entries(SwitchPart))
def test_contacts_of_one_part_are_numbered_from_one_up(entry: SwitchPart) -> None:
    """EN 50005: the first digit counts the contacts of the device (confirmed)."""
    assert [c.a[0] for c in entry.contacts] == [str(i + 1) for i in range(len(entry.contacts))]


@pytest.mark.parametrize("entry", entries(ContactorPart))
def test_a_coil_is_a1_a2_and_moves_inside_the_window(entry: ContactorPart) -> None:
    """EN 50005 (A1, A2); IEC 60947-4-1 limits of operation, contactor_limits.csv; both from memory."""
    assert (entry.coil.a, entry.coil.b) == ("A1", "A2")
    limits = {(r["quantity"], r["coil_supply"]): r for r in rows("contactor_limits.csv")}
    drop = limits["drop-out", "DC"]
    assert entry.coil.pick_up <= float(limits["pick-up", "DC"]["min_percent"]) / 100
    assert float(drop["min_percent"]) / 100 <= entry.coil.drop_out <= float(drop["max_percent"]) / 100


def test_the_orchard_coil_is_three_watts() -> None:
    """24 V squared over 3 W is 192 ohm; 3 W for a small contactor is common practice, no source."""
    coil = parts_catalogue()["contactor-3p-24vdc"].coil  # type: ignore[attr-defined]
    assert coil.volts**2 / coil.ohm == pytest.approx(3.0)


@pytest.mark.parametrize("entry", entries(SwitchPart))
def test_button_colours_suit_their_function(entry: SwitchPart) -> None:
    """IEC 60204-1 clause 10.2, button_colours.csv (confirmed)."""
    rules = {r["function"]: r for r in rows("button_colours.csv")}
    if entry.function in rules:
        assert entry.colour in rules[entry.function]["allowed"].split()
        assert entry.colour not in rules[entry.function]["forbidden"].split()
    if entry.function == "emergency stop":
        assert entry.latching
        assert all(contact_form(c.a, c.b) == "NC" for c in entry.contacts)


@pytest.mark.parametrize("entry", entries(LampPart))
def test_lamp_colours_are_the_standard_ones_on_x1_x2(entry: LampPart) -> None:
    """IEC 60204-1 / IEC 60073 lamp_colours.csv (confirmed); EN 50005 X1-X2 (from memory)."""
    assert entry.colour in {r["colour"] for r in rows("lamp_colours.csv")}
    assert (entry.a, entry.b) == ("X1", "X2")


def test_the_orchard_lamps_mean_what_their_colours_say(board: Board) -> None:
    """IEC 60073 (confirmed): green normal, white neutral, red act at once, yellow abnormal, blue act as prescribed."""
    colour = {p.designation: p.entry.colour for p in board.parts.values() if isinstance(p.entry, LampPart)}
    assert colour == {"P1": "green", "P2": "white", "P3": "red", "P4": "yellow", "P5": "blue"}


@pytest.mark.parametrize("entry", entries(SensorPart))
def test_sensors_are_inside_their_standard(entry: SensorPart) -> None:
    """IEC 60947-5-2: sensor_limits.csv (hysteresis confirmed, the rest from memory), sensor_wires.csv (confirmed)."""
    wires = "2" if entry.output == "2-wire" else "3"
    limit = next(r for r in rows("sensor_limits.csv") if r["wires"] == wires)
    assert entry.drop_v <= float(limit["max_drop_v"])
    assert entry.leak_a <= float(limit["max_leak_a"])
    assert entry.ready_us <= float(limit["max_ready_us"])
    assert entry.hysteresis <= float(limit["max_hysteresis"])
    function = {r["function"]: r["wire"] for r in rows("sensor_wires.csv")}
    assert (entry.plus, entry.minus) == (function["plus"], function["minus"])
    assert entry.out == (function["output"] if wires == "3" else function["minus"])


@pytest.mark.parametrize("entry", entries(ControllerPart))
@pytest.mark.parametrize("type_no", ["1", "3"])
def test_input_types_are_those_of_the_standard(entry: ControllerPart, type_no: str) -> None:
    """IEC 61131-2 input_thresholds.csv: limits carried along, and the curve passes through the on region.

    The volts and the on current are confirmed, the least current of the transition and the most are from memory.
    """
    truth = next(r for r in rows("input_thresholds.csv") if r["input_type"] == type_no)
    kind = entry.input_kinds[type_no]  # type: ignore[index]
    assert kind.off_max_v == float(truth["off_max_v"])
    assert kind.on_min_v == float(truth["on_min_v"])
    assert kind.on_min_a == float(truth["on_min_a"])
    assert kind.off_max_a == float(truth["transition_min_a"])
    assert at(kind.curve, kind.on_min_v) >= kind.on_min_a, "at the on voltage the channel draws its on current"
    assert at(kind.curve, 30.0) <= float(truth["max_a"])
    assert kind.on_a <= at(kind.curve, kind.off_v), "its own current threshold never beats its voltage threshold"


def at(curve: tuple[tuple[float, float], ...], volts: float) -> float:
    for (v0, i0), (v1, i1) in itertools.pairwise(curve):
        if volts <= v1:
            return i0 + (i1 - i0) * (volts - v0) / (v1 - v0)
    raise AssertionError("beyond the curve")


@pytest.mark.parametrize("entry", entries(ControllerPart))
def test_outputs_are_inside_their_standard(entry: ControllerPart) -> None:
    """IEC 61131-2 output_limits.csv (from memory): drop at the largest continuous current, leakage."""
    kind = entry.output_kind
    truth = next(r for r in rows("output_limits.csv") if float(r["rated_a"]) == kind.rated_a)
    assert kind.on_ohm * float(truth["max_continuous_a"]) <= float(truth["max_drop_v"])
    assert kind.leak_a <= float(truth["max_leak_a"])
    assert kind.limit_a > float(truth["max_continuous_a"])


def test_conductor_table_is_that_of_the_standard() -> None:
    """IEC 60228 tables 1 to 3, conductor_resistance.csv (confirmed), every row both ways."""
    truth = {
        (int(r["conductor_class"]), float(r["mm2"])): float(r["max_ohm_per_km_20c"])
        for r in rows("conductor_resistance.csv")
    }
    ours = {key: c.ohm_per_km for key, c in conductors().rows.items()}
    assert ours == truth


@pytest.mark.parametrize("name", board_names())
def test_designations_and_wire_colours_on_every_board(name: str) -> None:
    """IEC 81346-2 class letters (from memory); IEC 60204-1 clause 13.2: green-yellow means protective only."""
    shipped = load_board(name)
    for part in shipped.parts.values():
        assert part.designation[0] in LETTERS
        assert part.designation[0] == part.entry.letter
    for wire in shipped.wiring:
        assert wire.colour in COLOURS
        assert (wire.colour == "GNYE") == bool(wire.ends & shipped.earth_terminals), wire


def test_every_shipped_board_fits_on_its_panel() -> None:
    """No part hangs over an edge, no two overlap."""
    for name in board_names():
        shipped = load_board(name)
        boxes = []
        for p in shipped.parts.values():
            width = p.entry.width_mm + sum(b.entry.width_mm for b in p.blocks)
            boxes.append((p.designation, p.x_mm, p.y_mm, p.x_mm + width, p.y_mm + p.entry.height_mm))
        for who, x0, y0, x1, y1 in boxes:
            assert 0 <= x0 < x1 <= shipped.width_mm, who
            assert 0 <= y0 < y1 <= shipped.height_mm, who
            for other, u0, v0, u1, v1 in boxes:
                apart = x1 <= u0 or u1 <= x0 or y1 <= v0 or v1 <= y0
                assert who == other or apart, (who, other)


@pytest.mark.parametrize("path", sorted((TOP / "datasets").glob("*/*.toml")), ids=lambda p: p.name)
def test_a_standard_for_terminal_numbers_is_one_that_the_sources_name(path: Path) -> None:
    """terminal_markings.csv comes from EN 50005 and EN 50012; no other EN number was looked up."""
    sources = (TRUTH / "SOURCES.md").read_text()
    cited = set(re.findall(r"EN 5\d{4}", path.read_text()))
    assert cited <= set(re.findall(r"EN 5\d{4}", sources))

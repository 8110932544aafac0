"""Circuit drawings follow the wiring: each wire of a path is on its sheet, and what is not wired says so."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from labkit.board import Board, Wiring, load_board, parts_catalogue
from labkit.plots._svg import to_svg
from labkit.plots.drawing_sheets import circuit_sheets, input_sheets, output_sheets, supply_sheet
from labkit.plots.shapes import Group, Line, Sheet, Text


@pytest.fixture(scope="module")
def board() -> Board:
    return load_board("orchard")


def words(sheet: Sheet) -> set[str]:
    return set(re.findall(r">([^<>]+)</text>", to_svg(sheet)))


def test_every_wire_of_the_control_side_stands_on_some_sheet(board: Board) -> None:
    there = set().union(*(words(sheet) for sheet in circuit_sheets(board).values()))
    motor = {w.no for w in board.wiring if w.no.startswith("3") and len(w.no) == 3}
    # not on a current path: the protective conductors, and the suppressor's two wires beside the coil
    aside = {w.no for w in board.wiring if w.ends & board.earth_terminals} - {"4"}
    missing = {w.no for w in board.wiring} - there - motor - aside
    assert missing == {"231", "241"}


def test_each_input_column_has_its_point_tag_device_and_wire(board: Board) -> None:
    sheets = input_sheets(board)
    assert len(sheets) == 2
    for point in board.points.values():
        if point.direction == "input":
            sheet = sheets[0] if int(point.point[1:]) <= 6 else sheets[1]
            found = words(sheet)
            assert {f"{point.point}   {point.tag}", point.device} <= found
            assert {w.no for w in board.wiring.at(f"A1:{point.point}")} <= found


def test_outputs_stand_with_their_group_and_the_suppressor_beside_its_coil(board: Board) -> None:
    first, second = output_sheets(board)
    assert {"K1", "V1", "S0", "F3", "P1", "P2", "P3", "F4"} <= words(first)
    assert {"P4", "P9", "P5", "F5"} <= words(second)
    assert "S0" not in words(second), "the emergency stop cuts group A"


def test_a_contact_that_stands_in_several_paths_is_said_to_be_one_part(board: Board) -> None:
    said = {
        name: next((t for t in words(sheet) if "anew in each path" in t), "")
        for name, sheet in circuit_sheets(board).items()
    }
    assert said["inputs-1"] == "F1 is one part, drawn anew in each path."  # S4 stands twice with two contacts
    assert said["outputs-1"] == "F4 and S0 are one part each, drawn anew in each path."
    assert said["supply"] == "F2 is one part, drawn anew in each path."
    assert not said["main-circuit"]


def test_what_is_not_wired_says_so(board: Board) -> None:
    bare = board.wiring.without("103", "129")
    inputs = to_svg(input_sheets(board, bare)[0])
    assert inputs.count(">not wired: no way between") == 1
    assert "A1:I3" in inputs
    sensors = to_svg(supply_sheet(board, bare))
    assert sensors.count(">not wired: ") == 1


def test_the_bond_is_drawn_and_a_floating_supply_is_told(board: Board) -> None:
    assert "X1:PE" in words(supply_sheet(board))
    floating = words(supply_sheet(board, board.wiring.without("4")))
    assert "0 V floats: no bond" in floating
    assert "X1:PE" not in floating


def test_a_sensor_that_switches_to_minus_is_drawn_below_its_channel(board: Board) -> None:
    part = board.part("B2")
    npn = board.with_part(replace(part, entry_name="inductive-npn", entry=parts_catalogue()["inductive-npn"]))
    plus = npn.wiring.moved("15", end="X1:0V", to="X1:24I").without("108", "110", "111", "112", "107")
    sheet = input_sheets(npn, plus)[1]
    texts = [shape for shape in _flat(sheet) if isinstance(shape, Text)]
    heights = {text.text: text.y for text in texts if text.text in {"B2", "I9"}}
    assert heights["B2"] > heights["I9"]


def test_the_supply_stands_on_no_rail_that_no_wire_leads_to(board: Board) -> None:
    cut = supply_sheet(board, board.wiring.without("2"))
    rails = [shape for shape in _flat(cut) if isinstance(shape, Line) and shape.role == "rail"]
    assert len(rails) == 1, "plus only: nothing reaches 0 V"
    assert "0 V" not in words(cut)
    assert {"no way to the loads", "4", "X1:PE", "12", "X1:0V"} <= words(cut), "what is wired is drawn all the same"
    assert "2" not in {
        text.text for text in _flat(cut) if isinstance(text, Text) and text.role == "tick" and text.x < 150
    }
    assert "no way to the loads" not in words(supply_sheet(board))


def test_a_way_that_ends_is_drawn_as_far_as_it_leads(board: Board) -> None:
    sheet = input_sheets(board, board.wiring.without("121"))[0]
    column = next(shape for shape in _flat(sheet) if isinstance(shape, Group) and shape.of == "path:1")
    there = {shape.text for shape in column.shapes if isinstance(shape, Text)}
    assert {"F1", "9", "X1:24I", "S1", "11", "12", "101", "I1", "14", "2"} <= there
    assert {"not wired: no way between", "X1:24I and S1:11"} <= there
    assert "121" not in there


def test_where_the_board_has_no_wiring_of_its_own_only_what_hangs_together_is_drawn(board: Board) -> None:
    sheet = input_sheets(replace(board, wiring=Wiring()), board.wiring.without("121"))[0]
    column = next(shape for shape in _flat(sheet) if isinstance(shape, Group) and shape.of == "path:1")
    there = {shape.text for shape in column.shapes if isinstance(shape, Text)}
    assert {"S1", "101", "I1", "not wired: no way between", "+24 V and S1:11"} <= there
    assert "F1" not in there


def test_a_device_on_another_point_is_drawn_there(board: Board) -> None:
    moved = board.wiring.moved("202", end="A1:Q2", to="A1:Q8")
    first = output_sheets(board, moved)[0]
    assert {"Q8", "F5", "Q2   P1"} <= words(first)


def test_a_wire_beside_the_path_is_named(board: Board) -> None:
    twice = board.wiring.moved("101", end="A1:I1", to="A1:I2")
    assert "and besides: 102 on A1:I2" in words(input_sheets(board, twice)[0])
    assert not any("besides" in text for sheet in circuit_sheets(board).values() for text in words(sheet))


def test_spare_points_and_groups_have_no_sheet_until_something_is_wired_to_them() -> None:
    press = load_board("orchard-press")
    assert list(circuit_sheets(press)) == ["supply", "main-circuit", "inputs-1", "outputs-1"]
    assert "I5" not in words(input_sheets(press)[0])
    assert "QB+ - QB0" not in words(supply_sheet(press))
    wired = press.wiring.moved("101", end="A1:I1", to="A1:I7")
    second = input_sheets(press, wired)[1]
    assert {"I7", "spare in the I/O list", "S1"} <= words(second)


@pytest.mark.parametrize("without", [(), ("2",), ("1",), ("1", "2", "4"), ("121", "103", "211", "222", "14", "17")])
def test_nothing_overlaps_or_leaves_the_sheet_however_little_is_wired(board: Board, without: tuple[str, ...]) -> None:
    for name, sheet in circuit_sheets(board, board.wiring.without(*without)).items():
        assert sheet.check() == [], name


def _flat(sheet: Sheet) -> list[object]:
    found: list[object] = []
    waiting: list[object] = list(sheet.shapes)
    while waiting:
        shape = waiting.pop()
        waiting += getattr(shape, "shapes", ())
        found.append(shape)
    return found

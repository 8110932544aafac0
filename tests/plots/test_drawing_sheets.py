"""Circuit drawings follow the wiring: each wire of a path is on its sheet, and what is not wired says so."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from labkit.board import Board, load_board, parts_catalogue
from labkit.plots._svg import to_svg
from labkit.plots.drawing_sheets import circuit_sheets, input_sheets, output_sheets, supply_sheet
from labkit.plots.shapes import Sheet, Text


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


def test_what_is_not_wired_says_so(board: Board) -> None:
    bare = board.wiring.without("103", "129")
    inputs = to_svg(input_sheets(board, bare)[0])
    assert inputs.count("not wired: in this wiring") == 1
    assert "A1:I3" in inputs
    sensors = to_svg(supply_sheet(board, bare))
    assert sensors.count("not wired:") == 1


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


def _flat(sheet: Sheet) -> list[object]:
    found: list[object] = []
    waiting: list[object] = list(sheet.shapes)
    while waiting:
        shape = waiting.pop()
        waiting += getattr(shape, "shapes", ())
        found.append(shape)
    return found

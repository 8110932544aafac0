"""The control circuit's sheet: found in the wiring, read as shapes. Symbols after IEC 60617."""

from __future__ import annotations

import pytest

from labkit.board import Wiring, load_board
from labkit.plots import DrawingError, control_circuit_sheet, control_circuit_svg, draw_control_circuit


@pytest.fixture(scope="module")
def board():
    return load_board("orchard")


def names(sheet, path: int) -> list[str]:
    shapes = sheet.groups()[f"path:{path}"].shapes
    found = [s for s in shapes if getattr(s, "role", "") == "name"]
    return [t.text for t in found]


def test_the_coils_path_passes_the_parts_of_the_board_description_in_order(board):
    # G1 -> F4 -> emergency stop -> output Q1 -> overload's trip contact -> coil, as the board file wires it
    sheet = control_circuit_sheet(board)
    assert names(sheet, 1) == ["F4", "S0", "A1", "F3", "K1", "V1"]
    about = sheet.groups()["path:1"].about
    assert "wire 201, F3 contact 95-96, wire 211, K1 coil A1-A2, wire 221" in about


def test_stop_start_and_auxiliary_stand_beside_it(board):
    sheet = control_circuit_sheet(board)
    assert [names(sheet, i) for i in (2, 3, 4)] == [["F1", "S1", "A1"], ["F1", "S2", "A1"], ["F1", "K1", "A1"]]
    assert "53-54 in path 4" in [t.text for t in sheet.texts("tick")]


def test_a_normally_closed_contact_rests_on_its_stop_and_a_normally_open_one_hangs_open(board):
    sheet = control_circuit_sheet(board)

    def blades(path):
        return [
            s
            for s in sheet.groups()[f"path:{path}"].shapes
            if getattr(s, "role", "") == "symbol" and hasattr(s, "x1") and s.x1 != s.x2 and s.y1 != s.y2
        ]

    (stop,) = [b for b in blades(2) if abs(b.y2 - b.y1) > 12 and b.x2 > b.x1]
    (start,) = [b for b in blades(3) if abs(b.y2 - b.y1) > 10 and b.x2 < b.x1 and b.y1 > 250]
    assert stop.y2 < stop.y1
    assert start.y2 < start.y1


def test_nothing_overlaps_and_it_is_the_same_each_time(board):
    assert control_circuit_sheet(board).check() == []
    assert control_circuit_svg(board) == control_circuit_svg(board)


@pytest.mark.parametrize(
    ("gone", "said", "above", "below"),
    [
        ("211", "F3:96 and K1:A1", ["F4", "S0", "A1", "F3"], ["K1", "V1"]),
        ("201", "A1:Q1 and F3:95", ["F4", "S0", "A1"], ["F3", "K1", "V1"]),
        ("16", "F4:2 and S0:11", ["F4"], ["S0", "A1", "F3", "K1", "V1"]),
        ("221", "K1:A2 and X1:0V", ["F4", "S0", "A1", "F3", "K1", "V1"], []),
    ],
)
def test_a_broken_path_is_drawn_on_both_sides_of_the_break_and_the_break_is_said(board, gone, said, above, below):
    sheet = control_circuit_sheet(board, wiring=board.wiring.without(gone))
    group = sheet.groups()["path:1"]
    words = [s for s in group.shapes if getattr(s, "role", "") == "label" and s.size == 8.5]
    assert " ".join(w.text for w in words) == f"not wired: no way between {said}"
    assert f"not wired: no way between {said}" in sheet.desc
    parts = [s for s in group.shapes if getattr(s, "role", "") == "name"]
    assert [t.text for t in parts if t.y < words[0].y] == above
    assert [t.text for t in parts if t.y > words[0].y] == below
    numbers = {t.text for t in group.shapes if getattr(t, "role", "") == "tick"}
    assert gone not in numbers
    # the wires of the board's own path but the one that is off
    assert {"1", "7", "16", "17", "201", "211", "221", "2"} - {gone} <= numbers
    assert sheet.check() == []


def test_two_breaks_are_both_said(board):
    sheet = control_circuit_sheet(board, wiring=board.wiring.without("201", "221"))
    about = sheet.groups()["path:1"].about
    assert "no way between A1:Q1 and F3:95; F3 contact 95-96, wire 211, K1 coil A1-A2; not wired: no way" in about
    assert about.endswith("K1:A2 and X1:0V; wire 2")


def test_a_bare_board_has_its_coil_and_inputs_and_says_that_nothing_leads_to_them(board):
    sheet = control_circuit_sheet(board, wiring=Wiring())
    assert [names(sheet, i) for i in (1, 2, 3, 4)] == [["K1"], ["A1"], ["A1"], ["A1"]]
    assert "not wired: no way between +24 V and K1:A1; K1 coil A1-A2; not wired: no way between K1:A2 and 0 V" in (
        sheet.groups()["path:1"].about
    )
    assert not [s for s in sheet.walk() if s.role == "rail"]
    assert sheet.check() == []


def test_no_single_wire_off_stops_the_drawing_or_makes_it_overlap(board):
    for wire in board.wiring:
        assert control_circuit_sheet(board, wiring=board.wiring.without(wire.no)).check() == [], wire


def test_without_its_wires_the_suppressor_is_not_drawn(board):
    sheet = control_circuit_sheet(board, wiring=board.wiring.without("231"))
    assert "V1" not in names(sheet, 1)


def test_slips_are_named(board):
    with pytest.raises(DrawingError, match="no contactor called 'K2'"):
        control_circuit_sheet(board, "K2")
    with pytest.raises(DrawingError, match="no input called 'I13'"):
        control_circuit_sheet(board, inputs=["I13"])


def test_axes_in_axes_out(board):
    from matplotlib.figure import Figure

    ax = Figure(figsize=(8, 8)).add_subplot()
    assert draw_control_circuit(board, ax=ax) is ax

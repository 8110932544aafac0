"""The I/O list and the wire list as rows and as CSV."""

from __future__ import annotations

import csv
import io

from labkit.board import Board, Wire, io_list, io_list_csv, wire_list, wire_list_csv


def test_the_io_list_has_one_row_for_each_point(board: Board) -> None:
    rows = {r.point: r for r in io_list(board)}
    assert list(rows) == [*(f"I{n}" for n in range(1, 13)), *(f"Q{n}" for n in range(1, 9))]
    stop = rows["I1"]
    assert (stop.tag, stop.device, stop.contact, stop.terminal) == ("S1", "S1", "NC", "A1:I1")
    assert (stop.wire_numbers, stop.common, stop.rest) == ("101", "A1:IC1", 1)
    assert "wire whole" in stop.meaning_of_1
    assert rows["Q8"].device == ""
    assert rows["Q8"].wire_numbers == ""


def test_both_lists_read_back_as_csv(board: Board) -> None:
    points = list(csv.DictReader(io.StringIO(io_list_csv(board))))
    assert [p["tag"] for p in points] == [r.tag for r in io_list(board)]
    wires = list(csv.DictReader(io.StringIO(wire_list_csv(board))))
    assert [(w["no"], w["a"], w["b"]) for w in wires] == [(w.no, w.a, w.b) for w in board.wiring]
    assert wires[0]["colour_words"] == "blue"


def test_lists_follow_the_wiring_that_is_asked_for(board: Board) -> None:
    changed = board.wiring.without(101).with_wire(Wire("=1+1", "S1:12", "A1:I1"))
    assert io_list(board, changed)[0].wire_numbers == "=1+1"
    assert wire_list(board, changed)[-1].no == "=1+1"
    last = list(csv.DictReader(io.StringIO(wire_list_csv(board, changed))))[-1]
    assert last["no"] == "'=1+1", "a spreadsheet must not take a wire number for a formula"

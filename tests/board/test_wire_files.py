"""Wire lists of beginners: each slip is told with its line and column or field, and the rest is still read."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from labkit.base import LabkitError
from labkit.board import (
    Board,
    BoardFileError,
    check_wiring,
    dumps_wiring,
    dumps_wiring_csv,
    loads_wiring,
    loads_wiring_csv,
    wire_list_csv,
)


def slips(loads, text: str, board: Board) -> list[str]:
    with pytest.raises(BoardFileError) as caught:
        loads(text, board=board)
    return [str(slip) for slip in caught.value.slips]


def test_every_slip_of_a_csv_comes_at_once_with_its_line(board: Board) -> None:
    text = """no,a,b,color,mm2,m
1,G1:24V,X1:24V,BU,1.5,0.4

2,G1:0V,X1:OV,WHBU,1.5,0.4
2,G1:PE,X1:PE,GNYE,1.5,0.4
4,K1:A1,K1:A1,BU,thick,0.4
5,F1:1,X1:24V,BU,0.8,0.4
6,F2:1,X1:24V,BU,1.0,0.4,and more
7,F2:1,X1:24V,BU,1.0,-1
"""
    found = slips(loads_wiring_csv, text, board)
    assert [slip.partition(":")[0] for slip in found] == [
        "line 1, color",
        "line 6.mm2",
        "line 8",
        "line 9.m",
        "line 4.b",
        "line 5.no",
        "line 7.mm2",
    ]
    told = "\n".join(found)
    for words in (
        "unknown column color. Did you mean colour?",
        "must be a number, not 'thick'",
        "has 7 cells, the header has 6",
        "no terminal X1:OV on this board",
        "number 2 is on line 4 already",
        "no class 5 conductor of 0.8 mm2. 0.75 mm2 is the nearest size",
    ):
        assert words in told


@pytest.mark.parametrize("parted", [";", "\t"])
def test_a_spreadsheet_with_decimal_commas_is_read(board: Board, parted: str) -> None:
    rows = [["no", "a", "b", "mm2", "m"], ["1", "G1:24V", "X1:24V", "1,5", "0,4"]]
    text = "\n".join(parted.join(row) for row in rows)
    (wire,) = loads_wiring_csv(text, board=board)
    assert (wire.mm2, wire.m) == (1.5, 0.4)


def test_the_printed_wire_list_can_be_edited_and_read_back(board: Board) -> None:
    assert loads_wiring_csv(wire_list_csv(board), board=board) == board.wiring


def test_every_slip_of_a_toml_comes_at_once_with_its_line(board: Board) -> None:
    text = """schema = 1
wires = [
  { no = "1", a = "G1:24V", b = "X1:24V", mm2 = 1.5, m = 0.4 },
  { no = "2", a = "G1:0V" b = "X1:0V" },
  { no = "3", a = "G1:PE", b = "X1:PEE", lenght = 2 },
  { no = 4, a = "G1:0V", b = "X1:OV" },
  { no = "5", a = X1:24V, b = "F1:1" },
  { no = "4", a = "X1:24V", b = "F1:1", colour = "blue" },
]
"""
    found = slips(loads_wiring, text, board)
    assert [slip.split(": ")[0] for slip in found] == [
        "line 4, column 27",
        "line 7, column 19",
        "line 5, wires[2].lenght",
        "line 6, wires[3].b",
        "line 8, wires[5].no",
        "line 8, wires[5].colour",
    ]
    assert "A row looks like" in found[0]
    assert "no terminal X1:OV on this board" in found[3]
    assert "number 4 is on wires[3] already" in found[4]


def test_a_text_that_is_torn_between_rows_is_told_with_its_line(board: Board) -> None:
    found = slips(loads_wiring, "schema = 1\nwires = [\n", board)
    assert len(found) == 1
    assert found[0].startswith("document: is not TOML")


def test_a_long_text_of_torn_rows_ends(board: Board) -> None:
    text = "schema = 1\nwires = [\n" + "{ no = },\n" * 100 + "]\n"
    assert len(slips(loads_wiring, text, board)) == 21


def test_tables_instead_of_rows_are_read_and_told_with_lines(board: Board) -> None:
    text = (
        'schema = 1\n[[wires]]\nno = "1"\na = "G1:24V"\nb = "X1:24V"\n\n[[wires]]\nno = "2"\na = "G1:0V"\nb = "X9:1"\n'
    )
    assert slips(loads_wiring, text, board) == ["line 8, wires[1].b: no part X9 on this board. Known here: X1."]
    assert len(loads_wiring(text.replace("X9:1", "X1:0V"), board=board)) == 2
    assert loads_wiring(dumps_wiring(board.wiring), board=board) == board.wiring


@pytest.mark.parametrize("take", [dumps_wiring, dumps_wiring_csv, check_wiring])
def test_what_is_no_wiring_is_refused_in_the_same_words_everywhere(take: Callable[..., object], board: Board) -> None:
    with pytest.raises(LabkitError) as caught:
        take(*([board] if take is check_wiring else []), "mine.csv")
    wanted = "load it first: load_wiring('mine.csv', board=board); or take board.wiring or bench.wiring"
    assert caught.value.try_this == wanted

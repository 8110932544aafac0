"""Reading and writing: round trips, and every slip with its place and a guess."""

from __future__ import annotations

import contextlib
import re
from pathlib import Path

import pytest

from labkit.base import LabkitError, data_path, read_text
from labkit.board import (
    Board,
    BoardError,
    BoardFileError,
    Wire,
    Wiring,
    dumps_board,
    dumps_wiring,
    dumps_wiring_csv,
    load_board,
    load_wiring,
    loads_board,
    loads_catalogue,
    loads_wiring,
    loads_wiring_csv,
    save_board,
    save_wiring,
)

ORCHARD = read_text(data_path("datasets", "boards", "orchard.toml"))


def slips(text: str) -> list[str]:
    with pytest.raises(BoardFileError) as caught:
        loads_board(text)
    return [str(s) for s in caught.value.slips]


def test_a_board_reads_back_as_it_was_written(board: Board) -> None:
    assert loads_board(dumps_board(board), name="orchard") == board


def test_a_wiring_reads_back_from_both_forms(board: Board) -> None:
    assert loads_wiring(dumps_wiring(board.wiring), board=board) == board.wiring
    assert loads_wiring_csv(dumps_wiring_csv(board.wiring), board=board) == board.wiring


def test_files_are_chosen_by_their_suffix(board: Board, tmp_path: Path) -> None:
    for name in ("wires.toml", "wires.csv"):
        save_wiring(board.wiring, tmp_path / name)
        assert load_wiring(tmp_path / name, board=board) == board.wiring
    assert (tmp_path / "wires.csv").read_text("utf-8").startswith("no,a,b,colour")
    assert load_board(save_board(board, tmp_path / "orchard.toml")) == board


def test_a_wire_to_a_terminal_that_is_not_there_lists_the_ones_that_are() -> None:
    assert slips(ORCHARD.replace('"S1:12"', '"S1:13"')) == [
        "wires[20].a: no terminal S1:13 on this board. S1 has 11, 12. Did you mean S1:12?"
    ]


def test_an_unknown_key_is_named_with_the_nearest_one() -> None:
    text = ORCHARD.replace('b = "A1:I2", colour', 'b = "A1:I2", color')
    assert slips(text) == ["wires[21].color: unknown key color. Did you mean colour?"]


def test_all_slips_of_a_document_come_at_once() -> None:
    text = ORCHARD.replace('"button-start-no"', '"button-strat-no"').replace('b = "A1:I5"', 'b = "A1:I55"')
    text = text.replace("x_mm = 430, y_mm = 150", 'x_mm = "wide", y_mm = 150').replace("width_mm = 650\n", "")
    found = slips(text)
    assert [s.partition(":")[0] for s in found] == ["width_mm", "parts[8].x_mm", "parts[21].type", "wires[24].b"]
    assert "Did you mean button-start-no?" in found[2]


def test_a_broken_part_is_not_reported_again_where_it_is_named() -> None:
    found = slips(ORCHARD.replace('"button-start-no"', '"no-such-thing"'))
    assert len(found) == 1


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('designation = "S2"', 'designation = "S1"', r"parts\[\d+\].designation: S1 is already there."),
        ('designation = "P9"', 'designation = "H9"', r"H9 is horn-24v, whose letter is P. Did you mean P9\?"),
        ('aux = "aux-block-11"', 'aux = "lamp-red"', r"parts\[6\].blocks.aux: no plug-on block lamp-red."),
        ('point = "I12"', 'point = "I13"', r"points\[11\].point: the controller has no point I13."),
        ('tag = "S4_R"', 'tag = "S4_L"', r"points\[4\].tag: S4_L is the tag of another point already."),
        ('S3 = "right"', 'S3 = "rihgt"', r"S3 is left or right, never 'rihgt'. Did you mean right\?"),
        ('actor = "S0"', 'actor = "S9"', r"must_be_dead\[0\]: no part S9 on this board."),
        ('no = "102"', 'no = "101"', r"wires\[21\].no: number 101 is on wires\[20\] already."),
        ('a = "S2:14", b = "A1:I2"', 'a = "S2:14", b = "S2:14"', r"wires\[21\].b: both ends are on S2:14."),
        ('colour = "BN"', 'colour = "brown"', r"wires\[\d+\].colour: no colour brown."),
        ("mm2 = 0.5", "mm2 = 0.6", r"no class 5 conductor of 0.6 mm2. 0.5 mm2 is the nearest size."),
        ("mm2 = 0.5", "mm2 = nan", r"wires\[\d+\].mm2: must be a finite number, not nan."),
        ("rest = 0", "rest = 2", r"points\[1\].rest: must be 0 or 1, not 2."),
        ('title = "Orchard juice line: wash pump"', "title = 5", r"title: must be text in quotes, not 5."),
    ],
)
def test_each_slip_says_what_and_where(old: str, new: str, says: str) -> None:
    assert old in ORCHARD
    found = slips(ORCHARD.replace(old, new, 1))
    assert any(re.search(says, s) for s in found), found


def test_a_newer_schema_asks_for_an_update() -> None:
    assert slips(ORCHARD.replace("schema = 1", "schema = 2")) == [
        "schema: is 2, newer than the 1 that this labkit reads. Update labkit."
    ]


@pytest.mark.parametrize("schema", ["schema = 0", 'schema = "1"', "schema = true", ""])
def test_a_schema_that_is_no_number_is_refused(schema: str) -> None:
    assert slips(ORCHARD.replace("schema = 1", schema))[0].startswith("schema: ")


@pytest.mark.parametrize(
    "text",
    ["", "x = [", "schema = 1\nparts = 5", "schema = 1\nwires = [1, 2]", "a=" + "[" * 5000, "schema = 1\n" * 200_000],
)
def test_torn_and_hostile_text_is_a_sentence(text: str) -> None:
    with pytest.raises(BoardFileError) as caught:
        loads_board(text)
    assert caught.value.slips
    for other in (loads_wiring, loads_catalogue):
        with contextlib.suppress(LabkitError):  # any other error fails the test
            other(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "line 1: is missing."),
        ("no,a,b,mm\n1,K1:A1,K1:A2,1", "line 1, mm: unknown column mm. Did you mean mm2?"),
        ("no,a\n1,K1:A1", "line 1: there is no column b."),
        ("no,a,b\n1,K1:A1,K1:A3", "line 2.b: no terminal K1:A3 on this board."),
        ("no,a,b\n1,K1:A1,K1:A2,9", "line 2: has 4 cells, the header has 3."),
        ("no,a,b,mm2\n1,K1:A1,K1:A2,thick", "line 2.mm2: must be a number, not 'thick'."),
        ("no,a,b\n1,K1:A1", "line 2.b: is missing."),
        ("no,a,b\n\n1,K1:A1,K1:A2\n1,K1:A1,X1:0V", "line 4.no: number 1 is on line 3 already."),
    ],
)
def test_a_wire_list_points_to_the_line(board: Board, text: str, says: str) -> None:
    with pytest.raises(BoardFileError) as caught:
        loads_wiring_csv(text, board=board)
    assert says in str(caught.value.slips[0])


def test_a_spreadsheets_byte_order_mark_is_no_column(board: Board) -> None:
    assert len(loads_wiring_csv("\ufeffno,a,b\n1,K1:A1,K1:A2\n", board=board)) == 1


def test_an_unknown_board_is_guessed_at() -> None:
    with pytest.raises(BoardError, match="no board called orchid") as caught:
        load_board("orchid")
    assert caught.value.try_this == "Did you mean orchard?"
    with pytest.raises(LabkitError, match="no file"):
        load_board("nowhere/else.toml")


def test_a_catalogue_names_the_terminal_that_is_not_on_the_part() -> None:
    text = """schema = 1
[parts.lamp]
kind = "lamp"
letter = "P"
text = "lamp"
width_mm = 10
height_mm = 10
top = ["X1"]
a = "X1"
b = "X2"
ohm = 1200.0
lit_v = 12.0
colour = "green"
"""
    with pytest.raises(BoardFileError, match=r"b names terminal X2, which is on neither edge\. It has X1"):
        loads_catalogue(text)
    with pytest.raises(BoardFileError, match=r"no kind of part 'lmap'\. Did you mean lamp"):
        loads_catalogue(text.replace('"lamp"\nletter', '"lmap"\nletter'))
    assert list(loads_catalogue(text.replace('["X1"]', '["X1", "X2"]'))) == ["lamp"]


def test_odd_text_survives_a_round_trip(board: Board) -> None:
    wiring = Wiring((Wire('1"\\\n', "K1:A1", "K1:A2"), Wire("é\x7f\t", "K1:A1", "X1:0V", ferrule=False)))
    assert loads_wiring(dumps_wiring(wiring)) == wiring

"""The layout in pieces: each part on one of them, whole, and large enough to read on paper."""

from __future__ import annotations

import pytest

from labkit.board import board_names, load_board
from labkit.plots import board_sheet
from labkit.plots._layout_tiles import tiles
from labkit.plots.bench_sheets import _LEAST, _ROOM
from labkit.plots.shapes import Sheet

POINTS = 72 / 96  # of a sheet unit at scale 1


def layout(name: str) -> Sheet:
    return board_sheet(load_board(name), follow=())


@pytest.mark.parametrize("name", board_names())
def test_every_word_on_the_board_stands_on_one_piece_and_none_is_cut_off(name: str) -> None:
    sheet = layout(name)
    pieces = tiles(sheet, *_ROOM, _LEAST)
    assert len(pieces) > 1
    outside = {"title", "note"}  # heading and colours, on the whole sheet
    words = sorted(text.text for text in sheet.texts() if text.role not in outside)
    assert sorted(text.text for piece in pieces for text in piece.texts()) == words
    for piece in pieces:
        assert piece.check() == []


@pytest.mark.parametrize("name", board_names())
def test_the_smallest_letters_print_at_five_points_or_more(name: str) -> None:
    for piece in tiles(layout(name), *_ROOM, _LEAST):
        scale = min(_ROOM[0] / piece.width, _ROOM[1] / piece.height)
        assert min(text.size for text in piece.texts()) * scale * POINTS >= 4.95


def test_a_layout_that_is_large_enough_stays_whole_and_one_part_is_not_halved() -> None:
    sheet = layout("orchard-press")
    assert tiles(sheet, 2000.0, 2000.0, 1.0) == [sheet]
    assert len(tiles(sheet, 100.0, 100.0, 9.0)) == len(load_board("orchard-press").parts), "a page too small for any"

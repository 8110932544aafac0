"""A board and a wiring as people hand them over."""

from __future__ import annotations

from typing import Any

from labkit.base import need
from labkit.board.boards import Board
from labkit.board.wiring import Wiring

__all__ = ["board_given", "needed_wiring", "wiring_given"]


def board_given(board: Any) -> Board:
    """The board.

    Raises
    ------
    GivenError
        If it is something else, such as a board's name.
    """
    name = board if isinstance(board, str) and board else "orchard"
    need(board, Board, "a board", f"load it first: load_board({name!r})")
    assert isinstance(board, Board)
    return board


def wiring_given(board: Any, wiring: Any) -> Wiring:
    """The wiring, or the board's own for None.

    Raises
    ------
    GivenError
        If either is something else, such as a file's name.
    """
    own = board_given(board).wiring
    return own if wiring is None else needed_wiring(wiring)


def needed_wiring(wiring: Any) -> Wiring:
    """The wiring, which may not be left out.

    Raises
    ------
    GivenError
        If it is something else, such as a file's name.
    """
    name = wiring if isinstance(wiring, str) and wiring else "wires.csv"
    try_this = f"load it first: load_wiring({name!r}, board=board); or take board.wiring or bench.wiring"
    need(wiring, Wiring, "a wiring", try_this)
    assert isinstance(wiring, Wiring)
    return wiring

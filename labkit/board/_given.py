"""A board and a wiring as people hand them over."""

from __future__ import annotations

from typing import Any

from labkit.base import need
from labkit.board.boards import Board
from labkit.board.wiring import Wiring

__all__ = ["board_given", "wiring_given"]


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
    if wiring is None:
        return own
    name = wiring if isinstance(wiring, str) and wiring else "wires.csv"
    need(wiring, Wiring, "a wiring", f"load it first: load_wiring({name!r}, board=board); or take board.wiring")
    assert isinstance(wiring, Wiring)
    return wiring

"""The orchard board, and a short way to solve it."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from labkit.board import Board, Wiring, load_board

# importlib mode puts no folder on the path: load the helpers by their file
_spec = importlib.util.spec_from_file_location("board_helpers", Path(__file__).with_name("board_helpers.py"))
assert _spec is not None
assert _spec.loader is not None
if "board_helpers" not in sys.modules:
    sys.modules["board_helpers"] = importlib.util.module_from_spec(_spec)
    _spec.loader.exec_module(sys.modules["board_helpers"])

if TYPE_CHECKING:
    from board_helpers import Solve, Solved


@pytest.fixture(scope="session")
def board() -> Board:
    return load_board("orchard")


@pytest.fixture
def solve(board: Board) -> Solve:
    from board_helpers import solved

    def run(moves: dict[str, str] | None = None, wiring: Wiring | None = None, **how: Any) -> Solved:
        return solved(board, wiring, moves, **how)

    return run

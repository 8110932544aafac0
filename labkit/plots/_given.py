"""What a drawing is asked of: the right kind of thing, or a sentence that says what is due."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from labkit.base import as_many, need
from labkit.base.given import shown
from labkit.plots.errors import DrawingError

if TYPE_CHECKING:
    from labkit.board import Board, Wiring

__all__ = ["bench_to_draw", "board_to_draw", "mapping", "marks_of", "names", "record_to_draw"]

_RECORD = ("signals", "scans", "events", "start_us", "end_us")


def board_to_draw(board: Any, wiring: Any = None) -> tuple[Board, Wiring]:
    """The board and the wires to draw: the board's own for None."""
    from labkit.board import board_given, wiring_given

    return board_given(board), wiring_given(board, wiring)


def bench_to_draw(bench: Any) -> None:
    """Refuse what is no bench."""
    if not hasattr(bench, "engine") or not hasattr(bench, "board"):
        need(bench, (), "a bench", "make one: Bench('orchard'); a board alone is drawn by board_svg or draw_board")


def record_to_draw(trace: Any) -> None:
    """Refuse what is no record of a bench."""
    if not all(hasattr(trace, name) for name in _RECORD):
        need(trace, (), "a record of the bench", "record one: with bench.record() as trace: ...; then draw trace")


def names(given: Any, what: str) -> tuple[Any, ...]:
    """A list of names; one name alone counts as a list of one."""
    return as_many(given, what, "write a list of names, such as ['K1', 'P1']")


def mapping(given: Any, what: str, try_this: str) -> dict[Any, Any]:
    """A dictionary; None is an empty one."""
    if given is None:
        return {}
    need(given, Mapping, what, try_this)
    return dict(given)


def marks_of(given: Any) -> tuple[tuple[Any, str], ...]:
    """Marks of a timing diagram: pairs of a moment and a few words."""
    pairs: Iterable[Any] = () if given is None or isinstance(given, str) else given
    found = as_many(pairs, "a list of marks", _MARKS)
    for mark in (given,) if isinstance(given, str) else found:
        if not isinstance(mark, tuple | list) or len(mark) != 2:
            raise DrawingError(
                f"a mark is a moment and a few words; got {shown(mark)}",
                where="marks",
                try_this="write marks=[(ms(40), 'pressed')]",
                code="drawing-mark",
            )
    return tuple((mark[0], str(mark[1])) for mark in found)


_MARKS = "write marks=[(ms(40), 'pressed')]"

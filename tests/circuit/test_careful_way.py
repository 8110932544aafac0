"""Between the quick way and the walk: curves that move by one piece in a round settle a steep output stage."""

from __future__ import annotations

import numpy as np
import pytest

from labkit.board import electrify, load_board
from labkit.circuit import Solver, _settle


def test_a_photo_eye_that_is_on_needs_no_walk_and_gets_the_walk_s_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    """The walk's answer is certain (Katzenelson 1965); the careful way must find the same, sooner."""
    electrical = electrify(load_board("orchard"))
    key = electrical.key(electrical.powered(B1="on"))
    monkeypatch.setattr(_settle, "QUICK_ROUNDS", 0)
    walked = Solver(electrical.circuit).solve(key)
    monkeypatch.undo()

    def no_walk(*args: object) -> None:
        raise AssertionError("it walked")

    monkeypatch.setattr(_settle, "_walk", no_walk)
    careful = Solver(electrical.circuit).solve(key)
    careful.check()
    assert np.abs(careful.array - walked.array).max() < 1e-9
    assert careful.volt("A1:I8", "A1:IC2") > 20

"""The measured comparisons compare like with like; no test is timed."""

from __future__ import annotations

import builtins
from typing import Any

import pytest

from labkit.bench import _speed
from labkit.board import load_board


def test_both_loops_do_the_same_work() -> None:
    """Simpy 4, a general event library, moves the contactor at the same microseconds as the bench."""
    pytest.importorskip("simpy")
    board = load_board("orchard")
    bench = _speed._bench(board)
    start = bench.now_us
    with bench.record() as trace:
        _speed._ours(bench)
    loop = _speed._OnSimpy(_speed._bench(board))
    loop.run()
    assert loop.start == start
    moves = [(t, value) for t, value in trace["pole:K1"].changes[1:]]
    assert moves == loop.k1_moves
    assert len(moves) == 20
    assert len(trace.events) == 40
    assert len([p for p in trace.scans if p.kind == "read"]) == 10_000


def test_rows_have_what_the_command_prints() -> None:
    rows = _speed.rows(quick=True)
    assert [row["key"] for row in rows] == ["bench_vs_realtime_cold", "bench_vs_realtime_warm", "bench_vs_simpy_cold"]
    for row in rows:
        assert set(row) == {"key", "ratio", "floor", "aim", "ours", "other", "note"}


def test_a_missing_library_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def without(name: str, *args: Any, **kwargs: Any) -> Any:
        if name == "simpy":
            raise ImportError(name)
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without)
    monkeypatch.setattr(_speed, "_ours", lambda bench: None)
    row = _speed.rows(quick=True)[2]
    assert (row["ratio"], row["note"]) == (None, "simpy is not installed")

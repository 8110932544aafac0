"""The main job: what it prints, what it writes, when it fails."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from labkit.cli import commands


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    out = tmp_path_factory.mktemp("tour")
    return CliRunner().invoke(commands, ["tour", "--out", str(out), "--table"]), out


def test_the_tour_ends_well(made: tuple[Result, Path]) -> None:
    result, _ = made
    assert result.exit_code == 0, result.output
    assert "not as it should be" not in result.output


def test_the_tour_tells_of_each_stage(made: tuple[Result, Path]) -> None:
    output = made[0].output
    for said in (
        "26 parts, 70 wires, 0 finding(s)",
        "meter on the proving unit",
        "emergency stop still pressed",
        "S2 pressed for 20 ms: K1 drops",
        "S2 pressed for 45 ms: K1 holds",
        "R. Vale: 62.5 of 62.5 points, passed",
        "scan 10 ms: shortest press that always holds 30 ms",
        "scan 20 ms: shortest press that always holds 40 ms",
        "no race",
    ):
        assert said in output


def test_the_wrong_answer_is_told_with_rung_tag_and_reason(made: tuple[Result, Path]) -> None:
    output = " ".join(made[0].output.split())
    assert "J. Moss: 56.5 of 62.5 points, not passed" in output
    assert "Rung 1 holds K1_ON on" in output
    assert "a path that S1 does not interrupt" in output


def test_the_tour_writes_diagrams_sheets_and_the_table(made: tuple[Result, Path]) -> None:
    _, out = made
    kinds = sorted(path.suffix for path in out.iterdir())
    assert {kind: kinds.count(kind) for kind in set(kinds)} == {".csv": 2, ".html": 2, ".json": 2, ".png": 2, ".svg": 3}
    assert (out / "timing-press-20-ms.png").read_bytes().startswith(b"\x89PNG")
    assert "<svg" in (out / "timing-press-45-ms.svg").read_text()


def test_a_board_that_is_wrong_ends_with_one(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from labkit.cli import _tour

    monkeypatch.setattr(_tour, "_commission", lambda _tell, _out: ["I2 S2 does not follow"])
    monkeypatch.setattr(_tour, "_press_twice", lambda _tell, _out: [])
    monkeypatch.setattr(_tour, "_lesson", lambda _tell, _out: [])
    result = CliRunner().invoke(commands, ["tour", "--out", str(tmp_path), "--quiet"])
    assert result.exit_code == 1
    assert "not as it should be: I2 S2 does not follow" in result.output

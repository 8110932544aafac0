"""The verdict of a ratio, and what happens when an outside tool is missing."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from labkit.cli import commands
from labkit.cli._speed import verdict


def row(ratio: float | None, **more: Any) -> dict[str, Any]:
    return {"key": "k", "ratio": ratio, "floor": 5.0, "aim": 10.0, "ours": "", "other": "", "note": ""} | more


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (row(4.9), "below floor"),
        (row(5.0), "floor met"),
        (row(10.0), "aim met"),
        (row(None), "not measured"),
        (row(1.4, floor=3.0, aim=1.5, lower_is_better=True), "aim met"),
        (row(2.0, floor=3.0, aim=1.5, lower_is_better=True), "floor met"),
        (row(3.1, floor=3.0, aim=1.5, lower_is_better=True), "below floor"),
    ],
)
def test_a_ratio_is_held_against_floor_and_aim(given: dict[str, Any], said: str) -> None:
    assert verdict(given) == said


def test_a_missing_outside_tool_is_said_not_faked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "labkit.cli._speed.measure",
        lambda quick: [row(None, key="solve_vs_ngspice", note="libngspice is not installed here")],
    )
    target = tmp_path / "speed.json"
    result = CliRunner().invoke(commands, ["speed", "--quick", "--json", str(target)])
    assert result.exit_code == 0, result.output
    assert "not measured" in result.output
    assert "libngspice" in result.output
    assert json.loads(target.read_text()) == {"solve_vs_ngspice": None}

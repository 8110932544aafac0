"""``labkit lab`` copies notebooks and never writes over a person's work."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from labkit.cli import commands


@pytest.fixture
def shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    source = tmp_path / "shipped"
    (source / "instructor").mkdir(parents=True)
    (source / "00-start.ipynb").write_text("first")
    (source / "instructor" / "key.ipynb").write_text("key")
    (source / ".ipynb_checkpoints").mkdir()
    (source / ".ipynb_checkpoints" / "00-start.ipynb").write_text("old")
    monkeypatch.setattr("labkit.cli._lab.data_path", lambda *_parts: source)
    return source


def test_notebooks_are_copied_with_their_folders_but_not_checkpoints(shipped: Path, tmp_path: Path) -> None:
    result = CliRunner().invoke(commands, ["lab", str(tmp_path / "mine"), "--no-open"])
    assert result.exit_code == 0, result.output
    assert "2 notebook(s) copied, 0 of yours kept" in result.output
    names = sorted(str(p.relative_to(tmp_path / "mine")) for p in (tmp_path / "mine").rglob("*.ipynb"))
    assert names == ["00-start.ipynb", "instructor/key.ipynb"]


def test_a_notebook_that_is_there_is_never_written_over(shipped: Path, tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "00-start.ipynb").write_text("my answers")
    result = CliRunner().invoke(commands, ["lab", str(mine), "--no-open"])
    assert "1 notebook(s) copied, 1 of yours kept" in result.output
    assert (mine / "00-start.ipynb").read_text() == "my answers"


def test_every_command_has_help() -> None:
    for name, command in commands.commands.items():
        result = CliRunner().invoke(commands, [name, "--help"])
        assert result.exit_code == 0
        assert (command.help or "").strip(), name

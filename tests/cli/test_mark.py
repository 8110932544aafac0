"""``labkit mark``: a class with a torn and a hostile file among the hand-ins."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from labkit.cli import commands
from labkit.lessons import lesson


@pytest.fixture
def handins(tmp_path: Path) -> Path:
    folder = tmp_path / "handins"
    work = lesson("seal-in", student="A. Quince")
    work.answer("block-off", "drops")
    work.hand_in(folder)
    (folder / "torn.json").write_text('{"schema": 1, "lesson": "seal-')
    (folder / "hostile.json").write_text('{"schema": 1, "student": "__import__(\'os\').system(\'x\')"}')
    return folder


def test_bad_files_cost_one_line_each_and_the_rest_is_marked(handins: Path, tmp_path: Path) -> None:
    out, book = tmp_path / "sheets", tmp_path / "autumn.sqlite"
    result = CliRunner().invoke(commands, ["mark", str(handins), "--out", str(out), "--book", str(book)])
    assert result.exit_code == 1
    lines = result.output.strip().splitlines()
    assert len(lines) == 3
    assert any("A. Quince" not in line and "of 62.5 points" in line for line in lines)
    assert [p.suffix for p in out.iterdir()].count(".html") == 2  # the sheet, and the class page
    assert book.exists()


def test_outcomes_as_json(handins: Path) -> None:
    result = CliRunner().invoke(commands, ["mark", str(handins), "--json"])
    rows = {row["file"]: row for row in json.loads(result.stdout)}
    assert rows["torn.json"]["status"] == "unreadable"
    assert rows["hostile.json"]["status"] == "unreadable"
    (good,) = [row for row in rows.values() if row["student"]]
    assert (good["student"], good["points"], good["out_of"]) == ("A. Quince", 1, 62.5)


def test_marking_a_file_that_is_not_there_is_wrong_use(tmp_path: Path) -> None:
    result = CliRunner().invoke(commands, ["mark", str(tmp_path / "gone.json")], standalone_mode=False)
    assert "there is no file gone.json" in str(result.exception)


def test_what_is_no_hand_in_by_its_name_is_said_and_capitals_do_not_lose_one(tmp_path: Path) -> None:
    folder = tmp_path / "handins"
    folder.mkdir()
    (folder / "TORN.JSON").write_text('{"schema": 1, "lesson": "seal-')
    (folder / "quince.json.txt").write_text("{}")
    (folder / "class.html").write_text("")
    (folder / ".hidden").write_text("")
    result = CliRunner().invoke(commands, ["mark", str(folder)])
    assert result.exit_code == 1
    first, second = result.output.strip().splitlines()
    assert first.startswith("TORN.JSON: the file is torn")
    assert second == "quince.json.txt: passed over, for a hand-in is a .json file; rename it if it is one"

"""``labkit prove``: a right and a wrong seal, a slip, a requirement without form."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from labkit.base import LabkitError
from labkit.cli import commands

STOP = "whenever not S1 then not K1 within 2 scans"


def prove(tmp_path: Path, text: str, *more: str):
    program = tmp_path / "program.st"
    program.write_text(text)
    return CliRunner().invoke(commands, ["prove", str(program), *more])


def test_a_right_seal_holds_and_what_is_taken_for_granted_is_said(tmp_path: Path) -> None:
    result = prove(tmp_path, "K1 := S1 AND (S2 OR K1_A);", "--require", STOP)
    assert result.exit_code == 0, result.output
    assert "holds: 11 states, all visited" in result.output
    assert "taken for granted:" in result.output


def test_a_seal_that_spans_the_stop_fails_with_a_story(tmp_path: Path) -> None:
    result = prove(tmp_path, "K1 := (S1 AND S2) OR K1_A;", "--require", STOP)
    assert result.exit_code == 1
    assert "fails" in result.output
    assert "S1 pressed" in result.output


def test_verdicts_as_json(tmp_path: Path) -> None:
    result = prove(tmp_path, "K1 := S1 AND (S2 OR K1_A);", "--require", STOP, "--require", "never K1", "--json")
    rows = json.loads(result.stdout)
    assert [row["outcome"] for row in rows] == ["holds", "fails"]


def test_a_slip_in_the_program_is_told_with_its_place(tmp_path: Path) -> None:
    result = prove(tmp_path, "K1 := S1 AND (S2 OR K1_A", "--require", STOP)
    assert isinstance(result.exception, LabkitError)
    assert "line 1" in str(result.exception)


def test_an_unknown_name_in_a_requirement_is_guessed(tmp_path: Path) -> None:
    result = prove(tmp_path, "K1 := S1;", "--require", "never K2")
    assert isinstance(result.exception, LabkitError)
    assert "K2" in str(result.exception)


def test_the_story_is_drawn(tmp_path: Path) -> None:
    picture = tmp_path / "story.svg"
    result = prove(tmp_path, "K1 := (S1 AND S2) OR K1_A;", "--require", STOP, "--picture", str(picture))
    assert result.exit_code == 1
    assert "broken here" in picture.read_text("utf-8")
    nothing = prove(tmp_path, "K1 := S1 AND S2;", "--require", STOP, "--picture", str(tmp_path / "none.svg"))
    assert nothing.exit_code == 0
    assert not (tmp_path / "none.svg").exists()

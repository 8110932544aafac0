"""``labkit effects``: the one-line answer, the three files, the exit code."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner

from labkit.cli import commands

STOP = "STOP stops: whenever pos:S1 then not pole:K1 or not pos:S1 within 4 scans"


def effects(tmp_path: Path, text: str, *more: str):
    program = tmp_path / "pump.st"
    program.write_text(text)
    return CliRunner().invoke(commands, ["effects", str(program), "--wires", "--may", "S1", "--may", "S2", *more])


def test_a_closed_circuit_stop_survives_every_wire(tmp_path: Path) -> None:
    """The closed-circuit principle (IEC 60204-1 on stop functions, from memory)."""
    files = [tmp_path / "t.html", tmp_path / "t.csv", tmp_path / "t.svg"]
    options = [w for option, f in zip(("--html", "--csv", "--picture"), files, strict=True) for w in (option, str(f))]
    result = effects(tmp_path, "K1 := S1 AND (S2 OR K1);", "--require", STOP, *options)
    assert result.exit_code == 0, result.output
    assert result.output.startswith("STOP stops: yes, with each of ")
    assert "pump: single faults" in files[0].read_text("utf-8")
    assert files[1].read_text("utf-8").splitlines()[0] == "fault,STOP stops,first seen"
    assert files[2].read_text("utf-8").startswith("<")


def test_what_does_not_hold_at_all(tmp_path: Path) -> None:
    result = effects(tmp_path, "K1 := S2 OR K1;", "--require", STOP)
    assert result.exit_code == 1
    assert result.output == "STOP stops: not even without a fault\n"

"""What a shell sees: 0 done, 1 something could not be marked or does not hold, 2 wrong use, never a traceback."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from labkit.base import data_path
from labkit.cli import main

HANDINS = data_path("datasets", "handins")
RIGHT, WRONG = "K1 := S1 AND (S2 OR K1_A);", "K1 := (S1 AND S2) OR K1_A;"
STOP = "whenever not S1 then not K1 within 2 scans"


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--version",), 0),
        (("mark", str(HANDINS / "seal-in--torn.json")), 1),
        (("mark", "no-such-file.json"), 2),
    ],
)
def test_the_exit_code_says_how_it_went(words: tuple[str, ...], code: int) -> None:
    run = [sys.executable, "-c", "from labkit.cli import main; main()", *words]
    done = subprocess.run(run, capture_output=True, text=True, check=False)
    assert done.returncode == code, done.stdout + done.stderr
    assert "Traceback" not in done.stderr


def ended(monkeypatch: pytest.MonkeyPatch, *words: str) -> object:
    """The exit code that the command hands to the shell; an error that it lets through fails the test."""
    monkeypatch.setattr(sys, "argv", ["labkit", *words])
    with pytest.raises(SystemExit) as end:
        main()
    return end.value.code


@pytest.mark.parametrize(
    ("words", "code"), [(("mark", str(HANDINS / "seal-in--blank.json")), 0), (("mark",), 2), (("nonsense",), 2)]
)
def test_other_words_end_alike(monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], code: int) -> None:
    assert ended(monkeypatch, *words) == code


@pytest.mark.parametrize(("program", "code"), [(RIGHT, 0), (WRONG, 1), ("K1 = S1;", 2)])
def test_a_proof_ends_by_its_verdict(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, program: str, code: int) -> None:
    (tmp_path / "p.st").write_text(program)
    assert ended(monkeypatch, "prove", str(tmp_path / "p.st"), "--require", STOP) == code

"""What a shell sees: 0 done, 1 something could not be marked or does not hold, 2 wrong use, never a traceback."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from labkit.base import data_path

HANDINS = data_path("datasets", "handins")
RIGHT, WRONG = "K1 := S1 AND (S2 OR K1_A);", "K1 := (S1 AND S2) OR K1_A;"
STOP = "whenever not S1 then not K1 within 2 scans"


def labkit(*words: str) -> subprocess.CompletedProcess[str]:
    code = "from labkit.cli import main; main()"
    return subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--version",), 0),
        (("mark", str(HANDINS / "seal-in--blank.json")), 0),
        (("mark", str(HANDINS / "seal-in--torn.json")), 1),
        (("mark", "no-such-file.json"), 2),
        (("mark",), 2),
        (("nonsense",), 2),
    ],
)
def test_the_exit_code_says_how_it_went(words: tuple[str, ...], code: int) -> None:
    done = labkit(*words)
    assert done.returncode == code, done.stdout + done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(("program", "code"), [(RIGHT, 0), (WRONG, 1), ("K1 = S1;", 2)])
def test_a_proof_ends_by_its_verdict(tmp_path: Path, program: str, code: int) -> None:
    (tmp_path / "p.st").write_text(program)
    done = labkit("prove", str(tmp_path / "p.st"), "--require", STOP)
    assert done.returncode == code, done.stdout + done.stderr
    assert "Traceback" not in done.stderr

"""The wheel carries data and notebooks, and the main job runs from it in an empty environment."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from this checkout with the build back end that is installed."""
    out = tmp_path_factory.mktemp("dist")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(ROOT)]
    subprocess.run(command, check=True, capture_output=True, text=True)
    (built,) = out.glob("labkit-*.whl")
    return built


def test_every_data_file_and_notebook_is_in_the_wheel(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    listed = subprocess.run(
        ["git", "ls-files", "datasets", "notebooks"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    shipped = [name for name in listed if name]
    assert shipped
    assert [name for name in shipped if f"labkit/_data/{name}" not in names] == []


def test_scripts_and_styles_of_widgets_are_in_the_wheel(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    files = [p for p in (ROOT / "labkit").rglob("*") if p.suffix in {".js", ".css", ".j2"}]
    assert [str(p.relative_to(ROOT)) for p in files if str(p.relative_to(ROOT)) not in names] == []


@pytest.mark.slow
def test_the_main_job_runs_from_the_wheel_alone(wheel: Path, tmp_path: Path) -> None:
    home = tmp_path / "empty"
    venv.create(home, with_pip=True)
    python = home / "bin" / "python"
    subprocess.run(
        [str(python), "-m", "pip", "install", "-q", "--disable-pip-version-check", f"{wheel}[plots]"],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    environment = {k: v for k, v in os.environ.items() if k not in {"PYTHONPATH"}}
    done = subprocess.run(
        [str(home / "bin" / "labkit"), "tour", "--out", str(tmp_path / "tour")],
        capture_output=True, text=True, cwd=tmp_path, env=environment, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    made = {p.suffix for p in (tmp_path / "tour").rglob("*") if p.is_file()}
    assert {".png", ".svg", ".html"} <= made

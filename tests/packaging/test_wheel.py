"""The wheel carries data and notebooks, and the main job runs from it beside nothing but what it says it needs."""

from __future__ import annotations

import email
import os
import subprocess
import sys
import venv
import zipfile
from importlib.metadata import Distribution, distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement

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


def needed(wheel: Path, extra: str) -> list[Distribution]:
    """What the wheel says it needs, and what that needs in its turn, as it is installed here."""
    with zipfile.ZipFile(wheel) as packed:
        (name,) = (name for name in packed.namelist() if name.endswith(".dist-info/METADATA"))
        said = email.message_from_bytes(packed.read(name)).get_all("Requires-Dist", [])
    ahead = [(Requirement(line), ("", extra)) for line in said]
    found: dict[str, Distribution] = {}
    seen: set[tuple[str, tuple[str, ...]]] = set()
    while ahead:
        asked, extras = ahead.pop()
        if asked.marker is not None and not any(asked.marker.evaluate({"extra": one}) for one in extras):
            continue
        wanted = "", *sorted(asked.extras)
        if (asked.name, wanted) not in seen:
            seen.add((asked.name, wanted))
            one = found[asked.name] = distribution(asked.name)
            ahead += [(Requirement(line), wanted) for line in one.requires or ()]
    return list(found.values())


@pytest.mark.slow
def test_the_main_job_runs_from_the_wheel_alone(wheel: Path, tmp_path: Path) -> None:
    home = tmp_path / "empty"
    venv.create(home)
    python = home / "bin" / "python"
    # linked and not fetched anew: a package that the wheel forgets to ask for is not there all the same
    (site,) = home.glob("lib/python*/site-packages")
    for one in needed(wheel, "plots"):
        for top in {file.parts[0] for file in one.files or ()} - {"..", "__pycache__"}:
            (site / top).symlink_to(str(one.locate_file(top)))
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--python", str(python)]
    subprocess.run([*pip, "install", "-q", "--no-index", f"{wheel}[plots]"], check=True, capture_output=True, text=True)
    environment = {k: v for k, v in os.environ.items() if k not in {"PYTHONPATH"}}
    done = subprocess.run(
        [str(home / "bin" / "labkit"), "tour", "--out", str(tmp_path / "tour")],
        capture_output=True, text=True, cwd=tmp_path, env=environment, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    made = {p.suffix for p in (tmp_path / "tour").rglob("*") if p.is_file()}
    assert {".png", ".svg", ".html"} <= made

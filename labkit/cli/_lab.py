"""``labkit lab``: a folder of notebooks of the user's own, and JupyterLab in it."""

from __future__ import annotations

import shutil
from pathlib import Path

import click

from labkit.base import LabkitError, data_path

__all__ = ["copy_notebooks", "lab"]


def copy_notebooks(folder: Path) -> tuple[list[str], list[str]]:
    """Copy the shipped notebooks into `folder`, never over a file that is there.

    Returns
    -------
    copied, kept
        Names relative to `folder`, sorted; `kept` were there already and are left as they are.
    """
    source = data_path("notebooks")
    copied, kept = [], []
    for path in sorted(source.rglob("*.ipynb")):
        name = path.relative_to(source)
        if ".ipynb_checkpoints" in name.parts:
            continue
        target = folder / name
        if target.exists():
            kept.append(str(name))
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target)
        copied.append(str(name))
    return copied, kept


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False), default=Path("labkit-notebooks"))
@click.option("--open/--no-open", "start", default=True, help="Start JupyterLab there (the default), or only copy.")
@click.option("--browser/--no-browser", default=True, help="Let JupyterLab open a browser window.")
@click.option("--port", type=int, default=None, help="Port on this machine; the first free one by default.")
def lab(folder: Path, start: bool, browser: bool, port: int | None) -> None:
    """Copy the notebooks to FOLDER (never over your own work) and open JupyterLab there."""
    copied, kept = copy_notebooks(folder)
    click.echo(f"{folder}: {len(copied)} notebook(s) copied, {len(kept)} of yours kept as they are")
    if not start:
        return
    try:
        from labkit.notebook.server import launch
    except ImportError as missing:
        raise LabkitError(
            f"JupyterLab is not installed here ({missing.name} is missing)",
            try_this="pip install 'labkit[notebook]', then run labkit lab again",
            where=f"the package {missing.name}",
            code="extra-missing",
        ) from None
    raise SystemExit(launch(folder, browser=browser, port=port))

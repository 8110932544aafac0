"""``labkit mark``: judge hand-ins from their data alone."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["mark"]


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
def mark(files: tuple[Path, ...]) -> None:
    """Mark hand-in FILES (or every hand-in of a folder); nothing a student wrote is ever run."""
    raise NotImplementedError(files)

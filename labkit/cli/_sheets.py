"""``labkit sheets``: the papers of a board, to print and to sign."""

from __future__ import annotations

from pathlib import Path

import click

from labkit.base import LabkitError

__all__ = ["sheets"]


@click.command()
@click.argument("board", default="orchard")
@click.option(
    "--out", type=click.Path(path_type=Path, file_okay=False), default=Path("sheets"), help="Folder to write."
)
def sheets(board: str, out: Path) -> None:
    """Write layout, control circuit, I/O list, wire list, terminal plan and checkout sheets of BOARD.

    BOARD is a shipped board's name or a board file. One PDF to print, and a CSV file for each table.
    """
    from labkit.board import load_board

    try:
        from labkit.plots.bench_sheets import write_papers

        made = write_papers(load_board(board), out)
    except ModuleNotFoundError as missing:
        raise LabkitError(
            f"printing needs {missing.name}, which is not installed here",
            try_this="pip install 'labkit[plots]'",
            code="extra-missing",
        ) from None
    for path in made:
        click.echo(str(path))

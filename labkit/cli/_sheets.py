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
@click.option(
    "--wiring",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Other wiring than the board's own: a .csv or .toml wire list.",
)
@click.option("--svg", is_flag=True, help="Write each drawing as an SVG file besides.")
@click.option(
    "--hunt", "students", multiple=True, metavar="NAME", help="Draw a hidden fault for NAME and print its cards."
)
@click.option("--seed", default=1, show_default=True, help="Another seed gives the same names other faults.")
def sheets(  # noqa: PLR0917 - one for each option
    board: str, out: Path, wiring: Path | None, svg: bool, students: tuple[str, ...], seed: int
) -> None:
    """Write drawings, lists, terminal plans and checkout sheets of BOARD.

    BOARD is a shipped board's name or a board file. One PDF to print, and a CSV file for each table. With --hunt
    also fault-reports.pdf for the students and fault-cards.pdf for the instructor.
    """
    from labkit.board import load_board, load_wiring

    found = load_board(board)
    wires = None if wiring is None else load_wiring(wiring, board=found)
    try:
        from labkit.plots.bench_sheets import write_papers
        from labkit.plots.fault_sheets import write_cards

        made = list(write_papers(found, out, wires, svg=svg))
        if students:
            from labkit.faults import deck

            drawn = deck(board if board == found.name else found).draw_class(students, seed)
            made += write_cards([drawn[name].card for name in students], out, found.title)
    except ModuleNotFoundError as missing:
        raise LabkitError(
            f"printing needs {missing.name}, which is not installed here",
            try_this="pip install 'labkit[plots]'",
            code="extra-missing",
        ) from None
    for path in made:
        click.echo(str(path))

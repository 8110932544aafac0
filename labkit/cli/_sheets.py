"""``labkit sheets``: the papers of a board, to print and to sign."""

from __future__ import annotations

from pathlib import Path

import click

from labkit.base import LabkitError, read_text

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
@click.option(
    "--class",
    "class_list",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="As --hunt for every name in FILE: a text file, one name in a line.",
)
@click.option("--seed", default=1, show_default=True, help="Another seed gives the same names other faults.")
def sheets(  # noqa: PLR0917 - one for each option
    board: str, out: Path, wiring: Path | None, svg: bool, students: tuple[str, ...], class_list: Path | None, seed: int
) -> None:
    """Write drawings, lists, terminal plans and checkout sheets of BOARD.

    BOARD is a shipped board's name or a board file. One PDF to print, and a CSV file for each table. With --hunt
    or --class also fault-reports.pdf for the students and fault-cards.pdf for the instructor.
    """
    from labkit.board import load_board, load_wiring

    found = load_board(board)
    wires = None if wiring is None else load_wiring(wiring, board=found)
    names = (*students, *_names(class_list))
    if names and wires is not None:
        raise LabkitError(
            "hidden faults are drawn on the board as its own file has it wired, not on another wiring",
            where="--wiring with --hunt or --class",
            try_this="print the papers of the wiring first, the hunts without --wiring",
            code="sheets-options",
        )
    try:
        from labkit.plots.bench_sheets import write_papers
        from labkit.plots.fault_sheets import write_cards

        cards = []
        if names:  # before anything is written: what cannot be drawn stops here
            from labkit.faults import deck

            drawn = deck(board if board == found.name else found).draw_class(names, seed)
            cards = [drawn[name].card for name in names]
        made = list(write_papers(found, out, wires, svg=svg))
        if cards:
            made += write_cards(cards, out, found.title)
    except ModuleNotFoundError as missing:
        raise LabkitError(
            f"printing needs {missing.name}, which is not installed here",
            try_this="pip install 'labkit[plots]'",
            where=f"the package {missing.name}",
            code="extra-missing",
        ) from None
    for path in made:
        click.echo(str(path))


def _names(class_list: Path | None) -> tuple[str, ...]:
    """The names of a class list; empty lines do not count."""
    if class_list is None:
        return ()
    names = tuple(line.strip() for line in read_text(class_list).lstrip("\ufeff").splitlines() if line.strip())
    if not names:
        raise LabkitError(
            f"there is no name in {class_list.name}",
            where=str(class_list),
            try_this="write one name in each line",
            code="class-list-empty",
        )
    return names

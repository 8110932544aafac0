"""``labkit effects``: the same requirements once per single fault. Does STOP still stop?"""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["effects"]


@click.command()
@click.argument("program", type=click.Path(path_type=Path))
@click.option("--board", default="orchard", help="The wired board it runs on.")
@click.option(
    "--require",
    "requirements",
    multiple=True,
    required=True,
    help='What must hold, with a name if you like: "STOP: whenever not S1 then not K1"; may be given often.',
)
@click.option("--may", multiple=True, help="What may happen, e.g. S1, S2, S0; may be given often.")
@click.option("--wires", is_flag=True, help="Only every wire off, one at a time, in place of the whole catalogue.")
@click.option("--html", "page", type=click.Path(path_type=Path), help="Write the table as a page, with the stories.")
@click.option("--csv", "sheet", type=click.Path(path_type=Path), help="Write the table as CSV.")
@click.option("--picture", type=click.Path(path_type=Path), help="Draw what is lost as SVG.")
@click.pass_context
def effects(  # noqa: PLR0917 - click hands over the options by name
    context: click.Context,
    program: Path,
    board: str,
    requirements: tuple[str, ...],
    may: tuple[str, ...],
    wires: bool,
    page: Path | None,
    sheet: Path | None,
    picture: Path | None,
) -> None:
    """Prove PROGRAM against requirements once per single fault of the board.

    Answers in one line per requirement with which faults it is lost; a page or CSV also says what would show each
    fault first. Ends with 0 if nothing is lost with any fault, 1 otherwise.

    Example: --require "STOP: whenever pos:S1 then not pole:K1 or not pos:S1 within 4 scans" --may S1 --may S2
    """
    from labkit.base import read_text, write_atomic
    from labkit.bench import Bench
    from labkit.verify import failure_effects

    bench = Bench(board)
    bench.load(read_text(program))
    asked = dict(_named(text) for text in requirements)
    look = any(target is not None for target in (page, sheet, picture))
    found = failure_effects(bench, asked, None if wires else "catalogue", may=may or None, look=look)
    for number in range(len(found.asked)):
        click.echo(found.answer(number))
    title = f"{program.stem}: single faults and what they take away"
    if page is not None:
        write_atomic(page, found.html(title))
    if sheet is not None:
        write_atomic(sheet, found.csv())
    if picture is not None:
        from labkit.plots import effects_svg

        write_atomic(picture, effects_svg(found.table(title, lost_only=True)))
    context.exit(1 if found.dangerous or any(v is None or v.outcome != "holds" for v in found.rows[0][1]) else 0)


def _named(text: str) -> tuple[str, str]:
    """A name before the first colon that is followed by a blank; signals have none after theirs."""
    name, colon, rest = text.partition(": ")
    return (name.strip(), rest.strip()) if colon else (text, text)

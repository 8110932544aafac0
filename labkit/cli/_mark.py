"""``labkit mark``: judge hand-ins from their data alone."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import click

from labkit.base import write_atomic

__all__ = ["mark"]


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--lesson", help="Mark only hand-ins of this lesson: a shipped one's id, or a lesson file.")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), help="Folder for a mark sheet (HTML) each.")
@click.option("--book", type=click.Path(path_type=Path, dir_okay=False), help="Mark book (SQLite) to add to.")
@click.option("--workers", type=click.IntRange(1, 64), default=1, help="Processes to share the work.")
@click.option("--text", "as_text", is_flag=True, help="Print each mark sheet, not only its one line.")
@click.option("--json", "as_json", is_flag=True, help="Print the outcomes as JSON.")
@click.pass_context
def mark(  # noqa: PLR0917 - click hands over the options by name
    context: click.Context,
    files: tuple[Path, ...],
    lesson: str | None,
    out: Path | None,
    book: Path | None,
    workers: int,
    as_text: bool,
    as_json: bool,
) -> None:
    """Mark hand-in FILES, or every hand-in of a folder. Nothing that a student wrote is ever run as code.

    Ends with 0 if every file was marked, 1 if one could not be marked or needs a look, 2 for wrong use.
    """
    from labkit.lessons import class_html, exit_code, mark_files

    now = datetime.now(UTC).isoformat(timespec="seconds")
    outcomes = mark_files(files, lesson=lesson, book=book, marked_at=now, workers=workers)
    if as_json:
        rows = [
            {
                "file": o.path.name,
                "status": o.status,
                "message": o.message,
                "student": o.sheet.student if o.sheet else None,
                "points": o.sheet.points if o.sheet else None,
                "out_of": o.sheet.out_of if o.sheet else None,
            }
            for o in outcomes
        ]
        click.echo(json.dumps(rows, indent=1))
    else:
        for o in outcomes:
            click.echo(f"{o.path.name}: {o.message}", err=o.sheet is None)
            if as_text and o.sheet is not None:
                click.echo(o.sheet.to_text())
    for name in _passed_over(files):
        click.echo(f"{name}: passed over, for a hand-in is a .json file; rename it if it is one", err=True)
    sheets = [o.sheet for o in outcomes if o.sheet is not None]
    if out is not None:
        for o in outcomes:
            if o.sheet is not None:
                write_atomic(out / f"{o.path.stem}.html", o.sheet.to_html())
        if len({sheet.lesson for sheet in sheets}) == 1:
            write_atomic(out / "class.html", class_html(sheets, f"Marks: {sheets[0].lesson}"))
    context.exit(exit_code(outcomes))


_OURS = frozenset({".json", ".html", ".sqlite", ".sqlite-journal", ".sqlite-wal", ".sqlite-shm"})


def _passed_over(paths: tuple[Path, ...]) -> list[str]:
    """Files of the folders that are neither hand-ins nor what marking writes: said, so that no hand-in is lost."""
    return [
        file.name
        for folder in paths
        if folder.is_dir()
        for file in sorted(folder.iterdir())
        if file.is_file() and not file.name.startswith(".") and file.suffix.lower() not in _OURS
    ]

"""``labkit prove``: does a requirement hold in everything that can happen?"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from labkit.verify import Verdict

__all__ = ["prove"]


@click.command()
@click.argument("program", type=click.Path(path_type=Path))
@click.option("--board", default="orchard", help="The wired board it runs on; 'none' explores the program alone.")
@click.option("--require", "requirements", multiple=True, required=True, help="What must hold; may be given often.")
@click.option("--may", multiple=True, help="What may happen, e.g. S2, K1.aux, power, wire:101; may be given often.")
@click.option(
    "--export",
    "target",
    type=click.Path(path_type=Path),
    help="Write the question for an outside tool instead of answering it: FILE.aag or .aig (AIGER), .smv.",
)
@click.option("--picture", type=click.Path(path_type=Path), help="Draw the first story that breaks one, as SVG.")
@click.option("--json", "as_json", is_flag=True, help="Print the verdicts as JSON.")
@click.pass_context
def prove(  # noqa: PLR0917 - click hands over the options by name
    context: click.Context,
    program: Path,
    board: str,
    requirements: tuple[str, ...],
    may: tuple[str, ...],
    target: Path | None,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Prove PROGRAM (a file of ladder text or Structured Text) against requirements.

    Each is visited in every reachable state of program, wiring and contactor. A requirement that fails is told as the
    shortest story that breaks it. Ends with 0 if all hold, 1 if one fails or stays undecided.

    With --export the system is written before anything is explored: its output "bad" is true in a scan that breaks
    the requirement, and a way to it of n steps is a story of n scans.

    Example: --require "whenever not S1 then not K1 within 2 scans"
    """
    from labkit.base import read_text
    from labkit.verify import prove as visit

    text = read_text(program)
    if target is not None:
        _export(text, board, requirements, may, target)
        return
    verdicts = [
        (asked, visit(text, asked, board=None if board == "none" else board, may=may or None)) for asked in requirements
    ]
    if picture is not None:
        _draw(verdicts, picture)
    if as_json:
        rows = [
            {
                "requirement": asked,
                "outcome": v.outcome,
                "states": v.states,
                "scans": v.depth,
                "story": str(v.story or ""),
            }
            for asked, v in verdicts
        ]
        click.echo(json.dumps(rows, indent=1))
    else:
        for asked, verdict in verdicts:
            click.echo(f"{asked}\n  {verdict!r}")
            if verdict.story is not None:
                click.echo("".join(f"    {line}\n" for line in str(verdict.story).splitlines()), nl=False)
        click.echo("taken for granted:")
        for sentence in dict.fromkeys(s for _, v in verdicts for s in v.assumptions):
            click.echo(f"  {sentence}")
    context.exit(0 if all(v.outcome == "holds" for _, v in verdicts) else 1)


def _draw(verdicts: list[tuple[str, Verdict]], picture: Path) -> None:
    from labkit.base import write_atomic
    from labkit.plots import story_svg

    broken = next(((asked, v.story) for asked, v in verdicts if v.story is not None and v.story.moments), None)
    if broken is None:
        click.echo("nothing to draw: no requirement was broken", err=True)
        return
    asked, story = broken
    write_atomic(picture, story_svg(story.shown(asked)))


def _export(text: str, board: str, requirements: tuple[str, ...], may: tuple[str, ...], target: Path) -> None:
    from labkit.verify import export

    if len(requirements) > 1:
        raise click.UsageError("--export writes one question: give --require once")
    flat = export(text, requirements[0], target, board=None if board == "none" else board, may=may or None)
    click.echo(f"wrote {target}: {len(flat.inputs)} inputs, {len(flat.latches)} latches, {len(flat.ands)} gates")

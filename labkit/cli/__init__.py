"""The command line: thin commands over the library, no rule of its own.

Exit codes: 0 done, 1 something could not be marked or did not hold, 2 wrong use.
Start reading at :func:`main`; each command is one module of this folder.
"""

from __future__ import annotations

import click

import labkit
from labkit.base import LabkitError
from labkit.cli._effects import effects
from labkit.cli._lab import lab
from labkit.cli._mark import mark
from labkit.cli._prove import prove
from labkit.cli._sheets import sheets
from labkit.cli._speed import speed
from labkit.cli._tour import tour

__all__ = ["commands", "main"]


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(labkit.__version__, message="labkit %(version)s")
def commands() -> None:
    """A motor-control trainer board as a library, and the lessons on it as notebooks."""


commands.add_command(tour)
commands.add_command(lab)
commands.add_command(mark)
commands.add_command(prove)
commands.add_command(effects)
commands.add_command(sheets)
commands.add_command(speed)


def main() -> None:
    """Run the command line; a person's mistake ends in one clear message, not a traceback."""
    try:
        # outside stand-alone mode click hands back the exit code of `context.exit`
        code = commands.main(standalone_mode=False)
    except click.exceptions.Abort:
        click.echo("stopped", err=True)
        raise SystemExit(130) from None
    except click.ClickException as wrong:
        wrong.show()
        raise SystemExit(2) from None
    except LabkitError as wrong:
        click.echo(str(wrong), err=True)
        raise SystemExit(2) from None
    raise SystemExit(code if isinstance(code, int) else 0)

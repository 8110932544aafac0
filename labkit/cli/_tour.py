"""``labkit tour``: the main job, headless."""

from __future__ import annotations

import click

__all__ = ["tour"]


@click.command()
def tour() -> None:
    """Wire the demo board, prove it dead, power it up, check it, run a lesson, mark it."""
    raise NotImplementedError

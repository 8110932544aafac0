"""A story of a proof as a timing diagram, the moment that breaks the requirement marked.

The story comes as a record (``verdict.story.shown(title)``): what to draw of which trace. Nothing here knows proofs.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from labkit.plots._record import TraceLike
from labkit.plots.timing import timing, timing_svg

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["ShownLike", "draw_story", "story_svg"]


class ShownLike(Protocol):
    """What is drawn."""

    @property
    def trace(self) -> TraceLike:
        """The record."""

    @property
    def signals(self) -> Sequence[str]:
        """The rows."""

    @property
    def marks(self) -> Sequence[tuple[int, str]]:
        """Moments and words."""

    @property
    def span(self) -> tuple[int, int]:
        """From and to, in microseconds of the record."""

    @property
    def title(self) -> str:
        """The heading."""


def draw_story(shown: ShownLike, *, ax: Axes | None = None) -> Axes:
    """Draw it into `ax`, or into a figure of its own; the axis counts from the start of what is shown."""
    return timing(
        shown.trace, shown.signals, ax=ax, span=shown.span, marks=shown.marks, zero=shown.span[0], title=shown.title
    )


def story_svg(shown: ShownLike, *, width: float = 960.0) -> str:
    """The same as SVG text. Needs no matplotlib."""
    return timing_svg(
        shown.trace,
        shown.signals,
        span=shown.span,
        marks=shown.marks,
        zero=shown.span[0],
        title=shown.title,
        width=width,
    )

"""One line below a form: how the last thing that was done went."""

from __future__ import annotations

import anywidget
import traitlets

from labkit.notebook._page import script, sheet

__all__ = ["SaidLine"]


class SaidLine(anywidget.AnyWidget):
    """A line that stays on the page and only changes its words.

    Notes
    -----
    A screen reader reads changes inside an element that it knows. A line that is made anew with its words in it,
    as the toolkit's HTML field makes it, is often not read at all.

    The box with the class ``lk-keys`` that it stands in keeps plain keys to itself: JupyterLab takes an arrow on a
    list of options, or a letter, for a command of its own.
    """

    _esm = script("said_line")
    _css = sheet("said_line")
    value = traitlets.Unicode("", help="the sentence").tag(sync=True)
    good = traitlets.Bool(True, help="whether it went well").tag(sync=True)
    times = traitlets.Int(0, help="counts what was said: the same sentence twice is read twice").tag(sync=True)

    def say(self, text: str, *, good: bool) -> None:
        """Say a sentence."""
        with self.hold_sync():
            self.value, self.good, self.times = text, good, self.times + 1

    def __repr__(self) -> str:
        return f"SaidLine({self.value!r})"

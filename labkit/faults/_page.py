"""The reference page of the faults, printed from the catalogue and its notes.

``python -m labkit.faults._page > docs/reference/faults.md`` renews the page.
"""

from __future__ import annotations

import sys

from labkit.board import load_board
from labkit.faults.catalogue import every_single_fault
from labkit.faults.notes import load_notes

__all__ = ["faults_page"]

_HEAD = """\
# Faults

Printed from the catalogue and `datasets/faults` by `python -m labkit.faults._page`; do not edit. Each measurement is
held against the bench by a test: with the example fault in, the bench shows the bands of the last column, and at least
one of them is not what the healthy board shows.

Bands of volts: dead to 1 V, low to 5 V, undefined to 11 V, sag to 20.4 V, live above; reversed below -1 V. Bands of
ohms: joined to 2, few ohm to 100, a coil to 300, a lamp to 2000, electronics to 100,000, high to 40,000,000, then OL.
"""


def faults_page(board: str = "orchard") -> str:
    """The page as Markdown."""
    notes, faults = load_notes(board), every_single_fault(load_board(board))
    lines = [_HEAD, f"The {board} board can have {len(faults)} single faults.", ""]
    lines += [
        "| code | fault | on this board | shows | wrong first guess | measurement that decides | example: bench shows |"
    ]
    lines += ["|---|---|---|---|---|---|---|"]
    for code, note in notes.codes.items():
        count = sum(f.code == code for f in faults)
        bench = "; ".join(f"{test} = {band}" for test, band in note.decides)
        cells = (code, note.title, str(count), note.shows, note.guess, note.measure, f"`{note.example}`: {bench}")
        lines.append("| " + " | ".join(cells) + " |")
    lines += ["", "## Not on this board", ""]
    lines += [f"- {code}: {why}" for code, why in notes.absent.items()]
    lines += ["", "## Faults that no test here tells apart", ""]
    lines += [f"- {', '.join(f'`{name}`' for name in group.faults)}: {group.why}" for group in notes.alike]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.stdout.write(faults_page())

"""The reference page of the faults, printed from the catalogue and its notes.

``python -m labkit.faults._page > docs/reference/faults.md`` renews the page.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable

from labkit.board import load_board
from labkit.faults.catalogue import every_single_fault
from labkit.faults.notes import load_notes

__all__ = ["faults_page"]

_HEAD = """\
# Faults

Printed from the catalogue and `datasets/faults` by `python -m labkit.faults._page`; do not edit. Everything that can
be held against the bench is, by a test: with the example fault in, the bench shows the symptom and the bands of the
measurement, and at least one of each is not what the healthy board shows; a fault said to be hidden changes no lamp,
indicator or contactor; and where the wrong first guess is a fault of its own, that one shares a symptom and the
measurement tells the two apart.

Bands of volts: dead to 1 V, low to 5 V, undefined to 11 V, sag to 20.4 V, live above; reversed below -1 V. Bands of
ohms: joined to 2, few ohm to 100, a coil to 300, a lamp to 2000, electronics to 100,000, high to 40,000,000, then OL.
"""

_COLUMNS = (
    "code",
    "fault",
    "on this board",
    "shows",
    "wrong first guess",
    "measurement that decides",
    "example: symptom on the bench",
    "measurement on the bench",
)


def faults_page(board: str = "orchard") -> str:
    """The page as Markdown."""
    notes, faults = load_notes(board), every_single_fault(load_board(board))
    lines = [_HEAD, f"The {board} board can have {len(faults)} single faults.", ""]
    lines += [_row(_COLUMNS), _row(["---"] * len(_COLUMNS))]
    for code, note in notes.codes.items():
        count = sum(f.code == code for f in faults)
        guess = note.guess + (f" (`{note.mistaken}`)" if note.mistaken else "")
        symptom = "hidden" if note.hidden else _pairs(note.symptom)
        example = f"`{note.example}`: {symptom}"
        lines.append(
            _row((code, note.title, str(count), note.shows, guess, note.measure, example, _pairs(note.decides)))
        )
    lines += ["", "## Not on this board", ""]
    lines += [f"- {code}: {why}" for code, why in notes.absent.items()]
    lines += ["", "## Faults that no test here tells apart", ""]
    if not notes.alike:
        lines.append(
            f"None: each of the {len(faults)} faults differs from the sound board, and from every other, in some look "
            "or reading of some situation."
        )
    if notes.only:
        lines += ["", "With a kind of test left out, there are some:", ""]
        lines += [f"- without {one.without}: {_named(one.faults)}, because {one.why}" for one in notes.only]
    lines += [f"- {', '.join(f'`{name}`' for name in group.faults)}: {group.why}" for group in notes.alike]
    return "\n".join(lines) + "\n"


def _named(faults: Iterable[str]) -> str:
    return ", ".join("the sound board" if name == "healthy" else f"`{name}`" for name in faults)


def _pairs(pairs: Iterable[tuple[str, str]]) -> str:
    return "; ".join(f"{test} = {band}" for test, band in pairs)


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cells) + " |"


if __name__ == "__main__":
    sys.stdout.write(faults_page())

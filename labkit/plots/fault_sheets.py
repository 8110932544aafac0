"""Cards of hunts on paper: what the operator says for the student, what is wrong for the instructor."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from labkit.base import write_atomic
from labkit.plots._paper_pages import Paper, table_pages, text_page
from labkit.plots.bench_sheets import pdf_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from labkit.faults import FaultCard, Measured

__all__ = ["fault_card_page", "log_paper", "symptom_card_page", "write_cards"]

_STEPS = (
    "Look and listen first. Then say which halves of the circuit the symptom leaves.",
    "Write what you expect before each reading. No ohms on a live board. One change at a time.",
    "Name location and cause, mend, and test the whole function again.",
)
_LINES = 18  # of the log: a hunt of a dozen suspects takes half of them


def symptom_card_page(over: str, card: FaultCard) -> Figure:
    """The student's page: the operator's words and the history, and how to go about it."""
    said = " ".join(card.symptom.sentences) or "Nobody has noticed anything; it is a routine check."
    return text_page(
        over,
        f"Fault report for {card.student}",
        (
            ("The operator says", (f"\u201c{said}\u201d",)),
            ("History", (card.symptom.history,)),
            ("How to go about it", _STEPS),
            ("What I found: location and cause", ("_" * 100, "", "_" * 100)),
            ("What I did, and the test of the function afterwards", ("_" * 100, "", "_" * 100)),
        ),
    )


def log_paper(student: str = "") -> Paper:
    """The table that a student fills in while searching."""
    headings = ("no", "time", "state of the board", "mode", "red", "black", "expected", "reading", "what it rules out")
    rows = tuple((str(n), *[""] * 8) for n in range(1, _LINES + 1))
    title = f"Log of the search: {student}" if student else "Log of the search"
    return Paper("hunt-log", title, headings, rows, (4, 10, 24, 10, 12, 12, 14, 14, 44), by_hand=True)


def fault_card_page(over: str, card: FaultCard) -> Figure:
    """The instructor's page: what is wrong, the wrong first guess, the measurements that decide."""
    decides = tuple(
        f"{m.test}: {_reads(m)}; rules out {m.rules_out} of {len(card.suspects) - 1} other suspects"
        for m in card.measured
    )
    return text_page(
        over,
        f"Fault card for {card.student} (instructor)",
        (
            ("What is wrong", (f"{card.fault.location}: {card.fault.cause} ({card.fault.code}, {card.fault.id})",)),
            ("What the student is told", (" ".join(card.symptom.sentences), card.symptom.history)),
            ("Likely wrong first guess", (card.guess or "none is known",)),
            ("Measurements that decide", decides or ("none with the meter alone",)),
            ("Suspects", (", ".join(card.suspects),)),
            ("The best search", (f"takes {card.minutes:.1f} minutes.",)),
        ),
        signed=False,
    )


def _reads(measured: Measured) -> str:
    if measured.faulty == measured.sound:  # it decides all the same: other suspects would read differently
        return f"{measured.faulty}, as on a sound board"
    return f"{measured.faulty} with the fault, {measured.sound} on a sound board"


def write_cards(cards: Iterable[FaultCard], folder: str | Path, over: str) -> tuple[Path, ...]:
    """Write ``fault-reports.pdf`` for the students and ``fault-cards.pdf`` for the instructor.

    Parameters
    ----------
    over
        The line over every page, such as the board's title.

    Returns
    -------
    The two files.
    """
    cards, folder = tuple(cards), Path(folder)
    reports = [
        page for card in cards for page in (symptom_card_page(over, card), *table_pages(over, log_paper(card.student)))
    ]
    mine = [fault_card_page(over, card) for card in cards]
    return (
        write_atomic(folder / "fault-reports.pdf", pdf_of(f"{over}: fault reports", reports)),
        write_atomic(folder / "fault-cards.pdf", pdf_of(f"{over}: fault cards", mine)),
    )

"""Five ways to hold a motor, tried on the bench: what each does in twelve events, and how short a press may be.

Nothing here knows an answer. Each cell is a fresh bench on which the event is made to happen, at several
phases of the scan, and its word is read off the trace. The programs are the ladder files ``hold-*.ld``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from labkit.base import Duration, us
from labkit.bench._hold_trials import EVENTS, Trial
from labkit.bench._holds import HOLDS, PROVING, Setup, hold_program
from labkit.bench._press import PressSweep, press_sweep
from labkit.bench.errors import BenchError
from labkit.logic import Program

__all__ = [
    "EVENTS",
    "HOLDS",
    "PROVING",
    "Cell",
    "HoldTable",
    "PressSweep",
    "Setup",
    "hold_program",
    "hold_table",
    "press_sweep",
]

_PHASES = tuple(us(n) for n in (0, 2_600, 5_100, 9_700))  # spread over a 10 ms scan, on no other round figure


@dataclass(frozen=True, slots=True)
class Cell:
    """What came out of one event with one way to hold.

    Parameters
    ----------
    word
        The outcome. Where the trials or the phases of the scan disagree, every outcome, joined by "or".
    tried
        How many benches it took.
    """

    word: str
    tried: int


@dataclass(frozen=True, slots=True)
class HoldTable:
    """Events down, ways to hold across.

    Examples
    --------
    ``hold_table().word("start tap 45 ms", "A")`` is ``"holds"``.
    """

    cells: dict[tuple[str, str], Cell]
    events: tuple[str, ...]
    holds: tuple[str, ...]

    def word(self, event: str, hold: str) -> str:
        """The outcome of one cell."""
        return self.cells[event, hold].word

    def rows(self) -> list[list[str]]:
        """The table as text, the heading first."""
        head = ["event", *self.holds]
        return [head, *([event, *(self.word(event, hold) for hold in self.holds)] for event in self.events)]


def hold_table(
    setup: Setup | None = None,
    *,
    events: Iterable[str] = tuple(EVENTS),
    holds: Iterable[str] = tuple(HOLDS),
    phases: Sequence[Duration] = _PHASES,
) -> HoldTable:
    """Try events with ways to hold, each cell on benches of its own.

    Parameters
    ----------
    setup
        The bench; the orchard board with family alder if left out.
    events, holds
        Rows and columns, all of them if left out.
    phases
        How long after a scan began the event comes.

    Raises
    ------
    BenchError
        If there is no such row or column, or a bench fails.
    """
    setup = setup or Setup()
    events, holds = tuple(events), tuple(holds)
    for event in events:
        if event not in EVENTS:
            raise BenchError(f"there is no event {event!r}", try_this="one of: " + "; ".join(EVENTS), code="hold-event")
    cells = {
        (event, hold): _cell(setup, hold_program(hold), EVENTS[event], phases) for event in events for hold in holds
    }
    return HoldTable(cells, events, holds)


def _cell(setup: Setup, program: Program, trials: Sequence[Callable[[Trial], str]], phases: Sequence[Duration]) -> Cell:
    words = [trial(Trial(setup.bench(program), phase)) for trial in trials for phase in phases]
    return Cell(" or ".join(dict.fromkeys(words)), len(words))

"""Drawing hunts: for each student a fault of their own, all of them about equally hard.

The suspects of a hunt are faults with the same symptom card: what the operator says leaves every one of them open,
so that only readings and looks can tell. Every choice depends on the seed, the student's name and the board alone.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from labkit.bench import Bench
from labkit.board import Board, load_board
from labkit.faults.cards import FaultCard, SymptomCard, fault_card, symptom_card
from labkit.faults.catalogue import Fault, every_single_fault
from labkit.faults.changes import Joined, Joint, Moved, Opened
from labkit.faults.dictionary import FaultDictionary, build_dictionary
from labkit.faults.errors import FaultError
from labkit.faults.live import LiveHunt, at_rest
from labkit.faults.notes import Notes, load_notes
from labkit.faults.scoring import Hunt
from labkit.faults.situations import MINUTES, tests_of

__all__ = ["Deck", "DrawnHunt", "Pool", "deck", "draw_hunt", "draw_hunts"]

Pool = Literal["wiring", "all"]
FEWEST, MOST = 4, 12  # suspects of a hunt
ATTEMPTS = 60
SOUNDED = 9  # so many draws tell how hard a class's hunts are in the middle
ONE_READING = MINUTES["volts"]


@dataclass(frozen=True)
class DrawnHunt:
    """A hunt with its two cards.

    Parameters
    ----------
    hunt
        The hunt on a live bench.
    symptom
        For the student.
    card
        For the instructor.
    dictionary
        What the suspects show: for the marking.
    minutes
        How hard it is: minutes that the best search takes until this fault is found.
    """

    student: str
    hunt: LiveHunt
    symptom: SymptomCard
    card: FaultCard
    dictionary: FaultDictionary
    minutes: float


@dataclass(frozen=True)
class Deck:
    """The faults that can be drawn, in groups that an operator cannot tell apart.

    Parameters
    ----------
    board
        Whose faults they are.
    front
        What each shows from the front; with every test of the board no further work is needed for a hunt.
    groups
        Ids of faults with the same symptom card.
    """

    board: Board
    front: FaultDictionary
    groups: tuple[tuple[str, ...], ...]
    fresh: Callable[[], Bench]
    notes: Notes

    @property
    def truths(self) -> tuple[str, ...]:
        """Every fault that can be drawn."""
        return tuple(name for group in self.groups for name in group)

    def draw(
        self, student: str, seed: int, *, like: DrawnHunt | float | None = None, within: float = 0.25
    ) -> DrawnHunt:
        """Draw a hunt for a student.

        Parameters
        ----------
        like
            Another hunt, or minutes: as hard as that.
        within
            How far the minutes may differ, as a part of those of `like`; the minute of one reading is always
            allowed.

        Raises
        ------
        FaultError
            If no hunt as hard as that is found.
        """
        return self._draw(student, seed, like, within, frozenset())

    def draw_class(self, students: Iterable[str], seed: int, *, within: float = 0.25) -> dict[str, DrawnHunt]:
        """Draw a hunt for each student: each has another fault, and all are about as hard as the middle one.

        Raises
        ------
        FaultError
            If there are not so many faults as hard as that, or a name stands twice.
        """
        names = list(students)
        if len(set(names)) < len(names):
            raise FaultError("a student's name stands twice", code="fault-twice")
        first = [self._draw(name, seed, None, within, frozenset()).minutes for name in names[:SOUNDED]]
        middle = sorted(first)[len(first) // 2] if first else None
        found: dict[str, DrawnHunt] = {}
        for name in names:
            taken = frozenset(drawn.hunt.truth for drawn in found.values())
            found[name] = self._draw(name, seed, middle, within, taken)
        return found

    def _draw(
        self, student: str, seed: int, like: DrawnHunt | float | None, within: float, taken: frozenset[str]
    ) -> DrawnHunt:
        wanted = like.minutes if isinstance(like, DrawnHunt) else like
        free = [(group, name) for group in self.groups for name in group if name not in taken]
        chance = random.Random(f"hunt {seed} {student}")
        chance.shuffle(free)
        for group, truth in free[:ATTEMPTS]:
            others = [name for name in group if name != truth]
            some = {truth, *chance.sample(others, min(len(others), MOST - 1))}
            suspects = [fault for fault in self.front.faults if fault.id in some]
            dictionary = self._worked(suspects)
            minutes = Hunt(dictionary, tuple(f.id for f in suspects), truth).difficulty
            if wanted is None or abs(minutes - wanted) <= max(within * wanted, ONE_READING) + 1e-9:
                return self._made(student, suspects, truth, dictionary, minutes)
        raise FaultError(
            f"no hunt of {wanted:g} minutes was found for {student}" if wanted else f"no hunt is left for {student}",
            try_this="allow a wider band of difficulty (within=), or another pool of faults",
            code="fault-draw",
        )

    def _worked(self, suspects: Sequence[Fault]) -> FaultDictionary:
        tests = tests_of(self.board)
        if len(self.front.tests) == len(tests):
            return self.front.select([fault.id for fault in suspects])
        return build_dictionary(self.board, suspects, tests)

    def _made(
        self, student: str, suspects: Sequence[Fault], truth: str, dictionary: FaultDictionary, minutes: float
    ) -> DrawnHunt:
        hunt = LiveHunt(self.fresh, suspects, truth)
        symptom = symptom_card(self.board, dictionary, hunt.fault)
        card = fault_card(
            student,
            hunt.fault,
            symptom,
            dictionary=dictionary,
            notes=self.notes,
            fresh=self.fresh,
            minutes=minutes,
        )
        return DrawnHunt(student, hunt, symptom, card, dictionary, minutes)


def deck(board: Board | str = "orchard", pool: Pool = "all", *, dictionary: FaultDictionary | None = None) -> Deck:
    """Work the board's faults from the front and group those that an operator cannot tell apart.

    Parameters
    ----------
    pool
        ``"wiring"``: breaks, bad joints, touches and wires landed wrongly; ``"all"``: dead parts too.
    dictionary
        One with every fault and every test of the board, if it is at hand: nothing need be worked then.

    Raises
    ------
    FaultError
        If there is no such pool.
    """
    if isinstance(board, str) and dictionary is None:
        return _shipped_deck(board, pool)
    return _deck(load_board(board) if isinstance(board, str) else board, pool, dictionary)


@lru_cache(maxsize=4)  # a deck of a shipped board never changes, and working its faults takes some seconds
def _shipped_deck(board: str, pool: Pool) -> Deck:
    return _deck(load_board(board), pool, None)


def _deck(board: Board, pool: Pool, dictionary: FaultDictionary | None) -> Deck:
    if pool not in ("wiring", "all"):
        raise FaultError(f"there is no pool {pool!r} of faults", try_this='"wiring" or "all"', code="fault-value")
    faults = [f for f in every_single_fault(board) if pool == "all" or in_wiring(board, f)]
    if dictionary is None:
        tests = [t for t in tests_of(board) if t.kind in ("lit", "state", "led")]
        front = build_dictionary(board, faults, tests)
    else:
        front = dictionary.select([f.id for f in faults])
    groups: dict[SymptomCard, list[str]] = {}
    for fault in faults:
        card = symptom_card(board, front, fault)
        if card.sentences:
            groups.setdefault(card, []).append(fault.id)
    usable = tuple(tuple(group) for group in groups.values() if len(group) >= FEWEST)
    return Deck(board, front, usable, at_rest(board), load_notes(board.name))


def in_wiring(board: Board, fault: Fault) -> bool:
    """Whether a fault lies in wires and where they are landed, not inside a part."""
    inside = {p.designation for p in board.of_kind("sensor")}
    return all(
        isinstance(change, Opened | Joint | Moved)
        or (isinstance(change, Joined) and board.terminals.get(change.a, board.terminals["X1:0V"]).part not in inside)
        for change in fault.changes
    )


def draw_hunt(
    board: Board | str,
    student: str,
    seed: int,
    *,
    pool: Pool = "wiring",
    like: DrawnHunt | float | None = None,
    within: float = 0.25,
) -> DrawnHunt:
    """Draw a hunt for one student: the same seed and name give the same one. See :meth:`Deck.draw`.

    Raises
    ------
    FaultError
        If there is no such pool, or no hunt as hard as that.
    """
    return deck(board, pool).draw(student, seed, like=like, within=within)


def draw_hunts(
    board: Board | str, students: Iterable[str], seed: int, *, pool: Pool = "wiring", within: float = 0.25
) -> dict[str, DrawnHunt]:
    """Draw a hunt for each of a class, no two with the same fault. See :meth:`Deck.draw_class`.

    Raises
    ------
    FaultError
        If there are not so many faults as hard as the middle one, or a name stands twice.
    """
    return deck(board, pool).draw_class(students, seed, within=within)

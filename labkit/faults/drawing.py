"""Drawing hunts: for each student a fault of their own, all of them about equally hard.

The suspects of a hunt are faults with the same symptom card: what the operator says leaves every one of them open,
so that only readings and looks can tell. Every choice depends on the seed, the student's name and the board alone.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from labkit.bench import Bench
from labkit.board import Board, load_board
from labkit.faults.cards import FaultCard, SymptomCard, fault_card, symptom_card
from labkit.faults.catalogue import Fault, every_single_fault
from labkit.faults.changes import Joined, Joint, Moved, Opened
from labkit.faults.diagnosis import Tree, from_dictionary
from labkit.faults.dictionary import FaultDictionary
from labkit.faults.errors import FaultError
from labkit.faults.live import LiveHunt, at_rest
from labkit.faults.notes import Notes, load_notes
from labkit.faults.quick import quick_dictionary
from labkit.faults.situations import PROGRAM, Test, tests_of

__all__ = ["Deck", "DrawnHunt", "Pool", "deck", "draw_hunt", "draw_hunts"]

Pool = Literal["wiring", "all"]
FEWEST, MOST = 4, 12  # suspects of a hunt
ATTEMPTS = 60
SOUNDED = 9  # so many draws tell how hard a class's hunts are in the middle
LEAST_MINUTES = 1.0  # one reading: what a look gives away is no hunt
NEAR_MINUTES = 0.6  # three looks: nearer than that two hunts are equally hard, however easy


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
class _Drawn:
    suspects: tuple[Fault, ...]
    truth: str
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
    tests
        Every test of the board.
    fresh, notes
        What makes its benches, and what is known of its faults in words.
    """

    board: Board
    front: FaultDictionary
    groups: tuple[tuple[str, ...], ...]
    tests: tuple[Test, ...]
    fresh: Callable[[], Bench]
    notes: Notes
    _worked: dict[tuple[str, ...], FaultDictionary] = field(init=False, repr=False, compare=False, default_factory=dict)
    _searched: dict[frozenset[str], tuple[FaultDictionary, Tree]] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )

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
            How far the minutes may differ, as a part of those of `like`; what three looks take is always allowed.

        Raises
        ------
        FaultError
            If no hunt as hard as that is found.
        """
        wanted = like.minutes if isinstance(like, DrawnHunt) else like
        return self._made(student, self._drawn(student, seed, wanted, within, frozenset()))

    def draw_class(self, students: Iterable[str], seed: int, *, within: float = 0.25) -> dict[str, DrawnHunt]:
        """Draw a hunt for each student: each has another fault, and all are about as hard as the middle one.

        Raises
        ------
        FaultError
            If there are not so many faults as hard as that, or a name is empty or stands twice.
        """
        names = list(students)
        if not all(name.strip() for name in names):
            raise FaultError(
                "a student's name is empty", where="students", try_this="name each student", code="fault-value"
            )
        if len(set(names)) < len(names):
            twice = sorted({name for name in names if names.count(name) > 1})
            raise FaultError(
                f"a student's name stands twice: {', '.join(twice)}",
                where="students",
                try_this="give each student another name, as in A. Vale and B. Vale",
                code="fault-twice",
            )
        first = [self._drawn(name, seed, None, within, frozenset()).minutes for name in names[:SOUNDED]]
        middle = sorted(first)[len(first) // 2] if first else None
        found: dict[str, DrawnHunt] = {}
        for name in names:
            taken = frozenset(drawn.hunt.truth for drawn in found.values())
            found[name] = self._made(name, self._drawn(name, seed, middle, within, taken))
        return found

    def _drawn(self, student: str, seed: int, wanted: float | None, within: float, taken: frozenset[str]) -> _Drawn:
        free = [(group, name) for group in self.groups for name in group if name not in taken]
        chance = random.Random(f"hunt {seed} {student}")
        chance.shuffle(free)
        for group, truth in free[:ATTEMPTS]:
            others = [name for name in group if name != truth]
            some = frozenset({truth, *chance.sample(others, min(len(others), MOST - 1))})
            dictionary, best = self._shown(group, some)
            minutes = next(cost for names, cost, _ in best.leaves() if truth in names)
            if minutes < LEAST_MINUTES:
                continue
            if wanted is None or abs(minutes - wanted) <= max(within * wanted, NEAR_MINUTES) + 1e-9:
                return _Drawn(dictionary.faults, truth, dictionary, minutes)
        raise FaultError(
            f"no hunt of {wanted:g} minutes was found for {student}" if wanted else f"no hunt is left for {student}",
            try_this="allow a wider band of difficulty (within=), or another pool of faults",
            code="fault-draw",
        )

    def _shown(self, group: tuple[str, ...], some: frozenset[str]) -> tuple[FaultDictionary, Tree]:
        """What these suspects of a group show, and the best search among them; each group is worked once."""
        if group not in self._worked:
            faults = [fault for fault in self.front.faults if fault.id in group]
            full = len(self.front.tests) == len(self.tests)
            whole = self.front.select(group) if full else quick_dictionary(self.board, faults, self.tests)
            self._worked[group] = whole
        if some not in self._searched:
            dictionary = self._worked[group].select([fault.id for fault in self.front.faults if fault.id in some])
            self._searched[some] = dictionary, from_dictionary(dictionary).strategy()
        return self._searched[some]

    def _made(self, student: str, drawn: _Drawn) -> DrawnHunt:
        """The hunt on its bench, with both cards."""
        hunt, dictionary, minutes = LiveHunt(self.fresh, drawn.suspects, drawn.truth), drawn.dictionary, drawn.minutes
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
    _fit(board)
    faults = [f for f in every_single_fault(board) if pool == "all" or in_wiring(board, f)]
    if dictionary is None:
        tests = [t for t in tests_of(board) if t.kind in ("lit", "state", "led")]
        front = quick_dictionary(board, faults, tests)
    else:
        front = dictionary.select([f.id for f in faults])
    groups: dict[SymptomCard, list[str]] = {}
    for fault in faults:
        card = symptom_card(board, front, fault)
        if card.sentences:
            groups.setdefault(card, []).append(fault.id)
    usable = tuple(tuple(group) for group in groups.values() if len(group) >= FEWEST)
    return Deck(board, front, usable, tests_of(board), at_rest(board), load_notes(board.name))


def _fit(board: Board) -> None:
    """See that the program of the hunts finds its points on a board."""
    needed = dict.fromkeys(re.findall(r"[A-Z]\w*", PROGRAM))
    missing = [tag for tag in needed if tag not in _WORDS and tag not in {p.tag for p in board.points.values()}]
    if missing:
        raise FaultError(
            f"no hunt can be drawn on this board: the program of the hunts needs {', '.join(missing)}",
            where=board.title,
            try_this="take the board orchard, or one with the same tags in its I/O list",
            code="fault-board",
        )


_WORDS = frozenset({"AND", "OR", "NOT"})


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

"""Could this fault alone explain what is seen? Answered by working a bench with the fault in.

One question has a set of symptoms and eight faults, each possible or impossible. A published type of exercise;
the answers here come from the solver, none is written down.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from labkit.base import did_you_mean
from labkit.board import Board, load_board
from labkit.faults.catalogue import Fault
from labkit.faults.dictionary import FaultDictionary, build_dictionary
from labkit.faults.errors import FaultError
from labkit.faults.quick import quick_dictionary
from labkit.faults.situations import Test, tests_of
from labkit.faults.words import in_words

__all__ = ["ExplainItem", "Explained", "could_explain", "explain_item"]

OPTIONS = 8
FEWEST = 2  # of the possible ones, and of the impossible ones
SHOWN = ("rest", "start held", "running", "stop held")
LOOKS = ("led", "lit", "state")
ATTEMPTS = 60


@dataclass(frozen=True, slots=True)
class Explained:
    """Whether one fault alone explains a set of symptoms.

    Parameters
    ----------
    fault
        The fault asked about.
    possible
        Whether it does.
    reason
        Why not: the first symptom that it does not show, and what it shows instead.
    """

    fault: Fault
    possible: bool
    reason: str = ""


@dataclass(frozen=True, slots=True)
class ExplainItem:
    """One question.

    Parameters
    ----------
    symptoms
        What is seen: pairs of a test's id and its band.
    sentences
        The same in words.
    options
        The faults asked about, with the answers.
    """

    symptoms: tuple[tuple[str, str], ...]
    sentences: tuple[str, ...]
    options: tuple[Explained, ...]

    def text(self, *, key: bool = False) -> str:
        """The question as Markdown; with `key` the answers and their reasons."""
        rows = ["What is seen:", "", *(f"- {sentence}" for sentence in self.sentences), ""]
        rows += ["Could this fault alone explain it? Possible or impossible?", ""]
        for number, option in enumerate(self.options, 1):
            answer = f": {'possible' if option.possible else 'impossible'}. {option.reason}".rstrip() if key else ""
            rows.append(f"{number}. {option.fault.title}{answer}")
        return "\n".join(rows) + "\n"


def could_explain(
    fault: Fault,
    symptoms: Mapping[str, str],
    *,
    board: Board | str = "orchard",
    dictionary: FaultDictionary | None = None,
) -> Explained:
    """Whether a fault alone shows every one of these symptoms.

    Parameters
    ----------
    symptoms
        Test id -> band, such as ``{"rest: lit P2": "off"}``.
    dictionary
        Where the fault has been worked already; without it a bench is worked for it.

    Raises
    ------
    FaultError
        If a symptom's test is not one of the board's, or there is no symptom.
    """
    found = load_board(board) if isinstance(board, str) else board
    tests = _tests(found, symptoms)
    if dictionary is None:
        dictionary = build_dictionary(found, [fault], tests)
    return _explained(found, dictionary, fault, tests, symptoms)


def _tests(board: Board, symptoms: Mapping[str, str]) -> list[Test]:
    known = {test.id: test for test in tests_of(board)}
    if not symptoms:
        raise FaultError("nothing is seen, so nothing is to be explained", code="fault-value")
    for name in symptoms:
        if name not in known:
            raise FaultError(
                f"{board.name} has no test {name}", where=name, try_this=did_you_mean(name, known), code="fault-unknown"
            )
    return [known[name] for name in symptoms]


def _explained(
    board: Board, dictionary: FaultDictionary, fault: Fault, tests: Sequence[Test], symptoms: Mapping[str, str]
) -> Explained:
    for test in tests:
        would = dictionary.outcome(fault.id, test.id)
        if would != symptoms[test.id]:
            return Explained(fault, False, f"With it, {in_words(board, test, would)}.")
    return Explained(fault, True)


def explain_item(
    board: Board | str = "orchard", *, seed: int, symptoms: int = 3, dictionary: FaultDictionary | None = None
) -> ExplainItem:
    """Make a question: at least two of its eight faults are possible and two impossible.

    The impossible ones are those that come nearest: most of what is seen they show.

    Parameters
    ----------
    seed
        The same seed gives the same question.
    symptoms
        How many things are seen, at the most.
    dictionary
        Whose faults may be asked about; without it every single fault of the board is worked now.

    Raises
    ------
    FaultError
        If no question of that kind can be made.
    """
    found = load_board(board) if isinstance(board, str) else board
    chance = random.Random(f"explain {seed}")
    if dictionary is None:
        dictionary = _shipped(board) if isinstance(board, str) else _worked(found)
    usable = [test for test in dictionary.tests if _usable(test)]
    for _ in range(ATTEMPTS):
        item = _drawn(found, chance, dictionary, usable, symptoms)
        if item is not None:
            return item
    raise FaultError(
        "no question of this kind can be made from these faults", try_this="allow fewer symptoms", code="fault-value"
    )


@lru_cache(maxsize=2)  # of a shipped board always the same
def _shipped(board: str) -> FaultDictionary:
    return _worked(load_board(board))


def _worked(board: Board) -> FaultDictionary:
    return quick_dictionary(board, None, [t for t in tests_of(board) if _usable(t)])


def _usable(test: Test) -> bool:
    return test.situation in SHOWN and test.kind in (*LOOKS, "volts")


def _drawn(
    board: Board, chance: random.Random, dictionary: FaultDictionary, usable: Sequence[Test], most: int
) -> ExplainItem | None:
    truth = chance.choice(dictionary.faults)
    differing = set(dictionary.differing(truth.id))
    wrong = [t for t in usable if t in differing]
    looks = [t for t in wrong if t.kind in LOOKS]
    if not wrong:
        return None
    chosen = [chance.choice(looks or wrong)]
    left = _fitting(dictionary, truth, chosen)
    for _ in range(most - 1):
        shared: tuple[Test, list[Fault]] | None = None
        for test in chance.sample(usable, len(usable)):
            fewer = _fitting(dictionary, truth, [test], left)
            if FEWEST <= len(fewer) < len(left):
                shared = test, fewer
                break
            # else one more that the possible ones share: the others then miss more than one
            if shared is None and test in differing and test not in chosen and len(fewer) == len(left):
                shared = test, fewer
        if shared is not None:
            chosen.append(shared[0])
            left = shared[1]
    return _asked(board, chance, dictionary, truth, chosen)


def _asked(
    board: Board, chance: random.Random, dictionary: FaultDictionary, truth: Fault, chosen: Sequence[Test]
) -> ExplainItem | None:
    """The truth, some others that are possible, and the impossible ones that come nearest."""
    seen = {test.id: dictionary.outcome(truth.id, test.id) for test in chosen}
    judged = [_explained(board, dictionary, fault, chosen, seen) for fault in dictionary.faults]
    possible = [one for one in judged if one.possible and one.fault != truth]
    against = [one for one in judged if not one.possible]
    chance.shuffle(against)
    signs = {test.id: dictionary.outcome(truth.id, test.id) for test in dictionary.differing(truth.id)}
    near = {one.fault.id: sum(dictionary.outcome(one.fault.id, t) == b for t, b in signs.items()) for one in against}
    missed = {one.fault.id: sum(dictionary.outcome(one.fault.id, t) != b for t, b in seen.items()) for one in against}
    against.sort(key=lambda one: (missed[one.fault.id], -near[one.fault.id]))
    wanted = min(len(possible), chance.randint(FEWEST - 1, OPTIONS - FEWEST - 1))
    options = [Explained(truth, True), *chance.sample(possible, wanted)]
    options += against[: OPTIONS - len(options)]
    if len(options) < OPTIONS or wanted + 1 < FEWEST:
        return None
    chance.shuffle(options)
    sentences = tuple(in_words(board, test, seen[test.id]) for test in chosen)
    return ExplainItem(tuple(seen.items()), sentences, tuple(options))


def _fitting(
    dictionary: FaultDictionary, truth: Fault, tests: Sequence[Test], among: Sequence[Fault] | None = None
) -> list[Fault]:
    wanted = [(test.id, dictionary.outcome(truth.id, test.id)) for test in tests]
    every = dictionary.faults if among is None else among
    return [fault for fault in every if all(dictionary.outcome(fault.id, test) == band for test, band in wanted)]

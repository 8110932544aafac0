"""Searching for a fault: who is still suspect, which test is worth its minutes, how many tests the best search needs.

A :class:`Search` is a bare table, suspects by tests, that knows nothing of boards. Suspects that no test tells
apart are one leaf. Up to :data:`EXACT` leaves the best strategy is found exactly (memoised over sets of suspects,
cut short by an entropy bound); above that the test with most information per minute is taken, the few best of
them compared by playing the search to its end (a rollout), and the last few leaves are told apart exactly.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from labkit.base import did_you_mean
from labkit.faults.dictionary import FaultDictionary
from labkit.faults.errors import FaultError

__all__ = ["EXACT", "Search", "Tree", "chain", "entropy_bits", "from_dictionary"]

EXACT = 16
"""Up to so many leaves the best strategy is worked out exactly."""

ROLLOUTS = 4

ENDGAME = 8
"""A search that has come down to so few leaves is ended exactly; that takes a millisecond or two."""

Members = npt.NDArray[np.int64]
_Choose = Callable[[Members], int | None]


def entropy_bits(weights: Iterable[float]) -> float:
    """The entropy of these probabilities, in bits; weights that do not add up to 1 are scaled."""
    known = [w for w in weights if w > 0]
    total = sum(known)
    return -sum(w / total * math.log2(w / total) for w in known)


@dataclass(frozen=True, slots=True)
class Tree:
    """A strategy: a test, and for each of its outcomes what comes next; a leaf has only suspects."""

    suspects: tuple[str, ...]
    test: str = ""
    cost: float = 0.0
    branches: Mapping[str, Tree] = field(default_factory=dict)

    def leaves(self, spent: float = 0.0, tests: int = 0) -> Iterator[tuple[tuple[str, ...], float, int]]:
        """For each leaf its suspects, the cost spent and the number of tests made."""
        if not self.branches:
            yield self.suspects, spent, tests
        for branch in self.branches.values():
            yield from branch.leaves(spent + self.cost, tests + 1)

    def tests(self, suspect: str) -> int:
        """How many tests are made until this suspect is all that is left (with those just like it)."""
        return next(n for names, _, n in self.leaves() if suspect in names)

    @property
    def worst(self) -> int:
        """The most tests that can be needed."""
        return max(n for _, _, n in self.leaves())


@dataclass(frozen=True)
class Search:
    """Suspects by tests.

    Parameters
    ----------
    suspects, weights
        Names, and how often each is met.
    tests, costs
        Names, and what each costs: minutes, or 1 for a count of tests.
    outcomes
        For each suspect what each test would show.

    Raises
    ------
    FaultError
        If the table's sizes do not fit, a name stands twice, or a weight or cost is not above 0.
    """

    suspects: tuple[str, ...]
    weights: tuple[float, ...]
    tests: tuple[str, ...]
    costs: tuple[float, ...]
    outcomes: tuple[tuple[str, ...], ...]

    def __post_init__(self) -> None:
        sizes = len(self.suspects) == len(self.weights) == len(self.outcomes) and len(self.tests) == len(self.costs)
        if not sizes or any(len(row) != len(self.tests) for row in self.outcomes) or not self.suspects:
            raise FaultError("a search has one weight and one row per suspect, one cost and one column per test")
        if len(set(self.suspects)) < len(self.suspects) or len(set(self.tests)) < len(self.tests):
            raise FaultError("each suspect and each test of a search has a name of its own", code="fault-twice")
        if not all(0 < x < math.inf for x in (*self.weights, *self.costs)):
            raise FaultError("weights and costs are above 0", code="fault-value")
        bands = [
            {band: i for i, band in enumerate(dict.fromkeys(column))} for column in zip(*self.outcomes, strict=True)
        ]
        codes = [[bands[t][band] for t, band in enumerate(row)] for row in self.outcomes]
        object.__setattr__(self, "_codes", np.array(codes, dtype=np.int64).reshape(len(self.suspects), len(self.tests)))
        object.__setattr__(self, "_row", {name: i for i, name in enumerate(self.suspects)})
        object.__setattr__(self, "_column", {name: i for i, name in enumerate(self.tests)})
        object.__setattr__(self, "_weight", np.array(self.weights))
        object.__setattr__(self, "_cost", np.array(self.costs))

    _codes: npt.NDArray[np.int64] = field(init=False, repr=False, compare=False)
    _row: dict[str, int] = field(init=False, repr=False, compare=False)
    _column: dict[str, int] = field(init=False, repr=False, compare=False)
    _weight: npt.NDArray[np.float64] = field(init=False, repr=False, compare=False)
    _cost: npt.NDArray[np.float64] = field(init=False, repr=False, compare=False)

    def outcome(self, suspect: str, test: str) -> str:
        """What a test would show for a suspect."""
        return self.outcomes[self._place(self._row, suspect)][self._place(self._column, test)]

    def left(self, log: Iterable[tuple[str, str]], among: Iterable[str] | None = None) -> tuple[str, ...]:
        """The suspects left after a log of (test, what it showed).

        Raises
        ------
        FaultError
            If a test or suspect is unknown.
        """
        seen = [(self._place(self._column, test), band) for test, band in log]
        return tuple(
            self.suspects[i] for i in self._members(among) if all(self.outcomes[i][t] == band for t, band in seen)
        )

    def gain(self, test: str, among: Iterable[str] | None = None) -> float:
        """What a test is expected to tell about these suspects, in bits."""
        return float(self._gains(self._members(among))[self._place(self._column, test)])

    def splits(self, test: str, among: Iterable[str] | None = None) -> bool:
        """Whether a test can rule out any of these suspects."""
        return len(set(self._codes[self._members(among), self._place(self._column, test)].tolist())) > 1

    def best_test(self, among: Iterable[str] | None = None) -> str | None:
        """The test to make next, or None if no test tells these suspects apart."""
        tree = self.strategy(among) if len(self._members(among)) <= EXACT else None
        if tree is not None:
            return tree.test or None
        members = self._members(among)
        best = self._rollout(members)
        return None if best is None else self.tests[best]

    def strategy(self, among: Iterable[str] | None = None) -> Tree:
        """The best search there is (exact up to :data:`EXACT` leaves, else with rollouts)."""
        members = self._members(among)
        classes = self._classes(members)
        if len(classes) <= EXACT:
            return self._tree(members, _Exact(self, classes).choose)
        return self._tree(members, self._rollout)

    def greedy(self, among: Iterable[str] | None = None) -> Tree:
        """The search that always takes the most information per cost, of equals the first."""
        return self._tree(self._members(among), self._greediest)

    def expected_cost(self, tree: Tree) -> float:
        """The mean cost of a search, by the suspects' weights."""
        spent = {name: cost for names, cost, _ in tree.leaves() for name in names}
        total = sum(self.weights[self._row[name]] for name in spent)
        return sum(self.weights[self._row[name]] * cost for name, cost in spent.items()) / total

    def expected_tests(self, tree: Tree) -> float:
        """The mean number of tests of a search, by the suspects' weights."""
        made = {name: n for names, _, n in tree.leaves() for name in names}
        total = sum(self.weights[self._row[name]] for name in made)
        return sum(self.weights[self._row[name]] * n for name, n in made.items()) / total

    # ----------------------------------------------------------------------------------------------
    @staticmethod
    def _place(known: Mapping[str, int], name: str) -> int:
        if name not in known:
            raise FaultError(
                f"this search has no {name}", where=name, try_this=did_you_mean(name, known), code="fault-unknown"
            )
        return known[name]

    def _members(self, among: Iterable[str] | None) -> Members:
        if among is None:
            return np.arange(len(self.suspects))
        return np.array(sorted({self._place(self._row, name) for name in among}), dtype=np.int64)

    def _classes(self, members: Members) -> list[list[int]]:
        """Members that no test tells apart, together."""
        found: dict[bytes, list[int]] = {}
        for i in members.tolist():
            found.setdefault(self._codes[i].tobytes(), []).append(i)
        return list(found.values())

    def _gains(self, members: Members) -> npt.NDArray[np.float64]:
        """The expected information of every test, in bits."""
        codes, weight = self._codes[members], self._weight[members]
        total = weight.sum()
        gains = np.zeros(len(self.tests))
        for band in range(int(codes.max(initial=0)) + 1):
            share = (weight[:, None] * (codes == band)).sum(axis=0) / total
            inside = share > 0
            gains[inside] -= share[inside] * np.log2(share[inside])
        # a test that splits nothing leaves rounding behind; it must not look like a gain
        return np.where((codes == codes[:1]).all(axis=0), 0.0, gains)

    def _ranked(self, members: Members) -> Members:
        """The tests that tell something, best first, of equals the lower number."""
        worth = np.round(self._gains(members) / self._cost, 12)
        order = np.argsort(-worth, kind="stable")
        return order[worth[order] > 0]

    def _greediest(self, members: Members) -> int | None:
        ranked = self._ranked(members)
        return int(ranked[0]) if len(ranked) else None

    def _rollout(self, members: Members) -> int | None:
        """Of the few best tests the one after which the greedy search ends soonest; the last leaves exactly."""
        if len(members) <= 2 * ENDGAME:
            classes = self._classes(members)
            if len(classes) <= ENDGAME:
                return _Exact(self, classes).choose(members)
        ranked = self._ranked(members)[:ROLLOUTS].tolist()
        if len(ranked) < 2:
            return ranked[0] if ranked else None
        return int(min(ranked, key=lambda test: self._played(members, test)))

    def _played(self, members: Members, test: int) -> float:
        """Weighted cost of a test and of the greedy search after it."""
        cost = float(self._weight[members].sum() * self._cost[test])
        for part in self._parted(members, test):
            then = self._greediest(part) if len(part) > 1 else None
            if then is not None:
                cost += self._played(part, then)
        return cost

    def _parted(self, members: Members, test: int) -> list[Members]:
        column = self._codes[members, test]
        return [members[column == band] for band in dict.fromkeys(column.tolist())]

    def _tree(self, members: Members, choose: _Choose) -> Tree:
        names = tuple(self.suspects[i] for i in members.tolist())
        test = choose(members) if len(members) > 1 else None
        if test is None:
            return Tree(names)
        parts = self._parted(members, test)
        branches = {self.outcomes[int(part[0])][test]: self._tree(part, choose) for part in parts}
        return Tree(names, self.tests[test], self.costs[test], branches)


class _Exact:
    """The cheapest strategy over sets of leaves, each set a bit mask."""

    def __init__(self, search: Search, classes: Sequence[Sequence[int]]) -> None:
        self.bit_of = {i: 1 << k for k, group in enumerate(classes) for i in group}
        self.weight = [float(search._weight[list(group)].sum()) for group in classes]
        first = np.array([group[0] for group in classes])
        cheapest: dict[tuple[int, ...], int] = {}
        for t in range(len(search.tests)):
            masks: dict[int, int] = {}
            for k, code in enumerate(search._codes[first, t].tolist()):
                masks[code] = masks.get(code, 0) | 1 << k
            parts = tuple(sorted(masks.values()))
            known = cheapest.get(parts)
            if len(parts) > 1 and (known is None or search.costs[t] < search.costs[known]):
                cheapest[parts] = t
        self.tests = [(t, search.costs[t], parts) for parts, t in cheapest.items()]
        self.tests.sort()
        # no test tells more than the log of its outcomes: what one unit of cost can tell at the very most
        self.most_bits = max((math.log2(len(parts)) / cost for _, cost, parts in self.tests), default=1.0)
        self.memo: dict[int, tuple[float, int]] = {}
        self.bounds: dict[int, float] = {}
        self.sums: dict[int, float] = {}

    def choose(self, members: Members) -> int | None:
        """The best test for these suspects."""
        mask = 0
        for i in members.tolist():
            mask |= self.bit_of[i]
        return None if mask & (mask - 1) == 0 else self.best(mask)[1]

    def best(self, mask: int) -> tuple[float, int]:
        """Weighted cost of the best strategy for a set, and its first test."""
        found = self.memo.get(mask)
        if found is not None:
            return found
        least, chosen = math.inf, -1
        for bound, test, cost, parts in self._candidates(mask):
            if bound >= least - 1e-12:
                break
            spent = self.total(mask) * cost
            owed = bound - spent
            for part in parts:
                owed -= self.bound(part)
                if part & (part - 1):
                    spent += self.best(part)[0]
                if spent + owed >= least - 1e-12:
                    break
            else:
                least, chosen = spent, test
        self.memo[mask] = least, chosen
        return least, chosen

    def _candidates(self, mask: int) -> list[tuple[float, int, float, tuple[int, ...]]]:
        """The tests that split a set, by what each must cost at the least; of one partition the cheapest."""
        found: dict[tuple[int, ...], tuple[float, int, float, tuple[int, ...]]] = {}
        for test, cost, parts in self.tests:
            here = tuple(sorted(p & mask for p in parts if p & mask))
            if len(here) > 1 and (here not in found or cost < found[here][2]):
                least = self.total(mask) * cost + sum(self.bound(p) for p in here)
                found[here] = (least, test, cost, here)
        return sorted(found.values())

    def total(self, mask: int) -> float:
        """The weight of a set."""
        if mask not in self.sums:
            self.sums[mask] = sum(w for k, w in enumerate(self.weight) if mask >> k & 1)
        return self.sums[mask]

    def bound(self, mask: int) -> float:
        """What any strategy for a set must cost at the least: its entropy over what a unit of cost can tell."""
        if mask not in self.bounds:
            members = [w for k, w in enumerate(self.weight) if mask >> k & 1]
            self.bounds[mask] = sum(members) * entropy_bits(members) / self.most_bits if len(members) > 1 else 0.0
        return self.bounds[mask]


def from_dictionary(
    dictionary: FaultDictionary, faults: Iterable[str] | None = None, *, count_tests: bool = False
) -> Search:
    """The search among the faults of a dictionary; of tests with equal columns the cheapest is kept.

    Parameters
    ----------
    faults
        Ids of the suspects; all if left out.
    count_tests
        Let every test cost 1 in place of its minutes.
    """
    part = dictionary.select(faults)
    columns: dict[tuple[str, ...], int] = {}
    for t, test in enumerate(part.tests):
        column = tuple(row[t] for row in part.rows[1:])
        if len(set(column)) > 1 and (column not in columns or test.minutes < part.tests[columns[column]].minutes):
            columns[column] = t
    kept = sorted(columns.values())
    return Search(
        tuple(f.id for f in part.faults),
        tuple(f.weight for f in part.faults),
        tuple(part.tests[t].id for t in kept),
        tuple(1.0 if count_tests else part.tests[t].minutes for t in kept),
        tuple(tuple(row[t] for t in kept) for row in part.rows[1:]),
    )


def chain(segments: int) -> Search:
    """A chain of equally likely segments, with a measuring point between each two: live before the fault, dead after.

    Raises
    ------
    FaultError
        If there is no segment.
    """
    if segments < 1:
        raise FaultError(f"a chain has at least one segment, not {segments}", code="fault-value")
    return Search(
        tuple(f"segment {i}" for i in range(1, segments + 1)),
        (1.0,) * segments,
        tuple(f"after {i}" for i in range(1, segments)),
        (1.0,) * (segments - 1),
        tuple(tuple("dead" if i <= t else "live" for t in range(1, segments)) for i in range(1, segments + 1)),
    )

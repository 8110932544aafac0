"""The search against published and hand-countable cases, and against trying every strategy."""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.faults import FaultError, Search, Tree, chain, entropy_bits

TRUTH = Path(__file__).resolve().parent.parent / "truth"


def table(name: str) -> list[dict[str, str]]:
    with (TRUTH / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# Pattipati and Alexandridis, IEEE Trans. SMC 1990, small example: table and optimum from memory, the rest recomputed by
# dynamic programming without this project's code (tests/truth/SOURCES.md)
RESULTS = {row["quantity"]: float(row["value"]) for row in table("sequential_diagnosis_results.csv")}


@pytest.fixture
def example() -> Search:
    rows = table("sequential_diagnosis.csv")
    tests = tuple(f"test{i}" for i in range(1, 6))
    return Search(
        tuple(row["state"] for row in rows),
        tuple(float(row["prior"]) for row in rows),
        tests,
        (1.0,) * 5,
        tuple(tuple(row[t] for t in tests) for row in rows),
    )


def test_the_published_example_needs_2_18_tests(example: Search) -> None:
    tree = example.strategy()
    assert example.expected_cost(tree) == pytest.approx(RESULTS["optimal expected tests"], abs=1e-9)
    assert tree.test in ("test2", "test4")  # both start a best search; test1, with the highest gain, does not
    for state in example.suspects:
        assert tree.tests(state) == RESULTS[f"optimal depth {state}"]


def test_the_example_s_entropy_gains_and_greedy_search(example: Search) -> None:
    assert entropy_bits(example.weights) == pytest.approx(RESULTS["entropy bits"], abs=5e-5)
    for test in example.tests:
        assert example.gain(test) == pytest.approx(RESULTS[f"gain {test}"], abs=5e-5)
    assert example.expected_cost(example.greedy()) == pytest.approx(RESULTS["greedy expected tests"], abs=1e-9)


@pytest.mark.parametrize("row", table("half_split.csv"), ids=lambda row: row["segments"])
def test_half_split_counts(row: dict[str, str]) -> None:
    """half_split.csv: the half-split method of troubleshooting courses (confirmed), its counts computed."""
    search = chain(int(row["segments"]))
    tree = search.greedy()
    assert tree.worst == int(row["half_split_worst"])
    assert search.expected_tests(tree) == pytest.approx(float(row["half_split_mean"]), abs=5e-5)
    assert search.expected_tests(search.strategy()) == pytest.approx(float(row["half_split_mean"]), abs=5e-5)
    assert entropy_bits(search.weights) == pytest.approx(float(row["entropy_bits"]), abs=5e-5)


@pytest.mark.parametrize("row", table("half_split.csv"), ids=lambda row: row["segments"])
def test_end_to_end_counts_follow_from_the_same_table(row: dict[str, str]) -> None:
    """half_split.csv: the last segment needs no test of its own, so n segments take n - 1 at the most."""
    search = chain(int(row["segments"]))
    made = []
    for truth in search.suspects:  # from the first measuring point on
        left, count = search.suspects, 0
        for test in search.tests:
            if len(left) == 1:
                break
            left, count = search.left([(test, search.outcome(truth, test))], left), count + 1
        assert left == (truth,)
        made.append(count)
    assert max(made) == int(row["end_to_end_worst"])
    assert sum(made) / len(made) == pytest.approx(float(row["end_to_end_mean"]), abs=5.1e-5)


# --------------------------------------------------------------------------------------------------
@st.composite
def searches(draw: st.DrawFn) -> Search:
    suspects, tests = draw(st.integers(1, 5)), draw(st.integers(1, 4))
    band = st.sampled_from("abc")
    rows = draw(st.lists(st.tuples(*[band] * tests), min_size=suspects, max_size=suspects))
    weights = draw(st.lists(st.integers(1, 9), min_size=suspects, max_size=suspects))
    costs = draw(st.lists(st.integers(1, 4), min_size=tests, max_size=tests))
    return Search(
        tuple(f"f{i}" for i in range(suspects)),
        tuple(map(float, weights)),
        tuple(f"t{i}" for i in range(tests)),
        tuple(map(float, costs)),
        tuple(rows),
    )


def cheapest(search: Search, members: frozenset[int]) -> float:
    """Weighted cost of the best strategy, by trying every test at every turn."""
    best = math.inf
    for t, cost in enumerate(search.costs):
        parts: dict[str, set[int]] = {}
        for i in members:
            parts.setdefault(search.outcomes[i][t], set()).add(i)
        if len(parts) > 1:
            total = sum(search.weights[i] for i in members) * cost
            best = min(best, total + sum(cheapest(search, frozenset(p)) for p in parts.values()))
    return 0.0 if best == math.inf else best


@given(searches())
@settings(max_examples=300, deadline=None)
def test_no_strategy_is_cheaper_than_the_exact_one(search: Search) -> None:
    exact = search.expected_cost(search.strategy())
    brute = cheapest(search, frozenset(range(len(search.suspects)))) / sum(search.weights)
    assert exact == pytest.approx(brute, abs=1e-9)
    assert search.expected_cost(search.greedy()) >= exact - 1e-9


@given(searches(), st.data())
@settings(max_examples=100, deadline=None)
def test_a_search_ends_at_those_that_no_test_tells_from_the_truth(search: Search, data: st.DataObject) -> None:
    truth = data.draw(st.sampled_from(search.suspects))
    left, log = search.suspects, []
    while (test := search.best_test(left)) is not None:
        log.append((test, search.outcome(truth, test)))
        fewer = search.left(log)
        assert truth in fewer
        assert len(fewer) < len(left)
        left = fewer
    row = search.outcomes[search.suspects.index(truth)]
    assert left == tuple(n for n, r in zip(search.suspects, search.outcomes, strict=True) if r == row)


def test_information_per_minute_decides() -> None:
    # A halves eight suspects for 4 minutes, B splits off two of them for 2: B tells more per minute.
    # Figures worked by hand: 1 bit / 4 = 0.25; H(1/4) = 0.8113 bit / 2 = 0.406
    rows = tuple(("x" if i < 4 else "y", "x" if i < 2 else "y") for i in range(8))
    search = Search(tuple(f"f{i}" for i in range(8)), (1.0,) * 8, ("A", "B"), (4.0, 2.0), rows)
    assert search.gain("A") == pytest.approx(1.0)
    assert search.gain("B") == pytest.approx(0.8113, abs=5e-5)
    assert search.greedy().test == "B"


def test_a_rollout_is_used_above_the_exact_size_and_is_no_worse_than_halving() -> None:
    search = chain(40)
    assert search.expected_tests(search.strategy()) == pytest.approx(search.expected_tests(search.greedy()))
    assert search.strategy().worst == math.ceil(math.log2(40))


@pytest.mark.parametrize("seed", range(4))
def test_rollouts_and_an_exact_end_need_no_more_than_greed(seed: int) -> None:
    source = random.Random(seed)
    rows = tuple(tuple(source.choice("abc") for _ in range(30)) for _ in range(60))
    weights = tuple(source.choice([0.5, 1.0, 3.0]) for _ in rows)
    search = Search(tuple(f"f{k}" for k in range(60)), weights, tuple(f"t{k}" for k in range(30)), (1.0,) * 30, rows)
    best, greedy = search.expected_tests(search.strategy()), search.expected_tests(search.greedy())
    assert entropy_bits(weights) / math.log2(3) <= best < greedy  # each test has three outcomes at the most


def test_a_branch_of_few_leaves_is_ended_exactly() -> None:
    source = random.Random(8)
    rows = tuple(tuple(source.choice("ab") for _ in range(12)) for _ in range(40))
    search = Search(
        tuple(f"f{k}" for k in range(40)), (1.0,) * 40, tuple(f"t{k}" for k in range(12)), (1.0,) * 12, rows
    )

    def small(tree: Tree) -> Iterator[Tree]:
        if len(tree.suspects) <= 8:
            yield tree
        else:
            for branch in tree.branches.values():
                yield from small(branch)

    ends = list(small(search.strategy()))
    assert len(ends) > 5
    for end in ends:
        exact = search.strategy(end.suspects)  # so few are worked out exactly, and that is held against brute force
        assert search.expected_tests(end) == pytest.approx(search.expected_tests(exact), abs=1e-12)


def test_slips_are_named() -> None:
    with pytest.raises(FaultError, match="no aftr 3"):
        chain(5).gain("aftr 3")
    with pytest.raises(FaultError, match="above 0"):
        Search(("a", "b"), (1.0, 0.0), ("t",), (1.0,), (("x",), ("y",)))
    with pytest.raises(FaultError, match="one weight and one row"):
        Search(("a", "b"), (1.0,), ("t",), (1.0,), (("x",), ("y",)))

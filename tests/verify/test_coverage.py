"""What a list of tests has visited: counted by hand on the seal-in, and never more than there is."""

from __future__ import annotations

import random

import pytest

from labkit.bench import Bench
from labkit.verify import ProofError, coverage, prove

SEAL = "K1 := S1 AND NOT F3_T AND (S2 OR K1);"
RULES = [
    "whenever not S1 then not K1",
    "whenever F3_T then not K1",
    "pole:K1 only after S2 since back:A1 and not pole:K1",
    "never K1 and not S1",
]
MAY = ["S1", "S2", "F3", "power"]


def press(at_ms, part, hold_ms=100):
    return {"at_ms": at_ms, "do": "press", "part": part, "hold_ms": hold_ms}


HAPPY = [press(0, "S2"), press(600, "S1")]


@pytest.fixture(scope="module")
def bench():
    bench = Bench("orchard")
    bench.load(SEAL)
    return bench


def test_the_happy_path_leaves_the_negative_tests_undone(bench):
    """By hand: start and stop exercise the stop, nothing else."""
    found = coverage(bench, [HAPPY], RULES, may=MAY)
    assert [seen for _, seen in found.exercised] == [True, False, True, True]
    assert found.missing == (
        "never happened: the cause of 'whenever F3_T then not K1 within 0 scans'",
        "F3 was never tripped",
        "power was never off",
        "S1 and S2 were never pressed together",
        *(f"wire {no} was never off" for no in (101, 102, 111, 201)),
        "power was never lost while an output was on",
    )
    assert found.followed == found.scans


def test_negative_tests_fill_the_list(bench):
    tests = [
        HAPPY,
        [press(0, "S2", 400), press(100, "S1"), {"at_ms": 500, "do": "trip", "part": "F3"}],
        [
            press(0, "S2"),
            {"at_ms": 300, "do": "power", "on": False},
            {"at_ms": 1500, "do": "power", "on": True},
            press(3600, "S1"),
        ],
        [{"at_ms": 100 * n, "do": "lift", "wire": no} for n, no in enumerate(("101", "102", "111", "201"))],
    ]
    found = coverage(bench, tests, RULES, may=MAY)
    assert found.missing == ()
    assert all(seen for _, seen in found.exercised)
    # a power cycle in which nothing was on is no test of it
    idle = [tests[2][1:3]]
    assert "power was never lost while an output was on" in coverage(bench, idle, may=MAY).missing


def test_what_can_be_reached_is_what_the_proof_visits(bench):
    """A requirement without memory adds nothing to the states: the proof's count is the model's."""
    found = coverage(bench, [], may=["S1", "S2"])
    assert found.states.of == prove(bench, "never K1 and not K1", may=["S1", "S2"]).states
    assert (found.states.seen, found.transitions.seen, found.scans) == (0, 0, 0)
    assert found.states.part == 0


def test_random_work_visits_everything_and_never_more(bench):
    chance = random.Random(7)
    parts = {"S1": False, "S2": False}
    steps = []
    for scan in range(500):
        part = chance.choice(sorted(parts))
        parts[part] = not parts[part]
        steps.append({"at_ms": 10 * scan, "do": "press" if parts[part] else "release", "part": part})
    longer = [coverage(bench, [steps[:n]], RULES, may=["S1", "S2"]) for n in (4, 40, 500)]
    seen = [one.transitions.seen for one in longer]
    assert seen == sorted(seen)
    last = longer[-1]
    assert last.followed == last.scans
    assert last.states.part == 1
    assert last.transitions.seen <= last.transitions.of
    assert last.together == ()


def test_what_the_model_cannot_follow_is_not_counted(bench):
    """A wire that comes off is none of the things of this count: the stop's bit falls, and the model stays behind."""
    lifted = [press(0, "S2"), {"at_ms": 300, "do": "lift", "wire": "101"}]
    found = coverage(bench, [lifted], ["K1 stays until not S1"], may=["S1", "S2"])
    assert 0 < found.followed < found.scans
    with_it = coverage(bench, [lifted], ["K1 stays until not S1"], may=["S1", "S2", "wire:101"])
    assert with_it.followed == with_it.scans


def test_a_story_is_a_test_of_what_it_breaks(bench):
    """The story of a proof, played as a test, exercises the requirement that it breaks."""
    asked = "pole:K1 only after pos:S2 since not pos:F4 and not pole:K1"
    story = prove(bench, asked, may=["S1", "S2", "F4"]).story
    found = coverage(bench, [story.stimulus], [asked], may=["S1", "S2", "F4"])
    assert found.exercised[0][1]
    assert coverage(bench, [HAPPY], [asked], may=["S1", "S2", "F4"]).exercised[0][1] is False


def test_too_much_to_count_is_said(monkeypatch):
    monkeypatch.setattr("labkit.verify._coverage.MOST_STATES", 500)
    big = Bench("orchard")
    big.load(
        "VAR T1 : TON; T2 : TON; END_VAR T1(IN := S2, PT := T#50s); T2(IN := S6, PT := T#50s); K1 := T1.Q AND T2.Q;"
    )
    found = coverage(big, [[press(0, "S2")]], may=["S2", "S6"])
    assert found.states.of is None
    assert found.states.part is None
    assert "more than can be counted" in repr(found)


def test_no_program_no_count():
    with pytest.raises(ProofError, match="no program"):
        coverage(Bench("orchard"), [HAPPY])

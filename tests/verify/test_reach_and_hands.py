"""`can still be reached`, `for n scans`, and calm hands: against slow and obvious explorers, and by hand."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from verify_slow import _key, another, judge, truth

from labkit.base import ms
from labkit.bench import Bench
from labkit.logic import read_st, walker
from labkit.verify import (
    And,
    CanReach,
    Keeps,
    Never,
    Not,
    OnlyAfter,
    Or,
    ProofError,
    Sign,
    Whenever,
    prove,
    requirement,
)

NAMES = ("A", "B", "M", "K")
SCAN_US = 10_000


def _expressions(names):
    leaf = st.sampled_from([*names, *(f"NOT {n}" for n in names)])
    return st.recursive(
        leaf,
        lambda inner: st.tuples(inner, st.sampled_from([" AND ", " OR ", " XOR "]), inner).map(
            "({0[0]}{0[1]}{0[2]})".format
        ),
        max_leaves=4,
    )


@st.composite
def programs(draw):
    names = (*NAMES, "T1.Q")
    lines = [f"{target} := {draw(_expressions(names))};" for target in draw(st.permutations(["M", "K"]))]
    kind, preset = draw(st.sampled_from(["TON", "TOF", "TP"])), draw(st.sampled_from([10, 20, 30]))
    lines.insert(draw(st.integers(0, 2)), f"T1(IN := {draw(_expressions(NAMES))}, PT := T#{preset}ms);")
    return f"VAR T1 : {kind}; END_VAR\n" + "\n".join(lines)


_sign = st.sampled_from(("M", "K")).map(Sign)
_some = st.one_of(_sign, _sign.map(Not), st.tuples(_sign, _sign.map(Not)).map(And), st.tuples(_sign, _sign).map(Or))


def _one_scan(walk, values, inputs, choice, now):
    other, after = another(walk), {**values, **dict(zip(inputs, choice, strict=True))}
    other.scan(after, now)
    return other, after


def _dead_end(program, goal, most=150):
    """Scans to the nearest state from which the goal cannot come true any more, None if there is none: by sets."""
    inputs = sorted(n for n in program.variables() if n in ("A", "B"))
    start = (walker(program), {})
    keys, runs, depth = [_key(*start, 0, inputs, SCAN_US)], [start], [0]
    number = {keys[0]: 0}
    edges: list[set[int]] = [set()]
    direct: set[int] = set()
    at = 0
    while at < len(runs):
        now = (depth[at] + 1) * SCAN_US
        for choice in product((False, True), repeat=len(inputs)):
            walk, after = _one_scan(*runs[at], inputs, choice, now)
            if truth(goal, after):
                direct.add(at)
            key = _key(walk, after, now, inputs, SCAN_US)
            if key not in number:
                number[key] = len(runs)
                runs.append((walk, after))
                depth.append(depth[at] + 1)
                edges.append(set())
            edges[at].add(number[key])
        at += 1
        if len(runs) > most:
            return "many"
    good = set(direct)
    while more := {i for i in range(len(runs)) if i not in good and edges[i] & good}:
        good |= more
    return min((depth[i] for i in range(len(runs)) if i not in good), default=None)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(programs(), _some)
def test_reach_against_sets(text, goal):
    program = read_st(text)
    expected = _dead_end(program, goal)
    assume(expected != "many")
    verdict = prove(program, CanReach(goal))
    assert verdict.outcome == ("holds" if expected is None else "fails")
    if expected is not None:
        assert verdict.depth == expected == verdict.story.scans
        assert verdict.story.text.splitlines()[-1].startswith("from here on ")


def _naive_keeps(asked, views):
    """By its definition: the index of the first scan that breaks it."""
    for now, view in enumerate(views):
        causes = [then for then in range(max(0, now - asked.length), now + 1) if truth(asked.cause, views[then])]
        if causes and not truth(asked.effect, view):
            return now
    return None


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    st.builds(Keeps, _some, _some, st.integers(0, 4)), st.lists(st.tuples(st.booleans(), st.booleans()), max_size=14)
)
def test_for_n_scans_by_its_definition(asked, run):
    watch, memory, broken = asked.watch({"M": 0, "K": 1}, SCAN_US), 0, None
    for now, view in enumerate(run):
        memory, wrong = watch(memory, view)
        if wrong:
            broken = now
            break
    assert broken == _naive_keeps(asked, [{"M": m, "K": k} for m, k in run])


# Calm hands: every sequence of choices of some scans, thrown out where it is not calm ----------------------------
_monitored = st.one_of(
    _some.map(Never),
    st.builds(Whenever, _some, _some, st.integers(0, 2)),
    st.builds(OnlyAfter, _some, _some, st.none()),
)
DEPTH = 5


def _calm(run, one_at_a_time, held):
    """Whether a sequence of choices, at rest before it, is calm."""
    before = ((False, False), *run)
    changes = [[i for i, (old, new) in enumerate(zip(before, run, strict=False)) if old[n] != new[n]] for n in (0, 1)]
    if one_at_a_time and set(changes[0]) & set(changes[1]):
        return False
    return all(b - a >= held for times in changes for a, b in pairwise(times))


def _shortest(program, asked, one_at_a_time, held):
    inputs, best = ("A", "B"), None
    for run in product(product((False, True), repeat=2), repeat=DEPTH):
        walk, values, memory = walker(program), {}, ()
        for scan, choice in enumerate(run, 1):
            if best is not None and scan >= best:
                break
            values = {**values, **dict(zip(inputs, choice, strict=True))}
            walk.scan(values, scan * SCAN_US)
            memory, broken = judge(asked, memory, values)
            if broken and _calm(run[:scan], one_at_a_time, held):
                best = scan
    return best


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(programs(), _monitored, st.booleans(), st.integers(1, 3))
def test_calm_hands_against_every_sequence(text, asked, one_at_a_time, held):
    program = read_st(text)
    assume(set(program.variables()) >= {"A", "B"} and (one_at_a_time or held > 1))
    expected = _shortest(program, asked, one_at_a_time, held)
    verdict = prove(program, asked, one_at_a_time=one_at_a_time, held=ms(10 * held), most_scans=DEPTH)
    if expected is None:
        assert verdict.outcome in {"holds", "undecided"}
    else:
        assert (verdict.outcome, verdict.depth) == ("fails", expected)


def test_a_press_of_three_scans_always_holds():
    """tests/truth/press_lengths.csv: 30 ms at a scan of 10 ms, pull-in 25 ms and filter 4 ms."""
    bench = Bench("orchard")
    bench.load("K1 := S1 AND (S2 OR K1_A);")
    asked = "K1 stays until not S1"
    short = prove(bench, asked, may=["S2"], held=ms(20))
    assert (short.outcome, short.story.replayed) == ("fails", True)
    long = prove(bench, asked, may=["S2"], held=ms(30))
    assert long.outcome == "holds"
    assert "what is changed stays so for 3 scans (30 ms) or more" in long.assumptions


def test_one_at_a_time_is_said_and_takes_longer():
    bench = Bench("orchard")
    bench.load("K1 := S2 OR (S1 AND K1);")
    asked = "whenever not S1 then not K1"
    assert prove(bench, asked).depth == 1
    verdict = prove(bench, asked, one_at_a_time=True)
    assert verdict.depth == 2
    assert verdict.story.text.splitlines()[0].startswith("scan 1: power up, S")
    assert verdict.story.replayed
    assert any(said.startswith("one thing at a time") for said in verdict.assumptions)


def test_a_dead_end_is_replayed_and_told():
    bench = Bench("orchard")
    bench.load("VAR RETAIN OUT : BOOL; END_VAR OUT := F3_T OR OUT; K1 := S1 AND NOT OUT AND (S2 OR K1);")
    verdict = prove(bench, "K1 can still be reached", may=["S1", "S2", "F3", "power"])
    assert (verdict.outcome, verdict.depth) == ("fails", 1)
    assert verdict.story.replayed
    assert verdict.story.text.splitlines() == [
        "scan 1: power up, F3 tripped; then K1 = 0",
        "from here on K1 cannot come true, whatever is done",
    ]
    bench.load("VAR OUT : BOOL; END_VAR OUT := F3_T OR OUT; K1 := S1 AND NOT OUT AND (S2 OR K1);")
    assert prove(bench, "K1 can still be reached", may=["S1", "S2", "F3", "power"])


@pytest.mark.parametrize("bound", [{"most_states": 3}, {"most_scans": 2}])
def test_reach_stays_undecided_at_a_bound(bound):
    """Behind the bound the goal may be out of reach, or in reach: neither is said."""
    text = "VAR C : CTU; END_VAR C(CU := A, R := FALSE, PV := 9); K := B AND NOT C.Q;"
    assert prove(text, "K can still be reached").outcome == "fails"
    assert prove(text, "K can still be reached", **bound).outcome == "undecided"


def test_reach_does_not_trust_a_timer_that_is_over_at_any_time():
    """A pulse shorter than the delay never gets through: with timers that end when they like it would."""
    text = "VAR P : TP; T : TON; END_VAR P(IN := A, PT := T#20ms); T(IN := P.Q, PT := T#50ms); K := T.Q;"
    assert prove(text, "K can still be reached").outcome == "fails"
    assert prove(text.replace("T#50ms", "T#10ms"), "K can still be reached")


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("every K1 can still be reached", "K1 can still be reached"),
        ("K1 and not S1 can still be reached", "(K1 and not S1) can still be reached"),
        ("whenever not K1 then not K2 for 50 ms", "whenever not K1 then not K2 for 50 ms"),
        ("whenever A then B for 1 scan", "whenever A then B for 1 scans"),
    ],
)
def test_forms_are_read_and_printed(text, printed):
    assert repr(requirement(text)) == printed
    assert requirement(printed) == requirement(text)


def test_slips_of_the_new_forms():
    with pytest.raises(ProofError, match="is no length of time") as caught:
        requirement("whenever A then B for ever")
    assert caught.value.try_this == "write for 3 scans, or for 50 ms"
    with pytest.raises(ProofError, match="a name is missing"):
        requirement("every can still be reached")

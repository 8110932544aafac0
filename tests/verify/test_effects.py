"""Single faults and equal programs."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
import re
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import labkit.verify
from labkit.bench import Bench
from labkit.logic import read_st, walker
from labkit.verify import Bridge, Off, ProofError, Pulled, failure_effects, prove, same_behaviour
from labkit.verify._search import MOST_TRANSITIONS
from labkit.verify._systems import MOST_SETS

STOPS = "whenever pos:S1 then not pole:K1 or not pos:S1 within 3 scans"
EMERGENCY = "whenever pos:S0 then not pole:K1 or not pos:S0 within 3 scans"
STARTS = "pole:K1 only after pos:S2"


@pytest.fixture(scope="module")
def bench():
    bench = Bench("orchard")
    bench.load("K1 := S1 AND (S2 OR K1);")
    return bench


def test_no_wire_that_comes_off_takes_the_stop_away(bench):
    """Closed-circuit principle (IEC 60204-1 on earth faults and open circuits; clause from memory: 9.4.3)."""
    effects = failure_effects(bench, [STOPS, EMERGENCY, STARTS], may=["S1", "S2", "S0"])
    assert len(effects.rows) == 1 + len(bench.wiring.wires)
    assert effects.dangerous == ()
    assert all(v is not None for _, row in effects.rows for v in row)


# worked by hand on the circuit diagram: what each bridge takes away
BY_HAND = [
    (Bridge("X1:24I", "A1:I1"), "fhh"),  # the input of stop always reads 1
    (Bridge("X1:24I", "A1:I2"), "hhf"),  # start always reads 1; stop still wins
    (Bridge("A1:Q1", "A1:QA+"), "fhf"),  # past the output, behind the emergency stop
    (Bridge("S0:11", "S0:12"), "hfh"),  # past the emergency stop
    (Bridge("K1:A1", "X1:24V"), "fff"),  # straight to the coil
    (Pulled("K1.aux"), "hhh"),
    (Off("221"), "hhh"),
]


def test_bridges_by_hand(bench):
    faults = [fault for fault, _ in BY_HAND]
    effects = failure_effects(bench, [STOPS, EMERGENCY, STARTS], faults, may=["S1", "S2", "S0"])
    assert [v.outcome for v in effects.rows[0][1]] == ["holds"] * 3
    assert ["".join(v.outcome[0] for v in row) for _, row in effects.rows[1:]] == [word for _, word in BY_HAND]
    assert all(v.story.replayed for _, row in effects.rows for v in row if v.outcome == "fails")
    assert effects.dangerous == tuple(fault for fault, word in BY_HAND if "f" in word)
    assert effects.csv().splitlines()[1] == "none,holds,holds,holds"
    assert len(effects.csv().splitlines()) == 2 + len(BY_HAND)
    assert repr(effects).startswith("5 of 7 faults break what holds: X1:24I joined to A1:I1")


def test_a_stop_button_wired_as_normally_open_is_lost_with_its_wire():
    """The start button's NO contact used as a stop: the wire off, nobody can stop."""
    bench = Bench("orchard")
    bench.load("K1 := NOT S2 AND (S6 OR K1);")
    asked = "whenever pos:S2 then not pole:K1 or not pos:S2 within 3 scans"
    effects = failure_effects(bench, asked, [Off("102"), Off("122"), Off("101")], may=["S2", "S6"])
    assert [row[0].outcome for _, row in effects.rows] == ["holds", "fails", "fails", "holds"]


def test_the_bench_is_not_touched(bench):
    before = bench.wiring, bench.log[:], bench.now_us
    failure_effects(bench, STOPS, [Off("101")])
    prove(bench, STARTS, may=["S1", "S2", "wire:101", "K1.aux"])
    assert (bench.wiring, bench.log, bench.now_us) == before
    with pytest.raises(ProofError):
        failure_effects(Bench("orchard"), STOPS)


# equivalence --------------------------------------------------------------------------------------
def _expression(names):
    return st.recursive(
        st.sampled_from([*names, *(f"NOT {n}" for n in names)]),
        lambda inner: st.tuples(inner, st.sampled_from([" AND ", " OR ", " XOR "]), inner).map(
            "({0[0]}{0[1]}{0[2]})".format
        ),
        max_leaves=5,
    )


@settings(max_examples=80, deadline=None, derandomize=True)
@given(_expression("ABC"), _expression("ABC"))
def test_expressions_are_equal_where_their_tables_are(one, other):
    def table(text):
        rows = []
        for row in product((False, True), repeat=3):
            values = dict(zip("ABC", row, strict=True))
            walker(read_st(text)).scan(values, 0)
            rows.append(values["K"])
        return rows

    one, other = f"K := {one};", f"K := {other};"
    assert (same_behaviour(one, other).outcome == "holds") == (table(one) == table(other))


def test_programs_with_memory():
    seal = "K := STOP AND (START OR K);"
    latch = "VAR F : RS; END_VAR F(S := START, R1 := NOT STOP); K := F.Q1;"
    assert same_behaviour(seal, latch)
    wins = "VAR F : SR; END_VAR F(S1 := START, R := NOT STOP); K := F.Q1;"
    verdict = same_behaviour(seal, wins)
    assert verdict.story.text == "scan 1: START = 1; then differ = 1"
    # a delay of three scans and one of four differ in the fourth scan
    delay = "VAR T : TON; END_VAR T(IN := A, PT := T#{}ms); K := T.Q;"
    assert same_behaviour(delay.format(30), delay.format(40)).depth == 4
    assert same_behaviour(delay.format(35), delay.format(40))
    with pytest.raises(ProofError, match="no name in common"):
        same_behaviour("K := A;", "M := A;")
    with pytest.raises(ProofError, match="does not write"):
        same_behaviour("K := A;", "K := A;", ["L"])


# the page and the docstrings ----------------------------------------------------------------------
def test_docstrings_are_true():
    tried = 0
    for module in pkgutil.iter_modules(labkit.verify.__path__):
        if module.name == "_check":  # a process of its own, see test_gates.py
            continue
        result = doctest.testmod(importlib.import_module(f"labkit.verify.{module.name}"))
        assert result.failed == 0
        tried += result.attempted
    assert tried >= 12


def test_the_page_is_true():
    page = (Path(__file__).parents[2] / "docs/explanation/proof.md").read_text(encoding="utf-8")
    assert f"{MOST_SETS:,} combinations" in page
    assert f"{labkit.verify.MOST_STATES:,} states" in page
    assert f"{MOST_TRANSITIONS:,} transitions" in page
    (example,) = re.findall(r"```python\n(.*?)```", page, flags=re.S)
    names: dict = {}
    *setup, last = example.strip().splitlines()
    exec("\n".join(setup), names)
    question, answer = last.split("#")
    assert repr(eval(question, names)) == answer.strip()

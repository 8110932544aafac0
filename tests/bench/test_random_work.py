"""Anything a person may do, in any order: the bench goes on, recording does not touch it, and it plays again."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit.bench import Bench, Stimulus
from labkit.board import load_board

PROGRAM = """
VAR T1 : TON; FAULT : BOOL; END_VAR
VAR RETAIN RUN : BOOL; END_VAR
K1 := S1 AND NOT F3_T AND NOT FAULT AND (S2 OR K1 AND K1_A);
T1(IN := K1 AND NOT K1_A, PT := T#200ms);
FAULT := (T1.Q OR FAULT) AND NOT S6;
P1 := K1_A; P2 := NOT K1_A; P3 := FAULT; P4 := B1 AND NOT B2; P9 := S4_L; P5 := S5 AND S0;
"""

_hold = st.integers(1, 400).map(lambda n: n / 2)
_buttons = st.sampled_from(["S1", "S2", "S2", "S6"])
_flag = st.booleans()

_deeds = st.one_of(
    st.fixed_dictionaries({"do": st.just("press"), "part": _buttons, "hold_ms": _hold}),
    st.fixed_dictionaries({"do": st.sampled_from(["press", "release"]), "part": st.sampled_from(["S0", "S1", "S2"])}),
    st.fixed_dictionaries({"do": st.just("turn"), "part": st.just("S4"), "to": st.sampled_from(["left", "right"])}),
    st.fixed_dictionaries({"do": st.just("key"), "part": st.just("S5"), "on": _flag}),
    st.fixed_dictionaries({"do": st.just("power"), "on": _flag}),
    st.fixed_dictionaries({"do": st.just("breaker"), "part": st.sampled_from(["F1", "F2", "F4", "F5"]), "on": _flag}),
    st.fixed_dictionaries({"do": st.just("beam"), "part": st.just("B1"), "blocked": _flag}),
    st.fixed_dictionaries({"do": st.just("metal"), "part": st.just("B2"), "mm": st.integers(0, 12)}),
    st.fixed_dictionaries({"do": st.sampled_from(["trip", "reset"]), "part": st.just("F3")}),
    st.fixed_dictionaries({"do": st.sampled_from(["weld", "unweld", "jam", "free"]), "part": st.just("K1")}),
    st.fixed_dictionaries(
        {"do": st.just("joint"), "wire": st.sampled_from([101, 211, 221]), "ohm": st.integers(0, 99)}
    ),
    st.fixed_dictionaries({"do": st.just("bounce"), "part": st.just("S2"), "gaps_ms": st.just([0.4, 0.3])}),
    st.fixed_dictionaries({"do": st.sampled_from(["run", "stop"])}),
)


@st.composite
def stimuli(draw: st.DrawFn) -> Stimulus:
    rows, at = [], 0.0
    for deed in draw(st.lists(_deeds, max_size=14)):
        at += draw(st.integers(0, 2_000)) / 10
        rows.append({"at_ms": at, **deed})
    return Stimulus.of(rows)


@pytest.fixture(scope="module")
def model() -> Bench:
    return Bench(load_board("orchard"))


def _up(model: Bench) -> Bench:
    bench = model.again()
    bench.power_up()
    bench.load(PROGRAM)
    return bench


def _all_there_is(bench: Bench) -> tuple[object, ...]:
    engine = bench.engine
    bits = [engine.controller.bit(tag.name) for tag in bench.tags]
    return bench.states(), engine.raw, bits, bench.mode, engine.clock.waiting(), bench.speed("M1"), engine.key


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], derandomize=True)
@given(stimulus=stimuli())
def test_with_and_without_a_recorder_the_same_states_and_a_trace_that_makes_sense(
    model: Bench, stimulus: Stimulus
) -> None:
    plain, watched = _up(model), _up(model)
    plain.play(stimulus)
    plain.wait_until(plain.now_us + 300_001)
    with watched.record() as trace:
        watched.play(stimulus)
        watched.wait_until(watched.now_us + 300_001)
    assert _all_there_is(watched) == _all_there_is(plain)
    trace.check()
    end = {name: signal.changes[-1][1] for name, signal in trace.signals.items()}
    for part, state in plain.states().items():
        assert end[f"pos:{part}"] == state
    for tag in plain.tags:
        assert end[f"bit:{tag.name}"] == plain.bit(tag.name)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], derandomize=True)
@given(stimulus=stimuli(), cut=st.integers(1, 40))
def test_waiting_in_pieces_is_waiting(model: Bench, stimulus: Stimulus, cut: int) -> None:
    whole, pieces = _up(model), _up(model)
    whole.play(stimulus)
    pieces.play(stimulus)
    end = whole.now_us + 250_000
    whole.wait_until(end)
    while pieces.now_us < end:
        pieces.wait_until(min(end, pieces.now_us + cut * 977))
    assert _all_there_is(whole) == _all_there_is(pieces)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], derandomize=True)
@given(stimulus=stimuli())
def test_the_log_plays_again(model: Bench, stimulus: Stimulus) -> None:
    first, second = _up(model), _up(model)
    first.play(stimulus)
    start = second.now_us
    second.play(Stimulus.from_log(first.log, start_us=start))
    second.wait_until(first.now_us)
    assert _all_there_is(first) == _all_there_is(second)

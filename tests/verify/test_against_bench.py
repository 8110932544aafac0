"""The model against the real bench: random walks through the model are done on a bench, scan by scan."""

from __future__ import annotations

import random

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.verify import prove, things
from labkit.verify._replay import WAYS, _Replay
from labkit.verify._systems import Board, _NeedsImage

NAMES = ["S1", "S2", "S0", "K1_A", "F3_T", "K1", "P1", "M", "T1.Q", "T2.Q", "E1.Q"]
MAY = ["S1", "S2", "S0", "F4", "F3", "K1.aux", "power", "wire:101", "wire:221", "weld:K1", "B1", "panel:M", "F1"]
SIGNALS = ("K1", "S1", "M", "K1_A", "pole:K1", "lit:P1", "coil:K1", "back:A1", "run:A1")


def _expression(rng: random.Random, depth: int = 0) -> str:
    if depth > 2 or rng.random() < 0.4:
        return rng.choice(["", "", "NOT "]) + rng.choice(NAMES)
    return f"({_expression(rng, depth + 1)} {rng.choice(['AND', 'OR', 'XOR'])} {_expression(rng, depth + 1)})"


def random_program(rng: random.Random, scan_ms: int) -> str:
    return (
        "VAR T1 : TON; T2 : TOF; E1 : R_TRIG; M : BOOL; END_VAR\n"
        f"T1(IN := {_expression(rng)}, PT := T#{rng.choice([2, 3, 5]) * scan_ms}ms);\n"
        f"T2(IN := {_expression(rng)}, PT := T#{rng.choice([2, 4]) * scan_ms}ms);\n"
        f"E1(CLK := {_expression(rng)});\nM := {_expression(rng)};\n"
        f"P1 := {_expression(rng)};\nK1 := {_expression(rng)};"
    )


@pytest.fixture(scope="module", params=["alder", "birch"])
def bench(request):
    # birch counts timers in 100 ms: a scan that is a multiple of it
    return Bench("orchard", family=request.param, scan=ms(100) if request.param == "birch" else None)


@pytest.mark.parametrize("seed", range(60))
def test_model_and_bench_go_the_same_way(bench, seed):
    rng = random.Random(seed)
    bench.load(random_program(rng, bench.scan_period_us // 1000 if bench.mode == "run" else 10))
    system = Board(bench, things(bench, rng.sample(MAY, 3)), SIGNALS)
    path, views, state = [], [], system.first()
    for _ in range(25):
        try:
            following = list(system.after(state))
        except _NeedsImage:
            system.keep_image()
            return
        state, view, choice = rng.choice(following)
        path.append(choice)
        views.append(view)
    for way in WAYS:
        replay = _Replay(system, *way)
        done = [replay.step(choice) for choice in path]
        if done == views:
            break
    assert done == views


def test_every_story_is_seen_on_the_bench(bench):
    rng = random.Random(5)
    fails = 0
    for _ in range(60):
        bench.load(random_program(rng, 10 if bench.family.name == "alder" else 100))
        a, b = rng.sample(["K1", "pole:K1", "lit:P1", "S1", "M", "back:A1"], 2)
        form = rng.choice([f"never {a} and not {b}", f"whenever {a} then {b} within 2 scans", f"{a} only after {b}"])
        verdict = prove(bench, form, may=rng.sample(MAY, 3), most_states=3000)
        if verdict.outcome == "fails":
            fails += 1
            assert verdict.story.replayed is True
    assert fails > 15

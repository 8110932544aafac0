"""The model against the real bench: random walks through the model are done on a bench, scan by scan."""

from __future__ import annotations

import random

import pytest

from labkit.base import ms
from labkit.bench import Bench, Rank
from labkit.verify import prove, things
from labkit.verify._replay import _Replay
from labkit.verify._systems import Board, _NeedsImage

NAMES = ["S1", "S2", "S0", "K1_A", "F3_T", "K1", "P1", "M", "T1.Q", "T2.Q", "E1.Q"]
MAY = ["S1", "S2", "S0", "F4", "F3", "K1.aux", "power", "wire:101", "wire:221", "weld:K1", "B1", "panel:M", "F1"]
SIGNALS = ("K1", "S1", "M", "K1_A", "pole:K1", "lit:P1", "coil:K1", "back:A1", "run:A1")

LEAK_OHM = 7_200.0


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


# family, scan in ms, and a leak past S2 that leaves its channel inside its hysteresis when it is released.
# Birch counts timers in 100 ms, so its scan is a multiple of that. In scans of 7 ms an armature arrives less than a
# filter time before the read, so its channel is a scan late.
SETUPS = {
    "alder": ("alder", 10, 0),
    "birch": ("birch", 100, 0),
    "quick": ("alder", 7, 0),
    "leak": ("alder", 20, LEAK_OHM),
}


@pytest.fixture(scope="module", params=SETUPS)
def bench(request):
    family, scan_ms, ohm = SETUPS[request.param]
    bench = Bench("orchard", family=family, scan=ms(scan_ms))
    if ohm:
        bench.join("X1:24I", "A1:I2", ohm)
    return bench


class Together(_Replay):
    """Hands and outputs that move at one instant do so before the network is solved, as in the model."""

    def hands(self, choice):
        engine = self.bench.engine
        if self.first:
            super().hands(choice)
            return

        def do():
            engine.act = lambda move, name: move()
            try:
                super(Together, self).hands(choice)
            finally:
                del engine.act

        now = self.bench.now_us
        engine.later("hands", now, Rank.ELECTRIC, do)
        self.bench.wait_until(now + 1)


def _walk(system, rng):
    path, views, state = [], [], system.first()
    for _ in range(40):
        state, view, choice = rng.choice(list(system.after(state)))
        path.append(choice)
        views.append(view)
    return path, views


@pytest.mark.parametrize("seed", range(50))
def test_model_and_bench_go_the_same_way(bench, seed):
    rng = random.Random(seed)
    bench.load(random_program(rng, bench.family.scan.period_us // 1000))
    system = Board(bench, things(bench, ["S2", *rng.sample(MAY, 2)]), SIGNALS)
    try:
        path, views = _walk(system, random.Random(seed))
    except _NeedsImage:
        system.keep_image()
        path, views = _walk(system, random.Random(seed))
    replay = Together(system, 0, False)
    assert [replay.step(choice) for choice in path] == views


def test_every_story_is_seen_on_the_bench(bench):
    rng = random.Random(5)
    fails = 0
    for _ in range(60):
        bench.load(random_program(rng, bench.family.scan.period_us // 1000))
        a, b = rng.sample(["K1", "pole:K1", "lit:P1", "S1", "M", "back:A1"], 2)
        form = rng.choice([f"never {a} and not {b}", f"whenever {a} then {b} within 2 scans", f"{a} only after {b}"])
        verdict = prove(bench, form, may=rng.sample(MAY, 3), most_states=3000)
        if verdict.outcome == "fails":
            fails += 1
            assert verdict.story.replayed is True
    assert fails > 15


@pytest.mark.parametrize("seed", range(25))
def test_a_coil_that_only_holds(seed):
    """Wire 221 off and 100 ohm beside it: 24 V * 192 / 292 = 15.8 V at the coil, which hold it and pull nothing in."""
    rng = random.Random(seed)
    bench = Bench("orchard")
    bench.join("K1:A2", "X1:0V", 100.0)
    bench.load("K1 := S1 AND NOT S2;")
    signals = ("K1", "S1", "K1_A", "pole:K1", "coil:K1")
    system = Board(bench, things(bench, ["wire:221", "F4", "S2"]), signals)
    path, views = _walk(system, rng)
    replay = Together(system, 0, False)
    assert [replay.step(choice) for choice in path] == views

"""The gates against the states: the same verdict, length and story whichever way a system is explored."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

import pytest
from verify_generated import program, requirement

import labkit.verify
from labkit.base import ms
from labkit.bench import Bench
from labkit.logic import read_st
from labkit.verify import ProofError, prove
from labkit.verify import _lanes as lanes
from labkit.verify._aiger import to_aig
from labkit.verify._bare import Bare, NeedsImage
from labkit.verify._export import system_of
from labkit.verify._lanes import Classes, explore
from labkit.verify._model import model
from labkit.verify._refine import search_gates
from labkit.verify._search import search
from labkit.verify.prove import _Question
from labkit.verify.requirements import requirement as read_requirement
from labkit.verify.requirements import signals

THREE = """VAR T1, T2, T3 : TON; END_VAR
T1(IN := A, PT := T#{0}ms); T2(IN := B, PT := T#{0}ms); T3(IN := C, PT := T#{0}ms);
K := T1.Q AND T2.Q AND T3.Q; L := T1.Q;"""


def _by_states(question: _Question, most: int = 4000):
    system = question.system(any_preset=False)
    try:
        return search(system, question.wanted, question.order, most_states=most, most_scans=None)
    except NeedsImage:
        system.keep_image()
        return search(system, question.wanted, question.order, most_states=most, most_scans=None)


def _breaks(system, asked, path) -> int | None:
    """The scan of the system itself in which a path of choices breaks the requirement."""
    order = {name: i for i, name in enumerate(signals(asked))}
    state, watch, memory = system.first(), asked.watch(order, system.scan_us), 0
    for scan, choice in enumerate(path, 1):
        state, view = system.follow(state, choice)
        memory, broken = watch(memory, view)
        if broken:
            return scan
    return None


# a leak past S2 leaves its channel inside its hysteresis: the read depends on the one before
BOARDS = [("alder", 10, 0), ("birch", 100, 0), ("alder", 7, 0), ("alder", 20, 7_200.0)]
MAY = ["S1", "S2", "S0", "F4", "F3", "K1.aux", "power", "wire:101", "wire:221", "weld:K1", "B1", "panel:M", "F1", "S4"]
NAMES = ["S1", "S2", "S0", "S4_L", "K1_A", "F3_T", "K1", "P1", "M", "T1.Q", "T2.Q", "E1.Q"]


@pytest.mark.parametrize("seed", range(40))
def test_on_a_board(seed):
    rng = random.Random(seed)
    family, scan_ms, ohm = rng.choice(BOARDS)
    bench = Bench("orchard", family=family, scan=ms(scan_ms))
    if ohm:
        bench.join("X1:24I", "A1:I2", ohm)

    def e() -> str:
        words = rng.choices(NAMES, k=3)
        return f"({words[0]} {rng.choice(['AND', 'OR', 'XOR'])} NOT {words[1]}) OR ({words[2]} AND S1)"

    bench.load(
        "VAR T1 : TON; T2 : TOF; E1 : R_TRIG; M : BOOL; END_VAR\n"
        f"T1(IN := {e()}, PT := T#{2 * scan_ms}ms); T2(IN := {e()}, PT := T#{3 * scan_ms}ms); E1(CLK := {e()});\n"
        f"M := {e()}; P1 := {e()}; K1 := {e()};"
    )
    a, b = rng.sample(["K1", "pole:K1", "lit:P1", "S1", "M", "back:A1", "coil:K1", "run:A1"], 2)
    forms = (f"never {a} and not {b}", f"whenever {a} then {b} within 2 scans", f"{a} only after {b}",
             f"{a} stays until {b}", f"whenever {a} then {b} for 2 scans")  # fmt: skip
    may = [*rng.sample(MAY, rng.randint(1, 3)), *rng.choice([[], [], ["contactor times"]])]
    question = _Question(bench, rng.choice(forms), None, may, None)
    expected = _by_states(question)
    if expected.outcome == "undecided":
        assert expected.states > 4000
        return
    system = question.system(any_preset=False)
    gates = model(system, question.wanted)
    found = explore(gates.flat())
    assert (found.outcome, found.triggered) == (expected.outcome, expected.triggered)
    if found.outcome == "fails":
        assert found.depth == expected.depth
        names = gates.flat().inputs
        path = [gates.choice(dict(zip(names, bits, strict=True))) for bits in found.path]
        assert _breaks(system, question.wanted, path) == found.depth


@pytest.mark.parametrize("seed", range(80))
def test_timers_counted_only_where_needed(seed):
    """The refined answer is that of counting all, and of the states."""
    rng = random.Random(1000 + seed)
    # a counter of both directions has 65,536 values: nothing to do with timers, and long
    text, asked = program(rng, blocks=3, but="CTUD"), read_requirement(requirement(rng))
    question = _Question(text, asked, None, None, None)
    system = question.system(any_preset=False)
    found, exact = search_gates(system, asked, most_states=300_000, most_scans=None)
    plain = explore(model(system, asked).flat())
    assert found.outcome == plain.outcome
    states = _by_states(question)
    if states.outcome != "undecided":
        assert found.outcome == states.outcome
    if found.outcome == "fails":
        assert found.depth == plain.depth == _breaks(system, asked, found.path)
    else:
        assert exact <= {t.instance for t in system.steps.timers}


@pytest.mark.parametrize("seed", range(60))
def test_numpy_goes_the_same_way(seed, monkeypatch):
    rng = random.Random(seed)
    flat = system_of(program(rng, blocks=3), requirement(rng))
    plain = explore(flat, most_states=20_000)
    monkeypatch.setattr(lanes, "WIDE_FROM", 1)
    monkeypatch.setattr(lanes, "NARROW", rng.choice([0, 0, 3]))
    wide = explore(flat, most_states=20_000)
    assert (wide.outcome, wide.triggered) == (plain.outcome, plain.triggered)
    if plain.outcome == "holds":
        assert (wide.states, wide.depth) == (plain.states, plain.depth)
    if plain.outcome == "fails":
        assert wide.depth == plain.depth
        for found in (plain, wide):
            assert [out[0] for out in flat.walk(found.path)] == [0] * (plain.depth - 1) + [1]


@pytest.mark.parametrize("seed", range(20))
def test_gates_from_the_list_are_the_compiled_ones(seed, monkeypatch):
    """More gates than are made into one function are worked out one by one."""
    rng = random.Random(seed)
    flat = system_of(program(rng, blocks=3, but="CTUD"), requirement(rng))
    compiled = explore(flat)
    monkeypatch.setattr(lanes, "MOST_COMPILED", 0)
    listed = explore(flat)
    for part in ("outcome", "states", "depth", "triggered", "path"):
        assert getattr(listed, part) == getattr(compiled, part)


def test_more_successors_than_lanes_can_hold(monkeypatch):
    """Eleven memories with an input each, the first of which no later scan reads: 1,024 successors of one state."""
    names = [f"M{n}" for n in range(11)]
    text = "\n".join(f"M{n} := A{n} XOR M{(n + 1) % 11};" for n in range(11))
    flat = system_of(text, f"never {' and '.join(names)} and not A0 and not M0")
    monkeypatch.setattr(lanes, "MOST_LANE_BITS", 0)
    found = explore(flat)
    assert (found.outcome, found.states, found.depth) == ("holds", 1024, 1)
    monkeypatch.setattr(lanes, "MOST_LATCHES", 0)
    found = explore(flat)
    assert (found.outcome, found.bound) == ("undecided", "512 successors of one state")


def test_many_state_bits_are_kept_in_sorted_runs(monkeypatch):
    """Beyond what a byte map holds."""
    asked = read_requirement("never K and not A")
    flat = model(Bare(read_st(THREE.format(300)), signals(asked), 10_000), asked).flat()
    expected = explore(flat)
    monkeypatch.setattr("labkit.verify._wide.MAPPED", 0)
    found = explore(flat)
    assert (found.outcome, found.states, found.depth) == (expected.outcome, expected.states, expected.depth)
    # each timer by itself: at rest, running with an age of 0 to 29 scans, done
    assert found.states == 32**3


@pytest.mark.parametrize(
    ("asked", "outcome", "scans", "said"),
    [
        ("never K and not A", "holds", None, "true whatever the timers' presets"),
        ("never L", "fails", 51, "timers are counted in scans of 10 ms"),
        ("never K", "fails", 51, "timers are counted in scans of 10 ms"),
        ("whenever A then L or not A within 49 scans", "fails", 50, "timers are counted in scans of 10 ms"),
        # T1 alone must be counted for that one
        ("whenever A and not K then L or not A within 50 scans", "holds", None, "true whatever the presets of T2, T3"),
    ],
)
def test_three_exact_timers(asked, outcome, scans, said):
    """500 ms at 10 ms scans: Q comes 50 scans after the first, so in scan 51; counted by hand."""
    verdict = prove(THREE.format(500), asked)
    assert verdict.outcome == outcome
    assert said in verdict.assumptions
    if scans:
        assert verdict.depth == verdict.story.scans == scans


def test_inputs_that_nothing_tells_apart_are_one_class():
    """A parity of 16 inputs: only the parity and the stop matter, so four classes of 131,072 sets of inputs."""
    names = [f"I{n}" for n in range(16)]
    flat = system_of(f"K := S1 AND (K XOR {' XOR '.join(names)});", "never K and not S1")
    assert len(flat.inputs) == 17
    assert Classes(flat).lanes == 4
    assert explore(flat).outcome == "holds"


def test_a_program_alone_needs_no_bench_and_no_numpy():
    code = (
        "import sys; from labkit.verify import prove, same_behaviour\n"
        "v = prove('VAR T : TON; END_VAR T(IN := A, PT := T#50ms); K := T.Q AND B;', 'never K')\n"
        "same_behaviour('K := A AND B;', 'K := B AND A;')\n"
        "print(v, sorted({'numpy', 'pydantic', 'labkit.bench', 'labkit.board'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "fails: in 6 scans []\n"


@pytest.mark.parametrize(
    ("text", "asked", "code", "said"),
    [
        ("K := S1 AND (S2 OR K);", "whenever not S1 then not K", 0, "holds 1 2"),
        ("K := S2 OR (S1 AND K);", "whenever not S1 then not K", 1, "fails 1 1"),
        (THREE.format(300), "never K and not A", 0, f"holds 31 {32**3}"),
    ],
)
def test_a_file_checked_in_a_process_of_its_own(tmp_path, text, asked, code, said):
    """The last one is large enough that numpy comes in, from where the bare interpreter does not look."""
    target = tmp_path / "question.aig"
    target.write_bytes(to_aig(system_of(text, asked)))
    script = Path(labkit.verify.__file__).with_name("_check.py")
    done = subprocess.run(
        [sys.executable, "-S", "-E", str(script), str(target)], capture_output=True, text=True, check=False
    )
    assert (done.stdout.strip(), done.returncode) == (said, code), done.stderr


def test_a_map_too_large_for_gates_goes_state_by_state(monkeypatch):
    """No file then, and still the same answer."""
    bench = Bench("orchard")
    bench.load("K1 := S1 AND (S2 OR K1_A); P1 := S2;")
    asked, may = "never pole:K1 and back:A1", ["S1", "S2", "K1.aux", "F4"]
    expected = prove(bench, asked, may=may)
    monkeypatch.setattr("labkit.verify._map.MOST_ROWS", 64)
    with pytest.raises(ProofError, match="electrical map"):
        system_of(bench, asked, may=may)
    monkeypatch.setattr(sys.modules[_Question.__module__], "FEW", 20)
    verdict = prove(bench, asked, may=may)
    assert verdict == expected
    assert verdict.outcome == "holds"

"""The standard blocks against the standard's own equations and timing diagrams (tests/truth/SOURCES.md)."""

from __future__ import annotations

import csv
from itertools import groupby
from pathlib import Path

import pytest
from logic_engines import all_agree

from labkit.logic import BLOCKS, read_program

TRUTH = Path(__file__).parent.parent / "truth"


def rows(name):
    with (TRUTH / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def cases(name):
    return [(key, list(group)) for key, group in groupby(rows(name), key=lambda r: (r["block"], r["case"]))]


def words(text):
    """``"CU=1 R=0"`` as a dict."""
    return {k: int(v) for k, v in (w.split("=") for w in text.split())}


def in_st(kind, preset=""):
    pins = [f"{pin} := I_{pin}" for pin in BLOCKS[kind].inputs] + (
        [f"{BLOCKS[kind].preset} := {preset}"] if preset else []
    )
    return f"VAR B1 : {kind}; END_VAR\nB1({', '.join(pins)});"


def in_ladder(kind, preset=""):
    """The same block as a box, its further inputs written on their pins."""
    block = BLOCKS[kind]
    left = [*block.inputs, *([block.preset] if preset else [])]
    right = [*block.outputs, *([block.value] if block.value else [])]
    lines = [
        "|             B1           |",
        "|          +--------+      |",
        f"|  I_{block.inputs[0]:<6}|{kind:^8}|      |",
    ]
    for i in range(max(len(left), len(right))):
        pin = left[i] if i < len(left) else ""
        word = preset if pin == block.preset else f"I_{pin}"
        lead = "--| |-----" if i == 0 else f"{word + '--':>10}" if pin else " " * 10
        out = right[i] if i < len(right) else ""
        lines.append(f"|{lead}|{pin:<4}{out:>4}|" + ("------|" if i == 0 else "      |"))
    lines.append("|          +--------+      |")
    return "\n".join(lines)


@pytest.mark.parametrize("draw", [in_st, in_ladder])
@pytest.mark.parametrize(
    ("case", "steps"), cases("fb_timer_sequences.csv"), ids=lambda v: " ".join(v) if isinstance(v, tuple) else ""
)
def test_each_row_of_the_timing_diagrams(case, steps, draw):
    program = read_program(draw(case[0], f"T#{steps[0]['pt_ms']}ms"))
    assert len({r["pt_ms"] for r in steps}) == 1
    history = all_agree(program, [(int(r["t_ms"]) * 1000, [{"I_IN": r["in"] == "1"}]) for r in steps])
    got = [(b[0]["B1.Q"], v[0]["B1.ET"]) for b, v in zip(history.bits, history.values, strict=True)]
    assert got == [(int(r["q"]), int(r["et_ms"]) * 1000) for r in steps]


@pytest.mark.parametrize("draw", [in_st, in_ladder])
@pytest.mark.parametrize(
    ("case", "steps"), cases("fb_step_tables.csv"), ids=lambda v: " ".join(v) if isinstance(v, tuple) else ""
)
def test_each_row_of_the_step_tables(case, steps, draw):
    kind, name = case
    block = BLOCKS[kind]
    program = read_program(draw(kind, name.removeprefix("PV=") if name.startswith("PV=") else ""))
    calls = [{f"I_{p}": bool(words(r["inputs"]).get(p, 0)) for p in block.inputs} for r in steps]
    if name.startswith("Q1 was"):  # a truth table: each row from the same Q1, so each is a run of its own
        first = dict.fromkeys(calls[0], False)
        if name.endswith("1"):
            first[f"I_{block.inputs[0] if kind == 'SR' else 'S'}"] = True
        runs = [[first, call] for call in calls]
    else:
        runs = [calls]
    got = []
    for run in runs:
        history = all_agree(program, [(i * 10_000, [call]) for i, call in enumerate(run)])
        both = zip(history.bits, history.values, strict=True)
        found = [{k.removeprefix("B1."): v for k, v in (b[0] | x[0]).items()} for b, x in both]
        got += found[1:] if name.startswith("Q1 was") else found
    want = [words(r["outputs"]) for r in steps]
    assert [{k: g[k] for k in w} for g, w in zip(got, want, strict=True)] == want


def test_every_row_is_executed():
    """No case is lost by the grouping above: 38 timer rows and 57 step rows in the reference."""
    assert sum(len(s) for _, s in cases("fb_timer_sequences.csv")) == len(rows("fb_timer_sequences.csv")) == 38
    assert sum(len(s) for _, s in cases("fb_step_tables.csv")) == len(rows("fb_step_tables.csv")) == 57


def test_counters_stop_at_the_limits_of_int():
    """PVmin and PVmax are the limits of INT, -32768 and 32767 (IEC 61131-3 elementary types, from memory)."""
    text = "VAR U : CTU; D : CTD; END_VAR\nU(CU := S1, PV := 32767); D(CD := S1, PV := 0);"
    program = read_program(text)
    from labkit.logic import lower, new_bits, new_memory, to_python

    low = lower(program)
    scan, bits, mem = to_python(low), new_bits(low), new_memory(low)
    for i in range(2 * 32_770):
        bits[low.slots.index("S1")] = i % 2
        scan(bits, mem, 0)
    assert low.values(mem) == {"U.CV": 32_767, "D.CV": -32_768}
    assert bits[low.slots.index("U.Q")] == 1


@pytest.mark.parametrize("kind", ["TON", "TOF", "TP"])
def test_a_preset_of_zero(kind):
    """From the diagrams with PT = 0: TON follows IN at once, TOF follows IN, TP gives no pulse."""
    program = read_program(in_st(kind, "T#0s"))
    history = all_agree(program, [(i, [{"I_IN": bit}]) for i, bit in enumerate([False, True, True, False, False])])
    want = {"TON": [0, 1, 1, 0, 0], "TOF": [0, 1, 1, 0, 0], "TP": [0, 0, 0, 0, 0]}[kind]
    assert [b[0]["B1.Q"] for b in history.bits] == want


def test_a_timer_is_running_only_while_its_output_may_still_change():
    from labkit.logic import lower, new_bits, new_memory, to_python

    low = lower(read_program(in_st("TON", "T#20ms")))
    scan, bits, mem = to_python(low), new_bits(low), new_memory(low)
    seen = []
    for now, bit in [(0, 0), (10_000, 1), (20_000, 1), (30_000, 1), (40_000, 1), (50_000, 0)]:
        bits[low.slots.index("I_IN")] = bit
        scan(bits, mem, now)
        seen.append((low.timing(mem, now), low.due_us(mem)))
    assert seen == [(False, None), (True, 30_000), (True, 30_000), (False, None), (False, None), (False, None)]

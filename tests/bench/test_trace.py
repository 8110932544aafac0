"""What a recording holds, what it says to a wrong name, and its VCD text beside IEEE 1364."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from labkit.base import ms, s
from labkit.bench import LAYERS, Bench, BenchError, Signal, Trace
from labkit.bench.vcd import vcd_text
from labkit.board import load_board


@pytest.fixture(scope="module")
def trace() -> Trace:
    bench = Bench(load_board("orchard"))
    bench.power_up()
    bench.load("VAR T1 : TON; END_VAR K1 := S1 AND (S2 OR K1_A); T1(IN := K1, PT := T#50ms); P1 := T1.Q;")
    bench.wait(ms(103))
    with bench.record() as trace:
        bench.press("S2", ms(60))
        bench.wait(ms(400))
        bench.press("S1", ms(60))
        bench.wait(s(1))
    return trace


def test_it_makes_sense_and_knows_its_span(trace: Trace) -> None:
    trace.check()
    assert trace.end_us - trace.start_us == 1_400_000
    assert [done.do for done in trace.events] == ["press", "press"]
    assert {name.partition(":")[0] for name in trace.signals} == set(LAYERS)


def test_a_change_at_the_very_start_is_kept(trace: Trace) -> None:
    start = trace.start_us
    assert trace["pos:S2"].changes[:2] == [(start, "released"), (start, "pressed")]
    assert trace["led:I2"].rises() == [start]


def test_layers_follow_one_another(trace: Trace) -> None:
    first = [trace[name].rises()[0] for name in ("led:I2", "in:I2", "bit:S2", "bit:K1", "out:Q1", "pole:K1", "in:I10")]
    assert first == sorted(first)
    assert first[5] - first[4] == 25_100  # output delay and pull-in
    assert trace.at("volts:Q1", first[4] + 100) == pytest.approx(24, abs=0.2)
    assert trace.at("coil:K1", first[4] + 99) == pytest.approx(0, abs=0.1)
    assert trace["aux:K1"].rises() == trace["pole:K1"].rises()


def test_bare_names_mean_bits_first(trace: Trace) -> None:
    assert trace["S2"].name == "bit:S2"
    assert trace["F4"].name == "pos:F4"
    assert trace["M1"].name == "motor:M1"
    assert trace["I2"].name == "in:I2"
    assert "T1.Q" in trace
    assert trace["T1.Q"].rises()[0] == trace["bit:P1"].rises()[0]
    assert "S99" not in trace


@pytest.mark.parametrize(
    ("name", "what", "cure"),
    [
        ("S22", "nothing called S22 was recorded", "Did you mean S2?"),
        ("bit:S22", "nothing called bit:S22 was recorded", "Did you mean bit:S2?"),
        ("bits:S2", "there is no layer 'bits' in a trace", "Did you mean bit?"),
    ],
)
def test_a_wrong_name_is_guessed(trace: Trace, name: str, what: str, cure: str) -> None:
    with pytest.raises(BenchError) as caught:
        trace.signal(name)
    assert (caught.value.what, caught.value.try_this) == (what, cure)


def test_the_motor_runs_up_and_down_in_small_steps(trace: Trace) -> None:
    speeds = [float(v) for _, v in trace["motor:M1"].changes]
    assert trace["motor:M1"].kind == "level"
    top = speeds.index(max(speeds))
    assert max(speeds) == 1.0
    assert speeds[: top + 1] == sorted(speeds[: top + 1])
    assert speeds[top:] == sorted(speeds[top:], reverse=True)
    assert speeds[-1] == 0
    assert all(abs(a - b) < 0.06 for a, b in pairwise(speeds))


def test_phases_tile_every_scan_and_can_be_had_by_span(trace: Trace) -> None:
    phases = trace.scans
    assert [p.kind for p in phases[:5]] == ["read", "solve", "write", "service", "idle"]
    for a, b in pairwise(phases):
        assert a.end_us == b.start_us
    start = trace.start_us
    some = list(trace.phases((start + 20_000, start + 40_000)))
    assert some == [p for p in phases if p.end_us > start + 20_000 and p.start_us < start + 40_000]
    assert trace.reads(start, start + 30_000) == [
        p.start_us for p in phases if p.kind == "read" and start < p.start_us <= start + 30_000
    ]
    assert len(trace.scan_runs) < 5  # rows of equal scans, not one by one


def _with(*changes: tuple[str, int, bool]):
    """Adds a signal x whose times count from the trace's start or end."""

    def spoil(t: Trace) -> None:
        t.signals["x"] = Signal("x", "bool", [(getattr(t, f"{edge}_us") + us, value) for edge, us, value in changes])

    return spoil


@pytest.mark.parametrize(
    ("spoil", "what"),
    [
        (_with(("start", 0, True), ("start", 5, True)), "x: a change that changes nothing"),
        (_with(("start", 1, True)), "x does not begin with the trace"),
        (_with(("start", 0, True), ("end", 1, False)), "x: times do not rise inside the trace"),
        (_with(("start", 0, True), ("start", 9, False), ("start", 9, True)), "x: times do not rise inside the trace"),
        (lambda t: t.scan_runs.append(t.scan_runs[0]), "the read phase overlaps"),
        (lambda t: setattr(t, "end_us", t.start_us - 1), "the trace ends before it begins"),
    ],
)
def test_check_finds_what_is_wrong(spoil, what: str) -> None:
    bench = Bench("orchard")
    bench.power_up()
    bench.load("K1 := S2;")
    with bench.record() as trace:
        bench.wait(ms(100))
    trace.check()
    spoil(trace)
    with pytest.raises(BenchError, match=what):
        trace.check()


def test_the_vcd_text_reads_back_to_the_same_changes(trace: Trace, tmp_path: Path) -> None:
    """IEEE 1364 clause 18: $timescale, $scope, $var, $enddefinitions, then #time and value changes."""
    path = trace.to_vcd(tmp_path / "seal.vcd")
    text = path.read_text(encoding="utf-8")
    assert text == vcd_text(trace)
    assert "$timescale 1 us $end" in text
    assert "$date" not in text  # the same trace gives the same text on any day
    codes: dict[str, str] = {}
    scope = ""
    for line in text.splitlines():
        if line.startswith("$scope"):
            scope = line.split()[2]
        elif line.startswith("$var"):
            codes[f"{scope}:{line.split()[4]}"] = line.split()[3]
    _, body = text.split("$enddefinitions $end")
    t, changes = 0, {}
    for line in body.splitlines():
        if line.startswith("#"):
            t = int(line[1:])
        elif line and line[0] in "01":
            changes.setdefault(line[1:], []).append((t, line[0] == "1"))
        elif line and line[0] in "rs":
            value, code = line[1:].split(" ")
            changes.setdefault(code, []).append((t, value))
    assert t == trace.end_us - trace.start_us
    for name in ("led:I2", "bit:K1", "pole:K1", "lit:P1"):
        layer, _, bare = name.partition(":")
        got = changes[codes[f"{layer}:{bare}"]]
        wanted = {at - trace.start_us: value for at, value in trace.signals[name].changes}
        assert got == list(wanted.items()), name
    assert [value for _, value in changes[codes["pos:S2"]]] == ["pressed", "released"]
    volts = [float(str(value)) for _, value in changes[codes["volts:Q1"]]]
    assert volts == list(dict(trace["volts:Q1"].changes).values())


def test_drawing_without_plots_says_what_to_import(trace: Trace, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Trace, "drawer", None)
    with pytest.raises(BenchError) as caught:
        trace.timing(["K1"])
    assert caught.value.try_this == "import labkit.plots first"

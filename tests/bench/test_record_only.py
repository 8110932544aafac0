"""A recording of some signals holds exactly what a full recording holds of them."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.base import ms, s
from labkit.bench import LAYERS, Bench, BenchError, Trace

PROGRAM = "VAR T1 : TON; END_VAR K1 := S1 AND (S2 OR K1_A); T1(IN := K1, PT := T#50ms); P1 := T1.Q; P2 := B1;"


def _worked(only: list[str] | None, before: int = 103) -> Trace:
    bench = Bench("orchard")
    bench.power_up()
    bench.load("K1 := S2;")
    bench.wait(ms(before))
    with bench.record(only) as trace:
        bench.load(PROGRAM)
        bench.press("S2", ms(60))
        bench.wait(ms(150))
        bench.remove("K1.aux")
        bench.wait(ms(300))
        bench.fit("K1.aux")
        bench.press("S2", ms(60))
        bench.beam("B1", True)
        bench.lift("101")
        bench.wait(ms(400))
        bench.breaker("F1", False)
        bench.wait(s(1))
    return trace


@pytest.fixture(scope="module")
def full() -> Trace:
    return _worked(None)


def _same(some: Trace, full: Trace, names: list[str]) -> None:
    some.check()
    assert list(some.signals) == names
    for name in names:
        assert some.signals[name].changes == full.signals[name].changes, name
        assert some.signals[name].kind == full.signals[name].kind
    assert (some.scan_runs, some.events) == (full.scan_runs, full.events)
    assert (some.start_us, some.end_us) == (full.start_us, full.end_us)


@pytest.mark.parametrize("layer", LAYERS)
def test_one_layer(full: Trace, layer: str) -> None:
    names = [name for name in full.signals if name.startswith(f"{layer}:")]
    assert names
    _same(_worked([layer]), full, names)


def test_named_signals_and_everything_of_one_name(full: Trace) -> None:
    _same(_worked(["bit:K1", "pole:K1", "volts:Q1"]), full, [n for n in full.signals if n in {
        "bit:K1", "pole:K1", "volts:Q1"}])  # fmt: skip
    names = [name for name in full.signals if name.partition(":")[2] == "K1"]
    assert {name.partition(":")[0] for name in names} == {"pos", "pole", "aux", "coil", "bit"}
    _same(_worked(["K1"]), full, names)


@settings(max_examples=12, deadline=None)
@given(st.data())
def test_any_choice(full: Trace, data: st.DataObject) -> None:
    chosen = data.draw(st.lists(st.sampled_from(sorted(full.signals)), min_size=1, max_size=8, unique=True))
    later = {"bit:T1.Q"}  # nobody knows it before the program is loaded
    _same(_worked([n for n in chosen if n not in later]), full, [n for n in full.signals if n in {*chosen} - later])


def test_nothing_at_all_is_a_recording_too(full: Trace) -> None:
    _same(_worked([]), full, [])


@pytest.mark.parametrize(
    ("name", "cure"),
    [("bit:K11", "Did you mean bit:K1?"), ("K11", "Did you mean K1?"), ("volt", "Did you mean volts?")],
)
def test_an_unknown_name_is_guessed_and_nothing_records(name: str, cure: str) -> None:
    bench = Bench("orchard")
    with pytest.raises(BenchError, match=f"nothing called {name}") as caught, bench.record([name]):
        pass
    assert caught.value.try_this.startswith(cure)
    with bench.record():  # the refused one is not under way
        bench.wait(ms(1))


def test_a_motor_has_its_speed_while_it_is_recorded_and_on_its_own_grid() -> None:
    """Run-up 300 ms in twentieths of 15 ms, whoever looks when; a coasting that is cut ends where it was cut."""
    bench = Bench("orchard")
    bench.power_up()
    bench.load("K1 := S2;")
    with bench.record(["motor", "pole:K1"]) as trace:
        bench.press("S2", ms(500))
        bench.wait(ms(100))
        (fed,) = trace["pole:K1"].rises()
        seen = [change for change in trace["motor:M1"].changes if change[0] > fed]
        assert seen == [(fed + 15_000 * n, pytest.approx(n / 20)) for n in range(1, len(seen) + 1)]
        assert len(seen) == (bench.now_us - fed) // 15_000 >= 3
        bench.wait(ms(600))
        bench.press("S2", ms(500))
        bench.wait(ms(100))
    trace.check()
    cut = trace["pole:K1"].falls()[0]
    again = trace["pole:K1"].rises()[1]
    steps = [t for t, _ in trace["motor:M1"].changes if cut < t < again]
    assert steps == [cut + 30_000 * n for n in range(1, len(steps) + 1)]  # 600 ms to coast down
    assert trace.at("motor:M1", again) == pytest.approx(1 - (again - cut) / 600_000, abs=0.001)
    assert all(abs(float(a) - float(b)) < 0.06 for (_, a), (_, b) in pairwise(trace["motor:M1"].changes))

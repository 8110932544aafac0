"""What lies between wiring and network: it acts, it shows nowhere, and it goes again without a trace."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest

from labkit.base import ms
from labkit.bench import Bench, BenchError, Between
from labkit.board import Electrical
from labkit.circuit import Resistor

PROGRAM = "K1 := S1 AND (S2 OR K1_A);"


def _bridged(electrical: Electrical, ohm: float) -> Electrical:
    more = Resistor("between", "A1:Q1", "X1:0V", ohm)
    return replace(electrical, circuit=electrical.circuit.with_elements(more))


def _up() -> Bench:
    bench = Bench("orchard")
    bench.power_up()
    bench.load(PROGRAM)
    bench.press("S2", ms(60))
    bench.wait(ms(200))
    return bench


def _amps(bench: Bench) -> float:
    (element,) = [fuse.element for fuse in bench.engine.net.electrical.fuses if fuse.actor == "F4"]
    return bench.engine.now_reading().solution.amps(element)


def test_it_acts_at_once_and_goes_without_a_trace() -> None:
    bench = _up()
    before, log, wires = _amps(bench), list(bench.log), bench.wiring
    bench.put_between(Between(100, partial(_bridged, ohm=100.0), note="a bridge"))
    assert _amps(bench) - before == pytest.approx(24 / 100, rel=0.02)  # Ohm's law
    assert bench.between is not None
    assert bench.between.note == "a bridge"
    assert (bench.log, bench.wiring) == (log, wires)
    bench.lift("101")
    bench.put_between(None)
    assert bench.between is None
    bench.land("101")
    assert _amps(bench) == before
    assert bench.state("K1") == "closed"


def test_what_hands_do_meanwhile_comes_first_and_networks_are_shared() -> None:
    solved: dict = {}
    benches = []
    for _ in range(2):
        bench = _up()
        bench.put_between(Between(100, partial(_bridged, ohm=100.0), solved=solved))
        bench.remove("K1.aux")
        benches.append(bench)
    assert len(solved) == 2
    assert benches[0].engine.net is benches[1].engine.net
    assert "between" in {e.name for e in benches[0].engine.net.electrical.circuit.elements}
    benches[0].wait(ms(200))
    assert benches[0].state("K1") == "open"


def test_what_cannot_be_changes_nothing() -> None:
    bench = _up()
    net = bench.engine.net

    def impossible(electrical: Electrical) -> Electrical:
        raise BenchError("no such network", code="test")

    with pytest.raises(BenchError, match="no such network"):
        bench.put_between(Between("x", impossible))
    assert bench.between is None
    assert bench.engine.net is net


def test_a_bench_as_wired_has_the_wires_and_what_lies_between() -> None:
    bench = _up()
    bench.put_between(Between(100, partial(_bridged, ohm=100.0)))
    bench.lift("101")
    bench.remove("K1.aux")
    other = bench.as_wired()
    assert (other.wiring, other.removed, other.between) == (bench.wiring, bench.removed, bench.between)
    assert (other.now_us, other.state("G1"), other.log) == (0, "off", [])
    other.land("101")
    assert other.wiring != bench.wiring
    assert bench.again().between is None


def test_a_network_that_would_be_is_the_one_that_comes() -> None:
    bench = _up()
    wires, removed = bench.wiring, bench.removed
    net = bench.network_with(lifted=["101"], removed=["K1.aux"])
    assert (bench.wiring, bench.removed) == (wires, removed)
    bench.lift("101")
    bench.remove("K1.aux")
    assert bench.engine.net is net
    with pytest.raises(BenchError, match="lifted already"):
        bench.network_with(lifted=[101])

"""Two families with one program: what differs is what their data say, and the benches show it."""

from __future__ import annotations

import pytest

from labkit.base import LabkitError, ms
from labkit.bench import Bench
from labkit.controller import family
from labkit.verify import compare_families

SEAL = "K1 := S1 AND (S2 OR K1);"
EDGE = "VAR E : R_TRIG; END_VAR E(CLK := S2); K1 := S1 AND (E.Q OR K1);"
RETAINED = "VAR RETAIN M : BOOL; END_VAR M := S1 AND (S2 OR M); K1 := M;"


@pytest.mark.parametrize("program", [SEAL, RETAINED, "K1 := S1 AND (S2 OR K1_A);", "K1 := S2;"])
def test_presses_of_a_person_are_the_same_to_both(program):
    """Both see a press of 80 ms (50 ms scan and 4 ms filter), and both clear and keep the same at power-up."""
    found = compare_families(program)
    assert (found.outcome, bool(found)) == ("same", True)
    assert found.states > 5
    assert found.bound == ""


def test_an_edge_at_the_first_scan():
    """Families' data: alder takes the present for the past, birch takes 0."""
    found = compare_families(EDGE)
    assert found.outcome == "differ"
    assert found.steps == ("power on, with S2 pressed",)
    assert (found.difference.signal, found.difference.values) == ("bit:K1", (False, True))
    assert found.causes == ("the first scan: an edge takes the past for present with alder and zero with birch",)
    assert found.text == (
        "alder and birch do not do the same. Do this on both:\n"
        "  1. power on, with S2 pressed\n"
        "Then bit:K1 is 0 with alder and 1 with birch.\n"
        "The cause is the first scan: an edge takes the past for present with alder and zero with birch.\n"
        "With that the same in both, they do the same here."
    )


def test_what_is_told_can_be_done(tmp_path):
    """The stimulus, on two new benches: the difference is there, and the records have it."""
    found = compare_families(EDGE)
    for name, expected, trace in zip(found.families, found.difference.values, found.traces, strict=True):
        bench = Bench("orchard", family=name)
        bench.load(EDGE)
        for part in ("F1", "F2", "F4", "F5"):
            bench.breaker(part)
        bench.play(found.stimulus)
        bench.wait_until(found.difference.t_us)
        assert bench.bit("K1") is expected
        assert trace.at("bit:K1", found.difference.t_us) is expected
        trace.to_vcd(tmp_path / f"{name}.vcd")


def test_a_tap_shorter_than_the_slow_scan():
    """Shortest certain pulse = filter + scan: 14 ms and 54 ms (tests/truth/scan_response.csv)."""
    found = compare_families(SEAL, shortest=ms(20), may=["S1", "S2"])
    assert found.outcome == "differ"
    assert found.steps == ("S2 pressed for 20 ms",)
    assert found.difference.values == (True, False)
    assert found.causes == ("the scan: 10000 us with alder and 50000 us with birch",)
    assert compare_families(SEAL, shortest=ms(60), may=["S1", "S2"])


def test_what_a_stopped_controller_does_with_its_outputs():
    """Families' data: alder switches them off, birch holds them."""
    found = compare_families("K1 := S2;", may=["S2", "stop"])
    assert found.outcome == "differ"
    assert found.steps == ("S2 pressed and held", "stopped")
    assert found.difference.values == (False, True)
    assert found.causes == ("the outputs: off while stopped with alder, and hold with birch",)


def test_each_field_that_differs_is_found_alone():
    """One field changed at a time in the data of one family: that one is the cause, and nothing else."""
    keeps = family("alder")
    rule = keeps.retention.power_up.model_copy(update={"plain": "keep"})
    keeps = keeps.model_copy(update={"retention": keeps.retention.model_copy(update={"power_up": rule})})
    found = compare_families(SEAL, "alder", keeps)
    assert found.outcome == "differ"
    assert found.difference.values == (False, True)
    assert len(found.causes) == 1
    assert found.causes[0].startswith("what a start keeps: ")
    assert found.steps == ("power on, with S2 pressed", "power off", "power on, with S2 released")


def test_a_family_is_like_itself():
    for program in (SEAL, EDGE, RETAINED):
        assert compare_families(program, "birch", "birch", may=["S1", "S2", "power"])


def test_a_timer_that_the_slow_family_rounds_up():
    """T#50ms in steps of 100 ms ends at 100 ms: a press of 80 ms is over before; the model leaves it to the benches."""
    text = "VAR T : TON; END_VAR T(IN := S2, PT := T#50ms); K1 := S1 AND (T.Q OR K1);"
    found = compare_families(text, may=["S1", "S2"])
    assert found.outcome == "differ"
    assert found.steps == ("S2 pressed for 80 ms",)
    assert found.difference.values == (True, False)
    assert any("timers" in cause for cause in found.causes)
    slow = compare_families(text.replace("T#50ms", "T#2s"), may=["S2"])
    assert slow.outcome == "undecided"
    assert "resolution" in slow.bound
    assert not slow


def test_slips():
    with pytest.raises(LabkitError):
        compare_families("K1 := S77;")
    with pytest.raises(LabkitError, match="nothing called"):
        compare_families(SEAL, may=["S9"])
    with pytest.raises(TypeError):
        compare_families(SEAL, shortest=20)


def test_it_is_at_the_front_door():
    import labkit as lk

    assert lk.compare is compare_families

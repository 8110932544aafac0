"""Each ready requirement is one of the circuits': there a right program holds it and a wrong one breaks it."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest
from verify_circuits import circuits

from labkit.bench import Bench
from labkit.verify import (
    can_start,
    dwell,
    emergency_stop_opens,
    follows,
    held_start_does_not_restart,
    held_start_waits_at_power_up,
    lamp_tells_the_truth,
    never_both,
    no_self_start,
    prove,
    proves_itself,
    requirement,
    reset_is_no_start,
    seal_drops_with_auxiliary,
    starts_only_when_asked,
    stays_on,
    stop_opens,
    stop_wins,
    trip_opens,
    trip_stops,
    warned,
    weld_is_told,
    wire_off_stops,
)
from labkit.verify.library import LIBRARY

ALL = {c.file: c for c in circuits()}

# the circuit and the requirement of it that the function writes
WRITTEN = [
    (stop_wins(), "c02-three-wire", "stop"),
    (wire_off_stops("101"), "c02-three-wire", "stop-wire"),
    (can_start(), "c02-three-wire", "starts"),
    (stays_on(until="not S1 or F3_T"), "c02-three-wire", "holds"),
    (held_start_does_not_restart(), "c02-three-wire", "held-start"),
    (no_self_start(), "c02-three-wire", "power"),
    (trip_stops(), "c02-three-wire", "overload"),
    (no_self_start(start="pos:S2", lost="not pos:F4"), "c02a-ways-to-hold", "group"),
    (starts_only_when_asked(), "c02a-ways-to-hold", "aux-stuck"),
    (seal_drops_with_auxiliary(), "c02a-ways-to-hold", "aux-off"),
    (lamp_tells_the_truth(), "c05-pilot-lights", "run-is-true"),
    (reset_is_no_start(), "c08-overload", "reset-is-no-start"),
    (trip_opens(), "c08-overload", "coil"),
    (held_start_waits_at_power_up(), "c09-power-loss", "held"),
    (proves_itself(), "c11-fail-to-start", "fails-to-start"),
    (weld_is_told("FSP"), "c11-fail-to-start", "fails-to-stop"),
    (warned(), "c12-horn", "warned"),
    (follows("K3", "K1_A"), "c13-sequence-start", "order"),
    (emergency_stop_opens(outputs=("pole:K1", "pole:K3")), "c14-sequence-stop", "emergency"),
    (never_both("pole:K1", "pole:K2"), "c15-reversing", "poles"),
    (dwell(), "c15-reversing", "dwell"),
]


@pytest.mark.parametrize(("ready", "file", "name"), WRITTEN, ids=[f"{w[1]}-{w[2]}" for w in WRITTEN])
def test_a_ready_requirement_is_that_of_a_circuit(ready, file, name):
    """The circuits' tests prove that a right form holds it and a wrong form breaks it."""
    circuit = ALL[file]
    assert ready == requirement(circuit.requirements[name].asked)
    assert any(name in form.fails for form in circuit.forms.values())


def test_stop_opens_goes_through_the_wiring():
    """The one that no circuit has: a stop input that is stuck at 1 hides the button from the program alone."""
    bench = Bench("orchard")
    bench.load("K1 := S1 AND (S2 OR K1);")
    assert prove(bench, stop_opens(), may=["S1", "S2"])
    bench.join("X1:24I", "A1:I1")
    assert prove(bench, stop_opens(), may=["S1", "S2"]).outcome == "fails"
    assert prove(bench, stop_wins(), may=["S1", "S2"]).empty


def test_none_is_left_out():
    written = {type(ready).__name__ for ready, _, _ in WRITTEN}
    assert len(LIBRARY) == len({rule.__name__ for rule in LIBRARY}) == 21
    assert written == {"Whenever", "OnlyAfter", "StaysUntil", "CanReach", "Never", "Keeps"}
    for rule in LIBRARY:
        assert rule.__doc__ is not None
        assert ">>> " + rule.__name__ in rule.__doc__


def test_the_page_is_printed_from_the_docstrings():
    path = Path(__file__).parents[2] / "docs" / "make_requirements.py"
    spec = importlib.util.spec_from_file_location("make_requirements", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert module.PAGE.read_text("utf-8") == module.page(), "run python docs/make_requirements.py"

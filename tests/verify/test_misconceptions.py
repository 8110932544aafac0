"""What students believe: the wrong program of each breaks the right requirement, the right program holds."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest
from verify_circuits import circuits

from labkit.base import ms
from labkit.bench import Bench
from labkit.logic import findings, read_program

ROOT = Path(__file__).parents[2]
ALL = circuits("misconceptions")


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.number)
def test_wrong_fails_and_right_holds(one):
    """Which requirement each belief breaks: worked out by hand from rung, scan and wiring before it was proved."""
    assert set(one.forms) == {"right", "wrong"}
    for form in one.forms.values():
        for asked in one.asks(form):
            verdict = one.verdict(form, asked)
            assert verdict.outcome == ("fails" if asked.id in form.fails else "holds"), (form.id, asked.id)
            assert form.fails or not verdict.empty, asked.id
            if verdict.story is not None:
                assert verdict.story.replayed
                assert verdict.story.text.startswith("scan 1: power up")
    assert not one.forms["right"].fails
    assert one.forms["wrong"].fails


def test_what_can_be_seen_without_running_it():
    seen = {one.number: one.forms["wrong"].finding for one in ALL if one.forms["wrong"].finding}
    assert seen == {"M14": "written-twice", "M23": "read-above-written", "M27": "written-twice"}
    for one in ALL:
        if one.number in seen:
            codes = {name: {f.code for f in findings(read_program(form.program))} for name, form in one.forms.items()}
            assert seen[one.number] in codes["wrong"]
            assert seen[one.number] not in codes["right"]


def test_every_belief_is_there_once():
    """M01 to M36; M25 and M33 cannot be put as a proof, and the page says so."""
    assert [one.number for one in ALL] == [f"M{n:02}" for n in range(1, 37) if n not in {25, 33}]


def test_a_pulse_is_surely_seen_only_when_it_is_longer_than_scan_and_filter():
    """Shortest certain pulse = input filter + scan: 4 + 10 ms (tests/truth/scan_response.csv), shorter ones by luck."""

    def counted(press_ms: int) -> int:
        bench = Bench("orchard")
        bench.load("VAR E : R_TRIG; C : CTU; END_VAR\nE(CLK := S2);\nC(CU := E.Q, R := FALSE, PV := 20);\nP4 := C.Q;")
        bench.power(True)
        bench.breaker("F5")
        bench.breaker("F1")
        bench.wait(ms(1500))
        for number in range(20):
            bench.wait(ms(60 + number % 10 + 1))  # at every phase of the scan
            bench.press("S2", ms(press_ms))
            bench.wait(ms(40))
        return bench.bit("P4")

    assert counted(15)
    assert not counted(5)


def test_the_page_is_printed_from_the_data():
    path = ROOT / "docs" / "make_misconceptions.py"
    spec = importlib.util.spec_from_file_location("make_misconceptions", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert module.PAGE.read_text("utf-8") == module.page(), "run python docs/make_misconceptions.py"

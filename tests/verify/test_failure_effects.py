"""The single-fault table: earth faults by the rule of the trade, hidden and dangerous faults by hand, the page."""

from __future__ import annotations

import csv
import importlib.util
import io
from pathlib import Path

import pytest

from labkit.bench import Bench
from labkit.board import load_board
from labkit.faults import combined, earth_table, every_single_fault, fault, put_in, short
from labkit.plots import draw_effects, effects_sheet, effects_svg
from labkit.verify import STOP_START, Off, ProofError, earth_faults, failure_effects, fault_pairs, stop_start_bench

MAY = ["S1", "S2"]

# What one earth fault does. The argument of the trade (and IEC 60204-1 on earthed control circuits, clause from
# memory): with 0 V bonded, a contact on the + side is followed by a short that opens the fuse, and one on the 0 V
# side is bypassed in silence; floating, the first fault is silent, and a second one on the same pole bypasses the
# contact between them, on the other pole opens the fuse. "s": stop lost; "g": it starts by itself; "x": it cannot be
# started, the fuse opens; ".": nothing is lost. In the order of `earth_faults`: stop's wire, start's wire, the pole
# behind the contacts, then each wire with that pole, and stop's wire with the other pole.
RULE = {
    ("NC", "+", True): "xxxxxx",
    ("NC", "+", False): "...sgx",
    ("NC", "0 V", True): "sg.sgx",
    ("NC", "0 V", False): "...sgx",
    # a make contact that is bypassed reads as pressed: it cannot start, which is safe, and a wire that is off is not
    ("NO", "+", False): "...xg.",
    ("NO", "0 V", True): "xg.xgx",
}


def _letter(verdicts):
    stop, alone, starts = verdicts
    return "s" if not stop else "g" if not alone else "x" if not starts else "."


@pytest.mark.parametrize(("stop", "side", "bonded"), RULE)
def test_earth_faults_by_the_rule(stop, side, bonded):
    bench = stop_start_bench(side, stop=stop, bonded=bonded)
    effects = failure_effects(bench, STOP_START, earth_faults(side), may=MAY, look=True)
    assert all(effects.rows[0][1])
    assert "".join(_letter(verdicts) for _, verdicts in effects.rows[1:]) == RULE[stop, side, bonded]
    for _, verdicts in effects.rows:
        assert all(v.story.replayed for v in verdicts if v.outcome == "fails" and v.story.moments)
    if not bonded:  # the first fault is silent: nobody at the board notices it
        assert [effects.shows(i) for i in (1, 2, 3)] == ["nothing shows"] * 3
    if (stop, side, bonded) == ("NC", "+", True):  # the fuse opens: everything is dark, and it is the controller's
        assert effects.shows(1) == "at rest: controller dark"
        assert any(said.startswith("F1 carries more") for said in effects.rows[1][1][0].assumptions)
    if (stop, side, bonded) == ("NC", "0 V", True):  # no fuse opens; the stop's light is the only sign
        assert effects.shows(1) == "S1 pressed: light of I1 on"
        assert not any("carries more" in said for said in effects.rows[1][1][0].assumptions)


@pytest.mark.parametrize("side", ["+", "0 V"])
def test_a_wire_that_comes_off_stops_only_a_break_contact(side):
    """Stop by de-energising (IEC 60204-1 / NFPA 79, stop functions, from memory)."""
    wires = [Off("101"), Off("121")]
    breaks = failure_effects(stop_start_bench(side), STOP_START, wires, may=MAY)
    assert breaks.answer("STOP still stops") == "STOP still stops: yes, with each of 2 faults"
    makes = failure_effects(stop_start_bench(side, stop="NO"), STOP_START, wires, may=MAY)
    assert makes.answer("STOP still stops") == ("STOP still stops: not with 2 of 2 faults: wire 101 off; wire 121 off")


@pytest.fixture(scope="module")
def table():
    """What each does to a healthy stop and start, by hand: see BY_HAND."""
    bench = Bench("orchard")
    bench.load("K1 := S1 AND NOT F3_T AND (S2 OR K1); P1 := K1_A;")
    faults = [fault(bench.board, name) for name in BY_HAND]
    return failure_effects(bench, STOP_START, faults, may=MAY, look=True)


# stop / by itself / can start: h holds, f fails; and the first sign of it
BY_HAND = {
    "wire-101-open": ("hhf", "at rest: light of I1 off"),
    "short-A1:I1-A1:24V": ("fhh", "S1 pressed: light of I1 on"),
    "short-A1:I2-A1:24V": ("hfh", "at rest: light of I2 on"),
    "short-K1:A1-A1:24V": ("ffh", "at rest: light of I10 on"),
    "S1:11-12-closed": ("fhh", "S1 pressed: light of I1 on"),
    "K1-welded": ("fhh", "S1 pressed again: light of I10 on"),
    "K1-jammed": ("hhf", "S2 pressed: light of I10 off"),
    "Q1-shorted": ("ffh", "at rest: light of I10 on"),
    "wire-4-open": ("hhh", "nothing shows"),
    "P3-burnt": ("hhh", "nothing shows"),
    "K1.aux-missing": ("hhh", "S2 pressed: light of I10 off"),
    "G1-low": ("hhf", "at rest: controller dark"),
}


def test_each_fault_by_hand(table):
    got = {
        f.id: ("".join(v.outcome[0] for v in verdicts), table.shows(i))
        for i, (f, verdicts) in enumerate(table.rows)
        if f is not None
    }
    assert got == BY_HAND
    assert {f.id for f in table.dangerous} == {name for name, (word, _) in BY_HAND.items() if "f" in word}
    assert table.hidden == ()


def test_one_line_answers(table):
    assert table.answer("STOP still stops").startswith("STOP still stops: not with 5 of 12 faults: A1:I1 and")
    with pytest.raises(ProofError, match="no column"):
        table.answer("STOP")
    assert (
        failure_effects(_dead(), STOP_START, [], may=MAY).answer(2) == "can still be started: not even without a fault"
    )


def _dead():
    bench = Bench("orchard")
    bench.load("K1 := S1 AND NOT S1 AND S2;")
    return bench


def test_the_table_as_csv_page_and_drawing(table):
    rows = list(csv.reader(io.StringIO(table.csv())))
    assert rows[0] == ["fault", *STOP_START, "first seen"]
    assert rows[1] == ["none", "holds", "holds", "holds", ""]
    assert len(rows) == 2 + len(BY_HAND)
    page = table.html("Stop & start")
    assert "<title>Stop &amp; start</title>" in page
    assert page.count("✗ fails") == sum(word.count("f") for word, _ in BY_HAND.values())
    assert "<li>Scan 1: power up" in page
    assert "<script" not in page
    assert "http" not in page
    drawn = table.table("Stop and start")
    sheet = effects_sheet(drawn)
    assert sheet.check() == []
    # shapes tell what colour repeats: a cross of two light lines per failure
    crosses = [s for s in sheet.walk() if s.role == "detail-light"]
    assert len(crosses) == 2 * page.count("✗ fails")
    assert effects_svg(drawn).count("<svg") == 1
    assert draw_effects(drawn).get_figure() is not None
    assert len(table.table(lost_only=True).rows) == 1 + len(table.dangerous)


def test_a_page_escapes_what_it_prints():
    bench = Bench("orchard")
    bench.load("K1 := S1 AND S2;")
    page = failure_effects(bench, {"<b>stop</b>": "never K1 and not S1"}, [], may=MAY).html("<i>x</i>")
    assert "<b>" not in page
    assert "&lt;i&gt;x" in page


def test_pairs():
    """Two channels of an emergency stop, hard-wired and through the program: each alone may fail, not both."""
    bench = Bench("orchard")
    bench.load("K1 := S1 AND S0 AND (S2 OR K1);")
    board = bench.board
    one, two = fault(board, "S0:11-12-closed"), fault(board, "S0:21-22-closed")
    asked = {"emergency stop": "whenever pos:S0 then not pole:K1 or not pos:S0 within 4 scans"}
    effects = failure_effects(bench, asked, [one, two, *fault_pairs([one, two])], may=["S0", "S1", "S2"])
    assert [v[0].outcome for _, v in effects.rows] == ["holds", "holds", "holds", "fails"]
    assert [f.title for f in effects.dangerous] == ["S0:11-12 + S0:21-22: contact stays closed + contact stays closed"]
    assert len(fault_pairs([one, two, fault(board, "S0:11-12-open")])) == 2  # not two faults of one contact


def test_a_fault_that_is_in_already_stays():
    """Each row has the bench's own faults beside its own."""
    bench = Bench("orchard")
    bench.load("K1 := S1 AND (S2 OR K1);")
    put_in(bench, fault(bench.board, "S1:11-12-closed"))
    effects = failure_effects(bench, STOP_START, [Off("101")], may=MAY)
    assert [v[0].outcome for _, v in effects.rows] == ["fails", "holds"]


def test_no_wire_of_the_catalogue_is_left_out():
    bench = Bench("orchard")
    assert {f"wire-{w.no}-open" for w in bench.wiring} <= {f.id for f in every_single_fault(bench.board)}


def test_the_page_is_printed_from_the_proofs():
    path = Path(__file__).parents[2] / "docs" / "make_effects.py"
    spec = importlib.util.spec_from_file_location("make_effects", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert module.PAGE.read_text("utf-8") == module.page(), "run python docs/make_effects.py"


TRIP = {"the trip contact opens": "whenever pos:F3 then not pole:K1 or not pos:F3 within 4 scans"}


@pytest.mark.parametrize("second", [False, True])
@pytest.mark.parametrize("bonded", [True, False])
@pytest.mark.parametrize("side", ["+", "0 V"])
def test_the_coil_circuit_agrees_with_the_solved_network(side, bonded, second):
    """The faults' earth table solves one position of the network; here everything that can happen is visited.

    The contact that should open is the overload's, on either side of the coil; the program does not know the trip.
    """
    board = load_board("orchard")
    wiring = board.wiring
    if side == "0 V":
        wiring = wiring.moved(201, end="F3:95", to="K1:A1").moved(211, end="K1:A1", to="K1:A2")
        wiring = wiring.moved(221, end="K1:A2", to="F3:95")
    bench = Bench(board, wiring if bonded else wiring.without("4"))
    bench.load("K1 := S1 AND (S2 OR K1);")
    earth = short("K1:A1" if side == "+" else "K1:A2", "PE", "F34")
    behind = short("X1:24V" if side == "+" else "X1:0V", "PE", "F32")
    faults = [combined("two", earth, behind)] if second else [earth]
    effects = failure_effects(bench, TRIP, faults, may=["S1", "S2", "F3"])
    rows = {(row.contacts, row.bonded): row.outcome for row in earth_table(second=second)}
    bypassed = "bypassed" in rows[side, bonded]
    assert effects.rows[0][1][0].outcome == "holds"
    assert effects.rows[1][1][0].outcome == ("fails" if bypassed else "holds")

"""Ladder, meter, leads and wires on the live board, in a real JupyterLab."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

START = """
import labkit as lk
from labkit.bench import Bench
from labkit.notebook import BenchView, HoldButton, LadderView, LiveTrace, MeterView, PaceBar, button
%load_ext labkit
bench = Bench("orchard")
bench.power_up()
"""
PROGRAM = """%%ladder hold --quiet
(* Wash pump
   holds itself through its own auxiliary *)
|   S1        S2                K1   |
|--| |---+---| |---+-----------( )---|
|        |  K1_A   |                 |
|        +---| |---+                 |
(* Running lamp *)
|  K1_A                         P1   |
|--| |-------------------------( )---|
"""
FLOW = ".lk-ladder-view [data-of='element:{}'] .live, .lk-ladder-view [data-of='element:{}'] .symbol-live"


def terminal(name):
    return f".lk-bench-view [data-terminal='{name}']"


def hand(s, does):
    s.page.locator(".lk-bench-view .tools select").first.select_option(does)


def words(s):
    return s.page.locator(".lk-bench-view .words").inner_text()


def test_power_flow_follows_the_button(sheet):
    s = sheet(START, PROGRAM, "bench.load(hold)", 'button(bench, "S2")', "LadderView(bench)", height=1100)
    s.page.wait_for_selector(".lk-ladder-view [data-of='rung:2']")
    before = s.page.locator(".lk-ladder-view .live").count()
    s.shot("ladder-rest")
    s.point_at(".lk-hold-button button")
    s.page.mouse.down()
    s.page.wait_for_function(f"() => document.querySelectorAll('.lk-ladder-view .live').length > {before}")
    s.page.wait_for_timeout(200)
    s.shot("ladder-held")
    s.page.mouse.up()


def test_a_scan_is_walked_forwards_and_back(sheet):
    s = sheet(START, PROGRAM, "bench.load(hold)", 'bench.press("S2", lk.s(3))', "LadderView(bench)", height=1100)
    view = s.page.locator(".lk-ladder-view")
    view.get_by_role("button", name="Walk a scan").click()
    say = view.locator(".say")
    s.page.wait_for_selector(".lk-ladder-view.walking")
    assert say.inner_text().startswith("The scan begins")
    for begins in ("Read", "Solve rung 1", "Solve rung 2", "Write"):
        view.get_by_role("button", name="Next", exact=True).click()
        s.page.wait_for_function(
            f"() => document.querySelector('.lk-ladder-view .say').textContent.startsWith('{begins}')"
        )
        if begins == "Solve rung 1":
            s.shot("ladder-walk")
    view.get_by_role("button", name="Back").click()
    s.page.wait_for_function(
        "() => document.querySelector('.lk-ladder-view .say').textContent.startsWith('Solve rung 2')"
    )
    s.page.keyboard.press("ArrowLeft")
    s.page.wait_for_function(
        "() => document.querySelector('.lk-ladder-view .say').textContent.startsWith('Solve rung 1')"
    )
    view.get_by_role("button", name="Live again").click()
    s.page.wait_for_selector(".lk-ladder-view:not(.walking)")


def test_leads_by_pointer_and_by_keyboard_and_the_reading(sheet):
    s = sheet(START, "BenchView(bench)", "MeterView(bench, predict=True)", height=1500)
    s.page.wait_for_selector(terminal("X1:24V"))
    hand(s, "red")
    s.page.locator(terminal("X1:24V")).click()
    s.page.wait_for_selector(".lk-bench-view .lead.red")
    hand(s, "black")
    s.page.locator(terminal("X1:0V")).focus()
    s.page.keyboard.press("Enter")
    s.page.wait_for_selector(".lk-bench-view .lead.black")
    display = s.page.locator(".lk-meter-view .display")
    assert display.inner_text() == "----"
    s.page.get_by_label("what you expect").fill("24 V")
    s.page.get_by_label("what you expect").press("Tab")
    s.page.wait_for_function("() => document.querySelector('.lk-meter-view .display').textContent.endsWith(' V')")
    assert 23.5 < float(display.inner_text().split()[0]) < 24.1
    s.page.get_by_role("button", name="Note it").click()
    s.page.wait_for_selector(".lk-meter-view tbody tr")
    s.page.locator(".lk-meter-view").scroll_into_view_if_needed()
    s.shot("meter")


def test_a_wire_is_lifted_and_landed_by_pointer_and_by_keyboard(sheet):
    s = sheet(START, "BenchView(bench)", height=1100)
    wire = ".lk-bench-view [data-of='wire:102']"
    s.page.wait_for_selector(wire, state="attached")
    hand(s, "wires")
    s.page.locator(terminal("S2:14")).click()
    assert "picked" in words(s)
    s.page.locator(terminal("A1:I2")).click()
    s.page.wait_for_selector(wire, state="detached")
    assert s.page.locator(".lk-bench-view .did").inner_text() == "wire 102 lifted"
    s.shot("wire-lifted")
    s.page.locator(terminal("S2:14")).focus()
    s.page.keyboard.press("Enter")
    s.page.locator(terminal("A1:I1")).focus()
    s.page.keyboard.press("ArrowRight")
    assert words(s).startswith("terminal A1:I2")
    s.page.keyboard.press("Enter")
    s.page.wait_for_selector(wire, state="attached")
    s.page.get_by_role("button", name="Take back").click()
    s.page.wait_for_selector(wire, state="detached")


def test_a_slip_in_a_ladder_cell_is_told_in_words(sheet):
    s = sheet(START, PROGRAM.replace("--quiet", "").replace("( )---|\n|        |", "( ---|\n|        |"), height=900)
    s.page.wait_for_selector(".jp-OutputArea-output pre")
    text = s.page.locator(".jp-Notebook").inner_text()
    s.shot("slip")
    assert "Traceback" not in text
    assert "try:" in text


def test_a_good_ladder_cell_and_an_error_in_three_lines(sheet):
    s = sheet(START, PROGRAM.replace("--quiet", ""), 'bench.press("S22")', height=1000)
    s.page.wait_for_selector(".jp-OutputArea-output img")
    s.page.wait_for_timeout(500)
    s.shot("ladder-cell")
    text = s.page.locator(".jp-Notebook").inner_text()
    assert "Traceback" not in text
    assert "S22" in text

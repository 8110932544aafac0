"""Wires and terminal blocks worked on the live board, by pointer and by keyboard; the board seen close up."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

START = """
import labkit as lk
from labkit.bench import Bench
from labkit.notebook import BenchView
%load_ext labkit
bench = Bench("orchard")
bench.power_up()
"""
LIT = ".lk-bench-view [data-of='part:P1'] .lamp-lit"


def terminal(name):
    return f".lk-bench-view [data-terminal='{name}']"


def hand(s, does):
    s.page.locator(".lk-bench-view .tools select").first.select_option(does)


def fill(desk, number):
    desk.get_by_label("number").fill(number)
    desk.get_by_label("colour").select_option("BU")
    desk.get_by_label("mm").select_option("0.75")


def test_a_new_wire_by_pointer_then_from_the_list(sheet):
    s = sheet(START, "BenchView(bench)", height=1300)
    s.page.wait_for_selector(terminal("P1:X1"))
    hand(s, "wires")
    desk = s.page.locator(".lk-bench-view .desk")
    assert desk.locator("tbody tr").count() == 70
    s.page.locator(terminal("X1:24I")).click()
    s.page.locator(terminal("P1:X1")).click()
    assert desk.get_by_label("from", exact=True).input_value() == "X1:24I"
    assert 0.2 < float(desk.get_by_label("metres").input_value()) < 2
    desk.get_by_role("button", name="Land it").click()
    s.page.locator(".lk-said", has_text="colour and a cross-section").wait_for()
    fill(desk, "77")
    s.shot("wiring-desk")
    desk.get_by_role("button", name="Land it").click()
    s.page.wait_for_selector(LIT, state="attached")
    assert s.page.locator(".lk-bench-view .did").inner_text() == "new wire 77 from X1:24I to P1:X1"
    assert desk.get_by_label("from", exact=True).input_value() == ""
    desk.get_by_role("button", name="lift wire 77", exact=True).click()
    s.page.wait_for_selector(LIT, state="detached")
    desk.get_by_label("wires listed").select_option("lifted")
    assert desk.locator("tbody tr").count() == 1
    desk.get_by_role("button", name="land wire 77", exact=True).click()
    s.page.wait_for_selector(LIT, state="attached")
    desk.get_by_label("wires listed").select_option("all")
    desk.get_by_role("button", name="take wire 77 away").click()
    s.page.wait_for_selector(LIT, state="detached")
    assert desk.locator("tbody tr").count() == 70
    s.page.get_by_role("button", name="Take back").click()
    s.page.wait_for_selector(LIT, state="attached")


def test_a_new_wire_and_a_parked_block_by_keyboard(sheet):
    s = sheet(START, "BenchView(bench)", height=1300)
    s.page.wait_for_selector(terminal("P1:X1"))
    keys = s.page.keyboard
    s.page.locator(".lk-bench-view .tools select").first.focus()
    for _ in range(3):
        keys.press("ArrowDown")
    s.page.locator(".lk-bench-view .desk").wait_for()
    s.page.locator(terminal("X1:24I")).focus()
    keys.press("Enter")
    s.page.locator(terminal("P2:X1")).focus()
    keys.press("ArrowLeft")
    assert s.page.evaluate("document.activeElement.dataset.terminal") == "P1:X1"
    keys.press("Enter")
    keys.type("77")  # the number's field has the focus
    for choice in ("BU", "0.75"):
        keys.press("Tab")
        keys.type(choice)
    keys.press("Tab")
    keys.press("Enter")
    s.page.wait_for_selector(LIT, state="attached")
    assert s.page.evaluate("document.activeElement.dataset.terminal") == "P1:X1"  # back where it was
    s.page.locator(".lk-bench-view .desk summary").focus()
    keys.press("Enter")
    keys.press("Tab")
    keys.press("Tab")
    keys.press("Tab")
    assert s.page.evaluate("document.activeElement.getAttribute('aria-label')") == "park block A1.XI1"
    keys.press("Space")
    s.page.locator(".lk-bench-view li[data-block='A1.XI1']", has_text="parked").wait_for()
    s.page.locator(".lk-bench-view .marks text.block", has_text="A1.XI1 parked").wait_for()
    s.page.wait_for_selector(".lk-bench-view [data-of='part:A1']")
    s.shot("wiring-block-parked")
    s.page.wait_for_function(
        "() => document.activeElement.getAttribute('aria-label') === 'push block A1.XI1 onto the header'"
    )
    keys.press("Space")
    s.page.locator(".lk-bench-view li[data-block='A1.XI1']", has_text="seated").wait_for()


def test_a_part_is_seen_close_up_and_worked_there(sheet):
    s = sheet(START, "BenchView(bench)", height=900)
    s.page.wait_for_selector(terminal("P1:X1"))
    view = s.page.locator(".lk-bench-view")
    wide = "() => document.querySelector('.lk-bench-view [data-part=\"S4\"]').getBoundingClientRect().width"
    small = s.page.evaluate(wide)
    view.get_by_label("size").select_option("part:S4")
    assert s.page.evaluate(wide) > 2.5 * small
    box, window = view.locator("[data-part='S4']").bounding_box(), view.locator(".sheet").bounding_box()
    assert window["x"] <= box["x"]
    assert box["x"] + box["width"] <= window["x"] + window["width"]
    assert window["y"] <= box["y"]
    assert box["y"] + box["height"] <= window["y"] + window["height"]
    s.shot("bench-close-up")
    view.locator("[data-part='S4']").click(position={"x": box["width"] - 8, "y": box["height"] / 2})
    s.page.wait_for_selector("[data-part='S4'][aria-valuetext='right']")
    view.get_by_role("button", name="smaller").click()
    assert s.page.evaluate(wide) < 2 * small * 2
    view.get_by_label("size").select_option("0")
    assert s.page.evaluate(wide) == pytest.approx(small, abs=1)

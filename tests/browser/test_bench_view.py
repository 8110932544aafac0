"""The live board: parts worked in their places, in a real JupyterLab on the real bench."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

START = """
import labkit as lk
from labkit.bench import Bench
from labkit.notebook import BenchView, LiveTrace, PaceBar, panel
%load_ext labkit
bench = Bench("orchard")
bench.power_up()
bench.load("K1 := S1 AND (S2 OR K1_A); P1 := K1_A; P2 := NOT K1_A; P4 := S2;")
"""


def part(name):
    return f".lk-bench-view [data-part='{name}']"


def piece(name, role):
    return f".lk-bench-view [data-of='part:{name}'] .{role}"


def wait_lit(page, name, on=True):
    page.wait_for_selector(piece(name, "lamp-lit"), state="attached" if on else "detached")


def words(page):
    return page.locator(".lk-bench-view .words").inner_text()


def hold(s, name, ms=250):
    s.point_at(part(name))
    s.page.mouse.down()
    s.page.wait_for_timeout(ms)
    s.page.mouse.up()


def test_start_holds_and_pulling_the_block_drops_it(sheet):
    s = sheet(START, "BenchView(bench)", height=1000)
    wait_lit(s.page, "P2")
    s.shot("bench-rest")
    s.point_at(part("S2"))
    s.page.mouse.down()
    wait_lit(s.page, "P1")
    s.shot("bench-held")
    s.page.mouse.up()
    s.page.wait_for_timeout(400)
    assert s.page.locator(piece("P1", "lamp-lit")).count() > 0
    s.page.locator(part("K1.aux")).click()
    wait_lit(s.page, "P1", on=False)
    s.page.wait_for_selector(piece("K1.aux", "part-gone"))
    assert "pulled off" in words(s.page)
    s.shot("bench-block-off")


def test_the_whole_path_by_keyboard(sheet):
    s = sheet(START, "BenchView(bench)", height=1000)
    wait_lit(s.page, "P2")
    s.page.locator(part("S2")).focus()
    s.page.keyboard.down("Space")
    wait_lit(s.page, "P1")
    s.page.keyboard.up("Space")
    assert "S2 Start" in words(s.page)
    s.page.locator(part("S4")).focus()
    s.page.keyboard.press("ArrowRight")
    s.page.wait_for_selector(f"{part('S4')}[aria-valuetext='right']")
    s.page.locator(part("S0")).focus()
    s.page.keyboard.press("Enter")
    wait_lit(s.page, "P1", on=False)
    assert "pressed" in s.page.locator(part("S0")).get_attribute("aria-label")
    s.page.locator(part("G1")).focus()
    s.page.keyboard.press("Space")
    s.page.wait_for_selector(f"{part('G1')}[aria-pressed='false']")
    wait_lit(s.page, "P2", on=False)


def test_a_hidden_window_lets_go_of_the_board_too(sheet):
    s = sheet(START, "BenchView(bench)", height=1000)
    s.point_at(part("S2"))
    s.page.mouse.down()
    wait_lit(s.page, "P4")
    s.page.evaluate("window.dispatchEvent(new Event('blur'))")
    wait_lit(s.page, "P4", on=False)


def test_board_and_panel_are_in_step(sheet):
    s = sheet(START, "BenchView(bench)", "panel(bench)", height=1600)
    wait_lit(s.page, "P2")
    s.page.locator(".lk-selector:has(.lk-name:text-is('S3')) [role=radio]:text-is('right')").click()
    s.page.wait_for_selector(f"{part('S3')}[aria-valuetext='right']")
    s.page.locator(part("S5")).click()
    s.page.wait_for_selector(".lk-key-switch [role=radio]:text-is('on')[aria-checked='true']")


def test_wires_of_the_part_chosen_and_words_of_a_terminal(sheet):
    s = sheet(START, "BenchView(bench)", height=1000)
    wait_lit(s.page, "P2")
    s.page.locator(".lk-bench-view .tools select").nth(1).select_option("point")
    s.page.locator(part("K1")).focus()
    s.page.wait_for_timeout(500)
    s.shot("bench-wires-of-k1")
    s.page.locator(".lk-bench-view .tools select").nth(1).select_option("all")
    s.page.wait_for_timeout(500)
    s.shot("bench-wires-all")
    s.point_at(".lk-bench-view .clamp >> nth=5")
    assert words(s.page).startswith("terminal ")
    assert "wire" in words(s.page)


def test_dark(sheet):
    s = sheet(START, "BenchView(bench)", height=1000, dark=True)
    wait_lit(s.page, "P2")
    s.page.locator(part("S0")).focus()
    s.shot("bench-dark")

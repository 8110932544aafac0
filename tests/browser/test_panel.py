"""The plain panel and the rolling trace on the real bench."""

from __future__ import annotations

import statistics
from pathlib import Path

import pytest

from labkit.notebook._speed import press_to_lamp, scoped_panel

pytestmark = pytest.mark.browser

START = """
import labkit as lk
from labkit.bench import Bench
from labkit.notebook import HoldButton, Lamp, LiveTrace, PaceBar, button, console, lamp, panel
%load_ext labkit
bench = Bench("orchard")
bench.power_up()
bench.load("K1 := S1 AND (S2 OR K1_A); P1 := K1_A; P2 := NOT K1_A; P4 := S2;")
"""
SIGNALS = '["pos:S2", "S2", "K1", "coil:K1", "pole:K1", "K1_A", "lit:P1"]'
START_BUTTON = ".lk-hold-button:has(.lk-name:text-is('S2')) button"


def lamp_of(part):
    return f".lk-pilot-light:has(.lk-name:text-is('{part}'))"


def wait_lit(page, part, on=True):
    page.wait_for_selector(f"{lamp_of(part)}{'.lit' if on else ':not(.lit)'}")


def hold(s, part, seconds=0.3):
    s.point_at(f".lk-hold-button:has(.lk-name:text-is('{part}')) button")
    s.page.mouse.down()
    s.page.wait_for_timeout(seconds * 1000)
    s.page.mouse.up()


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_pump_is_started_holds_and_is_stopped(sheet, dark):
    s = sheet(START, "panel(bench)", f"LiveTrace(bench, {SIGNALS})", dark=dark, height=1500)
    wait_lit(s.page, "P2")
    hold(s, "S2")
    wait_lit(s.page, "P1")
    s.shot(f"panel-{'dark' if dark else 'light'}")
    s.page.wait_for_timeout(800)
    assert s.page.locator(f"{lamp_of('P1')}.lit").count() == 1
    hold(s, "S1")
    wait_lit(s.page, "P1", on=False)
    wait_lit(s.page, "P2")


def test_pulling_the_block_from_code_drops_the_pump(sheet):
    s = sheet(START, "panel(bench)", 'bench.remove("K1.aux")', run=False)
    page = s.page
    page.evaluate("window.jupyterapp.commands.execute('notebook:move-cursor-up')")
    page.evaluate("window.jupyterapp.shell.currentWidget.content.activeCellIndex = 0")
    s.command("notebook:run-cell-and-select-next")
    s.command("notebook:run-cell-and-select-next")
    s.wait_idle()
    page.wait_for_selector(START_BUTTON)
    hold(s, "S2")
    wait_lit(page, "P1")
    page.evaluate("window.jupyterapp.shell.currentWidget.content.activeCellIndex = 2")
    s.command("notebook:run-cell")
    wait_lit(page, "P1", on=False)


def test_two_views_of_one_bench_are_in_step(sheet):
    s = sheet(START, "panel(bench)", 'button(bench, "S2")', 'lamp(bench, "P1")', height=1200)
    s.page.wait_for_selector(lamp_of("P1"))
    buttons = s.page.locator(START_BUTTON)
    assert buttons.count() == 2
    hold(s, "S2", 0.2)
    lit = "[...document.querySelectorAll('.lk-pilot-light.lit .lk-name')]"
    s.page.wait_for_function(f"() => {lit}.filter(n => n.textContent === 'P1').length === 2")


def test_after_a_reload_the_panel_is_live_again(sheet):
    s = sheet(START, "panel(bench)")
    hold(s, "S2")
    wait_lit(s.page, "P1")
    s.command("docmanager:save")
    s.page.wait_for_timeout(800)
    s.open(query="")
    s.page.wait_for_selector(START_BUTTON)
    wait_lit(s.page, "P1")
    hold(s, "S1")
    wait_lit(s.page, "P1", on=False)


def test_pause_single_scan_and_slow_motion(sheet):
    s = sheet(START, "PaceBar(bench)")
    bar = s.page.locator(".lk-pace-bar")
    bar.get_by_role("button", name="Pause").click()
    s.page.wait_for_selector(".lk-pace-bar[data-pace=paused]")
    before = float(bar.locator(".time").inner_text().split()[0])
    bar.get_by_role("button", name="One scan").click()
    s.page.wait_for_timeout(300)
    assert float(bar.locator(".time").inner_text().split()[0]) == pytest.approx(before + 0.010, abs=0.0011)
    bar.get_by_role("radio", name="1/100").click()
    bar.get_by_role("button", name="Run").click()
    s.page.wait_for_selector(".lk-pace-bar[data-pace=live]")
    start = float(bar.locator(".time").inner_text().split()[0])
    s.page.wait_for_timeout(2000)
    passed = float(bar.locator(".time").inner_text().split()[0]) - start
    assert 0.005 < passed < 0.1  # two seconds of the wall are twenty milliseconds of the bench


def test_freeze_and_cursors_measure_a_press(sheet):
    s = sheet(
        START, 'LiveTrace(bench, ["pos:S2", "S2", "K1"], window_s=1.0)', 'bench.press("S2", lk.ms(200))', height=900
    )
    s.page.wait_for_timeout(600)
    s.page.get_by_role("button", name="Freeze").click()
    s.page.locator(".lk-live-trace canvas").focus()
    reading = s.page.locator(".lk-live-trace .reading")
    rows = s.page.locator(".lk-live-trace .labels li .value")
    for cursor, steps in (("a", 10), ("b", 10)):  # from the end back to the press, and from there to the release
        s.page.keyboard.press(cursor)
        for _ in range(steps):
            s.page.keyboard.press("Shift+ArrowLeft")
            s.page.wait_for_timeout(30)
            here = rows.nth(0).inner_text(), rows.nth(1).inner_text()
            # at the press itself the bit is still 0, at the release still 1: filter and scan come later
            if here == (("pressed", "0") if cursor == "a" else ("released", "1")):
                break
    s.shot("trace-cursors")
    assert "B - A = 200.00 ms" in reading.inner_text()
    with s.page.expect_download() as dump:
        s.page.get_by_role("button", name="Save VCD").click()
    text = Path(dump.value.path()).read_text()
    assert dump.value.suggested_filename == "timing.vcd"
    assert "$timescale 1 us $end" in text
    assert text.count("$var ") == 4  # three signals and the scan's phase
    s.page.locator(".lk-live-trace canvas").focus()
    s.page.keyboard.press("Escape")
    s.page.wait_for_selector(".lk-live-trace button:text-is('Freeze')")


def test_latency_press_to_lamp(sheet, capsys):
    """Printed, not judged: the figure depends on the machine (`labkit speed --browser` tells floor and aim)."""
    s = sheet(*scoped_panel())
    lags = press_to_lamp(s, 40)
    assert len(lags) == 40
    lag = f"median {statistics.median(lags):.1f} ms, p95 {lags[37]:.1f} ms, most {lags[-1]:.1f} ms"
    with capsys.disabled():
        print(f"\npress to lamp, n=40: {lag}")

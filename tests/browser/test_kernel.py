"""What a view says and does when its kernel is busy, interrupted, restarted or gone."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

START = """
import labkit as lk
from labkit.bench import Bench
from labkit.notebook import BenchView, LiveTrace, button, lamp, panel
%load_ext labkit
bench = Bench("orchard")
bench.power_up()
bench.load("K1 := S1 AND (S2 OR K1_A); P1 := K1_A; P2 := NOT K1_A; P4 := S2;")
"""
BUTTON = ".lk-hold-button button"
SPOT = ".lk-bench-view [data-part='S2']"
GONE = ".lk-gone:visible"


def lit(page, part, on=True):
    page.wait_for_selector(f".lk-pilot-light:has(.lk-name:text-is('{part}')){'.lit' if on else ':not(.lit)'}")


def test_after_a_restart_the_views_say_so_and_let_go_and_a_new_run_lives(sheet):
    row = 'from ipywidgets import HBox\nHBox([button(bench, "S2"), lamp(bench, "P4")])'
    s = sheet(START, row, "BenchView(bench)", height=1100)
    lit(s.page, "P4", on=False)
    s.page.wait_for_selector(SPOT)
    assert s.page.locator(GONE).count() == 0
    s.point_at(BUTTON)
    s.page.mouse.down()
    lit(s.page, "P4")
    s.page.evaluate("void window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.restart()")
    for view in (".lk-hold-button", ".lk-pilot-light", ".lk-bench-view"):
        s.page.wait_for_selector(f"{view}.lk-past[inert]")
    assert s.page.locator(GONE).count() == 3
    assert "run the cells again" in s.page.locator(GONE).first.inner_text().lower()
    # the finger is still down, and nothing is held any more
    assert s.page.locator(BUTTON).get_attribute("aria-pressed") == "false"
    s.page.mouse.up()
    s.shot("kernel-gone")
    s.page.keyboard.press("Tab")
    inside = "() => Boolean(document.activeElement?.closest('.lk-past'))"
    assert not s.page.evaluate(inside)
    s.run_all()
    lit(s.page, "P4", on=False)
    s.page.wait_for_selector(f"{SPOT}")
    assert s.page.locator(GONE).count() == 0
    s.point_at(BUTTON)
    s.page.mouse.down()
    lit(s.page, "P4")
    s.page.mouse.up()
    lit(s.page, "P4", on=False)


def test_a_busy_kernel_is_told_and_after_an_interrupt_the_bench_lives(sheet):
    row = 'from ipywidgets import HBox\nHBox([button(bench, "S2"), lamp(bench, "P4")])'
    s = sheet(START, row, "import time\ntime.sleep(120)", height=900, run=False)
    s.run_cell(0)
    s.run_cell(1)
    s.page.wait_for_selector(BUTTON)
    lit(s.page, "P4", on=False)
    s.run_cell(2)
    s.page.wait_for_selector(".jp-Notebook-ExecutionIndicator[data-status='busy']", state="attached")
    s.point_at(BUTTON)
    s.page.mouse.down()
    s.page.locator(f"{BUTTON} .lk-state", has_text="kernel is busy").wait_for()
    s.shot("kernel-busy")
    s.page.mouse.up()
    (kernel,) = s.lab.ask("kernels")
    s.lab.ask(f"kernels/{kernel['id']}/interrupt", "POST")
    s.page.get_by_text("KeyboardInterrupt").first.wait_for()
    s.wait_idle()
    assert s.page.locator(GONE).count() == 0
    lit(s.page, "P4", on=False)
    s.page.wait_for_selector(f"{BUTTON}[aria-pressed='false']")
    s.page.mouse.down()
    lit(s.page, "P4")
    s.page.mouse.up()
    lit(s.page, "P4", on=False)


def test_a_kernel_that_dies_is_told_too(sheet):
    s = sheet(START, 'button(bench, "S2")', "import os, signal\nos.kill(os.getpid(), signal.SIGKILL)", run=False)
    s.run_cell(0)
    s.run_cell(1)
    s.page.wait_for_selector(BUTTON)
    s.run_cell(2)
    s.page.wait_for_selector(".lk-hold-button.lk-past[inert]")
    assert "run the cells again" in s.page.locator(GONE).inner_text().lower()
    s.page.locator(".jp-Dialog .jp-mod-accept").first.click()  # JupyterLab tells it as well

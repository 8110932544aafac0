"""Buttons and lamps in a real JupyterLab, on a bench of a few lines."""

from __future__ import annotations

from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

FAKE = str(Path(__file__).parent.parent / "notebook")
START = f"""
import sys; sys.path.insert(0, {FAKE!r})
from fake_bench import FakeBench
from labkit.notebook import HoldButton, Lamp, console
from ipywidgets import HBox
%load_ext labkit
bench = FakeBench()
HBox([HoldButton("S2", "Start", bench=bench, colour="green"),
      HoldButton("S1", "Stop", bench=bench, colour="red", contact="NC"),
      Lamp("P1", "Run", bench=bench, colour="green"), Lamp("P4", "Press", bench=bench)])
"""
BUTTON, LAMP = ".lk-hold-button button", ".lk-pilot-light"


def lit(page, n=0):
    return page.evaluate(f"() => document.querySelectorAll('{LAMP}')[{n}].classList.contains('lit')")


def wait_lit(page, on=True, n=0):
    lamp = f"document.querySelectorAll('{LAMP}')[{n}]"
    page.wait_for_function(f"() => {lamp}.classList.contains('lit') === {str(on).lower()}")


def test_press_hold_release_seals_in(sheet):
    s = sheet(START)
    s.page.wait_for_selector(BUTTON)
    s.shot("controls-rest")
    s.point_at(BUTTON)
    s.page.mouse.down()
    wait_lit(s.page)
    s.shot("controls-held")
    s.page.mouse.up()
    s.page.wait_for_timeout(300)
    assert lit(s.page)
    assert s.page.locator(f"{BUTTON} .lk-state").first.inner_text() == "released"


@pytest.mark.parametrize("key", ["Space", "Enter"])
def test_the_keyboard_holds_as_long_as_the_key_is_down(sheet, key):
    s = sheet(START)
    s.page.locator(BUTTON).first.focus()
    s.page.keyboard.down(key)
    wait_lit(s.page, n=1)
    s.page.wait_for_timeout(500)
    assert lit(s.page, 1)
    s.page.keyboard.up(key)
    wait_lit(s.page, on=False, n=1)
    cells = s.page.locator(".jp-Notebook .jp-Cell").count()
    assert cells == 1


@pytest.mark.parametrize("how", ["window", "leave", "tab", "shown"])
def test_a_held_button_is_let_go_when_the_hand_cannot_be_there(sheet, how):
    s = sheet(START)
    s.point_at(BUTTON)
    s.page.mouse.down()
    wait_lit(s.page, n=1)
    if how == "window":
        s.page.evaluate("window.dispatchEvent(new Event('blur'))")
    elif how == "leave":
        s.page.mouse.move(5, 5)
    elif how == "tab":
        s.page.keyboard.press("Tab")
    else:  # the cell's output, and with it the view, goes away
        s.page.evaluate("window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")
        s.page.wait_for_selector(BUTTON, state="detached")
        s.page.mouse.up()
        s.page.evaluate(
            "window.jupyterapp.shell.currentWidget.content.model.cells.get(0)"
            '.sharedModel.setSource(\'HBox([Lamp("P1", bench=bench), Lamp("P4", bench=bench)])\')'
        )
        s.run_all()
        s.page.wait_for_selector(LAMP)
    wait_lit(s.page, on=False, n=1)

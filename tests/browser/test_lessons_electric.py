"""The notebooks on wiring, measuring and faults, worked as a student works them, mistakes included."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from labkit.cli._lab import copy_notebooks
from labkit.lessons import read_handin

from .conftest import Sheet

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def page(lab, chromium):
    copy_notebooks(lab.root)
    page = chromium.new_page(viewport={"width": 1100, "height": 900})
    page.set_default_timeout(20_000)
    yield page
    page.close()


@pytest.fixture
def work(lab, page) -> Callable[[str], Sheet]:
    """Open a notebook and run all of it: no cell may end in a traceback, and the last one has handed in."""

    def begin(name: str) -> Sheet:
        sheet = Sheet(lab, page, f"{name}.ipynb")
        sheet.open()
        sheet.run_all()
        page.wait_for_timeout(800)
        assert page.get_by_text("Traceback").count() == 0
        handed = sorted(lab.root.glob(f"{name[3:]}--a-student--1--*.json"))
        assert handed, "the notebook's last cells hand in"
        assert read_handin(handed[-1]).lesson == name[3:]
        return sheet

    yield begin
    lab.end_kernels()


def form(page, task: str):
    """The output of a task's form, in view; JupyterLab draws cells only once they are near."""
    cell = page.locator(".jp-CodeCell", has_text=f'lk.answer_form(lesson, "{task}")').first
    for _ in range(3):
        cell.scroll_into_view_if_needed()
        page.wait_for_timeout(250)
    return cell


def run_code(page, sheet: Sheet, before: str, code: str) -> str:
    """Put code in the place of the cell that has `before` in it, run it, and give what it says."""
    cell = page.locator(".jp-CodeCell", has_text=before).first
    for _ in range(3):
        cell.scroll_into_view_if_needed()
        page.wait_for_timeout(250)
    cell.locator(".cm-content").click()
    page.keyboard.press("Control+a")
    page.keyboard.insert_text(code)
    page.keyboard.press("Control+Enter")
    page.wait_for_timeout(1500)
    return str(page.locator(".jp-CodeCell", has_text=code.splitlines()[0]).first.inner_text())


def test_a_prediction_comes_first_and_stands(work, page) -> None:
    sheet = work("02-supply-and-commons")
    rails = form(page, "rails")
    read = rails.get_by_role("button", name="Read").first
    assert read.is_disabled()
    expected = rails.locator("input[type=text]").first
    expected.fill("twelve")
    page.keyboard.press("Tab")
    page.wait_for_timeout(400)
    assert "is not a number" in rails.inner_text()
    expected.fill("12")
    page.keyboard.press("Tab")
    page.wait_for_timeout(400)
    read.click()
    page.wait_for_timeout(800)
    shown = rails.locator("input[type=text]").nth(1).input_value()
    assert float(shown.split()[0]) == pytest.approx(23.99, abs=0.02)
    assert expected.is_disabled()  # what was expected stays as it was said
    sheet.shot("electric-drill")


def test_a_block_on_the_wrong_header_and_a_wire_to_nowhere(work, page) -> None:
    sheet = work("03-landing")
    slip = page.locator(".jp-CodeCell", has_text='bench.wire("X1:24I", "S1:13"').first
    for _ in range(3):
        slip.scroll_into_view_if_needed()
        page.wait_for_timeout(250)
    assert "no terminal S1:13 on this board" in slip.inner_text()
    form(page, "outputs")
    said = run_code(page, sheet, 'bench.seat("A1.XI1", on="A1.XI2")', 'bench.seat("A1.XI1", on="A1.XQB")')
    assert "does not go in" in said
    assert "Traceback" not in said
    sheet.shot("electric-wrong-block")


def test_power_is_refused_until_the_board_is_tested(work, page) -> None:
    sheet = work("04-power-up")
    gate = page.locator(".jp-CodeCell", has_text="mine.power(True)").first
    for _ in range(3):
        gate.scroll_into_view_if_needed()
        page.wait_for_timeout(250)
    assert "the power stays off" in gate.inner_text()
    said = run_code(
        page, sheet, "mine.power(True)", 'print(live.meter.ohms("S1:11", "S1:12"))\nmine.breaker("F1", True)'
    )
    assert "(live!)" in said
    assert "F1 stays open" in said
    sheet.shot("electric-gate")


def test_a_sheet_is_filled_from_a_worked_board(work, page) -> None:
    sheet = work("05-checkout")
    stop = form(page, "inputs")
    stop.locator("select").first.select_option("on")
    page.wait_for_timeout(500)
    assert "on the sheet" in stop.inner_text()
    sheet.shot("electric-sheet")


def test_a_dead_short_is_told_by_the_board(work, page) -> None:
    sheet = work("06-meter-drills")
    said = run_code(
        page,
        sheet,
        'there = lesson.fresh_bench("whole")',
        'board = lesson.fresh_bench("whole")\nboard.power_up()\nboard.join("X1:24I", "X1:0V")\nboard.wait(lk.s(3))\n'
        'print("F1", board.state("F1"), "controller", board.mode)',
    )
    assert "F1 off" in said
    assert "controller off" in said
    sheet.shot("electric-short")


def test_the_earth_fault_slider_turns_the_table(work, page) -> None:
    sheet = work("09-earth-faults")
    cell = page.locator(".jp-CodeCell", has_text="lk.earth_slider()").first
    for _ in range(3):
        cell.scroll_into_view_if_needed()
        page.wait_for_timeout(250)
    assert "the stop is bypassed" in cell.locator(".jp-OutputArea").inner_text()
    handle = cell.locator(".noUi-handle").first
    handle.focus()
    page.keyboard.press("End")
    page.wait_for_timeout(1000)
    text = cell.locator(".jp-OutputArea").inner_text()
    assert "no fault" in text
    assert "bypassed" not in text
    sheet.shot("electric-slider")

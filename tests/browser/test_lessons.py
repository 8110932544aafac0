"""The shipped notebooks, worked as a student works them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from labkit.cli._lab import copy_notebooks
from labkit.lessons import read_handin

from .conftest import Sheet

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def page(lab, chromium):
    copy_notebooks(lab.root)
    page = chromium.new_page(viewport={"width": 1280, "height": 900})
    yield page
    page.close()


def show(page, locator) -> None:
    """Bring it into view; JupyterLab draws cells only once they are near, which moves what comes after them."""
    for _ in range(3):
        locator.scroll_into_view_if_needed()
        page.wait_for_timeout(400)


def test_start_here_runs_and_shows_the_board(lab, page) -> None:
    sheet = Sheet(lab, page, "00-start-here.ipynb")
    sheet.open()
    sheet.run_all()
    page.wait_for_timeout(1500)
    board = page.locator(".jp-RenderedHTMLCommon img[alt*='Bench orchard']").first
    show(page, board)
    sheet.shot("start-board")
    assert board.bounding_box()["width"] > 600
    show(page, page.locator("img[alt*='Timing diagram']").first)
    sheet.shot("start-timing")
    slip = page.get_by_text("this branch never closes").first
    show(page, slip)
    sheet.shot("start-slip")
    assert page.get_by_text("there is no part S9 on this board").count() >= 1
    assert page.get_by_text("Traceback").count() == 0
    show(page, page.locator(".jp-CodeCell", has_text="lk.BenchView(bench)").first)
    page.wait_for_timeout(500)
    sheet.shot("start-panel")
    for view in ("LadderView", "LiveTrace", "MeterView"):
        cell = page.locator(".jp-CodeCell", has_text=f"lk.{view}(bench").first
        show(page, cell)
        sheet.shot(f"start-{view}")
        assert cell.locator(".jp-OutputArea-output").count() >= 1


def test_the_seal_in_lesson_is_answered_and_handed_in(lab, page) -> None:
    sheet = Sheet(lab, page, "01-seal-in.ipynb")
    sheet.open()
    sheet.run_all()
    page.wait_for_timeout(1500)
    assert page.get_by_text("Traceback").count() == 0
    form = page.locator(".jp-CodeCell", has_text='lk.answer_form(lesson, "signals")').first
    show(page, form)
    form.locator("select").first.select_option("1")
    page.wait_for_timeout(500)
    sheet.shot("lesson-form")
    assert "on the sheet" in form.inner_text()
    number = page.locator(".jp-CodeCell", has_text='lk.answer_form(lesson, "press-length")').first
    show(page, number)
    number.locator("input[type=text]").first.fill("thirty")
    page.keyboard.press("Tab")
    page.wait_for_timeout(400)
    assert "is not a number" in number.inner_text()
    number.locator("input[type=text]").first.fill("30 ms")
    page.keyboard.press("Tab")
    page.wait_for_timeout(400)
    assert "on the sheet" in number.inner_text()
    sheet.shot("lesson-number")
    show(page, page.locator(".jp-CodeCell", has_text='lesson.check("hold")').last)
    sheet.shot("lesson-check")
    show(page, page.locator(".jp-CodeCell", has_text="held by the auxiliary contact: K1 is").first)
    sheet.shot("lesson-race")
    show(page, page.locator(".jp-CodeCell", has_text="lesson.hand_in()").last)
    page.locator(".jp-CodeCell", has_text="lesson.hand_in()").last.locator(".cm-content").click()
    page.keyboard.press("Control+a")
    page.keyboard.insert_text("print(lesson.hand_in())")
    page.keyboard.press("Shift+Enter")
    for _ in range(50):
        files = list(Path(lab.root).glob("seal-in--*.json"))
        if files:
            break
        page.wait_for_timeout(100)
    (file,) = files
    sheet.shot("lesson-handed-in")
    answers = read_handin(file).answers
    assert answers["press-length"] == {"value": 30, "unit": "ms"}
    assert list(answers["signals"].values()) == ["1"]
    assert json.loads(file.read_text())["student"] == "A. Student"

"""A lesson as one piece, worked as a student does."""

from __future__ import annotations

from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

KINDS = Path(__file__).parents[1] / "lessons" / "kinds" / "kinds.toml"

START = """
import labkit as lk
%load_ext labkit
lesson = lk.lesson("seal-in", student="R. Vale")
"""


def test_a_task_is_answered_checked_hinted_and_handed_in(sheet):
    s = sheet(START, "lk.lesson_view(lesson)", height=1100)
    tasks, helps = s.page.locator(".lk-task-list"), s.page.locator(".lk-task-help")
    s.page.wait_for_selector(".lk-task-list [data-task='signals'][aria-current]")
    assert tasks.locator("[data-state='open']").count() == 9
    # by keyboard from the first task to the fourth
    tasks.locator("[data-task='signals']").focus()
    for _ in range(3):
        s.page.keyboard.press("ArrowDown")
    s.page.keyboard.press("Enter")
    s.page.wait_for_selector(".lk-task-list [data-task='block-off'][aria-current]")
    s.page.wait_for_selector(".lk-form input[type=radio]")
    helps.get_by_role("button", name="Hint 1 of 1").click()
    helps.get_by_text("Follow the rung").wait_for()
    s.page.get_by_label("It keeps running").check()
    s.page.wait_for_selector("[data-task='block-off'][data-state='answered']")
    helps.get_by_role("button", name="Check it now").click()
    s.page.wait_for_selector("[data-task='block-off'][data-state='look again']")
    s.shot("lesson-view-wrong")
    s.page.get_by_label("It drops out within a scan or two").check()
    s.page.wait_for_selector("[data-task='block-off'][data-state='answered']")
    assert helps.locator(".verdict").inner_text() == ""
    helps.get_by_role("button", name="Check it now").click()
    s.page.wait_for_selector("[data-task='block-off'][data-state='right']")
    assert "Why:" in helps.locator(".why").inner_text()
    s.shot("lesson-view-right")
    tasks.get_by_role("button", name="Hand in").click()
    s.page.wait_for_function("() => document.querySelector('.lk-task-list .where').textContent.startsWith('Written: ')")
    (file,) = s.lab.root.glob("seal-in--r-vale--1--*.json")
    assert file.name in tasks.locator(".where").inner_text()
    file.unlink()


def test_a_reading_is_predicted_then_taken_and_a_hunt_has_its_bench(sheet):
    s = sheet(
        f"""
import labkit as lk
lesson = lk.lesson({str(KINDS)!r}, student="R. Vale")
view = lk.lesson_view(lesson)
""",
        "view",
        height=1500,
    )
    s.page.locator("[data-task='predict-volts']").click()
    form = s.page.locator(".lk-form")
    read = form.get_by_role("button", name="Read").first
    read.wait_for()
    assert read.is_disabled()
    guess, shown = form.locator("input[type=text]").nth(0), form.locator("input[type=text]").nth(1)
    guess.fill("12")
    guess.press("Tab")
    s.page.wait_for_function("() => !document.querySelector('.lk-form button').disabled")
    read.click()
    s.page.wait_for_function("() => document.querySelectorAll('.lk-form input[type=text]')[1].value !== ''")
    assert float(shown.input_value()) >= 0
    assert guess.is_disabled()
    s.shot("lesson-drill")
    s.page.locator("[data-task='find-it']").click()
    form.get_by_role("button", name="Go to the bench").click()
    s.page.wait_for_selector(".lk-form .lk-bench-view [data-part='S2']")
    s.page.wait_for_selector(".lk-form .lk-meter-view")
    s.shot("lesson-hunt")
    s.page.locator("[data-task='land']").click()
    form.get_by_role("button", name="Put this wiring on the sheet").click()
    s.page.wait_for_selector("[data-task='land'][data-state='answered']")
    s.shot("lesson-wiring")

"""A lesson as one piece: what is open, answered, checked; hints in steps; the hand-in."""

from __future__ import annotations

import json

import pytest

from labkit.lessons import Lesson, LessonError, lesson, model_answers
from labkit.notebook import LessonView, lesson_view
from labkit.notebook._console import refresh_all


@pytest.fixture
def work() -> Lesson:
    return lesson("seal-in", student="R. Vale")


def state_of(view: LessonView, task: str) -> str:
    return next(row[3] for row in view.task_list.rows if row[0] == task)


def told_of(view: LessonView, task: str) -> str:
    return next(row[4] for row in view.task_list.rows if row[0] == task)


def test_every_task_is_listed_and_the_first_open_one_is_shown(work: Lesson) -> None:
    work.answer("signals", {cell.id: "1" for cell in work.variant.cells["signals"]})
    view = lesson_view(work)
    assert [row[0] for row in view.task_list.rows] == [task.id for task in work.tasks]
    assert state_of(view, "signals") == "answered"
    assert view.task_list.chosen == "hold"
    assert view.form.task.id == "hold"


def test_a_state_follows_what_is_answered_in_the_form(work: Lesson) -> None:
    view = lesson_view(work)
    assert state_of(view, "signals") == "open"
    next(iter(view.form.fields.values())).value = "1"
    assert state_of(view, "signals") == "partly"
    assert told_of(view, "signals") == f"1 of {len(work.variant.cells['signals'])} answered"


def test_an_answer_from_code_is_seen_after_the_cell(work: Lesson) -> None:
    view = lesson_view(work)
    work.answer("block-off", "drops")
    refresh_all()
    assert state_of(view, "block-off") == "answered"


def test_a_message_of_the_page_chooses_a_task_and_a_wrong_one_is_told(work: Lesson, page_of) -> None:
    view = lesson_view(work)
    page = page_of(view.task_list)
    page.send("choose", task="block-off")
    assert view.form.task.id == "block-off"
    page.send("choose", task="nothing-such")
    assert view.task_list.said
    assert view.form.task.id == "block-off"


def test_hints_come_one_after_the_other_and_are_counted(work: Lesson, page_of) -> None:
    view = lesson_view(work)
    task = work.task("signals")
    page = page_of(view.task_help)
    assert (view.task_help.hints, view.task_help.more) == ([], task.hints)
    page.send("hint")
    assert view.task_help.hints == [task.hint(1)]
    for _ in range(task.hints + 3):
        page.send("hint")
    assert view.task_help.said
    assert view.task_help.hints == [task.hint(k) for k in range(1, task.hints + 1)]
    assert view.task_help.more == 0
    assert work.hints_taken == {"signals": task.hints}


def test_the_check_tells_right_from_wrong_and_is_forgotten_with_the_answer(work: Lesson, page_of) -> None:
    view = lesson_view(work)
    right = model_answers(work.source, work.variant)["block-off"]
    wrong = next(option for option, _ in work.task("block-off").options if option != right)
    view.choose("block-off")
    page = page_of(view.task_help)
    view.form.fields["answer"].value = wrong
    page.send("check")
    assert state_of(view, "block-off") == "look again"
    assert view.task_help.verdict
    assert view.task_help.why == ""
    view.form.fields["answer"].value = right
    assert state_of(view, "block-off") == "answered"
    assert view.task_help.verdict == ""
    page.send("check")
    assert state_of(view, "block-off") == "right"
    assert work.task("block-off").why in view.task_help.why
    assert view.task_help.checked == 2


def test_a_program_that_was_typed_but_not_put_on_the_sheet_is_checked_too(work: Lesson) -> None:
    view = lesson_view(work)
    view.choose("hold")
    view.form.fields["answer"].value = model_answers(work.source, work.variant)["hold"]["text"]
    assert state_of(view, "hold") == "open"
    view.check()
    assert state_of(view, "hold") == "right"


def test_a_check_of_nothing_leaves_the_task_open(work: Lesson) -> None:
    view = lesson_view(work)
    view.choose("block-off")
    view.check()
    assert view.task_help.verdict
    assert (state_of(view, "block-off"), told_of(view, "block-off")) == ("open", "open")


def test_a_program_that_was_typed_in_another_task_is_handed_in_too(work: Lesson, tmp_path) -> None:
    view = lesson_view(work, folder=tmp_path)
    text = model_answers(work.source, work.variant)["hold"]["text"]
    view.choose("hold")
    view.form.fields["answer"].value = text
    view.choose("block-off")
    view.hand_in()
    (file,) = tmp_path.iterdir()
    assert json.loads(file.read_text())["answers"]["hold"]["text"] == text


def test_where_a_lesson_gives_no_feedback_there_is_no_check(work: Lesson, page_of) -> None:
    exam = work.source.file.model_copy(update={"practice": False})
    from dataclasses import replace

    view = lesson_view(Lesson(replace(work.source, file=exam), work.variant))
    assert not view.task_help.can_check
    page_of(view.task_help).send("check")
    assert "after the hand-in" in view.task_help.said
    assert view.task_help.checked == 1


def test_the_hand_in_is_written_and_its_place_is_told(work: Lesson, page_of, tmp_path) -> None:
    view = lesson_view(work, folder=tmp_path)
    view.choose("block-off")
    view.form.fields["answer"].value = "drops"
    page = page_of(view.task_list)
    page.send("hand_in")
    (file,) = tmp_path.iterdir()
    assert json.loads(file.read_text())["answers"]["block-off"] == "drops"
    assert str(file) in view.task_list.handed_in
    assert f"{len(work.tasks) - 1} tasks are still open" in view.task_list.handed_in
    file.write_text("torn")
    page.send("hand_in")
    assert f"kept as {file.name}.damaged" in view.task_list.handed_in


def test_onward_goes_to_the_next_open_task_and_round(work: Lesson) -> None:
    view = lesson_view(work)
    view.choose(work.tasks[-1].id)
    assert view.task_help.onward == work.task("signals").title
    view.onward()
    assert view.task_list.chosen == "signals"


def test_an_unknown_task_is_refused(work: Lesson) -> None:
    with pytest.raises(LessonError):
        lesson_view(work).choose("nothing-such")


def test_the_still_form_names_every_task_with_its_state(work: Lesson) -> None:
    work.answer("block-off", "drops")
    view = lesson_view(work)
    data, _ = view._repr_mimebundle_()
    assert data["text/plain"] == f"LessonView(seal-in: 1 of {len(work.tasks)} answered)"
    for task in work.tasks:
        assert task.title in view.svg().replace("&#x27;", "'")


async def _shown(view: object) -> None:
    view._receive(view, {"do": "hello"}, [])  # type: ignore[attr-defined]


def test_a_bench_that_was_paused_before_anyone_looked_stays_still_when_a_view_comes_up(work: Lesson) -> None:
    import asyncio

    from labkit.notebook import PaceBar, console

    bench = work.bench()
    bar = PaceBar(bench)
    console(bench).pause()
    asyncio.run(_shown(bar))
    assert console(bench).state == "stopped"

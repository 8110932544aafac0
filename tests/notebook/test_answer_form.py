"""The form fills the answer sheet, and says so; a slip is told in the form."""

from __future__ import annotations

import pytest

from labkit.lessons import Lesson, lesson
from labkit.notebook import answer_form


@pytest.fixture
def work() -> Lesson:
    return lesson("seal-in", student="R. Vale")


def test_a_chosen_word_goes_onto_the_sheet(work: Lesson) -> None:
    form = answer_form(work, "signals")
    cell, drop = next(iter(form.fields.items()))
    drop.value = "1"
    assert work.answers == {"signals": {cell: "1"}}
    assert "on the sheet" in form.said.value


def test_there_is_one_choice_for_each_cell_that_is_asked(work: Lesson) -> None:
    assert list(answer_form(work, "five-ways").fields) == [c.id for c in work.variant.cells["five-ways"]]


def test_a_number_is_taken_with_or_without_its_unit_and_a_word_is_refused(work: Lesson) -> None:
    form = answer_form(work, "press-length")
    form.fields["answer"].value = "thirty"
    assert work.answers == {}
    assert "is not a number" in form.said.value
    form.fields["answer"].value = "30 ms"
    assert work.answers["press-length"] == {"value": 30, "unit": "ms"}


def test_an_option_is_chosen(work: Lesson) -> None:
    answer_form(work, "block-off").fields["answer"].value = "drops"
    assert work.answers["block-off"] == "drops"


def test_a_program_task_starts_from_the_lessons_program(work: Lesson) -> None:
    form = answer_form(work, "panel")
    assert work.variant.names["panel_stop"] in form.fields["answer"].value


def test_what_is_on_the_sheet_is_shown_again(work: Lesson) -> None:
    work.answer("block-off", "drops")
    work.answer("press-length", (30, "ms"))
    assert answer_form(work, "block-off").fields["answer"].value == "drops"
    assert answer_form(work, "press-length").fields["answer"].value == "30"


def test_the_saved_form_is_stable_text(work: Lesson) -> None:
    form = answer_form(work, "block-off")
    data, _ = form._repr_mimebundle_()
    assert data["text/plain"] == "AnswerForm(block-off: The auxiliary block is pulled off)"
    assert data["text/html"].startswith("<img alt=")

"""What a student does with a lesson: look, work the bench, answer, check, hand in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.base import ms
from labkit.lessons import (
    AnswerError,
    Lesson,
    LessonError,
    LessonSource,
    find_handins,
    lesson,
    load_lesson,
    read_handin,
    tidy_answer,
    variant,
)
from labkit.logic import read_st

LESSON = load_lesson("seal-in")


@pytest.fixture
def work() -> Lesson:
    return lesson("seal-in", student="R. Vale")


def test_the_bench_is_the_students_own(work: Lesson) -> None:
    bench = work.bench()
    assert bench is work.bench()
    start = work.variant.names["start"]
    bench.power_up()
    bench.load(work.program("hold_output"))
    bench.press("S2", ms(100))
    bench.wait(ms(50))
    assert bench.bit(start)
    assert bench.scan_period_us == work.variant.scan_us


def test_texts_have_the_variants_words(work: Lesson) -> None:
    for task in work.tasks:
        for text in (task.title, task.prompt, task.why, repr(task), *(task.hint(i + 1) for i in range(task.hints))):
            assert "{" not in text.replace('{"text"', ""), text
    assert "STOP_PB" in work.task("hold").prompt
    assert "OP_STOP" in work.task("panel").start_from


def test_model_programs_are_not_shown(work: Lesson) -> None:
    assert set(work.programs) == {
        "hold_auxiliary", "hold_output", "hold_both", "hold_proved", "hold_kept", "panel_given",
    }  # fmt: skip
    with pytest.raises(LessonError, match="shows no program 'panel_mended'"):
        work.program("panel_mended")


def test_an_answer_of_any_usual_form_is_taken(work: Lesson) -> None:
    for value in (ms(30), "30 ms", (30, "ms"), "0.03 s", {"value": 30, "unit": "ms"}, "30ms"):
        work.answer("press-length", value)
        assert work.answers["press-length"] == {"value": 30, "unit": "ms"}
    for value in (23.98, "23.98 V", "23,98 V", (23980, "mV"), "23.98"):
        work.answer("volts-in", value)
        assert work.answers["volts-in"] == {"value": 23.98, "unit": "V"}
    work.answer("block-off", " Drops ")
    assert work.answers["block-off"] == "drops"
    work.answer("hold", read_st("K1 := STOP_PB;"))
    assert work.answers["hold"] == {"text": "K1 := STOP_PB;"}


def test_a_reading_of_the_meter_is_an_answer(work: Lesson) -> None:
    bench = work.bench()
    bench.power_up()
    work.answer("volts-out", bench.meter.volts("A1:I10", "A1:IC2"))
    assert work.answers["volts-out"]["value"] == pytest.approx(0, abs=0.01)


def test_cells_add_up_and_stay_in_order(work: Lesson) -> None:
    first, second = (cell[0] for cell in work.task("signals").cells[:2])
    work.answer("signals", {second: "0"})
    row, column = first.split("/")
    work.answer("signals", {row: {column: "1"}})
    assert list(work.answers["signals"].items()) == [(first, "1"), (second, "0")]
    assert "2 of 9 cells" in str(work.progress)
    assert "signals" in work.progress.open
    work.clear("signals", first)
    assert work.answers["signals"] == {second: "0"}
    work.clear("signals", first)  # it is not there any more
    assert work.answers["signals"] == {second: "0"}
    work.clear("signals", second)
    assert work.progress.answered == ()
    work.answer("signals", {first: "1", second: "0"})
    work.clear("signals")
    assert work.progress.answered == ()


@pytest.mark.parametrize(
    ("task", "value", "says", "try_this"),
    [
        ("press-length", 30, "needs a unit: ms", "ms(30)"),
        ("press-length", "30 min", "'min' is not a unit", "ms(30)"),
        ("press-length", None, "is not a number but nothing", ""),
        ("press-length", float("nan"), "needs a unit", ""),
        ("press-length", (float("inf"), "ms"), "beyond any reading", ""),
        ("volts-in", "lots", "not a number", "23.9 V"),
        ("hold", None, "a program is text", "%%ladder"),
        ("hold", {"text": 1, "run": "me"}, "holds its text", ""),
        ("signals", "1", "dict of cells", ""),
        ("signals", {"at-rest/sotp-bit": "1"}, "asks no cell", ""),
        ("five-ways", {"tap-short/o": "keeps runing"}, "not one of the words", "Did you mean keeps running?"),
        ("block-off", "rns", "not one of the answers", "Did you mean runs?"),
    ],
)
def test_misuse_gets_a_sentence(work: Lesson, task: str, value: Any, says: str, try_this: str) -> None:
    with pytest.raises(AnswerError) as caught:
        work.answer(task, value)
    assert says in caught.value.what
    assert try_this in caught.value.try_this
    assert caught.value.where == f"task {task}"
    assert task not in work.answers


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=30) | st.binary(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=12) | st.integers(), inner, max_size=3)
    ),
    max_leaves=8,
)


@settings(max_examples=300, deadline=None)
@given(st.sampled_from([task.id for task in LESSON.tasks]), anything)
def test_any_value_is_an_answer_or_a_sentence(task: str, value: Any) -> None:
    mine = variant(LESSON, "R. Vale")
    try:
        tidy = tidy_answer(LESSON, mine, LESSON.task(task), value)
    except AnswerError:
        return  # a sentence; that nothing else is raised is what is tested
    assert tidy_answer(LESSON, mine, LESSON.task(task), tidy) == tidy, "the plain form stays as it is"


def test_an_unknown_task_is_guessed(work: Lesson) -> None:
    with pytest.raises(LessonError) as caught:
        work.answer("pannel", "x")
    assert caught.value.try_this == "Did you mean panel?"


def test_check_gives_the_reason_at_once(work: Lesson) -> None:
    work.answer("hold", work.program("hold_output"))
    feedback = work.check("hold")
    assert not feedback.right
    assert feedback.points < feedback.out_of
    assert "does not go through K1_FB" in str(feedback)
    assert "<svg" in feedback._repr_html_()
    assert work.check("panel").points == 0


def test_a_lesson_without_practice_keeps_its_feedback(seal_in: LessonSource) -> None:
    exam = LessonSource(seal_in.file.model_copy(update={"practice": False}), seal_in.programs, "x")
    strict = lesson(exam, student="R. Vale")
    with pytest.raises(LessonError, match="after the hand-in"):
        strict.check("hold")
    with pytest.raises(LessonError, match="after the hand-in"):
        strict.mark()


def test_hand_in_writes_one_file_with_answers_and_log(work: Lesson, tmp_path: Path) -> None:
    bench = work.bench()
    bench.power_up()
    bench.press("S2", ms(45))
    work.answer("block-off", "drops")
    path = work.hand_in(tmp_path / "handins")
    assert [p.name for p in path.parent.iterdir()] == ["seal-in--r-vale--1--16850d.json"]
    handin = read_handin(path)
    assert handin.answers == {"block-off": "drops"}
    assert handin.log[-1] == {"at_ms": handin.log[-1]["at_ms"], "do": "press", "part": "S2", "hold_ms": 45.0}
    assert work.hand_in(path.parent) == path
    assert len(list(path.parent.iterdir())) == 1


def test_a_long_session_hands_in_the_end_of_its_log(work: Lesson) -> None:
    bench = work.bench()
    for _ in range(1100):
        bench.press("S2")
        bench.release("S2")
    handin = work.as_handin()
    assert len(handin.log) == 2000
    assert handin.log[-1]["do"] == "release"


def test_hints_come_in_steps(work: Lesson) -> None:
    task = work.task("hold")
    assert "STOP_PB" in task.hint(1)
    with pytest.raises(LessonError, match="hints 1 to 3"):
        task.hint(4)


# a restarted kernel -------------------------------------------------------------------------------
def test_a_kept_sheet_is_found_again(tmp_path: Path) -> None:
    before = lesson("checkout", student="R. Vale", keep=tmp_path)
    before.answer("lit-stop", "dead")
    before.answer("at-rest", {"stop": {"predicted": "on"}})
    before.answer("at-rest", {"stop": {"read": "on"}})
    before.take_hint("lit-stop")
    before.bench("whole").power_up()
    before.answer("force-left", "live")
    after = lesson("checkout", student=" r. vale", keep=tmp_path)
    assert after.answers == before.answers
    assert after.hints_taken == {"lit-stop": 1}
    assert after.as_handin().log == before.as_handin().log
    with pytest.raises(AnswerError, match="the prediction stands"):
        after.answer("at-rest", {"stop": {"predicted": "off"}})
    after.clear("force-left")
    assert "force-left" not in lesson("checkout", student="R. Vale", keep=tmp_path).answers
    assert [path.suffix for path in tmp_path.iterdir()] == [".sheet"]


def test_another_student_another_attempt_and_no_folder_begin_empty(tmp_path: Path) -> None:
    lesson("checkout", student="R. Vale", keep=tmp_path).answer("lit-stop", "dead")
    for work in (
        lesson("checkout", student="K. Lark", keep=tmp_path),
        lesson("checkout", student="R. Vale", attempt=2, keep=tmp_path),
        lesson("checkout", student="R. Vale"),
    ):
        assert work.answers == {}


def test_a_kept_answer_that_cannot_be_one_is_left_off_and_the_file_kept_beside(tmp_path: Path) -> None:
    lesson("checkout", student="R. Vale", keep=tmp_path).answer("lit-stop", "dead")
    (sheet,) = tmp_path.iterdir()
    older = sheet.read_text("utf-8").replace('"lit-stop": "dead"', '"lit-stop": "perhaps", "force-left": "live"')
    sheet.write_text(older, "utf-8")
    work = lesson("checkout", student="R. Vale", keep=tmp_path)
    assert work.answers == {"force-left": "live"}
    (told,) = work.notices
    assert "cannot take: lit-stop" in told
    aside = sheet.with_name(f"{sheet.name}.earlier")
    assert aside.name in told
    assert aside.read_text("utf-8") == older
    again = lesson("checkout", student="R. Vale", keep=tmp_path)
    assert (again.answers, again.notices) == ({"force-left": "live"}, ())


@pytest.mark.parametrize("what", ["torn", "no JSON", "empty", "not text"])
def test_a_damaged_sheet_is_kept_beside_and_the_work_goes_on(tmp_path: Path, capsys: Any, what: str) -> None:
    before = lesson("checkout", student="R. Vale", keep=tmp_path)
    before.answer("lit-stop", "dead")
    (sheet,) = tmp_path.iterdir()
    whole = sheet.read_bytes()
    damaged = {"torn": whole[: len(whole) // 2], "no JSON": b"oh no", "empty": b"", "not text": b"\xff\xfe\x00"}[what]
    sheet.write_bytes(damaged)
    work = lesson("checkout", student="R. Vale", keep=tmp_path)
    assert work.answers == {}
    (told,) = work.notices
    assert told in capsys.readouterr().err
    aside = sheet.with_name(f"{sheet.name}.damaged")
    assert aside.name in told
    work.answer("force-left", "live")
    assert aside.read_bytes() == damaged
    assert lesson("checkout", student="R. Vale", keep=tmp_path).answers == {"force-left": "live"}
    sheet.write_bytes(b"again")
    lesson("checkout", student="R. Vale", keep=tmp_path)
    assert aside.read_bytes() == damaged
    assert sheet.with_name(f"{sheet.name}.damaged-2").read_bytes() == b"again"


def test_a_damaged_sheet_is_replaced_by_what_was_handed_in(tmp_path: Path) -> None:
    before = lesson("checkout", student="R. Vale", keep=tmp_path)
    before.answer("lit-stop", "dead")
    before.hand_in(tmp_path)
    next(tmp_path.glob("*.sheet")).write_bytes(b"{")
    assert lesson("checkout", student="R. Vale", keep=tmp_path).answers == {"lit-stop": "dead"}


def test_two_kernels_with_one_sheet_lose_neither_s_answers(tmp_path: Path) -> None:
    one = lesson("checkout", student="R. Vale", keep=tmp_path)
    two = lesson("checkout", student="R. Vale", keep=tmp_path)
    one.answer("lit-stop", "dead")
    two.answer("force-left", "live")
    one.answer("at-rest", {"stop": {"predicted": "on"}})
    two.clear("lit-stop")
    after = lesson("checkout", student="R. Vale", keep=tmp_path).answers
    assert after == {"at-rest": {"stop": {"predicted": "on"}}, "force-left": "live"}


def test_an_empty_sheet_does_not_wipe_out_what_was_handed_in(tmp_path: Path) -> None:
    first = lesson("checkout", student="R. Vale")
    first.answer("lit-stop", "dead")
    path = first.hand_in(tmp_path)
    again = lesson("checkout", student="R. Vale")
    with pytest.raises(LessonError, match="has your answers already: it stays as it is"):
        again.hand_in(tmp_path)
    assert read_handin(path).answers == {"lit-stop": "dead"}
    again.answer("force-left", "live")
    assert read_handin(again.hand_in(tmp_path)).answers == {"force-left": "live"}
    (told,) = again.notices
    aside = path.with_name(f"{path.name}.earlier")
    assert aside.name in told
    assert read_handin(aside).answers == {"lit-stop": "dead"}
    again.clear("force-left")
    again.answer("lit-stop", "dead")
    again.hand_in(tmp_path)  # what was handed in from here is replaced without a word
    assert len(list(tmp_path.iterdir())) == 2


@pytest.mark.parametrize("what", ["torn", "no JSON", "of another lesson", "of another student"])
def test_an_earlier_file_that_cannot_be_used_is_kept_beside(tmp_path: Path, what: str) -> None:
    first = lesson("checkout", student="R. Vale")
    first.answer("lit-stop", "dead")
    path = first.hand_in(tmp_path)
    whole = path.read_text("utf-8")
    other = lesson("meter-drills", student="R. Vale")
    damaged = {
        "torn": whole[: len(whole) // 2],
        "no JSON": "Dear teacher, I could not open this.",
        "of another lesson": other.hand_in(tmp_path / "other").read_text("utf-8"),
        "of another student": whole.replace(first.variant.seed, "0" * 16),
    }[what]
    path.write_text(damaged, "utf-8")
    again = lesson("checkout", student="R. Vale")
    assert again.hand_in(tmp_path) == path
    (told,) = again.notices
    aside = path.with_name(f"{path.name}.damaged")
    assert aside.name in told
    assert aside.read_text("utf-8") == damaged
    assert read_handin(path).answers == {}
    assert find_handins([tmp_path]) == [path], "nobody marks what was set aside"


def test_cautions_are_a_list_on_a_page(work: Lesson) -> None:
    assert work.cautions._repr_html_().count("<li>") == len(work.cautions) == len(str(work.cautions).splitlines())

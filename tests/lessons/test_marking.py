"""Model answers get full marks, listed wrong answers lose the line they are listed for, and for that reason."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from typing import Any

import pytest

from labkit.bench import Stimulus
from labkit.lessons import LessonSource, MarkSheet, Variant, load_lesson, mark, model_answers, variant, wrong_answer
from labkit.lessons._lab import Lab
from labkit.lessons._truth import Truth
from labkit.lessons.key import model_with, wrong_with
from labkit.lessons.marking import mark_with

LESSON = load_lesson("seal-in")
Truths = Callable[[LessonSource, str], Truth]


@cache
def _wrong_sheet(truth: Truth, wrong_id: str) -> MarkSheet:
    wrong = next(w for w in LESSON.file.wrong if w.id == wrong_id)
    return mark_with(truth, {wrong.task: wrong_with(truth, wrong)})


@pytest.mark.slow
def test_model_answers_get_full_marks_for_twenty_students(seal_in: LessonSource, students: tuple[str, ...]) -> None:
    for name in students:
        truth = Truth(Lab(seal_in, variant(seal_in, name)))  # not kept: the benches of twenty students are large
        sheet = mark_with(truth, model_with(truth))
        assert (sheet.points, sheet.passed, sheet.flags) == (seal_in.points, True, ()), sheet.to_text()
        assert {line.verdict for line in sheet.lines} == {"right", "note"}


@pytest.mark.parametrize("student", ["R. Vale", "K. Lark"])
@pytest.mark.parametrize("wrong", LESSON.file.wrong, ids=lambda w: w.id)
def test_a_wrong_answer_fails_its_line_for_its_reason(
    seal_in: LessonSource, truths: Truths, wrong: Any, student: str
) -> None:
    line = _wrong_sheet(truths(seal_in, student), wrong.id).line(wrong.fails)
    assert line.verdict in ("wrong", "partly right"), line.reason
    assert line.points < line.out_of
    assert wrong.says in line.reason


def test_every_line_is_failed_by_some_listed_wrong_answer(vale_truth: Truth) -> None:
    """A line that no listed answer fails would be a line that nobody has seen failing."""
    failed = {wrong.fails for wrong in LESSON.file.wrong}
    for wrong in LESSON.file.wrong:
        sheet = _wrong_sheet(vale_truth, wrong.id)
        failed |= {line.line for line in sheet.for_task(wrong.task) if line.verdict in ("wrong", "partly right")}
    never = {line.id for task in LESSON.tasks for line in task.rubric if line.points} - failed
    assert never == set(), never


def test_nothing_handed_in_gets_nothing_and_is_told_what_is_missing(seal_in: LessonSource, vale: Variant) -> None:
    sheet = mark(seal_in, vale, {})
    assert (sheet.points, sheet.passed) == (0, False)
    assert sheet.missing == tuple(task.id for task in seal_in.tasks)
    assert {line.verdict for line in sheet.lines} == {"no answer"}
    assert "Nothing was handed in here; the task asks for a program." in sheet.line("hold-reads").reason
    assert "with its unit (ms)" in sheet.line("press-length-value").reason


@pytest.mark.parametrize(
    ("task", "answer", "says"),
    [
        ("hold", 12, "a program is text or what"),
        ("hold", {"text": ""}, "the program is empty"),
        ("hold", {"text": "x" * 20_001}, "20001 characters"),
        ("hold", {"text": "K1 := " + "(" * 50 + "S1" + ")" * 50 + ";"}, "nested 50 deep"),
        ("hold", {"text": "a\x1b[31m"}, "control character"),
        ("signals", {"at-rest/nothing": "1"}, "asks no cell"),
        ("signals", [], "a dict of cells"),
        ("press-length", {"value": True, "unit": "ms"}, "not a number"),
        ("press-length", {"value": 30, "unit": "kg"}, "not a unit"),
        ("press-length", {"value": 30}, "needs a unit"),
        ("volts-in", {"value": "many", "unit": "V"}, "not a number"),
        ("block-off", "z", "choose from"),
    ],
)
def test_an_answer_of_the_wrong_form_says_so(vale_truth: Truth, task: str, answer: Any, says: str) -> None:
    lines = mark_with(vale_truth, {task: answer}).for_task(task)
    assert {line.verdict for line in lines} == {"cannot be read"}
    assert says.casefold() in lines[0].reason.casefold()
    assert sum(line.points for line in lines) == 0


@pytest.mark.parametrize(
    ("program", "says"),
    [
        ("K1 := S1 AND", "Line 1"),
        ("this is nothing", "Line 1"),
        ("{motor} := {stop} AND NOBODY;", "NOBODY"),
        ("{stop} := {start};", "{stop}"),
        ("__import__('os').system('echo hello');", "Line 1"),
        ("\n".join("{motor} := {stop};" for _ in range(61)), "61"),
    ],
)
def test_a_program_that_cannot_be_judged_says_where(vale_truth: Truth, vale: Variant, program: str, says: str) -> None:
    sheet = mark_with(vale_truth, {"hold": {"text": vale.fill(program)}})
    line = sheet.line("hold-reads")
    assert line.verdict == "wrong"
    assert vale.fill(says) in line.reason
    assert {x.verdict for x in sheet.for_task("hold") if x.line != "hold-reads"} == {"cannot be read"}


def test_the_race_is_told_with_rung_time_and_tag(only: Callable[..., MarkSheet], vale: Variant) -> None:
    """Vale's bench: 10 ms scan, 22 ms pull-in, 4 ms filter. 22 ms is one scan short."""
    line = only(press_length={"value": 22, "unit": "ms"}).line("press-length-value")
    start, feedback, motor = vale.names["start"], vale.names["feedback"], vale.names["motor"]
    assert f"Rung 1 drops {motor} at 30.2 ms: power stops at {start} (0: S2 was let go at 22 ms" in line.reason
    assert f"{feedback} could be there only from 36.4 ms on (22 ms pull-in + 4 ms filter)" in line.reason


def test_the_evidence_replays_on_a_bench_to_the_same_end(
    seal_in: LessonSource, vale: Variant, only: Callable[..., MarkSheet]
) -> None:
    lab = Lab(seal_in, vale)
    text = lab.program_text("wrong_seal_spans_stop")
    line = only(hold={"text": text}).line("hold-stop")
    assert line.evidence is not None
    bench = lab.bench()
    bench.load(line.evidence.program)
    with bench.record() as trace:
        bench.play(Stimulus.of(line.evidence.stimulus))
        bench.wait_until(line.evidence.end_us)
    for name, changes in line.evidence.changes().items():
        signal = trace.signals[name]
        for t_us, value in changes:
            assert signal.at(t_us) == pytest.approx(value, abs=1e-3)


def test_points_of_a_table_follow_the_right_cells(vale_truth: Truth, vale_model: dict[str, Any]) -> None:
    cells = dict(vale_model["signals"])
    first, second, *_ = cells
    cells[first] = "0" if cells[first] == "1" else "1"
    del cells[second]
    line = mark_with(vale_truth, {"signals": cells}).line("signals-cells")
    assert (line.points, line.verdict) == (pytest.approx(4.5 * 7 / 9, abs=0.01), "partly right")
    assert "you said" in line.reason
    assert "No answer in 1 of 9 cells" in line.reason


@pytest.mark.parametrize(("value", "right"), [(29.0, True), (31.0, True), (28.9, False), (31.1, False), (1e9, False)])
def test_a_number_has_its_tolerance(only: Callable[..., MarkSheet], value: float, right: bool) -> None:
    line = only(press_length={"value": value, "unit": "ms"}).line("press-length-value")
    assert (line.verdict == "right") is right


def test_a_pass_needs_every_critical_line(seal_in: LessonSource, vale_truth: Truth, vale_model: dict[str, Any]) -> None:
    text = vale_truth.lab.program_text("wrong_panel_parallel")
    sheet = mark_with(vale_truth, {**vale_model, "panel": {"text": text}})
    assert sheet.percent > seal_in.file.pass_percent
    assert not sheet.passed
    assert "must be right" in sheet.verdict


def test_an_unknown_task_is_flagged_and_the_rest_is_marked(
    seal_in: LessonSource, vale_truth: Truth, vale_model: dict[str, Any]
) -> None:
    sheet = mark_with(vale_truth, {**vale_model, "holt": 1})
    assert sheet.points == seal_in.points
    assert sheet.flags == ("there is no task 'holt' in this lesson; Did you mean hold?",)


def test_structured_text_is_taken_as_well(only: Callable[..., MarkSheet], vale: Variant) -> None:
    text = vale.fill("{motor} := {stop} AND ({start} OR {feedback});")
    lines = only(hold={"text": text}).for_task("hold")
    assert {line.verdict for line in lines} == {"right", "note"}


def test_the_same_variant_and_marks_to_the_byte_whatever_the_hash_seed() -> None:
    code = """if True:
        import sys
        from labkit.lessons import load_lesson, mark, variant, wrong_answer
        lesson = load_lesson("seal-in")
        mine = variant(lesson, "R. Vale")
        answers = {}
        for wrong in lesson.file.wrong:
            answers.setdefault(wrong.task, wrong_answer(lesson, mine, wrong))
        sheet = mark(lesson, mine, answers)
        sys.stdout.buffer.write((repr(mine) + sheet.to_json() + sheet.to_text() + sheet.to_html()).encode())
    """
    outputs = {
        subprocess.run(
            [sys.executable, "-c", code], env={**os.environ, "PYTHONHASHSEED": seed}, capture_output=True, check=True
        ).stdout
        for seed in ("0", "4242")
    }
    assert len(outputs) == 1
    assert b"Rung 1" in outputs.pop()


def test_marking_leaves_nothing_behind(
    seal_in: LessonSource, vale: Variant, vale_truth: Truth, vale_model: dict[str, Any]
) -> None:
    """Pure: the same call gives the same sheet, and so do truths that others were marked with; answers stay."""
    some = {wrong.task: wrong_with(vale_truth, wrong) for wrong in LESSON.file.wrong}
    for answers in (vale_model, some):
        before = json.dumps(answers)
        used = mark_with(vale_truth, answers).to_json()
        assert mark(seal_in, vale, answers).to_json() == used
        assert mark_with(vale_truth, answers).to_json() == used
        assert json.dumps(answers) == before
    assert model_answers(seal_in, vale) == vale_model
    assert all(wrong_answer(seal_in, vale, w) == wrong_with(vale_truth, w) for w in LESSON.file.wrong)

"""What every shipped lesson owes: right model answers, and wrong ones that fail for the reason they are listed for.

The seal-in lesson has its own, longer test.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import pytest

from labkit.base import data_path
from labkit.bench import Bench
from labkit.board import Wiring
from labkit.lessons import (
    AnswerError,
    LessonSource,
    MarkLine,
    MarkSheet,
    RowView,
    dumps_handin,
    lesson,
    load_lesson,
    loads_handin,
    mark_file,
    shipped_lessons,
    variant,
)
from labkit.lessons._document import SheetTask
from labkit.lessons._forms import tidy_wiring
from labkit.lessons._lab import Lab
from labkit.lessons._truth import Truth
from labkit.lessons.key import model_with, wrong_with
from labkit.lessons.marking import mark_with

LESSONS = tuple(name for name in shipped_lessons() if name != "seal-in")
WRONG = [(name, wrong.id) for name in LESSONS for wrong in load_lesson(name).file.wrong]
HANDINS = data_path("datasets", "handins")
EXAMPLES = sorted(path.name for path in HANDINS.glob("*.json") if not path.name.startswith("seal-in--"))
STUDENTS = ("R. Vale", "K. Lark")


@cache
def _source(name: str) -> LessonSource:
    return load_lesson(name)


@cache
def _truth(name: str, student: str) -> Truth:
    source = _source(name)
    return Truth(Lab(source, variant(source, student)))


@cache
def _wrong_sheet(name: str, wrong_id: str) -> MarkSheet:
    truth = _truth(name, STUDENTS[0])
    wrong = next(w for w in _source(name).file.wrong if w.id == wrong_id)
    return mark_with(truth, {wrong.task: wrong_with(truth, wrong)})


@pytest.mark.parametrize("student", ["Ö. Ash-Müller", "Student 10", "Student 16"])
def test_a_hunt_that_needs_one_reading_more_than_halving_or_a_dead_board_is_still_the_best(student: str) -> None:
    # their faults want ohms on the dead board, or do not halve evenly: the model search has more minutes than readings
    truth = _truth("wiring-hunt", student)
    sheet = mark_with(truth, model_with(truth))
    assert [line.reason for line in sheet.lines if line.points < line.out_of] == []


@pytest.fixture(scope="module", autouse=True)
def _let_go() -> Iterator[None]:
    """The benches of a dozen lessons are large."""
    yield
    for kept in (_truth, _wrong_sheet):
        kept.cache_clear()


@pytest.mark.parametrize("student", STUDENTS)
@pytest.mark.parametrize("name", LESSONS)
def test_model_answers_get_full_marks(name: str, student: str) -> None:
    truth = _truth(name, student)
    sheet = mark_with(truth, model_with(truth))
    missed = [f"{line.line}: {line.reason}" for line in sheet.lines if line.points < line.out_of]
    assert (missed, sheet.flags) == ([], ())
    assert sheet.passed


@pytest.mark.parametrize(("name", "wrong_id"), WRONG)
def test_a_wrong_answer_fails_its_line_for_its_reason(name: str, wrong_id: str) -> None:
    wrong = next(w for w in _source(name).file.wrong if w.id == wrong_id)
    line = _wrong_sheet(name, wrong_id).line(wrong.fails)
    assert line.points < line.out_of, line.reason
    assert wrong.says in line.reason


@pytest.mark.parametrize("name", LESSONS)
def test_every_line_is_failed_by_some_wrong_answer(name: str) -> None:
    source = _source(name)
    failed = set()
    for wrong in source.file.wrong:
        lines = _wrong_sheet(name, wrong.id).for_task(wrong.task)
        failed |= {line.line for line in lines if line.verdict in ("wrong", "partly right", "cannot be read")}
    never = {line.id for task in source.tasks for line in task.rubric if line.points} - failed
    assert never == set()


@pytest.mark.parametrize("name", LESSONS)
def test_a_student_is_told_what_to_do_and_why(name: str) -> None:
    """Every text can be filled for a variant, and a lesson about a live board has its cautions."""
    work = lesson(name, student=STUDENTS[1])
    assert len(work.cautions) >= 2
    for task in work.tasks:
        assert task.prompt
        assert task.why
        assert repr(task).startswith(task.title)
        assert [task.hint(step) for step in range(1, task.hints + 1)].count("") == 0


@pytest.mark.parametrize("name", LESSONS)
def test_a_student_who_measures_every_row_reads_it_right(name: str) -> None:
    """At the bench that is set up for the row, with what the display shows."""
    work = lesson(name, student=STUDENTS[1])
    for task in work.tasks:
        if task.kind not in ("sheet", "drill"):
            continue
        for row in task.rows:
            shown = _shown(work.set_up(task.id, row.id), row)
            part = {"value": shown} if task.kind == "sheet" else {"predicted": shown, "read": shown}
            work.answer(task.id, {row.id: part})
        assert work.check(task.id).right, str(work.check(task.id))


def _shown(bench: Bench, row: RowView) -> float | str:
    if row.choices and row.mode != "continuity":
        looks = {"led": bench.led, "lit": bench.lit, "bit": bench.bit}
        return bench.state(row.probes[0]) if row.mode == "state" else ("off", "on")[looks[row.mode](row.probes[0])]
    reading = bench.meter.peek(row.mode, *row.probes)
    return reading.text if row.choices or math.isinf(reading) else float(reading)


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_hand_in_comes_out_as_it_is_named(name: str) -> None:
    outcome = mark_file(HANDINS / name)
    assert outcome.status in ("marked", "flagged"), outcome.message
    assert outcome.sheet is not None
    if name.endswith("--full-marks.json"):
        assert outcome.sheet.points == outcome.sheet.out_of, outcome.sheet.to_text()
        data = (HANDINS / name).read_bytes()
        assert dumps_handin(loads_handin(data)).encode() == data
    elif name.endswith("--blank.json"):
        assert outcome.sheet.points == 0
    else:
        assert not outcome.sheet.passed, outcome.message


@pytest.mark.parametrize("name", LESSONS)
def test_a_lesson_has_example_hand_ins(name: str) -> None:
    mine = [example for example in EXAMPLES if example.startswith(f"{name}--")]
    assert f"{name}--full-marks.json" in mine
    assert len(mine) >= 2


def test_a_wiring_handed_in_with_its_blocks_parked_says_so() -> None:
    truth = _truth("landing", STUDENTS[0])
    answer = model_with(truth)["inputs"]
    parked = dict.fromkeys(("A1.XI1", "A1.XI2", "A1.XQA", "A1.XQB"), "parked")
    sheet = mark_with(truth, {"inputs": {**answer, "blocks": parked}})
    line = next(line for line in sheet.lines if line.line == "inputs-points")
    assert line.points == 0
    assert "block A1.XI1 is parked, not seated" in line.reason
    # the controller's outputs hang in the air: no row of the inputs says anything of them
    seated = mark_with(truth, {"inputs": {**answer, "blocks": {"A1.XQA": "parked", "A1.XQB": "off"}}})
    line = next(line for line in seated.lines if line.line == "inputs-points")
    assert line.points == line.out_of


@pytest.mark.parametrize(
    ("said", "is_read"), [("24 V", 24), ("24", 24), ("23,9V", 23.9), ("-24 mV", -0.024), (" +1.5 v ", 1.5)]
)
def test_a_figure_may_carry_the_unit_of_its_row(said: str, is_read: float) -> None:
    work = lesson("wiring-hunt", student=STUDENTS[0])
    work.answer("break", {"across": {"predicted": said}})
    assert work.answers["break"]["across"]["predicted"] == is_read


@pytest.mark.parametrize("said", ["24 mA", "24 ohm", "x", "2 4", "1e3"])
def test_a_figure_of_another_unit_is_refused(said: str) -> None:
    work = lesson("wiring-hunt", student=STUDENTS[0])
    with pytest.raises(AnswerError, match="not a number that can be read"):
        work.answer("break", {"across": {"predicted": said}})


def test_a_question_in_a_reason_keeps_its_mark() -> None:
    truth = _truth("wiring-hunt", STUDENTS[0])
    sheet = mark_with(truth, {"break": {"outptu": {"predicted": 24}}})
    assert {line.reason for line in sheet.lines if line.task == "break"} == {
        "There is no row 'outptu'. Did you mean output?"
    }


FOUND = [
    (name, task.id)
    for name in LESSONS
    for task in load_lesson(name).tasks
    if any(line.kind == "found" for line in task.rubric)
]


@pytest.mark.parametrize(("name", "task_id"), FOUND)
def test_every_fault_of_a_pool_shows_in_the_sheet_that_asks_for_it(name: str, task_id: str) -> None:
    lab = _truth(name, STUDENTS[0]).lab
    task = _source(name).task(task_id)
    assert isinstance(task, SheetTask)
    run = _source(name).run(task.rows[0].run)
    setup = run.setup or "start"
    sound = {row.id: lab.look(row, faults=()).band for row in task.rows}
    for hidden in _source(name).file.hidden:
        if setup not in hidden.setups:
            continue
        for fault in lab.benches.pool(hidden.pool, setup):
            assert any(lab.look(row, faults=(fault,)).band != sound[row.id] for row in task.rows), fault.id


@pytest.mark.parametrize(("name", "task_id"), FOUND)
def test_a_sheet_copied_from_a_sound_bench_does_not_pass(name: str, task_id: str) -> None:
    truth = _truth(name, STUDENTS[1])
    task = _source(name).task(task_id)
    assert isinstance(task, SheetTask)
    copied: dict[str, float | str] = {}
    for row in task.rows:
        seen = truth.lab.look(row, faults=())
        copied[row.id] = "OL" if seen.value is None else seen.value
    sheet = mark_with(truth, {**model_with(truth), task_id: copied})
    (line,) = (line for line in sheet.for_task(task_id) if line.line.endswith("-found"))
    assert (line.points, line.verdict, line.critical, sheet.passed) == (0, "wrong", True, False)
    # a row that is still open is not named: which it is, is what is looked for
    (line,) = (
        line
        for line in mark_with(truth, {task_id: {task.rows[0].id: copied[task.rows[0].id]}}).for_task(task_id)
        if line.line.endswith("-found")
    )
    assert (line.points, line.verdict) == (0, "no answer")
    assert not any(row.what in line.reason for row in task.rows)


@pytest.mark.parametrize(("name", "task_id"), [("supply-and-commons", "could-be"), ("power-up", "what-is-it")])
@pytest.mark.parametrize("word", ["possible", "impossible"])
def test_the_same_word_for_every_fault_earns_nothing(name: str, task_id: str, word: str) -> None:
    truth = _truth(name, STUDENTS[0])
    right = model_with(truth)[task_id]
    (line,) = mark_with(truth, {task_id: dict.fromkeys(right, word)}).for_task(task_id)
    assert (line.points, line.verdict) == (0, "wrong")
    assert line.reason.startswith("The same word for every fault")
    one_off = next(key for key, said in right.items() if said == "impossible")
    (line,) = mark_with(truth, {task_id: {**right, one_off: "possible"}}).for_task(task_id)
    assert 0 < line.points < line.out_of


def _wired_wrong(wiring: Wiring) -> dict[str, MarkLine]:
    """The lines of the wiring tasks for a wiring that is handed in with a good log."""
    truth = _truth("landing", STUDENTS[0])
    answer = {**model_with(truth)["inputs"], "wires": tidy_wiring(wiring)["wires"]}
    return {line.line: line for line in mark_with(truth, {"inputs": answer, "outputs": answer}).lines}


def test_a_forgotten_common_is_told_as_the_reason() -> None:
    lines = _wired_wrong(_truth("landing", STUDENTS[0]).lab.board.wiring.without("14"))
    assert "its common A1:IC1 has no wire, so no current can go back to 0 V" in lines["inputs-points"].reason
    assert lines["outputs-findings"].reason.startswith("A1:IC1 leads to neither rail")


def test_lamps_changed_over_are_told_with_the_one_that_lit() -> None:
    wiring = _truth("landing", STUDENTS[0]).lab.board.wiring
    lamps = {"A1:Q2": "A1:Q3", "A1:Q3": "A1:Q2"}
    crossed = Wiring(
        tuple(replace(w, a=lamps.get(w.a, w.a), b=lamps.get(w.b, w.b)) if w.no in ("202", "203") else w for w in wiring)
    )
    assert "P2 works in its place" in _wired_wrong(crossed)["outputs-points"].reason

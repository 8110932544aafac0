"""Forms that are filled at a bench: a wiring, a sheet, readings with predictions, a hunt, what could explain."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.faults import faults_in
from labkit.lessons import Lesson, lesson, load_lesson, mark, model_answers
from labkit.notebook import answer_form, console, lesson_view
from labkit.notebook._answer_plain import as_number

KINDS = Path(__file__).parents[1] / "lessons" / "kinds" / "kinds.toml"


@pytest.fixture
def work() -> Lesson:
    return lesson(load_lesson(KINDS), student="R. Vale")


def of_kind(work: Lesson, kind: str) -> str:
    return next(task.id for task in work.tasks if task.kind == kind)


def test_every_kind_of_task_has_a_form(work: Lesson) -> None:
    view = lesson_view(work)
    for task in work.tasks:
        view.choose(task.id)
        assert view.form.fields, task.id
        assert view.form.task.prompt in view.form.children[0].value.replace("&#x27;", "'")


def test_the_wiring_of_the_bench_goes_onto_the_sheet_as_it_is_landed(work: Lesson) -> None:
    task = of_kind(work, "wiring")
    form = answer_form(work, task)
    bench = work.bench(work.task(task).setup)
    listed = form.children[3]
    assert "<td>102</td>" not in listed.value
    bench.wire("S2:14", "A1:I2", no="102", colour="BU", mm2=0.75, m=0.9)
    console(bench).refresh()
    assert "<td>102</td>" in listed.value
    form.fields["answer"].click()
    assert "102" in [wire["no"] for wire in work.answers[task]["wires"]]
    assert "on the sheet" in form.said.value


def test_a_typed_wire_list_is_read_or_refused_with_a_sentence(work: Lesson) -> None:
    task = of_kind(work, "wiring")
    form = answer_form(work, task)
    typed = form.children[-2]
    form.fields["list"].value = "no,a,b,colour,mm2,m\n1,G1:24V,X1:99,BU,1.5,0.4\n"
    typed.click()
    assert task not in work.answers or form.said.value
    form.fields["list"].value = "no,a,b,colour,mm2,m\n1,G1:24V,X1:24V,BU,1.5,0.4\n"
    typed.click()
    assert [wire["no"] for wire in work.answers[task]["wires"]] == ["1"]


def test_a_sheet_takes_numbers_words_and_open_loops(work: Lesson) -> None:
    task = of_kind(work, "sheet")
    form = answer_form(work, task)
    form.fields["rail"].value = "24,0 V"
    form.fields["short"].value = "ol"
    form.fields["start-led"].value = "off"
    rows = work.answers[task]
    assert {key: rows[key].get("value") if isinstance(rows[key], dict) else rows[key] for key in rows} == {
        "rail": 24.0,
        "short": "OL",
        "start-led": "off",
    }
    assert "on the sheet: 24 V" not in form.said.value
    form.fields["rail"].value = "2,4"
    assert form.said.value == "on the sheet: 2.4 V"  # a slip of the decimal sign shows
    form.fields["rail"].value = "24 A"
    assert "is in A, and this is asked in V" in form.said.value
    assert "what was on the sheet before stays" in form.said.value
    form.fields["rail"].value = ""
    assert (form.said.value, "rail" in work.answers[task]) == ("taken off the sheet", False)
    form.fields["start-led"].value = "-"
    assert list(work.answers[task]) == ["short"]
    form.fields["short"].value = " "
    assert task not in work.answers
    form.fields["short"].value = ""
    assert form.said.value == "left open"
    form.fields["stop-rest"].value = "much"
    assert "is not a number" in form.said.value
    assert task not in work.answers


def test_a_drill_reads_only_what_was_predicted_and_then_the_prediction_stands(work: Lesson) -> None:
    task = of_kind(work, "drill")
    form = answer_form(work, task)
    row = next(row for row in work.task(task).rows if not row.choices)
    guess, read = form.fields[row.id], form.fields[f"{row.id}.read"]
    assert read.disabled
    guess.value = "12"
    assert not read.disabled
    read.click()
    held = work.answers[task][row.id]
    bench = work.set_up(task, row.id)
    assert held["predicted"] == 12
    assert held["read"] == pytest.approx(float(bench.meter.peek(row.mode, *row.probes)), abs=1e-5)
    assert guess.disabled
    assert read.disabled
    again = answer_form(work, task)
    assert again.fields[row.id].value == "12"
    assert again.fields[row.id].disabled


def test_a_drill_s_reading_stands_in_the_log_with_what_was_expected(work: Lesson) -> None:
    task = of_kind(work, "drill")
    form = answer_form(work, task)
    row = next(row for row in work.task(task).rows if not row.choices)
    benches: list[Bench] = []
    made = work.set_up
    work.set_up = lambda *words: benches.append(made(*words)) or benches[-1]  # type: ignore[method-assign]
    form.fields[row.id].value = "12"
    form.fields[f"{row.id}.read"].click()
    (bench,) = benches
    assert [done.what.get("expect") for done in bench.log if done.do == "read"] == [12]


def test_the_list_counts_rows_that_are_read_and_not_those_only_predicted(work: Lesson) -> None:
    view = lesson_view(work)

    def told(task: str) -> str:
        return next(row[4] for row in view.task_list.rows if row[0] == task)

    drill, sheet = of_kind(work, "drill"), of_kind(work, "sheet")
    view.choose(drill)
    row = next(row for row in work.task(drill).rows if not row.choices)
    view.form.fields[row.id].value = "12"
    assert told(drill) == f"0 of {len(work.task(drill).rows)} answered"
    view.form.fields[f"{row.id}.read"].click()
    assert told(drill) == f"1 of {len(work.task(drill).rows)} answered"
    view.choose(sheet)
    view.form.fields["rail.bench"].click()
    view.form.fields["rail"].value = "24"
    assert told(sheet) == f"1 of {len(work.task(sheet).rows)} answered"


def test_a_value_that_is_typed_with_the_bench_open_has_the_bench_s_time(work: Lesson) -> None:
    task = of_kind(work, "sheet")
    form = answer_form(work, task)
    form.fields["short"].value = "OL"
    assert work.answers[task]["short"] == "OL" or "at_ms" not in work.answers[task]["short"]
    form.fields["rail.bench"].click()
    drawer = next(slot.children[0] for slot in form.children[2:-1:2] if slot.children)
    drawer.bench.wait(ms(1500))
    form.fields["rail"].value = "24"
    assert work.answers[task]["rail"] == {"value": 24, "at_ms": drawer.bench.now_us / 1000}


def test_every_row_of_every_mode_can_be_read_by_the_button(work: Lesson) -> None:
    from labkit.notebook._answer_bench import read_row

    tasks = [task for task in work.tasks if task.kind in ("sheet", "drill")]
    right = {}
    for task in tasks:
        right[task.id] = {row.id: read_row(work.set_up(task.id, row.id), row, None) for row in task.rows}
        drilled = task.kind == "drill"
        work.answer(
            task.id, {k: {"predicted": v, "read": v} for k, v in right[task.id].items()} if drilled else right[task.id]
        )
    sheet = mark(work.source, work.variant, work.answers)
    for task in tasks:
        got = [line for line in sheet.for_task(task.id) if "read" in line.line]
        assert got
        assert all(line.verdict == "right" for line in got), got


def test_a_hunt_is_handed_over_with_both_words_and_the_log(work: Lesson) -> None:
    task = of_kind(work, "hunt")
    form = answer_form(work, task)
    form.fields["answer"].click()
    assert "say both" in form.said.value
    form.fields["location"].value = work.task(task).suspects[0][1]
    form.say("", good=True)
    form.fields["answer"].click()
    assert "say both" in form.said.value
    assert task not in work.answers
    bench = work.hunt_bench(task)
    bench.meter.volts("X1:24V", "X1:0V", expect=24)
    _, location, cause = work.task(task).suspects[0]
    form.fields["location"].value, form.fields["cause"].value = location, cause
    form.fields["answer"].click()
    held = work.answers[task]
    assert (held["location"], held["cause"]) == (location, cause)
    assert [entry["do"] for entry in held["log"]].count("read") == 1


def test_suspects_are_struck_off_and_the_place_is_put_right_at_the_bench(work: Lesson) -> None:
    task = of_kind(work, "hunt")
    bench = work.hunt_bench(task)
    (truth,) = faults_in(bench)
    form = answer_form(work, task)
    innocent = next(suspect for suspect, _, _ in work.task(task).suspects if suspect != truth.id)
    form.fields[innocent].click()
    form.fields[innocent].click()  # a double click
    assert form.fields[innocent].disabled
    assert [done.do for done in bench.log] == ["strike"]
    assert form.said.value.startswith("struck off: ")
    assert (bench.log[-1].do, bench.log[-1].what) == ("strike", {"suspect": innocent})
    assert answer_form(work, task).fields[innocent].disabled
    form.fields["mend"].click()
    assert "choose first" in form.said.value
    form.fields["mended"].value = truth.location
    form.fields["mend"].click()
    assert bench.log[-1].do in ("repair", "swap")
    entries = len(bench.log)
    form.fields["mend"].click()  # a double click
    assert len(bench.log) == entries
    assert "has just been put right" in form.said.value
    bench.press("S2", ms(300))
    bench.wait(ms(600))
    assert bench.state("K1") == "closed"


def test_words_between_backticks_are_code_and_nothing_else_is_markup() -> None:
    from labkit.notebook._answer_plain import prose

    assert prose("write `a < b` & <b>not</b>") == "write <code>a &lt; b</code> &amp; &lt;b&gt;not&lt;/b&gt;"


def test_what_could_explain_is_judged_fault_by_fault(work: Lesson) -> None:
    task = of_kind(work, "could-explain")
    form = answer_form(work, task)
    suspects = [suspect for suspect, _, _ in work.task(task).suspects]
    form.fields[suspects[0]].value = "possible"
    form.fields[suspects[1]].value = "impossible"
    assert work.answers[task] == {suspects[0]: "possible", suspects[1]: "impossible"}


def test_a_bench_below_a_form_is_drawn_only_when_it_is_asked_for(work: Lesson) -> None:
    form = answer_form(work, of_kind(work, "hunt"))
    show, drawer = form.children[3:5]
    assert drawer.children == ()
    show.click()
    board, meter = drawer.children[1:]
    assert board.bench is work.hunt_bench(of_kind(work, "hunt"))
    assert not board._live  # a real board does not show what is live
    assert meter.predict


def test_model_answers_are_shown_again_in_every_form(work: Lesson) -> None:
    for task, answer in model_answers(work.source, work.variant).items():
        work.answer(task, answer)
        form = answer_form(work, task)
        assert form.fields, task


@pytest.mark.parametrize(
    ("said", "unit", "number"),
    [
        ("0.3 mV", "V", 0.0003),
        ("5.45 kohm", "ohm", 5450),
        ("0.640 Mohm", "ohm", 640000),
        ("-23,99 V", "V", -23.99),
        ("125 mA", "A", 0.125),
        ("2.5 mA", "mA", 2.5),
        ("30", "ms", 30),
        ("5 mohm", "ohm", None),
        ("24 A", "V", None),
        ("inf", "V", None),
        ("", "V", None),
    ],
)
def test_what_a_display_shows_can_be_typed_as_it_stands(said: str, unit: str, number: float | None) -> None:
    assert as_number(said, unit) == number


def test_the_bench_of_a_row_comes_below_that_row(work: Lesson) -> None:
    form = answer_form(work, of_kind(work, "sheet"))
    ids = [row.id for row in form.task.rows]

    def below() -> list[bool]:
        return [bool(slot.children) for slot in form.children[2:-1:2]]

    assert below() == [False] * len(ids)
    form.fields[f"{ids[1]}.bench"].click()
    assert [k for k, shown in enumerate(below()) if shown] == [1]
    assert "the bench stands below" in form.said.value
    form.fields[f"{ids[4]}.bench"].click()
    assert [k for k, shown in enumerate(below()) if shown] == [4]


def test_the_bench_of_a_row_is_closed_again_and_the_next_one_is_fresh(work: Lesson) -> None:
    form = answer_form(work, of_kind(work, "sheet"))
    row = form.task.rows[1]
    slot, show = form.children[4], form.fields[f"{row.id}.bench"]
    show.click()
    (drawer,) = slot.children
    first, board = drawer.bench, drawer.children[1]
    show.click()  # a double click opens no second one and shuts nothing
    assert drawer.bench is first
    assert "open already" in form.said.value
    shut = drawer.children[0].children[1]
    assert shut.description == "Close the bench"
    shut.click()
    assert drawer.children == ()
    assert board.comm is None
    assert console(first).state == "stopped"
    show.click()
    assert drawer.bench not in (None, first)
    assert drawer.children


def test_a_hunt_s_bench_is_closed_and_stands_as_it_was(work: Lesson) -> None:
    task = of_kind(work, "hunt")
    form = answer_form(work, task)
    show, drawer = form.children[3:5]
    show.click()
    bench = drawer.bench
    console(bench).hold("S2", "another view")
    drawer.children[0].children[1].click()
    assert drawer.children == ()
    console(bench).refresh()
    assert not console(bench).kept_still  # other views of it live on
    show.click()
    assert drawer.bench is bench


def test_the_same_sentence_twice_is_said_twice(work: Lesson) -> None:
    form = answer_form(work, of_kind(work, "hunt"))
    form.fields["answer"].click()
    first = form.said.times
    form.fields["answer"].click()
    assert (form.said.times, form.said.good) == (first + 1, False)


def test_what_stands_below_the_form_stays_when_the_task_changes(work: Lesson) -> None:
    view = lesson_view(work)
    right = view.children[1]
    before = right.children
    view.choose(of_kind(work, "drill"))
    assert right.children == before  # a page makes anew what is exchanged, and the focus in it is lost
    assert before[0].children == (view.form,)

"""The electrical kinds of task: right answers are right, wrong ones wrong for the right reason, hostile ones bounded.

The truths here are the network's; figures that a person can work out stand beside the checks.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.board import dumps_wiring, dumps_wiring_csv
from labkit.faults import faults_in, repair, strike
from labkit.lessons import (
    LIMITS,
    AnswerError,
    Lesson,
    LessonError,
    LessonSource,
    MarkLine,
    MarkSheet,
    Variant,
    dumps_handin,
    hidden_faults,
    hunted_faults,
    lesson,
    load_lesson,
    loads_handin,
    loads_lesson,
    mark,
    model_answers,
    read_handin,
    variant,
)
from labkit.lessons._lab import Lab
from labkit.lessons._mark_hunt import could_explain, live_hunt
from labkit.lessons._mark_rows import sheet_flags
from labkit.lessons._truth import Truth
from labkit.lessons.answers import tidy_for
from labkit.lessons.key import model_with
from labkit.lessons.marking import mark_with

Truths = Callable[[LessonSource, str], Truth]

FILE = Path(__file__).parent / "kinds" / "kinds.toml"
TEXT = FILE.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def kinds() -> LessonSource:
    return load_lesson(FILE)


@pytest.fixture(scope="module")
def mine(kinds: LessonSource) -> Variant:
    return variant(kinds, "R. Vale")


@pytest.fixture(scope="module")
def truth(kinds: LessonSource, truths: Truths) -> Truth:
    return truths(kinds, "R. Vale")


@pytest.fixture(scope="module")
def model(truth: Truth) -> dict[str, Any]:
    return model_with(truth)


@pytest.fixture
def work(kinds: LessonSource) -> Lesson:
    return lesson(kinds, student="R. Vale")


def _sheet(truth: Truth, **answers: Any) -> MarkSheet:
    return mark_with(truth, {key.replace("_", "-"): value for key, value in answers.items()})


def _change(old: str, new: str) -> LessonSource:
    assert old in TEXT, old
    return loads_lesson(TEXT.replace(old, new, 1))


@pytest.mark.parametrize("student", ["R. Vale", "K. Lark", "P. Quill"])
def test_model_answers_get_full_marks(kinds: LessonSource, truths: Truths, student: str) -> None:
    truth = truths(kinds, student)
    sheet = mark_with(truth, model_with(truth))
    assert [f"{x.line}: {x.reason}" for x in sheet.lines if x.points < x.out_of] == []
    assert (sheet.passed, sheet.flags) == (True, ())


def test_truths_that_others_have_used_mark_as_fresh_ones(
    kinds: LessonSource, mine: Variant, truth: Truth, model: dict[str, Any]
) -> None:
    """Every kind of task, right and not: what the other tests share takes nothing from what they show."""
    for answers in (model, model | {"land": {"wires": _drawn(truth)[:-3]}, "find-it": model["find-it"] | {"log": []}}):
        used = mark_with(truth, answers).to_json()
        assert mark(kinds, mine, answers).to_json() == used
    assert model_answers(kinds, mine) == model


def test_a_model_answer_survives_the_hand_in(kinds: LessonSource, model: dict[str, Any], work: Lesson) -> None:
    for task, answer in model.items():
        work.answer(task, answer)
    assert work.answers == model
    again = loads_handin(dumps_handin(work.as_handin()).encode())
    assert again.answers == model
    for task in kinds.tasks:
        assert tidy_for(work.lab, task, model[task.id]) == model[task.id], "the plain form stays as it is"


# wirings ------------------------------------------------------------------------------------------
def _drawn(truth: Truth) -> list[dict[str, Any]]:
    keys = ("no", "a", "b", "colour", "mm2", "m", "ferrule")
    return [{key: getattr(wire, key) for key in keys} for wire in truth.lab.board.wiring]


def _land(truth: Truth, wires: Any) -> dict[str, MarkLine]:
    return {line.line: line for line in _sheet(truth, land=wires).for_task("land")}


def test_a_wiring_is_taken_as_bench_wiring_csv_toml_and_list(truth: Truth, work: Lesson) -> None:
    wiring = truth.lab.board.wiring
    task = work.source.task("land")
    forms = [wiring, dumps_wiring_csv(wiring), dumps_wiring(wiring), _drawn(truth), truth.lab.bench("whole")]
    answers = [tidy_for(work.lab, task, form)["wires"] for form in forms]
    assert all(answer == answers[0] for answer in answers)
    assert len(answers[0]) == len(wiring)


def test_any_routing_that_is_electrically_right_passes(truth: Truth) -> None:
    """The start button's feed taken from the stop button's feed terminal in place of the strip: the same node."""
    wires = [w | {"a": "S1:11", "m": 0.2} if w["no"] == "122" else w for w in _drawn(truth)]
    lines = _land(truth, wires)
    assert {name: line.points for name, line in lines.items()} == {
        "land-readable": 1,
        "land-points": 3,
        "land-findings": 2,
        "land-dead": 0,  # a list has no log
    }


def test_a_student_lands_the_missing_wires_and_hands_the_bench_in(work: Lesson) -> None:
    bench = work.bench()
    assert work.task("land").setup == "start"
    missing = {wire.no: wire for wire in work.lab.board.wiring} | {}
    for wire in bench.wiring:
        missing.pop(wire.no)
    assert sorted(missing) == ["101", "102", "103", "104", "105", "106"]
    work.answer("land", bench)
    first = work.check("land")
    assert not first.right
    points = next(line for line in first.lines if line.line == "land-points")
    assert points.points == 0
    bench.meter.prove()
    bench.meter.volts("X1:24V", "X1:0V")
    bench.meter.prove()
    for wire in missing.values():
        bench.wire(wire.a, wire.b, no=wire.no, colour=wire.colour, mm2=wire.mm2, m=wire.m)
    work.answer("land", bench)
    assert work.check("land").right, str(work.check("land"))


WRONG_WIRINGS: list[tuple[str, dict[str, Any], str, str]] = [
    ("common off", {"off": ["14"]}, "land-points", "0 of 3 points work"),
    ("common off, found", {"off": ["14"]}, "land-findings", "A1:IC1"),
    ("swapped", {"swap": ("102", "103")}, "land-points", "moved in its place"),
    ("swapped, found", {"swap": ("102", "103")}, "land-findings", "It follows S3"),
    ("no supply", {"off": ["11"]}, "land-points", "A1 does not start"),
    ("foreign terminal", {"add": ("900", "X1:24I", "X9:1")}, "land-readable", "X9"),
    ("number twice", {"add": ("101", "X1:24I", "S2:13")}, "land-readable", "101 is on two wires"),
    ("one terminal", {"add": ("900", "S2:13", "S2:13")}, "land-readable", "both ends of wire 900"),
    ("short", {"add": ("900", "X1:24V", "X1:0V")}, "land-findings", "short"),
    ("short, points", {"add": ("900", "X1:24V", "X1:0V")}, "land-points", "0 of 3 points work"),
]


@pytest.mark.parametrize(("how", "line", "says"), [w[1:] for w in WRONG_WIRINGS], ids=[w[0] for w in WRONG_WIRINGS])
def test_a_wrong_wiring_loses_its_line_with_a_reason(truth: Truth, how: dict[str, Any], line: str, says: str) -> None:
    wires = [w for w in _drawn(truth) if w["no"] not in how.get("off", ())]
    if "swap" in how:
        ends = {w["no"]: w["b"] for w in wires}
        one, two = how["swap"]
        wires = [w | {"b": ends[{one: two, two: one}[w["no"]]]} if w["no"] in how["swap"] else w for w in wires]
    if "add" in how:
        wires.append(dict(zip(("no", "a", "b"), how["add"], strict=True)))
    found = _land(truth, wires)[line]
    assert found.points < found.out_of
    assert says.casefold() in found.reason.casefold(), found.reason


def test_advice_is_said_and_costs_nothing(truth: Truth) -> None:
    """A supply whose 0 V floats may be meant: the bond off is told, and no point is lost."""
    line = _land(truth, [w for w in _drawn(truth) if w["no"] != "4"])["land-findings"]
    assert (line.verdict, line.points) == ("right", line.out_of)
    assert "advice: 0 V is not bonded" in line.reason.replace("Advice", "advice")


def test_a_feed_ahead_of_its_breaker_is_told_and_costs_nothing(truth: Truth) -> None:
    wires = [w | {"a": "X1:24V"} if w["no"] == "122" else w for w in _drawn(truth)]
    line = _land(truth, wires)["land-findings"]
    assert (line.verdict, line.points) == ("right", line.out_of)
    assert "with F1 locked out it stays live" in line.reason


READ = {"do": "read", "mode": "volts", "red": "X1:24V", "black": "X1:0V", "value": 0.0}
PROVE = {"do": "read", "mode": "volts", "red": "unit+", "black": "unit-", "value": 24.0}
LIFT = {"do": "lift", "wire": "14"}
ON, OFF = {"do": "power", "on": True}, {"do": "power", "on": False}
DEAD_LOGS: list[tuple[str, list[dict[str, Any]], str]] = [
    ("nothing read", [LIFT], "off is not dead"),
    ("live", [PROVE, READ, PROVE, {"do": "power", "on": True}, LIFT], "with the supply on"),
    ("live later", [PROVE, READ, PROVE, LIFT, {"do": "power", "on": True}, LIFT], "with the supply on"),
    ("not proved", [READ, LIFT], "known source before and after"),
    ("not proved after", [PROVE, READ, LIFT], "known source before and after"),
    ("not proved before", [READ, PROVE, LIFT], "known source before and after"),
    ("power since", [PROVE, READ, PROVE, ON, OFF, LIFT], "off is not dead"),
    ("read while live", [PROVE, ON, READ, OFF, PROVE, LIFT], "off is not dead"),
    ("24 V read", [PROVE, READ | {"value": 24.0}, PROVE, LIFT], "off is not dead"),
    ("untouched", [PROVE, READ, PROVE], "no conductor being touched"),
]


@pytest.mark.parametrize(("log", "says"), [d[1:] for d in DEAD_LOGS], ids=[d[0] for d in DEAD_LOGS])
def test_what_is_not_dead_first(truth: Truth, log: list[dict[str, Any]], says: str) -> None:
    entries = [{"at_ms": 1000 * i, **entry} for i, entry in enumerate(log)]
    line = _land(truth, {"wires": _drawn(truth), "log": entries})["land-dead"]
    assert (line.verdict, line.points) == ("wrong", 0)
    assert says in line.reason


def test_dead_first_is_right(truth: Truth) -> None:
    log = [{"at_ms": 1000 * i, **entry} for i, entry in enumerate([PROVE, READ, PROVE, LIFT])]
    assert _land(truth, {"wires": _drawn(truth), "log": log})["land-dead"].verdict == "right"


# sheets -------------------------------------------------------------------------------------------
def test_a_sheet_shows_the_fault_that_is_hidden(truth: Truth) -> None:
    """Wire 102 or 103 is open in the faulty setup; the start button's terminal is then dead or not."""
    (fault,) = truth.lab.benches.hidden("faulty")
    assert fault.id in ("wire-102-open", "wire-103-open")
    task = truth.lab.lesson.task("checkout")
    assert task.kind == "sheet"
    row = next(row for row in task.rows if row.id == "start-held")
    alive = fault.id == "wire-103-open"
    assert truth.look(row).band == ("live" if alive else "dead")
    assert truth.lab.look(row, faults=()).band == "live"


def test_both_faults_of_the_pool_are_drawn_in_a_class(kinds: LessonSource, students: tuple[str, ...]) -> None:
    drawn = {Lab(kinds, variant(kinds, name)).benches.hidden("faulty")[0].id for name in students}
    assert drawn == {"wire-102-open", "wire-103-open"}


def _faulted(kinds: LessonSource, students: tuple[str, ...], truths: Truths) -> Truth:
    labs = (Lab(kinds, variant(kinds, name)) for name in students)
    lab = next(lab for lab in labs if lab.benches.hidden("faulty")[0].id == "wire-102-open")
    return truths(kinds, lab.variant.student)


def test_a_sheet_filled_in_as_if_sound_loses_the_row_and_is_flagged(
    kinds: LessonSource, students: tuple[str, ...], truths: Truths
) -> None:
    truth = _faulted(kinds, students, truths)
    answer = model_with(truth)["checkout"]
    copied = answer | {"start-held": {"value": 23.98}, "start-led": {"value": "on"}}
    sheet = mark_with(truth, {"checkout": copied})
    line = sheet.line("checkout-readings")
    assert line.points == round(4 * 5 / 7, 2)
    assert "you read 23.98 V, the bench has 0.0 mV" in line.reason
    assert any("I2, start held: the sheet says 23.98 V, as on a sound board" in flag for flag in sheet.flags)
    assert mark_with(truth, {"checkout": answer}).flags == ()


def test_a_sheet_with_times_equally_far_apart_is_flagged(kinds: LessonSource, truth: Truth) -> None:
    task = kinds.task("checkout")
    assert task.kind == "sheet"
    rows = [row.id for row in task.rows]
    even = {key: {"value": 0, "at_ms": 30_000 * i} for i, key in enumerate(rows)}
    uneven = {key: {"value": 0, "at_ms": 30_000 * i + 777 * i * i} for i, key in enumerate(rows)}
    assert any("all 30 s apart" in flag for flag in sheet_flags(truth, task, even))
    assert not any("apart" in flag for flag in sheet_flags(truth, task, uneven))


def test_a_sheet_with_all_voltages_alike_is_flagged() -> None:
    source = load_lesson("supply-and-commons")
    extra = TEXT.replace("[[tasks.rubric]]\nid = \"checkout-readings\"", "".join(
        f'[[tasks.rows]]\nid = "more-{i}"\nwhat = "more {i}"\nrun = "rest"\nred = "{red}"\nblack = "X1:0V"\n'
        for i, red in enumerate(("X1:24I", "A1:QA+", "K1:53", "A1:24V"))
    ) + "[[tasks.rubric]]\nid = \"checkout-readings\"", 1)  # fmt: skip
    source = loads_lesson(extra)
    truth = Truth(Lab(source, variant(source, "R. Vale")))
    task = source.task("checkout")
    assert task.kind == "sheet"
    volts = [row.id for row in task.rows if row.mode == "volts" and row.setup != "faulty"]
    assert len(volts) == 6
    same = {key: {"value": 24.0} for key in volts}
    assert any("voltages of" in flag and "are 24 V" in flag for flag in sheet_flags(truth, task, same))
    read = {key: {"value": round(truth.look(next(r for r in task.rows if r.id == key)).value, 2)} for key in volts}
    assert sheet_flags(truth, task, read) == []


def test_readings_logged_at_the_bench_fill_the_sheet(work: Lesson) -> None:
    bench = work.bench("whole")
    bench.power_up()
    bench.meter.volts("X1:0V", "X1:24V")  # the other way round: the sign is turned
    bench.meter.volts("A1:I1", "X1:0V")
    work.answer("checkout", bench)
    found = work.answers["checkout"]
    assert set(found) == {"rail", "stop-rest"}
    assert found["rail"]["value"] == pytest.approx(24.0, abs=0.05)
    assert found["rail"]["at_ms"] > 0
    bench.note("led:I2", False)
    bench.meter.ohms("S2:13", "S2:14")
    work.answer("checkout", bench)
    assert work.answers["checkout"]["start-led"]["value"] == "off"


def test_rows_of_one_place_are_filled_in_their_order() -> None:
    """The rail is read dead and live: two rows, one place."""
    again = '[[tasks.rows]]\nid = "rail-dead"\nwhat = "rail, dead"\nrun = "dead"\nred = "X1:24V"\nblack = "X1:0V"\n'
    proof = '[[tasks.rows]]\nid = "proof"\nwhat = "known source"\nrun = "dead"\nred = "unit+"\nblack = "unit-"\n'
    first = '[[tasks.rows]]\nid = "rail"\n'
    source = _change(first, proof + again + first)
    work = lesson(source, student="R. Vale")
    bench = work.bench("whole")
    bench.meter.prove()
    bench.meter.volts("X1:24V", "X1:0V")
    bench.power_up()
    work.answer("checkout", bench)  # read once for two rows: left open
    assert set(work.answers["checkout"]) == {"proof"}
    bench.meter.volts("X1:24V", "X1:0V")
    work.answer("checkout", bench)
    assert [round(row["value"]) for row in work.answers["checkout"].values()] == [24, 0, 24]
    assert work.check("checkout").lines[0].points == round(4 * 3 / 9, 2)


def test_rows_of_a_sheet_add_up_and_are_set_up(work: Lesson) -> None:
    work.answer("checkout", {"rail": 24, "short": "ol", "beep": True})
    work.answer("checkout", {"rail": 23.9, "start-led": "OFF", "bond": ""})
    assert work.answers["checkout"] == {
        "rail": {"value": 23.9},
        "start-led": {"value": "off"},
        "short": {"value": "OL"},
        "beep": {"value": "beep"},
    }
    bench = work.set_up("checkout", "start-held")
    assert bench.state("S2") == "pressed"
    assert bench.log == []
    with pytest.raises(LessonError, match="no row 'nail'") as caught:
        work.set_up("checkout", "nail")
    assert "rail" in caught.value.try_this


# drills -------------------------------------------------------------------------------------------
def test_the_reason_of_an_open_contact_is_told(truth: Truth, model: dict[str, Any]) -> None:
    """The most common error of all: 54 % hold the voltage across an open switch for zero (Timmermann, Kautz)."""
    answer = model["predict-volts"] | {"across-open": {"predicted": 0, "read": 23.97}}
    sheet = _sheet(truth, predict_volts=answer)
    line = sheet.line("drill-predictions")
    assert line.points == 2
    assert "S2:13-14 is open and no current flows" in line.reason
    assert "the full 24.0 V stand across the one open place" in line.reason
    assert sheet.line("drill-readings").verdict == "right"


def test_a_lesson_s_own_reason_is_told(truth: Truth, model: dict[str, Any]) -> None:
    answer = model["predict-volts"] | {"lifted-common": {"predicted": 24, "read": 24}}
    line = _sheet(truth, predict_volts=answer).line("drill-readings")
    assert "nothing drops across the input" in line.reason


@pytest.mark.parametrize(
    ("predicted", "right"), [(24, True), (22.1, True), (26, False), (20, False), (0, False), (-24, False)]
)
def test_a_prediction_is_right_within_its_band(
    truth: Truth, model: dict[str, Any], predicted: float, right: bool
) -> None:
    """23.97 V stand across the contact; 2 V of it is the band."""
    answer = model["predict-volts"] | {"across-open": {"predicted": predicted, "read": 23.97}}
    assert (_sheet(truth, predict_volts=answer).line("drill-predictions").verdict == "right") is right


def test_a_drill_is_predicted_first_and_the_prediction_stands(work: Lesson) -> None:
    with pytest.raises(AnswerError, match="read before it is predicted"):
        work.answer("predict-volts", {"across-open": {"read": 24}})
    work.answer("predict-volts", {"across-open": {"predicted": 0}})
    work.answer("predict-volts", {"across-open": {"predicted": 12}})  # nothing read yet: one may think again
    work.answer("predict-volts", {"across-open": {"read": 23.97}})
    with pytest.raises(AnswerError, match="was predicted as 12 and has been read"):
        work.answer("predict-volts", {"across-open": {"predicted": 24}})
    assert work.answers["predict-volts"] == {"across-open": {"predicted": 12, "read": 23.97}}


def test_feedback_gives_no_open_row_away(work: Lesson) -> None:
    work.answer("predict-volts", {"across-closed": {"predicted": 24}})
    told = str(work.check("predict-volts"))
    assert "a closed contact drops next to nothing" in told
    assert "23.97" not in told
    work.answer("could-it", {})
    assert "possible" not in str(work.check("could-it"))


# hunts --------------------------------------------------------------------------------------------
def test_a_good_search_beats_a_guess(truth: Truth, model: dict[str, Any]) -> None:
    good = _sheet(truth, find_it=model["find-it"])
    guess = _sheet(truth, find_it=model["find-it"] | {"log": []})
    assert good.line("find-location").points == 2
    assert guess.line("find-location").points == 0.5  # a quarter: the readings do not lead there
    assert "a guess" in guess.line("find-location").reason
    assert guess.line("find-method").points == 0
    assert guess.line("find-retest").points == 0


def test_ohms_on_the_live_board_are_unsafe(kinds: LessonSource, work: Lesson) -> None:
    bench = work.hunt_bench("find-it")
    bench.meter.ohms("X1:24V", "X1:0V")
    location, cause = work.task("find-it").suspects[0][1:]
    work.answer("find-it", (location, cause))
    line = next(line for line in work.check("find-it").lines if line.line == "find-safety")
    assert line.points == 0
    assert "ohms on a live board" in line.reason
    assert mark(kinds, work.variant, work.answers).line("find-safety").reason == line.reason


def test_a_student_hunts_at_a_bench_of_their_own(work: Lesson) -> None:
    view = work.task("find-it")
    assert view.card[0].startswith("It worked yesterday.")
    assert view.card[1] == "start held: K1: open"
    assert len(view.suspects) == 6
    task = work.source.task("find-it")
    assert task.kind == "hunt"
    hunt, bench = live_hunt(work.lab, task), work.hunt_bench("find-it")
    assert bench is work.hunt_bench("find-it")
    before = len(hunt.left(bench.log))
    bench.press("S2", ms(500))
    bench.wait(ms(200))
    bench.meter.volts("K1:A1", "X1:0V", expect=24)
    assert before == 6
    assert 0 < len(hunt.left(bench.log)) < 6
    bench.wait(ms(60 * 60 * 1000))  # an hour passes; replaying it takes a pause of ten seconds
    bench.meter.volts("A1:Q1", "X1:0V")
    fault = hunt.fault
    work.answer("find-it", fault.id)
    answer = work.answers["find-it"]
    assert (answer["location"], answer["cause"]) == (fault.location, fault.cause)
    assert len(answer["log"]) == 3
    assert next(line for line in work.check("find-it").lines if line.line == "find-location").points > 0


def test_only_a_hunt_has_a_hunt_s_bench(work: Lesson) -> None:
    with pytest.raises(LessonError, match="land is no hunt") as caught:
        work.hunt_bench("land")
    assert caught.value.try_this == "hunts here: find-it"


def test_what_stands_on_the_card_is_drawn_and_pinned_by_the_seed(
    kinds: LessonSource, students: tuple[str, ...]
) -> None:
    task = kinds.task("find-it")
    assert task.kind == "hunt"
    drawn = [Lab(kinds, variant(kinds, name)).benches.hunted(task) for name in students]
    assert len({truth.id for truth, _ in drawn}) >= 5
    for truth, suspects in drawn:
        assert truth in suspects
        assert len({fault.id for fault in suspects}) == 6
    again = [Lab(kinds, variant(kinds, name)).benches.hunted(task) for name in students]
    assert drawn == again


def test_what_is_in_may_be_a_part_of_what_stands_on_the_card(kinds: LessonSource, students: tuple[str, ...]) -> None:
    source = _change("suspects = 6", 'suspects = 6\ntruths = ["wire-201-open", "Q1-dead"]')
    task = source.task("find-it")
    assert task.kind == "hunt"
    drawn = [Lab(source, variant(source, name)).benches.hunted(task) for name in students]
    assert {truth.id for truth, _ in drawn} == {"wire-201-open", "Q1-dead"}
    assert all(len(suspects) == 6 and truth in suspects for truth, suspects in drawn)


def test_a_search_goes_on_where_it_was_handed_over(kinds: LessonSource, tmp_path: Path) -> None:
    work = Lesson(kinds, variant(kinds, "R. Vale"), keep=tmp_path)
    bench = work.hunt_bench("find-it")
    bench.press("S2", ms(500))
    bench.wait(ms(200))
    bench.meter.volts("K1:A1", "X1:0V", expect=24)
    work.answer("find-it", work.task("find-it").suspects[0][0])

    later = Lesson(work.source, work.variant, keep=tmp_path)  # as after a restart of the kernel
    assert later.progress.answered == ("find-it",)
    again = later.hunt_bench("find-it")
    assert [done.do for done in again.log] == ["press", "read"]
    assert again.now_us == bench.log[-1].t_us
    assert again.lit("P2") == bench.lit("P2")
    again.meter.volts("A1:Q1", "X1:0V")
    later.answer("find-it", work.task("find-it").suspects[1][0])
    assert len(later.answers["find-it"]["log"]) == 3

    # another name for it, before anything is done at the bench, does not take the search away
    last = Lesson(work.source, work.variant, keep=tmp_path)
    last.answer("find-it", work.task("find-it").suspects[1][0])
    assert len(last.answers["find-it"]["log"]) == 3


def _searched(bench: Bench, *, until: int = 99) -> None:
    """The steps of a search, up to one of them."""
    steps = (
        lambda: bench.press("S2"),
        lambda: bench.wait(ms(700)),
        lambda: bench.note("lit:P1", bench.lit("P1")),
        lambda: bench.meter.volts("A1:Q1", "X1:0V", expect=24),
        lambda: bench.wait(ms(30_000)),
        lambda: bench.meter.ohms("X1:24V", "X1:0V"),
        lambda: strike(bench, "wire-201-open"),
        lambda: bench.release("S2"),
        lambda: bench.power(False),
        lambda: repair(bench, "wire 201"),
    )
    for step in steps[:until]:
        step()


def test_a_hunt_that_was_not_handed_over_outlives_a_restart(kinds: LessonSource, tmp_path: Path) -> None:
    mine = variant(kinds, "R. Vale")
    straight = Lesson(kinds, mine)
    _searched(straight.hunt_bench("find-it"))
    guess = straight.task("find-it").suspects[0][0]
    straight.answer("find-it", guess)

    work = Lesson(kinds, mine, keep=tmp_path)
    _searched(work.hunt_bench("find-it"))
    now = Lesson(kinds, mine, keep=tmp_path)  # the kernel was restarted
    assert now.answers == {}
    bench = now.hunt_bench("find-it")
    assert [done.do for done in bench.log] == [
        "press", "note", "read", "read", "strike", "release", "power", "repair",
    ]  # fmt: skip
    assert bench.state("G1") == "off"
    assert faults_in(bench) == faults_in(work.hunt_bench("find-it"))
    now.answer("find-it", guess)
    assert [line.reason for line in now.check("find-it").lines] == [
        line.reason for line in straight.check("find-it").lines
    ], "a restart wins and loses nothing"

    again = Lesson(kinds, mine, keep=tmp_path).hunt_bench("find-it")
    again.meter.prove()
    last = Lesson(kinds, mine, keep=tmp_path)
    assert len(last.answers["find-it"]["log"]) == 8, "what was handed over"
    assert [done.do for done in last.hunt_bench("find-it").log][8:] == ["read"], "and what was done since"
    assert read_handin(last.hand_in(tmp_path)).hunts == {}


def test_a_restart_in_the_middle_of_a_press_lets_the_button_come_up(kinds: LessonSource, tmp_path: Path) -> None:
    mine = variant(kinds, "R. Vale")
    _searched(Lesson(kinds, mine, keep=tmp_path).hunt_bench("find-it"), until=4)
    for _ in range(2):
        bench = Lesson(kinds, mine, keep=tmp_path).hunt_bench("find-it")
        assert bench.states()["S2"] == "released"
        assert [done.do for done in bench.log] == ["press", "note", "read", "release"]


def test_the_log_of_a_hunt_that_cannot_be_played_is_kept_beside(kinds: LessonSource, tmp_path: Path) -> None:
    mine = variant(kinds, "R. Vale")
    _searched(Lesson(kinds, mine, keep=tmp_path).hunt_bench("find-it"), until=4)
    (sheet,) = tmp_path.iterdir()
    sheet.write_text(sheet.read_text("utf-8").replace('"S2"', '"S99"'), "utf-8")
    work = Lesson(kinds, mine, keep=tmp_path)
    assert list(work.hunt_bench("find-it").log) == []
    assert "cannot be played" in work.notices[0]
    assert "S99" in sheet.with_name(f"{sheet.name}.damaged").read_text("utf-8")


def test_a_long_note_does_not_keep_a_hunt_from_being_handed_over(kinds: LessonSource, tmp_path: Path) -> None:
    work = Lesson(kinds, variant(kinds, "R. Vale"), keep=tmp_path)
    bench = work.hunt_bench("find-it")
    bench.note("led:I1", "it flickers " * 30)
    work.answer("find-it", work.task("find-it").suspects[0][0])
    assert len(work.answers["find-it"]["log"][0]["seen"]) == 200


def test_a_hunt_whose_log_grew_too_long_is_handed_over_as_far_as_it_is_judged(
    kinds: LessonSource, tmp_path: Path
) -> None:
    work = Lesson(kinds, variant(kinds, "R. Vale"), keep=tmp_path)
    bench = work.hunt_bench("find-it")
    most = LIMITS.hunt_readings.value
    for _ in range(most + 3):
        bench.meter.volts("X1:24V", "X1:0V")
    bench.note("lit:P1", bench.lit("P1"))
    work.answer("find-it", work.task("find-it").suspects[0][0])
    assert [entry["do"] for entry in work.answers["find-it"]["log"]] == ["read"] * most
    (told,) = work.notices
    assert f"at most {most} are judged" in told
    assert all(line.verdict != "cannot be read" for line in work.check("find-it").lines)
    assert len(Lesson(kinds, work.variant, keep=tmp_path).hunt_bench("find-it").log) == most


def test_a_hunt_s_hand_works_on_where_nothing_can_be_kept(kinds: LessonSource, tmp_path: Path) -> None:
    folder = tmp_path / "folder"
    work = Lesson(kinds, variant(kinds, "R. Vale"), keep=folder)
    folder.write_text("a file is in the way", "utf-8")
    bench = work.hunt_bench("find-it")
    _searched(bench, until=4)
    assert [done.do for done in bench.log] == ["press", "note", "read"]
    (told,) = work.notices
    assert "is not kept over a restart" in told


# could it explain ---------------------------------------------------------------------------------
def test_could_explain_agrees_with_each_bench() -> None:
    """A dark input light with start held: what lies before the input can be it, what lies behind the output cannot."""
    source = _change('id = "could-it"', 'id = "could-it"\ntruths = ["S2:13-14-open"]')
    for lab in (Lab(source, variant(source, "R. Vale")), Lab(source, variant(source, "K. Lark"))):
        asked = lab.lesson.task("could-it")
        assert asked.kind == "could-explain"
        found = {fault: could for fault, (could, _) in could_explain(lab, asked).items()}
        # the light and 0 V at its terminal: an open common would leave 24 V there
        before = {"wire-102-open", "wire-122-open", "S2:13-14-open"}
        assert all(could is (fault in before) for fault, could in found.items())
        assert found["S2:13-14-open"]


def test_a_wrong_judgement_is_told_what_speaks_against_it(truth: Truth, model: dict[str, Any]) -> None:
    answer = dict.fromkeys(model["could-it"], "possible")
    line = _sheet(truth, could_it=answer).line("could-all")
    assert line.points < 4
    assert "is impossible: start held, indicator of I2: it would show on, and off was seen" in line.reason


def test_what_nobody_judged_earns_nothing(truth: Truth, model: dict[str, Any]) -> None:
    """Both possible ones found and two of the six impossible ones told: 1 + 2/6 - 1 of the points."""
    words = sorted(model["could-it"].items(), key=lambda judged: judged[1])
    half = dict([*words[:2], *words[-2:]])
    assert [word for _, word in words].count("possible") == 2
    line = _sheet(truth, could_it=half).line("could-all")
    assert (line.points, line.verdict) == (1.33, "partly right")
    assert "No answer about 4 of 8" in line.reason


# forms and bounds ---------------------------------------------------------------------------------
LOG = [{"at_ms": 0, "do": "power", "on": True}]
HOSTILE: list[tuple[str, str, Any, str]] = [
    ("wiring text", "land", "no,a\n1,2", "the wire list cannot be read"),
    ("wiring number", "land", 12, "a wiring is a bench"),
    ("wiring of numbers", "land", [1], "is not a wire"),
    ("wiring key", "land", [{"no": "1", "a": "X", "b": "Y", "color": "BU"}], "which no wire has"),
    ("wiring without end", "land", [{"no": "1", "a": "X1:24V"}], "has no 'b'"),
    ("wiring NaN", "land", [{"no": "1", "a": "X", "b": "Y", "mm2": float("nan")}], "not a number"),
    ("wiring infinite", "land", [{"no": "1", "a": "X", "b": "Y", "m": float("inf")}], "not a number"),
    ("wiring negative", "land", [{"no": "1", "a": "X", "b": "Y", "m": -1}], "is above 0"),
    ("wiring long name", "land", [{"no": "1", "a": "X" * 61, "b": "Y"}], "61 characters"),
    ("wiring control", "land", [{"no": "1", "a": "X\x1b", "b": "Y"}], "is not a word"),
    ("wiring deep", "land", [{"no": "1", "a": {"a": {}}, "b": "Y"}], "is not a word"),
    ("wiring many", "land", [{"no": "1", "a": "X", "b": "Y"}] * 401, "401 wires"),
    ("wiring huge text", "land", "no,a,b\n" + "x" * 100_000, "characters long"),
    ("wiring log", "land", {"wires": [], "log": "all"}, "a log is a list"),
    ("wiring log huge", "land", {"wires": [], "log": LOG * 801}, "801 entries"),
    ("wiring log deep", "land", {"wires": [], "log": [{"at_ms": 0, "do": "x", "y": [[[[1]]]]}]}, "no log has"),
    ("wiring log dict", "land", {"wires": [], "log": [{"at_ms": 0, "do": "x", "y": {}}]}, "no log has"),
    ("wiring log NaN", "land", {"wires": [], "log": [{"at_ms": float("nan"), "do": "x"}]}, "not a number"),
    (
        "wiring log back",
        "land",
        {"wires": [], "log": [{"at_ms": 2, "do": "x"}, {"at_ms": 1, "do": "x"}]},
        "comes before",
    ),
    ("wiring blocks", "land", {"wires": [], "blocks": {"A1.XI1": "flying"}}, "off, parked or seated"),
    ("wiring extra", "land", {"wires": [], "code": "import os"}, "holds its wires"),
    ("sheet list", "checkout", [1], "a dict of rows"),
    ("sheet row", "checkout", {"nail": 24}, "no row 'nail'"),
    ("sheet rows", "checkout", {f"r{i}": 1 for i in range(201)}, "201 rows"),
    ("sheet NaN", "checkout", {"rail": float("nan")}, "not a number"),
    ("sheet beyond", "checkout", {"rail": 1e12}, "not a number"),
    ("sheet word", "checkout", {"rail": "many"}, "not a number"),
    ("sheet flag", "checkout", {"rail": True}, "not a number"),
    ("sheet OL of volts", "checkout", {"rail": "OL"}, "not a number"),
    ("sheet no word", "checkout", {"start-led": "perhaps"}, "not one of the words"),
    ("sheet deep", "checkout", {"rail": {"value": {"value": 1}}}, "not a number"),
    ("sheet extra", "checkout", {"rail": {"value": 1, "who": 2}}, "has no 'who'"),
    ("drill bare", "predict-volts", {"across-open": 24}, "is not a pair"),
    ("drill NaN", "predict-volts", {"across-open": {"predicted": float("nan")}}, "not a number"),
    ("hunt nothing", "find-it", {}, "where it is"),
    ("hunt foreign", "find-it", {"location": "wire 999", "cause": "open"}, "is not on the card"),
    ("hunt list", "find-it", [1, 2, 3], "the place and the cause"),
    ("hunt log", "find-it", {"location": "K1", "cause": "coil open", "log": [{}]}, "it has at_ms and do"),
    (
        *("hunt readings", "find-it"),
        {"location": "K1", "cause": "coil open", "log": [{"at_ms": 0, **READ}] * 121},
        "121 readings",
    ),
    ("hunt wires", "find-it", {"location": "K1", "cause": "coil open", "log": [{"at_ms": 0, **LIFT}] * 81}, "81 times"),
    (
        *("hunt bounce", "find-it"),
        {"location": "K1", "cause": "coil open", "log": [{"at_ms": 0, "do": "bounce", "gaps_ms": [1] * 82}]},
        "82 times",
    ),
    ("could list", "could-it", ["possible"], "a dict of faults"),
    ("could foreign", "could-it", {"wire-999-open": "possible"}, "on the card"),
    ("could word", "could-it", {"wire-14-open": "maybe"}, "not one of the words"),
]


@pytest.mark.parametrize(("task", "answer", "says"), [h[1:] for h in HOSTILE], ids=[h[0] for h in HOSTILE])
def test_an_answer_of_the_wrong_form_costs_one_sentence(truth: Truth, task: str, answer: Any, says: str) -> None:
    lines = mark_with(truth, {task: answer}).for_task(task)
    assert {line.verdict for line in lines} == {"cannot be read"}
    assert says.casefold() in lines[0].reason.casefold(), lines[0].reason
    assert len(lines[0].reason) < 600
    assert sum(line.points for line in lines) == 0


BAD_LOGS: list[tuple[str, dict[str, Any]]] = [
    ("foreign terminal", {"do": "read", "mode": "volts", "red": "X9:9", "black": "X1:0V", "value": 1}),
    ("no terminal", {"do": "read", "mode": "volts", "red": 5, "black": "X1:0V", "value": 1}),
    ("no mode", {"do": "read", "mode": "smell", "red": "X1:24V", "black": "X1:0V", "value": 1}),
    ("value text", {"do": "read", "mode": "volts", "red": "X1:24V", "black": "X1:0V", "value": "24"}),
    ("method", {"do": "__init__"}),
    ("record", {"do": "record"}),
    ("load", {"do": "load", "program": "K1 := TRUE;"}),
    ("foreign part", {"do": "press", "part": "S99"}),
    ("no part", {"do": "press"}),
    ("extra word", {"do": "press", "part": "S2", "code": "x"}),
    ("foreign wire", {"do": "lift", "wire": "999"}),
    ("foreign strike", {"do": "strike", "suspect": "nobody"}),
    ("foreign place", {"do": "repair", "location": "the moon"}),
    ("no note", {"do": "note", "seen": "x"}),
]


@pytest.mark.parametrize("entry", [b[1] for b in BAD_LOGS], ids=[b[0] for b in BAD_LOGS])
def test_a_log_that_no_bench_wrote_is_marked_or_refused_and_never_breaks(
    truth: Truth, model: dict[str, Any], entry: dict[str, Any]
) -> None:
    """Nothing in it counts: either the hunt cannot be read, or the entry rules nobody out."""
    answer = model["find-it"] | {"log": [{"at_ms": 10_000, **entry}]}
    lines = _sheet(truth, find_it=answer).for_task("find-it")
    refused = {line.verdict for line in lines} == {"cannot be read"}
    assert refused or next(line for line in lines if line.line == "find-method").points == 0


def test_a_reading_in_a_log_is_found_on_the_bench_and_not_believed(truth: Truth, model: dict[str, Any]) -> None:
    """A forged log that says what the truth would show in no place that was measured gains nothing."""
    forged = [
        {"at_ms": 10_000, "do": "read", "mode": "volts", "red": "X1:24V", "black": "X1:0V", "shown": "x", "value": 0.0}
    ]
    sheet = _sheet(truth, find_it=model["find-it"] | {"log": forged})
    assert sheet.line("find-method").points == 0
    assert sheet.line("find-location").points == 0.5


def test_a_long_session_still_fits_a_hand_in(work: Lesson) -> None:
    bench = work.bench("whole")
    bench.power_up()
    for _ in range(1100):
        bench.meter.volts("X1:24V", "X1:0V", expect="x" * 180)
        bench.press("S2")
        bench.release("S2")
    data = dumps_handin(work.as_handin()).encode()
    assert len(data) <= LIMITS.file_bytes.value
    assert loads_handin(data).log[-1]["do"] == "release"
    with pytest.raises(AnswerError, match="entries; at most 800 are read"):
        work.answer("land", bench)


# the lesson file ----------------------------------------------------------------------------------
BROKEN: list[tuple[str, str, str, str]] = [
    ('setup = "faulty"\nred', 'setup = "faultless"\nred', "rows[2].setup", "faultless"),
    ('run = "rest"\nred = "X1:24V"', 'run = "pause"\nred = "X1:24V"', "rows[0].run", "pause"),
    ('mode = "led"\nat = "I2"', 'mode = "led"', "rows[3]", "needs at"),
    ('rows = ["bond"]', 'rows = ["bund"]', "rubric[1].rows", "bund"),
    ('kind = "readings"\ntitle = "readings"', 'kind = "points"\ntitle = "x"', "rubric[0].kind", "no line"),
    ('setups = ["faulty"]', 'setups = ["faltering"]', "hidden[0].setups", "faltering"),
    ('supply = ["floating"]', 'supply = ["swimming"]', "supply", "bonded"),
    ('given = "powered"', 'given = "powerful"', "given", "powerful"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "where", "what"), BROKEN, ids=[b[3] for b in BROKEN])
def test_what_is_wrong_in_a_file_is_said_with_its_place(old: str, new: str, where: str, what: str) -> None:
    with pytest.raises(LessonError) as caught:
        _change(old, new)
    assert where in caught.value.where
    assert what in caught.value.what


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"wire-102-open", "wire-103-open"', '"wire-999-open"', "no fault wire-999-open"),
        ('off = ["14"]', 'off = ["no-such-group"]', "no wire no-such-group"),
    ],
)
def test_what_only_the_board_knows_is_said_when_it_is_met(old: str, new: str, says: str) -> None:
    source = _change(old, new)
    with pytest.raises(LessonError, match=says):
        mark(source, variant(source, "R. Vale"), {"checkout": {"rail": 24}, "predict-volts": {}})


def test_setups_stand_as_they_are_described(kinds: LessonSource, mine: Variant) -> None:
    lab = Lab(kinds, mine)
    assert lab.bench("whole").wiring.at("A1:I7")
    assert [no for no in ("101", "106", "107") if any(w.no == no for w in lab.bench().wiring)] == ["107"]
    bonded, floating = lab.bench("whole"), lab.bench("floating")
    # IEC 60204-1: a control circuit's 0 V is bonded at one place, or watched; here only the bond is different
    assert bonded.meter.peek("ohms", "X1:0V", "X1:PE") < 1
    assert floating.meter.peek("ohms", "X1:0V", "X1:PE").text == "OL"
    assert lab.bench("faulty").log == []


def test_a_variant_keeps_nothing_of_what_is_hidden(kinds: LessonSource, mine: Variant, work: Lesson) -> None:
    told = json.dumps(
        [
            mine.summary(),
            dict(mine.words),
            repr(mine),
            repr(work),
            work.as_handin().answers,
            [repr(t) for t in work.tasks],
        ]
    )
    (fault,) = work.lab.benches.hidden("faulty")
    assert fault.id not in told
    assert fault.title not in told
    assert replace(mine) == mine


def test_hints_are_taken_in_steps_and_counted() -> None:
    work = lesson("supply-and-commons", student="R. Vale")
    view = work.task("rails")
    assert [work.take_hint("rails") for _ in range(view.hints)] == [view.hint(i + 1) for i in range(view.hints)]
    with pytest.raises(LessonError, match="the last of 3 hints"):
        work.take_hint("rails")
    handin = loads_handin(dumps_handin(work.as_handin()).encode())
    assert handin.hints == {"rails": 3}
    assert work.practice


def test_the_key_tells_an_instructor_what_is_in(kinds: LessonSource, mine: Variant, work: Lesson) -> None:
    hidden = hidden_faults(kinds, mine)
    assert set(hidden) == {"faulty"}
    assert [fault.id for fault in hidden["faulty"]] == [f.id for f in work.lab.benches.hidden("faulty")]
    hunted = hunted_faults(kinds, mine)
    assert set(hunted) == {"find-it", "could-it"}
    truth, suspects = hunted["find-it"]
    assert truth in suspects
    assert [fault.id for fault in suspects] == [fault for fault, _, _ in work.task("find-it").suspects]

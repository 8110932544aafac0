"""A lesson file: what is wrong with one is said with its place in the document."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from labkit.base import data_path
from labkit.lessons import LessonError, load_lesson, loads_lesson, shipped_lessons
from labkit.lessons._text import fill, relabel, span_us

TEXT = data_path("datasets", "lessons", "seal-in.toml").read_text(encoding="utf-8")
FOLDER = data_path("datasets", "lessons", "seal-in")


def _change(old: str, new: str) -> str:
    assert old in TEXT, old
    return TEXT.replace(old, new, 1)


@pytest.mark.parametrize("name", shipped_lessons())
def test_every_shipped_lesson_loads(name: str) -> None:
    lesson = load_lesson(name)
    assert lesson.points > 0
    assert all(task.why and task.rubric for task in lesson.tasks)


def test_every_program_file_of_a_lesson_is_used() -> None:
    lesson = load_lesson("seal-in")
    assert {path.name for path in FOLDER.iterdir()} == {program.file for program in lesson.file.programs.values()}


def test_a_lesson_of_ones_own_is_read_from_its_path(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    for path in FOLDER.iterdir():
        (tmp_path / "mine" / path.name).write_bytes(path.read_bytes())
    (tmp_path / "mine.toml").write_text(_change('id = "seal-in"', 'id = "mine"'), encoding="utf-8")
    assert load_lesson(tmp_path / "mine.toml").id == "mine"


WRONG: list[tuple[Callable[[], str], str, str, str]] = [
    (lambda: TEXT + "\n[[", "lesson.toml", "is not TOML", ""),
    (lambda: _change("schema = 1", "schema = 2"), "schema", "knows up to 1", "update labkit"),
    (lambda: _change('title = "Holding a motor: the seal-in"\n', ""), "title", "title is missing", "add it"),
    (lambda: _change("pass_percent = 80", "pass_persent = 80"), "pass_persent", "not a key", "pass_percent"),
    (lambda: _change("pass_percent = 80", "pass_percent = 180"), "pass_percent", "less than or equal to 100", "180"),
    (lambda: _change('given = "ready"', 'given = "redy"'), "runs[0].given", "no 'redy'", "Did you mean ready?"),
    (lambda: _change("press S1 for 200 ms", "pres S1 for 200 ms"), "runs[6].steps[4]", "'pres'", "Did you mean press?"),
    (lambda: _change("mark look", "mark Look!"), "runs[0].steps[1]", "cannot be read", "mark stop"),
    (
        lambda: _change('check = "tap-holds"', 'check = "tap-hold"'),
        "tasks[1].rubric[3].check",
        "no 'tap-hold'",
        "tap-holds",
    ),
    (lambda: _change('kind = "choice"', 'kind = "choise"'), "tasks[3]", "choise", ""),
    (lambda: _change('rows = ["at-rest"', 'rows = ["at-ease"'), "tasks[0].rows[0]", "at-ease", "at-rest"),
    (lambda: _change('id = "stop-pressed"', 'id = "at-rest"'), "runs[1].id", "two runs are called at-rest", ""),
    (lambda: _change("hold-both.ladder", "hold-bath.ladder"), "programs.hold_both.file", "hold-bath", ""),
    (lambda: _change("hold-both.ladder", "../seal-in.toml"), "programs.hold_both.file", "not a file beside", ""),
    (lambda: _change('fails = "hold-aux"', 'fails = "hold-ax"'), "wrong[1].fails", "hold-ax", "hold-aux"),
]


@pytest.mark.parametrize(("text", "where", "what", "try_this"), WRONG, ids=[w[1] + " " + w[2] for w in WRONG])
def test_what_is_wrong_is_said_with_its_place(text: Callable[[], str], where: str, what: str, try_this: str) -> None:
    with pytest.raises(LessonError) as caught:
        loads_lesson(text(), folder=FOLDER, name="lesson.toml")
    assert where in caught.value.where
    assert what in caught.value.what
    assert try_this in caught.value.try_this


@pytest.mark.parametrize("name", ["seal-out", "../seal-in", "/etc/passwd", "seal-in\x00"])
def test_there_is_no_such_lesson(name: str) -> None:
    with pytest.raises(LessonError, match="there is no lesson"):
        load_lesson(name)


@pytest.mark.parametrize(
    ("text", "us"),
    [
        ("100 ms", 100_000),
        ("1.5 s", 1_500_000),
        ("2 scans + filter - 1 ms", 23_000),
        ("scan", 10_000),
        ("0.5 scan", 5_000),
        ("250 us", 250),
    ],
)
def test_a_span(text: str, us: int) -> None:
    assert span_us(text, {"scan": 10_000, "filter": 4_000}) == us


@pytest.mark.parametrize("text", ["", "100", "ms 100", "1 hour", "2 scans filter", "1 ms + ", "1e3 ms"])
def test_what_is_no_span(text: str) -> None:
    with pytest.raises(LessonError, match=r"span|unit"):
        span_us(text, {"scan": 10_000})


def test_a_text_reaches_words_only() -> None:
    assert fill("{stop} and {stop.point}", {"stop": "S1", "stop.point": "I1"}) == "S1 and I1"
    assert fill("{0} {} {Stop!r}", {"stop": "S1"}) == "{0} {} {Stop!r}"
    with pytest.raises(LessonError, match="which this lesson does not have"):
        fill("{stop.__class__}", {"stop": "S1"})
    with pytest.raises(LessonError, match="which this lesson does not have") as caught:
        fill("press {stopp}", {"stop": "S1"})
    assert caught.value.try_this == "Did you mean stop?"


def test_a_ladder_keeps_its_columns_under_other_names() -> None:
    rung = "|    STOP       START                MOTOR     |\n|----| |----+----| |----+------------( )-------|"
    renamed = relabel(rung, {"STOP": "S1", "START": "START_PB", "MOTOR": "PUMP"})
    assert (
        renamed == "|     S1      START_PB               PUMP      |\n|----| |----+----| |----+------------( )-------|"
    )


def test_a_name_that_does_not_fit_is_an_error_not_a_crooked_ladder() -> None:
    with pytest.raises(LessonError, match="does not fit above its element"):
        relabel("| STOP START |", {"STOP": "A_LONG_NAME"})

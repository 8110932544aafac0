"""Marking a class: each file has its outcome, the mark book keeps them all."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from labkit.base import data_path
from labkit.lessons import (
    BookRow,
    HandIn,
    HandInError,
    LessonSource,
    MarkBook,
    MarkBookError,
    MarkSheet,
    Outcome,
    Variant,
    class_html,
    dumps_handin,
    exit_code,
    find_handins,
    mark,
    mark_files,
)
from labkit.lessons._lab import Lab

HANDINS = data_path("datasets", "handins")


@pytest.fixture
def handed_in(tmp_path: Path, vale: Variant, vale_model: dict[str, Any]) -> Callable[..., Path]:
    def write(name: str = "one.json", **changes: Any) -> Path:
        fields = {
            "lesson": "seal-in", "edition": 2, "student": "R. Vale", "attempt": 1, "seed": vale.seed,
            "answers": vale_model, "log": (),
        }  # fmt: skip
        path = tmp_path / name
        path.write_text(dumps_handin(HandIn(**{**fields, **changes})), encoding="utf-8")
        return path

    return write


# what the demo hand-ins are named for
DEMO = {
    "seal-in--blank.json": ("marked", "0 of"),
    "seal-in--changed-name.json": ("flagged", "is not"),
    "seal-in--full-marks.json": ("marked", "passed"),
    "seal-in--hostile-deep.json": ("unreadable", "nested deeper"),
    "seal-in--hostile-program.json": ("marked", "not passed"),
    "seal-in--lamp-shows-command.json": ("marked", "not passed"),
    "seal-in--panel-unchanged.json": ("marked", "not passed"),
    "seal-in--stop-does-nothing.json": ("marked", "not passed"),
    "seal-in--torn.json": ("unreadable", "torn"),
}


@pytest.fixture(scope="module")
def demo() -> list[Outcome]:
    """The demo class, marked by this process in the order of the names."""
    return mark_files(sorted(HANDINS.glob("seal-in--*.json")))


def test_the_demo_class_comes_out_as_its_files_are_named(demo: list[Outcome]) -> None:
    outcomes = demo
    assert {o.path.name: o.status for o in outcomes} == {name: status for name, (status, _) in DEMO.items()}
    for outcome in outcomes:
        assert DEMO[outcome.path.name][1] in outcome.message
        assert "\n" not in outcome.message
    assert exit_code(outcomes) == 1
    full = next(o.sheet for o in outcomes if o.path.name == "seal-in--full-marks.json")
    assert full is not None
    assert full.points == full.out_of


def test_the_order_and_number_of_processes_do_not_count(demo: list[Outcome]) -> None:
    some = [
        HANDINS / "seal-in--stop-does-nothing.json",
        HANDINS / "seal-in--torn.json",
        HANDINS / "seal-in--blank.json",
    ]
    of = {o.path: o for o in demo}
    alone, shared = [of[path] for path in some], mark_files(some, workers=2)
    assert [(o.path, o.status, o.message, o.sha256) for o in alone] == [
        (o.path, o.status, o.message, o.sha256) for o in shared
    ]
    assert [o.sheet.to_json() if o.sheet else "" for o in alone] == [
        o.sheet.to_json() if o.sheet else "" for o in shared
    ]


def test_all_well_is_exit_code_0(handed_in: Callable[..., Path]) -> None:
    outcomes = mark_files([handed_in(answers={})])
    assert (outcomes[0].status, exit_code(outcomes)) == ("marked", 0)


def test_a_seed_of_somebody_else_is_flagged_and_marked_against_the_own_variant(handed_in: Callable[..., Path]) -> None:
    (outcome,) = mark_files([handed_in(student="B. Rowan")])
    assert outcome.status == "flagged"
    assert outcome.sheet is not None
    assert outcome.sheet.student == "B. Rowan"
    assert "is not B. Rowan's" in outcome.sheet.flags[0]
    assert not outcome.sheet.passed
    assert exit_code([outcome]) == 1


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"lesson": "seal-out"}, "there is no lesson 'seal-out'"),
        ({"edition": 1}, "made for edition 1"),
    ],
)
def test_a_hand_in_of_something_else_is_not_marked(
    handed_in: Callable[..., Path], changes: dict[str, Any], says: str
) -> None:
    (outcome,) = mark_files([handed_in(**changes)])
    assert outcome.status == "unreadable"
    assert says in outcome.message


def test_only_the_asked_lesson_is_marked(handed_in: Callable[..., Path], seal_in: LessonSource) -> None:
    other = LessonSource(seal_in.file.model_copy(update={"id": "other"}), seal_in.programs, "x")
    (outcome,) = mark_files([handed_in()], lesson=other)
    assert outcome.message.startswith("this is a hand-in of seal-in, not of other")


def test_a_path_that_is_not_there_is_wrong_use(tmp_path: Path) -> None:
    with pytest.raises(HandInError, match="there is no file"):
        mark_files([tmp_path / "none.json"])
    with pytest.raises(HandInError, match="holds no hand-in"):
        find_handins([tmp_path])


def test_a_mistake_of_labkit_costs_one_line(handed_in: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> None:
    from labkit.lessons import batch

    def broken(*_: object) -> MarkSheet:
        raise ZeroDivisionError("inside")

    monkeypatch.setattr(batch, "mark", broken)
    (outcome,) = mark_files([handed_in()])
    assert (outcome.status, "ZeroDivisionError" in outcome.message) == ("unreadable", True)


# the sheet ----------------------------------------------------------------------------------------
class _Page(HTMLParser):
    """Tags of a page, and what it would fetch."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.fetches: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.fetches += [str(v) for k, v in attrs if k in ("src", "href") and not str(v).startswith("#")]


def test_the_page_is_whole_and_fetches_nothing(seal_in: LessonSource, vale: Variant) -> None:
    lab = Lab(seal_in, vale)
    sheet = mark(seal_in, vale, {"hold": {"text": lab.program_text("hold_output")}})
    page = _Page()
    page.feed(sheet.to_html())
    assert page.tags[0] == "html"
    assert page.tags.count("svg") >= 2
    assert (page.fetches, "script" in page.tags) == ([], False)
    assert "Not modelled" in sheet.to_html()


def test_what_a_student_wrote_is_text_on_the_page(seal_in: LessonSource) -> None:
    from labkit.lessons import variant

    mine = variant(seal_in, "<script>alert(1)</script>")
    evil = "<img src=x onerror=alert(1)> := </pre><script>alert(2)</script>;"
    sheet = mark(seal_in, mine, {"hold": {"text": evil}, "block-off": "<b>", "<i>": 1})
    page = _Page()
    page.feed(sheet.to_html())
    assert not {"script", "img", "b", "i"} & set(page.tags)
    assert "&lt;script&gt;" in sheet.to_html()


def test_the_json_sheet_is_strict_and_holds_the_evidence(seal_in: LessonSource, vale: Variant) -> None:
    lab = Lab(seal_in, vale)
    sheet = mark(seal_in, vale, {"hold": {"text": lab.program_text("hold_output")}})
    document = json.loads(sheet.to_json(), parse_constant=pytest.fail)
    line = next(line for line in document["lines"] if line["line"] == "hold-aux")
    assert "remove" in [row["do"] for row in line["evidence"]["stimulus"]]
    assert [state for _, state in line["evidence"]["signals"]["pos:S2"]] == ["pressed", "released"]
    assert line["evidence"]["marks"][-1][1] == "broken"
    assert document["points"] == sheet.points


def test_the_class_page_has_a_row_for_each(seal_in: LessonSource, vale: Variant) -> None:
    sheet = mark(seal_in, vale, {})
    page = _Page()
    page.feed(class_html([sheet, sheet], "autumn"))
    assert page.tags.count("tr") == 3


# the mark book ------------------------------------------------------------------------------------
def test_every_file_has_a_row_and_a_second_marking_adds(handed_in: Callable[..., Path], tmp_path: Path) -> None:
    good = handed_in(answers={})
    torn = tmp_path / "torn.json"
    torn.write_bytes(good.read_bytes()[:99])
    book = MarkBook(tmp_path / "autumn.sqlite")
    for day in ("2026-10-01", "2026-10-02"):
        mark_files([good, torn], book=book, marked_at=day)
    rows = book.rows()
    assert [(r.marked_at, r.file, r.outcome) for r in rows] == [
        ("2026-10-01", "one.json", "marked"),
        ("2026-10-01", "torn.json", "unreadable"),
        ("2026-10-02", "one.json", "marked"),
        ("2026-10-02", "torn.json", "unreadable"),
    ]
    assert [r.marked_at for r in book.rows(latest=True) if r.student] == ["2026-10-02"]
    assert json.loads(rows[0].sheet)["student"] == "R. Vale"
    assert rows[0].file_sha256 == rows[2].file_sha256 != ""


def test_a_mark_book_is_only_added_to(tmp_path: Path) -> None:
    book = MarkBook(tmp_path / "book.sqlite")
    book.add([BookRow("today", "a.json", "", "marked", student="R. Vale")])
    with sqlite3.connect(book.path) as raw:
        for sql in ("UPDATE marking SET points = 99", "DELETE FROM marking"):
            with pytest.raises(sqlite3.IntegrityError, match="only added to"):
                raw.execute(sql)
    raw.close()
    assert len(MarkBook(book.path).rows()) == 1


def test_csv_gives_a_spreadsheet_no_formula(tmp_path: Path) -> None:
    book = MarkBook(tmp_path / "book.sqlite")
    book.add([BookRow("today", "=1+1.json", "", "marked", student="=cmd()", points=-1.0, message="-5 of 6, a")])
    text = book.to_csv(tmp_path / "book.csv")
    assert (tmp_path / "book.csv").read_text(encoding="utf-8") == text
    (row,) = csv.DictReader(io.StringIO(text))
    assert (row["student"], row["file"], row["message"]) == ("'=cmd()", "'=1+1.json", "'-5 of 6, a")
    assert row["points"] == "-1"


def test_what_is_no_mark_book_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "text.sqlite").write_text("not a database, but long enough to look like one" * 40, encoding="utf-8")
    with pytest.raises(MarkBookError, match="cannot be used"):
        MarkBook(tmp_path / "text.sqlite")
    with sqlite3.connect(tmp_path / "other.sqlite") as other:
        other.execute("CREATE TABLE cats (name TEXT)")
    other.close()
    with pytest.raises(MarkBookError, match="not a mark book"):
        MarkBook(tmp_path / "other.sqlite")
    with pytest.raises(MarkBookError):
        MarkBook(tmp_path / "no" / "folder.sqlite")

"""The lesson's figures beside the standard's, and its bench beside the trade's picture of a lost common."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from labkit.base import ms
from labkit.lessons import LessonSource, hidden_faults, lesson, load_lesson, variant
from labkit.lessons._lab import Lab
from labkit.lessons._truth import Truth

TRUTH = Path(__file__).parents[1] / "truth"


@pytest.fixture(scope="module")
def supply() -> LessonSource:
    return load_lesson("supply-and-commons")


@pytest.fixture(scope="module")
def truth(supply: LessonSource) -> Truth:
    return Truth(Lab(supply, variant(supply, "R. Vale")))


def _limits(input_type: str) -> dict[str, float]:
    """IEC 61131-2: limits of an input's type."""
    with (TRUTH / "input_thresholds.csv").open(encoding="utf-8", newline="") as file:
        row = next(row for row in csv.DictReader(file) if row["input_type"] == input_type)
    return {key: float(value) for key, value in row.items()}


def test_an_input_that_is_on_takes_what_its_type_allows(supply: LessonSource, truth: Truth) -> None:
    task = supply.task("input-current")
    assert task.kind == "number"
    limits = _limits("3")
    assert 1000 * limits["on_min_a"] <= truth.number(task) <= 1000 * limits["max_a"]


def test_a_lifted_common_leaves_24_volts_at_the_terminal_and_none_at_the_input(
    supply: LessonSource, truth: Truth
) -> None:
    task = supply.task("no-return")
    assert task.kind == "drill"
    seen = {row.id: truth.look(row) for row in task.rows}
    limits = _limits("3")
    for row in ("to-rail", "common-to-rail"):
        assert isinstance(seen[row].value, float)
        assert seen[row].value > limits["on_min_v"]  # both would pass for a healthy signal
    assert isinstance(seen["to-common"].value, float)
    assert abs(seen["to-common"].value) < limits["off_max_v"]
    assert seen["light"].value == "off"


def test_the_whole_supply_stands_across_the_one_open_place(supply: LessonSource, truth: Truth) -> None:
    """Kirchhoff: without current nothing else drops, so all 24 V are there, give or take 5 % (common practice)."""
    rails, group = supply.task("rails"), supply.task("no-group")
    assert rails.kind == group.kind == "drill"
    for task, row_id in ((rails, "open-contact"), (group, "across-breaker")):
        row = next(row for row in task.rows if row.id == row_id)
        assert truth.look(row).value == pytest.approx(24.0, rel=0.05)


def test_each_of_the_four_commons_is_lost_on_some_bench(supply: LessonSource, students: tuple[str, ...]) -> None:
    lost = {hidden_faults(supply, variant(supply, name))["start"][0].id for name in students}
    assert lost == {"wire-14-open", "wire-15-open", "wire-17-open", "wire-19-open"}


def test_a_student_works_the_sheet_at_the_bench_from_the_log(supply: LessonSource) -> None:
    work = lesson("supply-and-commons", student="Ada Moss")
    bench = work.bench()
    bench.power_up()
    bench.wait(ms(100))
    for terminal in ("X1:24V", "A1:IC1", "A1:IC2", "A1:QA+", "A1:QB+"):
        bench.meter.volts(terminal, "X1:0V")
        bench.wait(ms(7_000 + 13 * len(terminal) ** 3))
    work.answer("your-bench", bench)
    assert work.check("your-bench").right
    assert work.mark().flags == ()
    (fault,) = hidden_faults(supply, work.variant)["start"]
    odd = [row for row, entry in work.answers["your-bench"].items() if (entry["value"] > 12) == row.startswith("ic")]
    wanted = {"wire-14-open": "ic1", "wire-15-open": "ic2", "wire-17-open": "qa", "wire-19-open": "qb"}
    assert odd == [wanted[fault.id]]

"""Benches that differ in names and landings only: what one shows is what the other shows, and nothing else is shared.

No outside source: each answer is held against the same answer worked out on the student's own bench alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from types import MappingProxyType

import pytest

from labkit.lessons import LessonSource, Variant, mark, variant
from labkit.lessons._alike import Alike, forget
from labkit.lessons._lab import Lab
from labkit.lessons._truth import Truth
from labkit.logic import read_program


@pytest.fixture(autouse=True)
def fresh() -> Iterator[None]:
    forget()
    yield
    forget()


def _times(one: Variant) -> tuple[int, int, int]:
    return one.scan_us, one.filter_us, one.pull_in_us


@pytest.fixture(scope="module")
def pair(seal_in: LessonSource) -> tuple[Variant, Variant]:
    """Two variants with the same times, other names and other landings."""
    some = [variant(seal_in, f"Invented {i:03d}") for i in range(120)]
    return next(
        (a, b)
        for a, b in combinations(some, 2)
        if _times(a) == _times(b) and all(a.names[r] != b.names[r] and a.points[r] != b.points[r] for r in ROLES)
    )


ROLES = ("stop", "start", "feedback")


def _key(lesson: LessonSource, one: Variant, program: str = "hold_auxiliary") -> object:
    lab = Lab(lesson, one)
    return Alike(lab).run_key("fails", lesson.file.checks[0], lab.program(program), {})


def test_names_and_landings_do_not_count(seal_in: LessonSource, pair: tuple[Variant, Variant]) -> None:
    one, other = pair
    assert _key(seal_in, one) == _key(seal_in, other) is not None


def test_times_programs_and_scans_count(seal_in: LessonSource, pair: tuple[Variant, Variant]) -> None:
    one, _ = pair
    keys = [
        _key(seal_in, one),
        _key(seal_in, replace(one, pull_in_us=one.pull_in_us + 1_000)),
        _key(seal_in, replace(one, scan_us=one.scan_us + 1_000)),
        _key(seal_in, one, "hold_output"),
        _key(seal_in, one, "wrong_no_seal"),
    ]
    assert None not in keys
    assert len(set(keys)) == len(keys)
    lab = Lab(seal_in, one)
    rung = f"{one.names['motor']} := {one.names['start']};"
    check = seal_in.file.checks[0]
    same, longer = (
        Alike(lab).run_key("fails", check, read_program(text), {})
        for text in (f"(* so *)\n{rung}  ", f"{rung}\nBIT1 := BIT2;")
    )
    assert same == Alike(lab).run_key("fails", check, read_program(rung), {}) != longer


def test_a_place_behind_another_common_shares_nothing(seal_in: LessonSource, pair: tuple[Variant, Variant]) -> None:
    far = replace(pair[0], moved=MappingProxyType({"I1": "I8", "I8": "I1"}))
    assert _key(seal_in, far) is None


@pytest.mark.parametrize("digest", ["", "0123456789abcdef"])
def test_another_lesson_shares_nothing(seal_in: LessonSource, pair: tuple[Variant, Variant], digest: str) -> None:
    one, other = pair
    alike = Alike(Lab(replace(seal_in, digest=digest), one))
    key = alike.run_key("fails", seal_in.file.checks[0], "hold_output", {})
    alike.once(key, lambda: 1)
    changed = replace(seal_in, digest=digest, file=seal_in.file.model_copy(update={"title": "Another"}))
    assert Alike(Lab(changed, other)).once(key, lambda: 2) == 2
    assert (key is None) == (digest == "")


@pytest.mark.parametrize("step", ["set S2_START 1", "join A1:I3 X1:24V"])
def test_a_lesson_that_names_a_place_or_a_drawn_tag_shares_nothing(
    seal_in: LessonSource, pair: tuple[Variant, Variant], step: str
) -> None:
    alike = Alike(Lab(seal_in, pair[0]))
    check = seal_in.file.checks[0]
    assert alike.run_key("fails", check, "hold_output", {}) is not None
    spoiled = check.model_copy(update={"steps": (*check.steps, step)})
    assert alike.run_key("fails", spoiled, "hold_output", {}) is None


def test_equal_benches_show_the_same(seal_in: LessonSource, pair: tuple[Variant, Variant]) -> None:
    """Each worked out on its own bench: words of every run, the searched number, what fails, what is required."""
    told = []
    searched = {search.check for search in seal_in.file.searches.values()}
    for one in pair:
        forget()
        truth = Truth(Lab(seal_in, one))
        words = {
            (task.id, row, column.id): truth.outcome(row, column.program, column.words).word
            for task in seal_in.tasks
            if task.kind == "predict"
            for row in task.rows
            for column in task.columns
        }
        number = [truth.number(task) for task in seal_in.tasks if task.kind == "number" and task.look is None]
        failing = {
            (check.id, key): truth._fails(truth.lab.program(key), check)
            for check in seal_in.file.checks
            if check.id not in searched
            for key in ("hold_auxiliary", "wrong_no_seal", "wrong_lamp_button")
        }
        held = {
            (line.id, key): truth.proofs.decide(truth.lab.program(key), line).outcome
            for task in seal_in.tasks
            for line in task.rubric
            if line.require
            for key in ("hold_auxiliary", "wrong_seal_spans_stop")
        }
        told.append((words, number, failing, held))
    assert told[0] == told[1]
    words, number, failing, held = told[0]
    assert len(set(words.values())) > 2
    assert number
    assert None in failing.values()
    assert any(failing.values())
    assert set(held.values()) == {"holds", "fails"}


def test_a_sheet_is_the_same_with_and_without_others(seal_in: LessonSource, pair: tuple[Variant, Variant]) -> None:
    """Names, times, recordings: all of a sheet is the student's own."""

    def answers(one: Variant) -> dict[str, object]:
        lab = Lab(seal_in, one)
        texts = ("wrong_start_wins", "wrong_panel_parallel", "wrong_lamp_command")
        programs = [task.id for task in seal_in.tasks if task.kind == "program"]
        cells = {
            task.id: {"cells": {cell.id: "off" for cell in one.cells[task.id]}}
            for task in seal_in.tasks
            if task.kind == "predict"
        }
        return {**{task: {"text": lab.program_text(key)} for task, key in zip(programs, texts, strict=True)}, **cells}

    one, other = pair
    alone = mark(seal_in, other, answers(other))
    forget()
    mark(seal_in, one, answers(one))
    after = mark(seal_in, other, answers(other))
    assert repr(after) == repr(alone)
    assert 0 < alone.points < alone.out_of
    assert one.names["stop"] not in alone.to_json()

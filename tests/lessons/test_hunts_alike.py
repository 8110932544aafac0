"""Everybody's hunt is about as hard as everybody else's, can be solved, and its card tells no lie."""

from __future__ import annotations

import pytest

from labkit import faults
from labkit.board import load_board
from labkit.faults import Hunt, quick_dictionary
from labkit.lessons import load_lesson, variant
from labkit.lessons._lab import Lab
from labkit.lessons._mark_hunt import suspects_of

SOURCE = load_lesson("wiring-hunt")
LAB = Lab(SOURCE, variant(SOURCE, "R. Vale"))
# where somebody with two hands and a meter measures; the other situations add nothing to these hunts but time
SITUATIONS = ("rest", "start held", "running", "stop held", "S0 pressed", "dead", "breakers off")


@pytest.mark.parametrize("task_id", ["input-side", "output-side", "never-worked"])
def test_whatever_is_drawn_is_found_in_about_the_same_time_and_told_from_all_others(task_id: str) -> None:
    task = SOURCE.task(task_id)
    assert task.kind == "hunt"
    board = load_board(SOURCE.file.board)
    card = suspects_of(LAB, task)
    assert {fault.id for fault in card} == set(task.pool)  # the card is everybody's, so one search stands for all
    tests = [test for test in faults.tests_of(board) if test.situation in SITUATIONS]
    dictionary = quick_dictionary(board, card, tests)
    names = tuple(fault.id for fault in card)
    hunts = [Hunt(dictionary, names, truth) for truth in task.truths]
    assert all(hunt.alike == {hunt.truth} for hunt in hunts)
    minutes = {hunt.truth: hunt.difficulty for hunt in hunts}
    assert max(minutes.values()) <= 1.7 * min(minutes.values()), minutes
    steps = {hunt.truth: hunt.best.tests(hunt.truth) for hunt in hunts}
    assert max(steps.values()) - min(steps.values()) <= 2, steps


@pytest.mark.parametrize("task_id", ["input-side", "output-side", "never-worked"])
def test_nobody_on_the_card_is_ruled_out_by_the_card(task_id: str) -> None:
    task = SOURCE.task(task_id)
    assert task.kind == "hunt"
    for look in task.seen:
        shown = {LAB.look(look, program=task.program, faults=(fault,)).text for fault in suspects_of(LAB, task)}
        assert len(shown) == 1, (look, shown)

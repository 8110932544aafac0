"""A variant follows from lesson, name and attempt, for ever, and its structure varies."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.lessons import LessonError, LessonSource, load_lesson, variant
from labkit.lessons._lab import Lab

LESSON = load_lesson("seal-in")


# Pinned: a change here changes every student's variant in every class. Raise the lesson's edition instead.
PINNED = {
    ("R. Vale", 1): "seal-in attempt 1, seed 16850d3b09124bd5: scan 10 ms, filter 4 ms, pull-in 22 ms; "
    "STOP_PB on I1, S2 on I4, K1_FB on I11, PUMP on Q1, P1 on Q2, S6 on I12",
    ("Ada Moss", 1): "seal-in attempt 1, seed 35fde5789e833ef3: scan 9 ms, filter 3 ms, pull-in 20 ms; "
    "S1 on I4, START_PB on I6, K1_FB on I11, K1 on Q1, P1 on Q2, S6 on I12",
    ("P. Quill", 2): "seal-in attempt 2, seed 2111ffa152647a6f: scan 10 ms, filter 4 ms, pull-in 23 ms; "
    "S1_STOP on I4, START_PB on I6, K1_FB on I10, K1_ON on Q1, P1_RUN on Q2, S6 on I12",
}


@pytest.mark.parametrize(("student", "attempt"), PINNED)
def test_three_variants_are_pinned(seal_in: LessonSource, student: str, attempt: int) -> None:
    assert variant(seal_in, student, attempt).summary() == PINNED[student, attempt]


def test_asked_cells_are_pinned(seal_in: LessonSource) -> None:
    cells = variant(seal_in, "R. Vale").cells["five-ways"]
    assert " ".join(cell.id for cell in cells) == (
        "start-stop/a tap-short/o tap-long/s block-off/s block-missing/oa feedback-stuck/l welded/s "
        "group-lost/l group-dip/o coil-open/a power-cycle/oa start-jammed/o"
    )


def test_case_and_spaces_of_a_name_do_not_count(seal_in: LessonSource) -> None:
    assert variant(seal_in, "  r.  VALE ").seed == variant(seal_in, "R. Vale").seed


def test_another_attempt_is_another_variant(seal_in: LessonSource) -> None:
    assert variant(seal_in, "R. Vale", 2).seed != variant(seal_in, "R. Vale", 1).seed


def test_structure_varies_over_a_class(seal_in: LessonSource, students: tuple[str, ...]) -> None:
    mine = [variant(seal_in, name) for name in students]
    assert len({v.points["stop"] for v in mine}) >= 4
    assert len({v.points["feedback"] for v in mine}) >= 4
    assert len({(v.scan_us, v.filter_us, v.pull_in_us) for v in mine}) >= 6
    assert len({v.cells["five-ways"] for v in mine}) >= 15
    assert len({tuple(v.names.values()) for v in mine}) >= 10


names = st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=30)


@settings(max_examples=60, deadline=None)
@given(names, st.integers(1, 99))
def test_every_variant_is_a_board_that_can_be_built(student: str, attempt: int) -> None:
    mine = variant(LESSON, student, attempt)
    assert sorted(mine.moved) == sorted(mine.moved.values()), "points are exchanged, none is lost"
    assert len(set(mine.points.values())) == len(mine.points)
    for role in LESSON.file.roles:
        if role.may_land:
            assert mine.points[role.id] in role.may_land
    for task, cells in mine.cells.items():
        wanted = LESSON.task(task).ask or len(cells)
        assert len(cells) == len(set(cells)) == wanted
    lab = Lab(LESSON, mine)
    for role, point in mine.points.items():
        assert lab.tags.tag(mine.names[role]).point == point
        assert lab.board.points[point].tag == mine.names[role]
    for key in LESSON.programs:
        if key not in ("wrong_slip",):
            lab.program(key)


@settings(max_examples=30, deadline=None)
@given(names)
def test_the_wires_follow_the_tags(student: str) -> None:
    """The wire from the device of a role ends at the point that the role's tag is on."""
    lab = Lab(LESSON, variant(LESSON, student))
    ends = {"stop": "S1:12", "start": "S2:14", "feedback": "K1:54"}
    for role, terminal in ends.items():
        (wire,) = lab.board.wiring.between(terminal, f"A1:{lab.variant.points[role]}")
        assert wire.m > 0


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "a\x00b", "tab\there\x07", None, 7])
def test_a_name_that_is_none_is_refused_with_a_sentence(seal_in: LessonSource, name: object) -> None:
    with pytest.raises(LessonError):
        variant(seal_in, name)  # type: ignore[arg-type]


@pytest.mark.parametrize("attempt", [0, 100, -1, True, 1.0, "1"])
def test_an_attempt_that_is_none_is_refused(seal_in: LessonSource, attempt: object) -> None:
    with pytest.raises(LessonError, match="not between 1 and 99"):
        variant(seal_in, "R. Vale", attempt)  # type: ignore[arg-type]

"""Marking by proof: what holds gets its points, what fails is told and shown, what is undecided is said.

That the proofs themselves are right is held in tests/verify against other engines; here it is what marking makes of
them.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest

from labkit.bench import Bench
from labkit.lessons import LessonError, LessonSource, MarkLine, MarkSheet, Variant, class_html, mark
from labkit.lessons._alike import Alike, forget
from labkit.lessons._document import RubricLine
from labkit.lessons._judge_requirement import Proofs
from labkit.lessons._lab import Lab
from labkit.verify import ProofError

Judged = Callable[..., MarkLine]


def _with(lesson: LessonSource, **line: object) -> LessonSource:
    """The lesson whose task `hold` has one line, of kind requirement."""
    task = next(t for t in lesson.file.tasks if t.id == "hold")
    rubric = RubricLine.model_validate({
        "id": "asked", "title": "asked", "points": 2, "kind": "requirement", "right": "It holds.", **line,
    })  # fmt: skip
    new = lesson.file.model_copy(update={"tasks": (task.model_copy(update={"rubric": (rubric,)}),), "wrong": ()})
    return LessonSource(new, lesson.programs, "x")


@pytest.fixture(scope="module")
def sheet(seal_in: LessonSource, vale: Variant) -> Callable[..., MarkSheet]:
    def marked(program: str, require: str, *, may: tuple[str, ...] = ("S1", "S2"), **more: object) -> MarkSheet:
        lesson = _with(seal_in, require=(require,), may=may, **more)
        text = Lab(seal_in, vale).program_text(program) if program in seal_in.programs else program
        return mark(lesson, vale, {"hold": {"text": text}})

    return marked


STOP_WINS = "whenever not {stop} then not {motor}"


@pytest.mark.parametrize(
    ("program", "verdict", "points"),
    [("hold_auxiliary", "right", 2), ("hold_output", "right", 2), ("wrong_start_wins", "wrong", 0)],
)
def test_it_holds_or_fails(sheet: Callable[..., MarkSheet], program: str, verdict: str, points: float) -> None:
    line = sheet(program, STOP_WINS).line("asked")
    assert (line.verdict, line.points) == (verdict, points)
    assert (line.evidence is None) == (verdict == "right")


def test_the_story_is_the_shortest_and_has_a_physical_reason(sheet: Callable[..., MarkSheet], vale: Variant) -> None:
    line = sheet("wrong_seal_spans_stop", STOP_WINS).line("asked")
    stop, motor, feedback = (vale.names[role] for role in ("stop", "motor", "feedback"))
    assert line.reason.startswith("Power up, S2 pressed; then S1 pressed")  # the fewest scans; what else moves is free
    assert ": broken in scan 4. " in line.reason
    assert f"holds {motor} on" in line.reason
    assert f"power gets through {feedback} (K1 came in at " in line.reason
    assert f"a path that {stop} does not interrupt" in line.reason


def test_the_evidence_is_drawn_and_the_story_plays_again(
    sheet: Callable[..., MarkSheet], seal_in: LessonSource, vale: Variant
) -> None:
    """The recorded moment is one where stop is 0 and the motor on, and the rows of the stimulus lead there again."""
    line = sheet("wrong_seal_spans_stop", STOP_WINS).line("asked")
    evidence = line.evidence
    assert evidence is not None
    stop, motor = (f"bit:{vale.names[role]}" for role in ("stop", "motor"))
    assert {stop, motor, "pos:S1", "pos:S2"} <= set(evidence.signals)
    (at,) = [t for t, word in evidence.marks if word == "broken"]
    assert evidence.start_us < at < evidence.end_us
    assert evidence.trace is not None
    assert (evidence.trace.at(stop, at), evidence.trace.at(motor, at)) == (False, True)
    bench: Bench = Lab(seal_in, vale).bench()
    bench.load(evidence.program)
    bench.play(evidence.stimulus)
    bench.wait_until(max(at, bench.now_us))
    assert (bench.bit(vale.names["stop"]), bench.bit(vale.names["motor"])) == (False, True)
    changes = evidence.changes()
    assert all(a[0] < b[0] for rows in changes.values() for a, b in pairwise(rows))


def test_wires_are_named_by_their_terminal(
    sheet: Callable[..., MarkSheet], seal_in: LessonSource, vale: Variant
) -> None:
    wire = "wire at A1:{stop.point}"
    require = f"whenever {wire} then not {{motor}} or not {wire} within 1 scans"
    assert sheet("hold_auxiliary", require, may=("S2", wire)).line("asked").verdict == "right"
    line = sheet("wrong_stop_negated", require, may=("S2", wire)).line("asked")
    number = Lab(seal_in, vale).wire_at(f"A1:{vale.points['stop']}")
    assert f"wire {number} off" in line.reason


def test_a_supply_that_returns_is_drawn_from_before_it_went(sheet: Callable[..., MarkSheet]) -> None:
    line = sheet("hold_kept", "pole:K1 only after {start} since back:A1", may=("S2", "F1")).line("asked")
    assert line.reason.index("F1 switched off") < line.reason.index("F1 switched on")
    assert line.evidence is not None
    trace = line.evidence.trace
    assert trace is not None
    gone = [t for t, state in trace["mode:A1"].changes if state == "off"][1]
    assert line.evidence.start_us < gone < line.evidence.end_us


def test_what_cannot_be_decided_is_said_and_flagged(sheet: Callable[..., MarkSheet]) -> None:
    got = sheet("hold_auxiliary", STOP_WINS, most_states=3)
    line = got.line("asked")
    assert (line.verdict, line.points) == ("cannot be decided", 0)
    assert "3 states" in line.reason
    assert any("cannot be decided" in flag for flag in got.flags)
    assert not got.passed
    for shown in (got.to_text(), got.to_html(), got.to_json(), class_html([got], "autumn")):
        assert "cannot be decided" in shown


def test_a_failure_is_told_even_if_another_text_is_undecided(seal_in: LessonSource, vale: Variant) -> None:
    lesson = _with(seal_in, require=("{motor} only after {start}", STOP_WINS), may=("S1", "S2"), most_states=3)
    text = Lab(seal_in, vale).program_text("wrong_start_wins")
    line = mark(lesson, vale, {"hold": {"text": text}}).line("asked")
    assert line.verdict == "wrong"
    assert "S1 pressed, S2 pressed" in line.reason


def test_a_program_outside_the_assumptions_is_undecided_not_wrong(
    sheet: Callable[..., MarkSheet], monkeypatch: pytest.MonkeyPatch
) -> None:
    from labkit.lessons import _judge_requirement as room

    def refuse(*_: object, **__: object) -> None:
        raise ProofError("the timers' resolution does not divide the scan", code="proof-tick")

    monkeypatch.setattr(room, "prove", refuse)
    got = sheet("hold_auxiliary", STOP_WINS)
    assert got.line("asked").verdict == "cannot be decided"
    assert "resolution does not divide the scan" in got.flags[0]


def test_each_question_is_answered_once(seal_in: LessonSource, vale: Variant, monkeypatch: pytest.MonkeyPatch) -> None:
    from labkit.lessons import _judge_requirement as room

    asked = []
    real = room.prove
    monkeypatch.setattr(room, "prove", lambda *a, **k: (asked.append(a[1]), real(*a, **k))[1])
    forget()
    lab = Lab(seal_in, vale)
    proofs, program = Proofs(lab, Alike(lab)), lab.program("hold_auxiliary")
    line = _with(seal_in, require=(STOP_WINS,), may=("S1", "S2")).file.tasks[0].rubric[0]
    assert [proofs.decide(program, line).outcome for _ in range(3)] == ["holds"] * 3
    assert len(asked) == 1


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ({"require": ("whatever {stop}",)}, "none of the"),
        ({"require": ("never {nobody}",)}, "nobody"),
        ({"require": ()}, "says what is required"),
        ({"kind": "behaviour", "check": "stop-stops", "require": ("never {motor}",)}, "says what is required"),
    ],
)
def test_a_requirement_line_that_cannot_be_is_refused(
    seal_in: LessonSource, line: dict[str, object], says: str
) -> None:
    from labkit.lessons._requires import check_requirements

    with pytest.raises(LessonError, match=says) as caught:
        check_requirements(_with(seal_in, **line).file)
    assert "rubric[0].require" in caught.value.where or says == "nobody"

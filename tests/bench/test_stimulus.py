"""Stimuli as data: refused early with the row and the word, and written back as they were read."""

from __future__ import annotations

import pytest

from labkit.bench import BenchError, Done, Stimulus

GOOD = [
    {"at_ms": 0, "do": "press", "part": "S2", "hold_ms": 45},
    {"at_ms": 0.25, "do": "lift", "wire": 14},
    {"at_ms": 20, "do": "join", "a": "X1:24V", "b": "A1:I10", "ohm": 0.1},
    {"at_ms": 20, "do": "metal", "part": "B2", "mm": 3, "metal": "brass"},
    {"at_ms": 900, "do": "bounce", "part": "S2", "gaps_ms": [0.5, 1]},
    {"at_ms": 1000, "do": "stop"},
]


def test_rows_become_steps_and_go_back_to_text() -> None:
    stimulus = Stimulus.of(GOOD)
    assert [step.at_us for step in stimulus.steps] == [0, 250, 20_000, 20_000, 900_000, 1_000_000]
    assert stimulus.end_us == 1_000_000
    assert [step.as_dict() for step in stimulus.steps] == GOOD
    assert Stimulus.loads(stimulus.dumps()) == stimulus


@pytest.mark.parametrize(
    ("row", "where", "what"),
    [
        ({"at_ms": 0, "do": "pres", "part": "S2"}, "steps[0].do", "nobody can 'pres' at a bench"),
        ({"at_ms": 0, "do": "press", "prat": "S2"}, "steps[0].prat", "press takes no 'prat'"),
        ({"at_ms": 0, "do": "press"}, "steps[0]", "press needs 'part'"),
        ({"at_ms": -1, "do": "run"}, "steps[0].at_ms", "at_ms is a number of milliseconds from 0 up, not -1"),
        ({"at_ms": True, "do": "run"}, "steps[0].at_ms", "at_ms is a number of milliseconds from 0 up, not True"),
        (
            {"at_ms": float("nan"), "do": "run"},
            "steps[0].at_ms",
            "at_ms is a number of milliseconds from 0 up, not nan",
        ),
        ({"do": "run"}, "steps[0].at_ms", "at_ms is a number of milliseconds from 0 up, not None"),
        ({"at_ms": 0, "do": "key", "part": "S5", "on": 1}, "steps[0].on", "on is true or false, not 1"),
        ({"at_ms": 0, "do": "press", "part": 2}, "steps[0].part", "part is a name in quotes, not 2"),
        (
            {"at_ms": 0, "do": "join", "a": "", "b": "", "ohm": True},
            "steps[0].ohm",
            "ohm is a number of ohms, not True",
        ),
        ("press S2", "steps[0]", "a step is a table, not str"),
    ],
)
def test_a_wrong_row_is_named(row: object, where: str, what: str) -> None:
    with pytest.raises(BenchError) as caught:
        Stimulus.of([row])  # type: ignore[list-item]
    assert (caught.value.where, caught.value.what) == (where, what)


def test_the_cure_for_a_slip_is_guessed() -> None:
    with pytest.raises(BenchError) as caught:
        Stimulus.of([{"at_ms": 0, "do": "pres", "part": "S2"}])
    assert caught.value.try_this == "Did you mean press?"


def test_steps_go_forward() -> None:
    with pytest.raises(BenchError, match="a step comes before the one above it") as caught:
        Stimulus.of([{"at_ms": 5, "do": "run"}, {"at_ms": 4, "do": "stop"}])
    assert caught.value.where == "steps[1].at_ms"


@pytest.mark.parametrize("text", ["steps = 3", "[[steps]\n", "", "steps = {}"])
def test_text_that_is_no_stimulus_is_refused(text: str) -> None:
    with pytest.raises(BenchError):
        Stimulus.loads(text)


def test_what_was_done_by_hand_is_a_stimulus() -> None:
    log = [Done(500, "run", {}), Done(1_000, "press", {"part": "S2", "hold_ms": 45.0}), Done(3_500, "stop", {})]
    stimulus = Stimulus.from_log(log, start_us=1_000)
    assert [(s.at_us, s.do) for s in stimulus.steps] == [(0, "press"), (2_500, "stop")]
    assert str(log[1]) == "0.001 s  press part=S2 hold_ms=45.0"
    assert Stimulus.loads(stimulus.dumps()) == stimulus

"""Could this fault alone explain it? The answers held against a bench worked by hand."""

from __future__ import annotations

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.board import load_board
from labkit.faults import (
    Fault,
    FaultDictionary,
    FaultError,
    Test,
    at_rest,
    could_explain,
    explain_item,
    fault,
    put_in,
    volt_band,
)
from labkit.faults.words import in_words

BOARD = load_board("orchard")
FRESH = at_rest(BOARD)


def seen_by_hand(one: Fault, test_id: str) -> str:
    """Put the fault in, do what the situation says and look."""
    bench = FRESH()
    put_in(bench, one)
    bench.wait(ms(600))
    when, _, what = test_id.partition(": ")
    if when in ("start held", "running", "stop held"):
        bench.press("S2")
        bench.wait(ms(600))
    if when in ("running", "stop held"):
        bench.release("S2")
        bench.wait(ms(600))
    if when == "stop held":
        bench.press("S1")
        bench.wait(ms(600))
    kind, _, where = what.partition(" ")
    looks = set()
    for _ in range(7):
        looks.add(band(bench, kind, where))
        bench.wait(ms(17))
    return looks.pop() if len(looks) == 1 else "flickers"


def band(bench: Bench, kind: str, where: str) -> str:
    if kind == "volts":
        return volt_band(bench.meter.peek("volts", *where.split(" to ")))
    if kind == "state":
        return bench.state(where)
    return "on" if (bench.led(where) if kind == "led" else bench.lit(where)) else "off"


# What the machine's wiring says of a pump that does not start though its output is on: by hand from the drawing.
@pytest.mark.parametrize(
    ("name", "possible"),
    [
        ("wire-201-open", True),
        ("wire-211-open", True),
        ("wire-221-open", True),
        ("K1-coil-open", True),
        ("K1-jammed", True),
        ("wire-16-open", True),
        ("wire-102-open", False),
        ("I2-dead", False),
        ("wire-202-open", False),
        ("S2:13-14-open", False),
    ],
)
def test_the_output_is_on_and_the_pump_does_not_start(name: str, possible: bool) -> None:
    symptoms = {"start held: led Q1": "on", "start held: state K1": "open"}
    told = could_explain(fault(BOARD, name), symptoms)
    assert told.possible is possible
    assert bool(told.reason) is not possible


def test_the_reason_says_what_would_be_seen_instead() -> None:
    told = could_explain(fault(BOARD, "wire-102-open"), {"start held: led Q1": "on"})
    assert told.reason == "With it, while start is held the controller's indicator Q1 is off."


@pytest.mark.parametrize("seed", range(12))
def test_a_question_has_both_kinds_and_true_answers(seed: int, dictionary: FaultDictionary) -> None:
    item = explain_item(BOARD, seed=seed, dictionary=dictionary)
    assert len({option.fault.id for option in item.options}) == len(item.options) == 8
    assert 2 <= sum(option.possible for option in item.options) <= 6
    assert len(item.sentences) == len(item.symptoms) >= 2
    for option in item.options[:: 2 if seed else 1]:
        shows = all(seen_by_hand(option.fault, test) == shown for test, shown in item.symptoms)
        assert option.possible is shows, option.fault.id


def test_the_same_seed_asks_the_same_and_another_seed_something_else() -> None:
    one, again, other = (explain_item("orchard", seed=seed) for seed in (3, 3, 4))
    assert one == again
    assert one.text() != other.text()


def test_the_paper_has_no_answers_and_the_key_has() -> None:
    item = explain_item("orchard", seed=3)
    assert "impossible." not in item.text()
    assert item.text(key=True).count(": possible.") == sum(option.possible for option in item.options)
    assert all(option.reason in item.text(key=True) for option in item.options)


def test_words() -> None:
    for test, shown, words in (
        (Test("rest", "lit", "P2"), "off", "with nobody touching anything lamp P2 (Pump stopped) is dark"),
        (Test("start held", "state", "K1"), "open", "while start is held contactor K1 (Wash pump) is open"),
        (
            Test("S3 right", "led", "I3"),
            "flickers",
            "with S3 turned right the controller's indicator I3 comes and goes",
        ),
        (Test("S6 held", "lit", "P9"), "on", "while S6 is held horn P9 (Starting) sounds"),
        (Test("dead", "ohms", "K1:A1", "K1:A2"), "OL", "with the power off the meter from K1:A1 to K1:A2 reads OL"),
        (
            Test("rest", "volts", "A1:I1", "X1:0V"),
            "undefined",
            "with nobody touching anything the meter from A1:I1 to X1:0V reads undefined volts",
        ),
    ):
        assert in_words(BOARD, test, shown) == words


def test_slips_are_named() -> None:
    with pytest.raises(FaultError, match="nothing is seen"):
        could_explain(fault(BOARD, "I2-dead"), {})
    with pytest.raises(FaultError, match="no test rest: lit P99"):
        could_explain(fault(BOARD, "I2-dead"), {"rest: lit P99": "on"})

"""Drawn hunts: what the cards say is true on the bench, and every student has their own."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.board import load_board
from labkit.faults import (
    Deck,
    FaultDictionary,
    FaultError,
    at_rest,
    complaints,
    deck,
    draw_hunt,
    every_single_fault,
    fault,
    halve_live,
    mark_hunt,
    put_in,
)
from labkit.faults.drawing import in_wiring
from labkit.faults.visits import bring_about

BOARD = load_board("orchard")
FRESH = at_rest(BOARD)
STUDENTS = [f"student {n}" for n in range(1, 13)]


@pytest.fixture(scope="module")
def full(dictionary: FaultDictionary) -> Deck:
    return deck(BOARD, "all", dictionary=dictionary)


def with_in(name: str) -> Bench:
    bench = FRESH()
    put_in(bench, fault(BOARD, name))
    bench.wait(ms(600))
    return bench


@pytest.mark.parametrize("one", every_single_fault(BOARD)[::12], ids=lambda f: f.id)
def test_what_the_operator_says_of_the_pump_is_so(one: object, dictionary: FaultDictionary) -> None:
    name = one.id  # type: ignore[attr-defined]
    said = " ".join(complaints(BOARD, dictionary, name))
    bench = with_in(name)
    at_rest_in = bench.state("K1") == "closed"
    bench.press("S2")
    bench.wait(ms(600))
    started = bench.state("K1") == "closed"
    bench.release("S2")
    bench.wait(ms(600))
    holds = bench.state("K1") == "closed"
    bench.press("S1")
    bench.wait(ms(600))
    stays_in = bench.state("K1") == "closed"
    if "chatters" in said:
        return
    assert ("starts by itself" in said) is at_rest_in
    assert ("does not start." in said) is not started
    assert ("stops as soon as start is let go" in said) is (started and not holds)
    assert ("does not stop when stop is pressed" in said) is (stays_in and not at_rest_in)


# By hand from the drawing and the program (P1 and P2 follow the feedback, P4 the photo-eye, P9 the lamp test)
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("P2-burnt", ("Lamp P2 (pump stopped): dark all the time.",)),
        ("wire-206-open", ("Horn P9 (starting): silent all the time.",)),
        ("wire-108-open", ("Lamp P4 (attention): lit all the time.",)),
        ("wire-103-open", ("Indicator I3: off all the time.",)),
        ("wire-3-open", ()),
        ("V1-missing", ()),
        (
            "wire-201-open",
            (
                "The wash pump does not start.",
                "Lamp P1 (pump running): dark while start is held.",
                "Lamp P2 (pump stopped): lit while start is held.",
            ),
        ),
    ],
)
def test_the_operators_words(name: str, said: tuple[str, ...], dictionary: FaultDictionary) -> None:
    assert complaints(BOARD, dictionary, name) == said


def test_a_hunt_is_drawn_with_everything_it_needs(full: Deck, dictionary: FaultDictionary) -> None:
    drawn = full.draw("R. Vale", 1)
    assert 4 <= len(drawn.hunt.suspects) <= 12
    cards = {complaints(BOARD, dictionary, f.id) for f in drawn.hunt.suspects}
    assert cards == {drawn.symptom.sentences}, "the card itself rules a suspect out"
    assert drawn.hunt.fault.location in drawn.card.text()
    assert drawn.hunt.fault.location not in drawn.symptom.text() or "lamp" in drawn.symptom.text().lower()
    assert drawn.symptom.history in ("It worked yesterday.", "It has never worked since the board was wired.")
    assert drawn.card.guess
    assert drawn.minutes == drawn.card.minutes > 0


@pytest.mark.parametrize("seed", range(6))
def test_the_figures_on_the_fault_card_are_what_the_meter_shows(seed: int, full: Deck) -> None:
    card = full.draw("R. Vale", seed).card
    assert card.measured
    for measured in card.measured:
        when, _, what = measured.test.partition(": ")
        mode, _, where = what.partition(" ")
        a, _, b = where.partition(" to ")
        for bench, shown in ((with_in(card.fault.id), measured.faulty), (FRESH(), measured.sound)):
            bring_about(bench, when)
            assert bench.meter.peek(mode, a, b).text == shown
        assert 1 <= measured.rules_out < len(card.suspects) or len(card.suspects) == 1


def test_each_of_a_class_has_another_fault_and_none_has_it_much_harder(full: Deck) -> None:
    drawn = full.draw_class(STUDENTS, 5)
    assert list(drawn) == STUDENTS
    assert len({one.hunt.truth for one in drawn.values()}) == len(STUDENTS)
    minutes = sorted(one.minutes for one in drawn.values())
    assert minutes[0] >= 1.0  # at least one reading is needed
    middle = minutes[len(minutes) // 2]
    assert all(abs(one - middle) <= 2 * max(0.6, 0.25 * middle) + 1e-9 for one in minutes)
    assert drawn == full.draw_class(STUDENTS, 5)
    other = full.draw_class(STUDENTS, 6)
    assert [one.hunt.truth for one in other.values()] != [one.hunt.truth for one in drawn.values()]


def test_as_hard_as_another(full: Deck) -> None:
    first = full.draw("A", 1)
    second = full.draw("B", 1, like=first)
    assert abs(second.minutes - first.minutes) <= max(0.6, 0.25 * first.minutes) + 1e-9
    with pytest.raises(FaultError, match="no hunt of 40 minutes"):
        full.draw("B", 1, like=40)


def test_a_good_student_finds_what_was_drawn(full: Deck) -> None:
    for seed in range(4):
        drawn = full.draw("A", seed)
        bench = drawn.hunt.bench()
        named = halve_live(drawn.hunt, drawn.dictionary, bench, random.Random(1))
        marking = mark_hunt(drawn.hunt, bench.log, named, dictionary=drawn.dictionary)
        assert marking.percent > 90, str(marking)


@pytest.mark.slow
def test_a_wiring_hunt_without_a_dictionary_at_hand(full: Deck) -> None:
    drawn = draw_hunt("orchard", "R. Vale", 3)
    assert all(in_wiring(BOARD, f) for f in drawn.hunt.suspects)
    assert drawn.hunt.truth in deck("orchard", "wiring").truths
    assert not set(deck("orchard", "wiring").truths) & {"K1-coil-open", "P2-burnt", "B1-leaks", "I2-dead"}
    again = draw_hunt("orchard", "R. Vale", 3)
    assert (again.hunt.truth, again.card.text()) == (drawn.hunt.truth, drawn.card.text())


def test_slips_are_named(full: Deck) -> None:
    with pytest.raises(FaultError, match="name stands twice"):
        full.draw_class(["A", "A"], 1)
    with pytest.raises(FaultError, match="name is empty"):
        full.draw_class(["R. Vale", " "], 1)
    with pytest.raises(FaultError, match="no pool 'mains'"):
        deck(BOARD, "mains")  # type: ignore[arg-type]
    with pytest.raises(FaultError, match="no hunt of"):
        replace(full, groups=full.groups[:1]).draw_class([str(n) for n in range(20)], 1)

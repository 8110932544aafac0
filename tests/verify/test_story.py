"""What a person gets of a counterexample: sentences, a stimulus to try, a record with the broken moment marked."""

from __future__ import annotations

import pytest
from verify_circuits import circuits

from labkit.bench import Bench, Stimulus
from labkit.plots import draw_story, story_svg
from labkit.verify import ProofError, prove

WELD = next(c for c in circuits("misconceptions") if c.number == "M21")
DIP = "pole:K1 only after pos:S2 since not pos:F4 and not pole:K1"


@pytest.fixture(scope="module")
def dip():
    bench = Bench("orchard")
    bench.load("K1 := S1 AND (S2 OR K1);")
    return prove(bench, DIP, may=["S1", "S2", "F4"])


def test_the_steps_are_sentences(dip):
    """Two scans less than the armature's 25 ms need: the dip comes in the scan after the press, by hand."""
    assert dip.story.steps == (
        "Scan 1: power up, S2 pressed.",
        "Scan 2: S2 released, F4 switched off.",
        "Scan 3: F4 switched on.",
        "Scan 5: nothing is done. Now the contacts of K1 are closed. This breaks it.",
    )


def test_a_student_can_do_it_again(dip):
    story = dip.story
    bench = story.bench()
    bench.play(Stimulus.loads(story.stimulus.dumps()))
    bench.wait_until(story.broken_us)
    assert bench.state("K1") == "closed"
    assert bench.state("S2") == "released"


def test_the_record_shows_the_broken_moment(dip):
    shown = dip.story.shown(DIP)
    ((broken_us, words),) = shown.marks
    assert (broken_us, words) == (dip.story.broken_us, "broken here")
    assert shown.span[0] < broken_us < shown.span[1]
    assert shown.signals == ("pos:F4", "pos:S2", "pole:K1")
    assert shown.trace.at("pole:K1", broken_us) is True
    # one scan before, it was not: the story is a shortest one
    assert shown.trace.at("pole:K1", broken_us - 10_000) is False
    svg = story_svg(shown)
    assert "broken here" in svg
    assert draw_story(shown).get_figure() is not None


def test_a_program_alone_is_drawn_from_its_bits():
    story = prove("K := T OR (S AND K);", "whenever not S then not K").story
    shown = story.shown()
    assert set(shown.signals) == {"bit:T", "bit:S", "bit:K"}
    ((broken_us, _),) = shown.marks
    assert [shown.trace.at(f"bit:{n}", broken_us) for n in "TSK"] == [True, False, True]
    assert "broken here" in story_svg(shown)
    with pytest.raises(ProofError, match="no bench"):
        story.bench()


def test_nothing_is_touched_that_need_not_be():
    """The contactor welds once: a story in which it welds, is freed and welds again is as short, and no help."""
    (asked,) = WELD.asks(WELD.forms["wrong"])
    verdict = WELD.verdict(WELD.forms["wrong"], asked)
    assert verdict.story.text.count("weld") == 1
    assert "free" not in verdict.story.text
    assert verdict.story.replayed
    assert verdict.story.scans == verdict.depth

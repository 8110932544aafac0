"""What the lesson's bench says, beside tables and a rule that were made before the bench was.

tests/truth/holding_outcomes.csv and press_lengths.csv: our own earlier scan-level simulation, without this code.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from labkit.lessons import LessonSource, Variant
from labkit.lessons._document import Expect
from labkit.lessons._judge import first_break
from labkit.lessons._lab import Lab
from labkit.lessons._stand import Stand
from labkit.lessons._text import span_us
from labkit.lessons._truth import Truth

TRUTH = Path(__file__).parent.parent / "truth"

# the truth table's event -> this lesson's run
RUNS = {
    "normal start, stop": "start-stop",
    "start tap 12 or 20 ms": "tap-short",
    "start tap 45 ms": "tap-long",
    "auxiliary block removed while running": "block-off",
    "auxiliary missing, start held 0.3 s": "block-missing",
    "auxiliary input stuck at 1, nobody presses": "feedback-stuck",
    "contactor welded, stop pressed and released": "welded",
    "output group supply lost 0.3 s": "group-lost",
    "output group dip 40 ms": "group-dip",
    "coil open, repaired 0.8 s later": "coil-open",
    "controller power cycle": "power-cycle",
    "start jammed through power cycle or stop": "start-jammed",
}

# the truth table's word -> this lesson's word
WORDS = {
    "ok": "runs, then stops",
    "holds": "keeps running",
    "drops": "drops out",
    "runs on": "keeps running",
    "drops in 1 scan": "drops at once",
    "drops after proving time": "drops after the proving time",
    "runs only while held": "runs only while start is held",
    "trips": "drops after the proving time",
    "nothing": "stays off",
    "starts by itself, returns when stop is released": "starts by itself",
    "output stays off": "the output stays off",
    "output comes back": "the output comes back",
    "re-closes by itself": "closes again by itself",
    "re-closes": "closes again by itself",
    "jumps in at repair": "closes again by itself",
    "stays off": "stays off",
    "off": "stays off",
    "off after proving time": "stays off",
    "on": "closes again by itself",
    "on again": "closes again by itself",
}


def _rows(name: str) -> list[dict[str, str]]:
    with (TRUTH / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _timed(variant: Variant, scan: float, pull_in: float, filter_ms: float) -> Variant:
    return replace(
        variant, scan_us=round(scan * 1e3), pull_in_us=round(pull_in * 1e3), filter_us=round(filter_ms * 1e3)
    )


@pytest.fixture(scope="module")
def plain(seal_in: LessonSource, vale: Variant) -> Truth:
    """The bench that the truth tables were made for: 10 ms scan, 25 ms pull-in, 4 ms filter."""
    return Truth(Lab(seal_in, _timed(vale, 10, 25, 4)))


@pytest.mark.parametrize("row", _rows("holding_outcomes.csv"), ids=lambda row: row["event"])
def test_five_ways_in_twelve_events(seal_in: LessonSource, plain: Truth, row: dict[str, str]) -> None:
    task = seal_in.task("five-ways")
    assert task.kind == "predict"
    labels = {column.label.partition(":")[0]: column for column in task.columns}
    found = {short: plain.outcome(RUNS[row["event"]], c.program, c.words).word for short, c in labels.items()}
    assert found == {short: WORDS[row[short]] for short in labels}


def test_the_rows_are_those_of_the_truth(seal_in: LessonSource) -> None:
    task = seal_in.task("five-ways")
    assert task.kind == "predict"
    assert list(task.rows) == [RUNS[row["event"]] for row in _rows("holding_outcomes.csv")]


@pytest.mark.parametrize("row", _rows("press_lengths.csv"), ids=lambda row: f"{row['scan_ms']} ms")
def test_shortest_press_of_the_truth_table(seal_in: LessonSource, vale: Variant, row: dict[str, str]) -> None:
    mine = _timed(vale, float(row["scan_ms"]), float(row["pull_in_ms"]), float(row["filter_ms"]))
    task = seal_in.task("press-length")
    assert task.kind == "number"
    search = seal_in.file.searches[task.search].model_copy(update={"low": "5 ms", "high": "120 ms"})
    found = Truth(Lab(seal_in, mine))._search(search) / 1000
    wanted = float(row["shortest_press_that_always_holds_ms"])
    assert found == wanted


def test_shortest_press_of_every_set_of_times_is_whole_scans(seal_in: LessonSource, vale: Variant) -> None:
    """The rule ceil((pull-in + filter) / scan) x scan, for all that a variant can draw."""
    task = seal_in.task("press-length")
    assert task.kind == "number"
    for choice in seal_in.file.benches:
        scan, pull_in, filter_us = (span_us(t, {}) for t in (choice.scan, choice.pull_in, choice.filter))
        mine = replace(vale, scan_us=scan, pull_in_us=pull_in, filter_us=filter_us)
        rule = -(-(pull_in + filter_us) // scan) * scan
        assert Truth(Lab(seal_in, mine)).number_us(task) == rule, choice
        # a wrong answer must be further off than the tolerance
        assert rule - pull_in - filter_us > 1000 * task.tolerance


def test_a_read_between_arrival_and_answer_shortens_the_press(seal_in: LessonSource, vale: Variant) -> None:
    """Why the lesson's times leave these out: 9 ms scans and 26 ms pull-in end the third scan at 27 ms.

    The armature is in by then and its release takes 15 ms, the feedback catches it a scan later; the output has a
    gap of one scan that the contactor does not follow. The rule says 36 ms, the bench holds from 27 ms on.
    """
    task = seal_in.task("press-length")
    assert task.kind == "number"
    assert Truth(Lab(seal_in, _timed(vale, 9, 26, 4))).number_us(task) == 27_000


def test_readings_of_a_closed_and_a_missing_contact(seal_in: LessonSource, plain: Truth) -> None:
    """24 V less the drop of some metres of copper, and an input that pulls an open wire to its common."""
    inside, outside = seal_in.task("volts-in"), seal_in.task("volts-out")
    assert inside.kind == outside.kind == "reading"
    assert 23.5 < plain.reading(inside) < 24.0
    assert plain.reading(outside) == pytest.approx(0.0, abs=0.01)


def test_the_stand_gives_what_a_fresh_bench_gives(seal_in: LessonSource, vale: Variant) -> None:
    lab = Lab(seal_in, vale)
    more = {"looked_at": "bit:{motor}", "press": "30 ms"}
    for run in (*seal_in.file.runs, *seal_in.file.checks):
        first = {**next(iter(lab.variations(run)), {}), **more}
        for key in ("hold_auxiliary", "hold_proved", "hold_kept"):
            shared = lab.play(lab.program(key), run, first).trace
            fresh = Stand(lab.bench).play(lab.program(key), lab.script(run, first))
            assert shared.signals == fresh.signals, (run.id, key)
            assert shared.scans == fresh.scans, (run.id, key)
            assert shared.events == fresh.events, (run.id, key)
            shared.check()


def test_an_expectation_breaks_at_its_deadline_or_at_the_change(seal_in: LessonSource, vale: Variant) -> None:
    lab = Lab(seal_in, vale)
    run = seal_in.run("tap-short")
    played = lab.play(lab.program("hold_auxiliary"), run, {})
    motor = vale.names["motor"]
    on, off = played.trace.signals[f"bit:{motor}"].changes[1:3]

    def broken(**how: object) -> tuple[str, int] | None:
        expect = Expect.model_validate({"signal": f"bit:{motor}", **how})
        found = first_break(
            played.trace, [expect], marks=played.script.marks, words=lab.words({}), symbols=lab.symbols({})
        )
        return (found.how, found.t_us) if found else None

    start = played.script.marks["start"]
    assert broken(value=True, within="1 ms") == ("late", start + 1000)
    assert broken(value=True, within="1 scan + filter") == ("lost", off[0])
    assert broken(value=False, until="look") == ("lost", on[0])
    assert broken(value=False, after="look") is None

"""What passing time does is worked out once for a network; what it overloads is told to each question."""

from __future__ import annotations

from labkit.bench import Bench
from labkit.verify import prove
from labkit.verify._electric import Electricity
from labkit.verify.surroundings import things

HOLD = "K1 := S1 AND (S2 OR K1);"
ASKED = ("whenever not S1 then not K1", "whenever S2 and S1 then pole:K1 within 4 scans", "never P2 and K1")


def test_one_question_after_the_other_is_answered_as_alone() -> None:
    alone = []
    for text in ASKED:
        bench = Bench("orchard")
        bench.load(HOLD)
        alone.append(prove(bench, text, may=["S1", "S2", "F4", "K1.aux"]))
    bench = Bench("orchard")
    bench.load(HOLD)
    for order in (ASKED, ASKED[::-1]):
        said = {text: prove(bench, text, may=["S1", "S2", "F4", "K1.aux"]) for text in order}
        for text, verdict in zip(ASKED, alone, strict=True):
            assert (said[text].outcome, said[text].states, said[text].depth, said[text].assumptions) == (
                verdict.outcome,
                verdict.states,
                verdict.depth,
                verdict.assumptions,
            )


def test_the_second_question_finds_it_and_what_it_overloads() -> None:
    bench = Bench("orchard")
    bench.load(HOLD)
    one, other = (Electricity(b, things(b, ["S2"])) for b in (bench, bench.again()))

    def work() -> str:
        one.hot.add("F4")
        return "done"

    one.hot.add("F2")
    assert one._once("key", work) == "done"
    assert one.hot == {"F2", "F4"}
    assert other._once("key", lambda: "again") == "done"
    assert other.hot == {"F4"}
    moving = Electricity(bench, things(bench, ["S1"]))
    assert moving._once("key", lambda: "other things may move") == "other things may move"

"""Which breaker isolates what. Each finding is held against a solve of its own: its breaker open, a load on the point.

Isolating devices have to separate the machine from its sources: 29 CFR 1910.147(d)(3), and it is verified, (d)(6)
(both confirmed).
"""

from __future__ import annotations

import random
import re
from dataclasses import replace

import pytest
from board_helpers import codes, rerouted, with_type

from labkit.board import Board, Electrical, Finding, Wire, Wiring, check_wiring, electrify, load_board
from labkit.board._judge_isolation import isolation
from labkit.board._trial import Trial
from labkit.circuit import Solver

BOARD = load_board("orchard")
W = BOARD.wiring
DEVICE_OHM = 5000.0  # a type 1 input: what a live point has to carry to be of any use
KINDS = {"past-breaker", "other-breaker", "breaker-bypassed"}


def of_breakers(wiring: Wiring, board: Board = BOARD) -> list[Finding]:
    found = [f for f in check_wiring(board, wiring) if f.code in KINDS]
    assert {f.severity for f in found} <= {"advice"}
    return found


def volts(wiring: Wiring, terminal: str, opened: tuple[str, ...] = (), board: Board = BOARD) -> float:
    """At a terminal that carries a load, supply on, these breakers open."""
    electrical = electrify(board, wiring)
    key = electrical.key(electrical.powered(**dict.fromkeys(opened, "off")))
    return Solver(electrical.circuit).loaded(key, terminal, "X1:0V", DEVICE_OHM).volt(terminal, "X1:0V")


FEEDS = [  # the feed that is moved, its device's end, the breaker of the drawing, what the finding names
    ("122", "S2:13", "F1", "I2 (S2)"),
    ("127", "S0:21", "F1", "I7 (S0)"),
    ("130", "K1:53", "F1", "I10 (K1_A)"),
    ("125", "S4:23", "F1", "I5 (S4_R)"),
    ("128", "B1:BN", "F2", "I8 (B1)"),
    ("11", "A1:24V", "F1", "A1:24V"),
]


@pytest.mark.parametrize(("no", "end", "breaker", "name"), FEEDS)
def test_a_feed_from_before_the_breakers_is_told_with_its_terminal_and_the_breaker_that_is_passed(
    no: str, end: str, breaker: str, name: str
) -> None:
    wrong = W.moved(no, end=next(iter(W.wire(no).ends - {end})), to="X1:24V")
    (finding,) = of_breakers(wrong)
    assert (finding.code, finding.terminal) == ("past-breaker", end)
    assert finding.what.startswith(f"{name} is fed from X1:24V by wire {no}, ahead of every breaker. {breaker}, which")
    assert f"with {breaker} locked out it stays live" in finding.what
    assert volts(wrong, end, ("F1", "F2", "F4", "F5")) > 20
    assert volts(W, end, (breaker,)) < 1, "as drawn that breaker makes it dead"
    home = next(iter(W.wire(no).ends - {end}))
    assert finding.try_this == f"Feed {end} from {home}, as the board's drawing has it."


@pytest.mark.parametrize(
    ("no", "end", "bar", "passed", "behind"),
    [
        ("122", "S2:13", "X1:24S", "F1", "F2"),
        ("128", "B1:BN", "X1:24I", "F2", "F1"),
        ("19", "A1:QB+", "F4:2", "F5", "F4"),
        ("19", "A1:QB+", "X1:24I", "F5", "F1"),
    ],
)
def test_a_feed_from_behind_another_breaker_names_both(no: str, end: str, bar: str, passed: str, behind: str) -> None:
    wrong = W.moved(no, end=next(iter(W.wire(no).ends - {end})), to=bar)
    (finding,) = of_breakers(wrong)
    assert (finding.code, finding.terminal) == ("other-breaker", end)
    assert (
        f"from {bar} by wire {no}, behind {behind}. {passed}, which isolates it on the board's drawing" in finding.what
    )
    assert volts(wrong, end, (passed,)) > 20
    assert volts(wrong, end, (behind,)) < 1


def test_an_output_group_fed_past_its_breaker() -> None:
    wrong = W.moved(19, end="F5:2", to="X1:24V")
    (finding,) = of_breakers(wrong)
    assert (finding.code, finding.terminal) == ("past-breaker", "A1:QB+")
    assert finding.what.startswith("A1:QB+ (output group B) is fed from X1:24V by wire 19")
    assert volts(wrong, "A1:QB+", ("F5",)) > 20


@pytest.mark.parametrize(
    ("a", "b", "terminal", "breakers"),
    [
        ("X1:24V", "X1:24I", "F1:2", ["F1"]),
        ("F1:1", "F1:2", "F1:2", ["F1"]),
        ("X1:24I", "X1:24S", "F1:2", ["F1", "F2"]),
        ("A1:QA+", "A1:QB+", "F4:2", ["F4", "F5"]),  # the two commons linked
        ("A1:Q4", "P4:X1", "F4:2", ["F4", "F5"]),  # one lamp on an output of each group
    ],
)
def test_what_joins_the_far_sides_is_told_once_at_the_breaker(
    a: str, b: str, terminal: str, breakers: list[str]
) -> None:
    wrong = W.with_wire(Wire("900", a, b, mm2=1.0))
    (finding,) = of_breakers(wrong)
    assert (finding.code, finding.terminal, finding.try_this) == ("breaker-bypassed", terminal, "Lift wire 900.")
    assert f"{' and '.join(breakers)} no longer" in finding.what
    electrical = electrify(BOARD, wrong)
    on = {o.actor: "on" for o in electrical.outputs}
    for name in breakers:
        key = electrical.key({**electrical.powered(), **on, name: "off"})
        at = Solver(electrical.circuit).loaded(key, f"{name}:2", "X1:0V", DEVICE_OHM)
        assert at.volt(f"{name}:2", "X1:0V") > 20, f"{name} open isolates nothing"


def test_a_chain_that_starts_before_the_breakers_is_one_finding_with_all_that_hangs_on_it() -> None:
    wrong = W.moved(122, end="X1:24I", to="X1:24V").moved(123, end="X1:24I", to="S2:13")
    (finding,) = of_breakers(wrong)
    assert finding.terminal == "S2:13"
    assert finding.what.startswith("I2 (S2) and I3 (S3) are fed from X1:24V by wire 122")
    assert finding.what.endswith("with F1 locked out they stay live.")


def test_a_bar_that_the_supply_feeds_itself_is_one_finding_at_the_bar() -> None:
    """24I straight on the supply, F1 fed from behind: whatever hangs on the bar is ahead of every breaker."""
    (finding,) = of_breakers(W.moved(1, end="X1:24V", to="X1:24I"))
    assert (finding.code, finding.terminal) == ("past-breaker", "X1:24I")
    assert finding.what.startswith("A1:24V, I1 (S1), I2 (S2), I3 (S3) and 7 more are fed from X1:24I, ahead of every")
    assert finding.try_this == "Feed X1:24I from behind a breaker."


BARS = {"X1:24V", "X1:24I", "X1:24S"}
MOVES = [(w.no, bar, to) for w in W for bar in w.ends & BARS for to in sorted(BARS - w.ends)]
MOVES = [move for move in MOVES if move[0] in {"9", "10", "11", "121", "125", "127", "128", "129", "130"}]


@pytest.mark.parametrize(("no", "bar", "to"), MOVES)
def test_no_feed_moved_to_another_bar_goes_unseen(no: str, bar: str, to: str) -> None:
    """Feeds of every kind of point, of sensors and controller, and of the bars themselves; no other check is run."""

    def make(wires: Wiring, out: frozenset[str]) -> Electrical:
        return electrify(BOARD, wires, removed=out)

    wiring = W.moved(no, end=bar, to=to)
    assert len(list(isolation(Trial(BOARD, wiring, make(wiring, frozenset()), make)))) == 1


def test_two_selectors_on_one_feed_are_both_seen_though_they_cannot_be_on_at_once() -> None:
    wrong = W.moved(124, end="X1:24I", to="X1:24V").moved(125, end="X1:24I", to="S4:13")
    (finding,) = of_breakers(wrong)
    assert finding.what.startswith("I4 (S4_L) and I5 (S4_R) are fed from X1:24V by wire 124")


def test_where_the_drawing_has_no_wires_a_point_past_every_breaker_is_told_all_the_same() -> None:
    undrawn = replace(BOARD, wiring=Wiring())
    (finding,) = of_breakers(W.moved(122, end="X1:24I", to="X1:24V"), undrawn)
    assert (finding.code, finding.terminal) == ("past-breaker", "S2:13")
    assert finding.what.endswith("No breaker protects or isolates it: with all of them open it stays live.")
    assert of_breakers(W.moved(122, end="X1:24I", to="X1:24S"), undrawn) == [], "no drawing says which it should be"


def test_a_breaker_more_in_the_way_is_no_fault() -> None:
    """Group A behind F1 and F4: F4 still isolates it."""
    assert of_breakers(W.moved(7, end="X1:24V", to="F1:2")) == []


def test_a_floating_board_and_a_board_without_breakers_have_none() -> None:
    assert of_breakers(Wiring()) == []
    bare = replace(BOARD, parts={n: p for n, p in BOARD.parts.items() if p.kind != "breaker"}, wiring=Wiring())
    feeds = [w for w in W if not re.match(r"F[1245]:", w.a) and not re.match(r"F[1245]:", w.b)]
    straight = Wiring((*feeds, Wire("900", "X1:24V", "X1:24I"), Wire("901", "X1:24V", "X1:24S")))
    assert of_breakers(straight, bare) == []


def test_an_input_that_takes_its_plus_at_the_common_is_judged_there() -> None:
    """NPN: what is live is the common, from F2's bar; moved before the breakers it is told at the common."""
    npn = with_type(BOARD, "B1", "photo-eye-npn")
    only_b1 = W.without(15, 107, 109, 110, 111, 112)
    sinking = replace(npn, wiring=only_b1.with_wire(Wire("900", "A1:IC2", "X1:24S")))
    assert [f for f in check_wiring(sinking) if f.code in KINDS] == []
    found = of_breakers(only_b1.with_wire(Wire("900", "A1:IC2", "X1:24V")), sinking)
    assert codes(found) == [("past-breaker", "A1:IC2")]
    assert found[0].what.startswith("I8 (B1) is fed from X1:24V by wire 900")


@pytest.mark.parametrize("seed", range(4))
def test_any_routing_with_the_same_potentials_has_none(seed: int) -> None:
    assert of_breakers(rerouted(BOARD, random.Random(seed))) == []


@pytest.mark.parametrize("seed", range(3))
def test_a_fuse_counts_as_a_breaker(seed: int) -> None:
    fused = with_type(BOARD, "F1", "fuse-1a")
    no, end, _, _ = FEEDS[seed]
    (finding,) = of_breakers(W.moved(no, end=next(iter(W.wire(no).ends - {end})), to="X1:24V"), fused)
    assert finding.code == "past-breaker"
    assert "F1, which isolates it" in finding.what

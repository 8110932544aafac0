"""The orchard board as it comes: complete, right, and electrically what a real one would be."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest

from labkit.board import Board, BoardError, WiringError, check_wiring, electrify, parts_catalogue
from labkit.board._templates import TEMPLATES
from labkit.board.catalogue import KINDS
from labkit.circuit import Solver, Switch

if TYPE_CHECKING:
    from board_helpers import Solve

INPUT_TAGS = ["S1", "S2", "S3", "S4_L", "S4_R", "S5", "S0", "B1", "B2", "K1_A", "F3_T", "S6"]
OUTPUT_TAGS = ["K1", "P1", "P2", "P3", "P4", "P9", "P5", "Q8_SPARE"]


def test_the_io_list_has_every_point_in_order(board: Board) -> None:
    assert [p.tag for p in board.points.values() if p.direction == "input"] == INPUT_TAGS
    assert [p.tag for p in board.points.values() if p.direction == "output"] == OUTPUT_TAGS


def test_nothing_is_wrong_with_its_wiring(board: Board) -> None:
    assert check_wiring(board) == []
    assert check_wiring(board, input_type=3) == []


@pytest.mark.parametrize("type_no", [1, 3])
def test_at_rest_and_powered_the_normally_closed_inputs_are_lit(solve: Solve, type_no: int) -> None:
    """IEC 61131-2 grades each channel; the photo-eye's output stage is on because its beam is whole."""
    rest = solve({"B1": "on"}, input_type=type_no)
    for point, row in rest.electrical.board.points.items():
        if row.direction == "input":
            assert rest.grade(point) == ("on" if row.rest else "off"), row.tag
            channel = next(c for c in rest.electrical.inputs if c.point == point)
            assert channel.reads(rest.channel(point)[0]) == bool(row.rest)


@pytest.mark.parametrize("type_no", [1, 3])
def test_each_input_follows_its_own_device_alone(board: Board, solve: Solve, type_no: int) -> None:
    inputs = [p for p in board.points.values() if p.direction == "input"]
    away = {a: s for p in inputs for a, s in p.on_when.items() if p.contact != "NC"}
    resting = solve(input_type=type_no)
    for actor, state in [*away.items(), ("S4", "left"), ("S1", "pressed"), ("S0", "pressed")]:
        moved = solve({actor: state}, input_type=type_no)
        changed = {p.tag for p in inputs if moved.grade(p.point) != resting.grade(p.point)}
        want = {
            p.tag
            for p in inputs
            if actor in p.on_when and (p.on_when[actor] == state) != (p.on_when[actor] == board_rest(board, actor))
        }
        assert changed == want, (actor, state)


def board_rest(board: Board, actor: str) -> str:
    return electrify(board).actors[actor].rest


def test_each_output_drives_its_own_load_alone(board: Board, solve: Solve) -> None:
    for point in board.points.values():
        if point.direction == "input":
            continue
        on = solve({f"A1.{point.point}": "on"})
        live = {lamp.part for lamp in on.electrical.lamps if on.volts(lamp.a, lamp.b) >= lamp.lit_v}
        live |= {c.part for c in on.electrical.coils if on.volts(c.a, c.b) >= c.pick_up_v}
        assert live == ({point.device} if point.device else set())


def test_the_coil_has_nearly_all_of_the_supply(solve: Solve) -> None:
    """Reference bench: 24.0 V supply, coil at least 23.5 V through breaker, stop, output, trip contact and wires."""
    on = solve({"A1.Q1": "on", "K1": "closed"})
    assert 23.5 <= on.volts("K1:A1", "K1:A2") < 24.0
    assert on.solution.amps("K1:A1-A2") == pytest.approx(0.125, rel=0.01)


def test_every_current_of_a_running_bench_is_in_the_trades_range(solve: Solve) -> None:
    """Reference bench figures: lamp 20 mA, horn 50 mA, sensor 10 mA, type 1 input 4.8 mA at 24 V."""
    on = solve({**{f"A1.Q{n}": "on" for n in range(1, 9)}, "S2": "pressed"})
    amps = on.solution.amps
    assert amps("P1:X1-X2") == pytest.approx(0.020, rel=0.01)
    assert amps("P9:X1-X2") == pytest.approx(0.050, rel=0.01)
    assert amps("B1 electronics") == pytest.approx(0.010, rel=0.01)
    assert on.channel("I2")[1] == pytest.approx(0.0048, rel=0.01)
    assert amps("G1") < 0.6


def test_emergency_stop_and_trip_cut_what_they_must(board: Board, solve: Solve) -> None:
    """IEC 60204-1: the emergency stop acts whatever the program does."""
    everything = {f"A1.Q{n}": "on" for n in range(1, 9)}
    stopped = solve({**everything, "S0": "pressed"})
    assert abs(stopped.volts("A1:QA+")) < 0.5
    assert abs(stopped.volts("K1:A1", "K1:A2")) < 0.5
    assert stopped.volts("A1:Q5") > 23.5, "group B has its own feed"
    tripped = solve({**everything, "F3": "tripped"})
    assert abs(tripped.volts("K1:A1", "K1:A2")) < 0.5
    assert tripped.grade("I11") == "on"


def test_without_supply_there_is_no_voltage_anywhere(board: Board) -> None:
    """Proving dead: every terminal to the metalwork."""
    electrical = electrify(board)
    dead = Solver(electrical.circuit).solve(electrical.rest_key)
    assert max(abs(dead.volts[t]) for t in board.terminals) < 1e-6


def test_every_terminal_can_be_probed(board: Board) -> None:
    for removed in ((), ("K1.aux",), ("V1", "K1.aux", "M1")):
        nodes = set(electrify(board, removed=removed).circuit.nodes)
        assert board.terminals.keys() <= nodes
        assert all(n in board.terminals or n.endswith("~") or n == "PE" for n in nodes)


def test_a_key_is_what_the_rules_say_for_any_positions(board: Board, seeded: random.Random) -> None:
    """The bit masks against the contact rules read one by one, through the circuit's own key."""
    electrical = electrify(board)
    solver = Solver(electrical.circuit)
    for _ in range(200):
        states = {a.id: seeded.choice(a.states) for a in electrical.actors.values()}
        plain = solver.key(c.switch for c in electrical.contacts if states[c.actor] in c.closed_when)
        assert electrical.key(states) == plain
        some = dict(list(states.items())[::3])
        full = {**electrical.rest(), **some}
        assert electrical.key(some) == electrical.key(full)
        actor = electrical.actors[seeded.choice(list(electrical.actors))]
        to = seeded.choice(actor.states)
        moved = electrical.key(states) ^ electrical.bits(actor.id, states[actor.id]) ^ electrical.bits(actor.id, to)
        assert moved == electrical.key({**states, actor.id: to})


def test_every_switch_is_moved_by_exactly_one_actor(board: Board) -> None:
    electrical = electrify(board)
    switches = [e.name for e in electrical.circuit.elements if isinstance(e, Switch)]
    assert sorted(switches) == sorted(c.switch for c in electrical.contacts)
    for rule in electrical.contacts:
        assert rule.closed_when <= set(electrical.actors[rule.actor].states)
        assert rule.closed_when, rule


def test_any_position_settles(board: Board, seeded: random.Random) -> None:
    """Kirchhoff's law holds in 300 random sets of positions, faulted wirings among them."""
    for _ in range(6):
        lifted = seeded.sample([w.no for w in board.wiring], k=seeded.randrange(8))
        electrical = electrify(board, board.wiring.without(*lifted))
        solver = Solver(electrical.circuit)
        for _ in range(50):
            states = {a.id: seeded.choice(a.states) for a in electrical.actors.values()}
            solver.solve(electrical.key({**states, "G1": "on"})).check()


def test_unknown_positions_are_guessed_at(board: Board) -> None:
    electrical = electrify(board)
    with pytest.raises(BoardError, match="S2 cannot be 'presed': it is released or pressed") as caught:
        electrical.key({"S2": "presed"})
    assert caught.value.try_this == "Did you mean pressed?"
    with pytest.raises(BoardError, match=r"nothing called A1\.Q9 can be moved"):
        electrical.bits("A1.Q9", "on")


def test_taking_off_what_is_not_there_and_wiring_to_nowhere_are_sentences(board: Board) -> None:
    with pytest.raises(BoardError, match=r"nothing called K1\.aus can be taken off") as caught:
        electrify(board, removed={"K1.aus"})
    assert caught.value.try_this == "Did you mean K1.aux?"
    with pytest.raises(WiringError, match="no part Q1 on this board"):
        electrify(board, board.wiring.moved(211, end="K1:A1", to="Q1:A1"))
    with pytest.raises(WiringError, match="there is no wire 999"):
        electrify(board, joints={"999": 30.0})
    with pytest.raises(BoardError, match="no inputs of type 2"):
        electrify(board, input_type=2)


def test_building_twice_gives_the_same_network(board: Board) -> None:
    assert electrify(board).circuit == electrify(board).circuit


def test_every_kind_of_part_has_a_template_and_a_part() -> None:
    assert TEMPLATES.keys() == KINDS.keys() - {"aux_block"}
    assert {e.kind for e in parts_catalogue().values()} == set(KINDS)


def test_a_removed_block_leaves_the_contacts_open(solve: Solve) -> None:
    closed = solve({"K1": "closed"})
    assert closed.grade("I10") == "on"
    assert solve({"K1": "closed"}, removed={"K1.aux"}).grade("I10") == "off"


def test_the_motor_hangs_on_its_contactor_and_overload(board: Board) -> None:
    motor = electrify(board).motors[0]
    assert (motor.contactor, motor.overload) == ("K1", "F3")
    loose = electrify(board, board.wiring.without(302)).motors[0]
    assert (loose.contactor, loose.overload) == ("", "F3"), "one line is missing before the overload relay"

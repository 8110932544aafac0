"""Dead test, staged power and point checks find what is wrong with a board, and only that."""

from __future__ import annotations

import pytest

from labkit.bench import Bench
from labkit.bench.commissioning import check_inputs, check_outputs, power_in_stages, prove_dead
from labkit.board import load_board


@pytest.fixture
def board() -> Bench:
    return Bench("orchard")


def wrong(checks: tuple) -> list[str]:
    return [c.what for c in checks if not c.ok]


def test_a_healthy_board_passes_every_stage(board: Bench) -> None:
    assert wrong(prove_dead(board)) == []
    assert wrong(power_in_stages(board)) == []
    points = check_inputs(board) + check_outputs(board)
    assert [p.point for p in points if not p.ok] == []
    assert len(points) == 11 + 7  # the feedback is checked with its contactor; Q8 is a spare
    assert {p.point: p.also for p in points if p.also} == {"Q1": ("K1_A",)}
    assert board.state("K1") == "open", "no force is left"


def test_the_meter_is_proved_before_and_after(board: Bench) -> None:
    whats = [c.what for c in prove_dead(board)]
    proofs = [i for i, what in enumerate(whats) if what == "meter on the proving unit"]
    volts = [i for i, what in enumerate(whats) if " to X1:PE" in what and "bond" not in what]
    assert len(proofs) == 2
    assert proofs[0] < min(volts) < max(volts) < proofs[1]


def test_a_live_board_is_not_called_dead(board: Bench) -> None:
    board.power(True)
    found = wrong(prove_dead(board))
    assert "X1:24V to X1:0V" in found
    assert "X1:24V to X1:0V, short test" in found, "ohms of a live board prove nothing, whatever they show"


def test_a_reversed_supply_is_not_called_dead() -> None:
    """Minus 24 V is as live as plus 24 V; against earth it shows nothing, for the bond is now on the other rail."""
    wiring = load_board("orchard").wiring
    crossed = wiring.moved(1, end="G1:24V", to="G1:0V").moved(2, end="G1:0V", to="G1:24V")
    bench = Bench("orchard", wiring=crossed)
    bench.power(True)
    assert float(bench.meter.peek("volts", "X1:24V", "X1:0V")) < -20
    assert "X1:24V to X1:0V" in wrong(prove_dead(bench))


def test_a_short_is_found_before_power(board: Bench) -> None:
    board.join("A1:Q1", "X1:0V")
    board.join("A1:QA+", "A1:Q1")
    assert wrong(prove_dead(board)) == ["A1:QA+ to X1:0V, short test"]


def test_a_floating_supply_is_seen_at_the_bond(board: Bench) -> None:
    board.lift("4")
    board.lift("3")
    assert wrong(prove_dead(board)) == ["0 V bond, X1:0V to X1:PE"]


def test_a_bond_with_a_bad_joint_is_no_bond(board: Bench) -> None:
    """Ten ohm are joined to the eye of a beeper, and too much for a fault's current (common practice, no source)."""
    board.joint("4", 10)
    assert wrong(prove_dead(board)) == ["0 V bond, X1:0V to X1:PE"]


def test_a_lifted_wire_is_one_dead_point_and_no_other(board: Bench) -> None:
    board.lift("102")
    power_in_stages(board)
    assert [p.point for p in check_inputs(board) if not p.ok] == ["I2"]


def test_two_wires_touching_show_as_a_cross_effect(board: Bench) -> None:
    board.join("A1:I2", "A1:I3")
    power_in_stages(board)
    assert {p.point: p.also for p in check_inputs(board) if p.also} == {"I2": ("S3",), "I3": ("S2",)}


def test_an_input_that_is_on_before_its_device_is_worked_is_found(board: Bench) -> None:
    """With the button pressed it stands right; only the look at rest tells."""
    board.join("A1:I2", "X1:24I")
    power_in_stages(board)
    (row,) = [p for p in check_inputs(board) if not p.ok]
    assert (row.point, row.indicator, row.bit) == ("I2", False, False)


def test_a_contactor_that_comes_in_by_itself_is_found_at_the_last_stage(board: Bench) -> None:
    """A bridge past the output: the coil is live as soon as the emergency stop lets its group on."""
    board.join("A1:QA+", "A1:Q1")
    assert wrong(power_in_stages(board)) == ["nothing moved: K1"]


def test_an_emergency_stop_that_does_not_cut_the_group_is_found_at_its_stage(board: Bench) -> None:
    board.join("S0:11", "S0:12")
    assert wrong(power_in_stages(board)) == ["F4 closed, emergency stop still pressed: A1:QA+"]


def test_a_coil_wire_off_is_a_dead_output_with_its_indicator_on(board: Bench) -> None:
    board.lift("211")
    power_in_stages(board)
    (q1,) = [p for p in check_outputs(board) if not p.ok]
    assert (q1.point, q1.indicator, q1.bit) == ("Q1", True, False)

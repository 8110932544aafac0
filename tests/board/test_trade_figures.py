"""Figures that an electrician gets with a meter, each worked by hand beside its check.

The hand figures leave out what the board itself adds (breaker, contacts, wires: below 1 ohm in all), so the
tolerances say how much that may cost.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from board_helpers import solved, with_type

from labkit.board import Board, Wire, electrify
from labkit.circuit import Resistor, Solver, meter

if TYPE_CHECKING:
    from board_helpers import Solve

TRUTH = Path(__file__).parent.parent / "truth"
RUN = {"A1.Q1": "on"}
COIL, LAMP, CHANNEL = 192.0, 1200.0, 5000.0


@pytest.mark.parametrize(("ohm", "by_hand"), [(10, 22.81), (20, 21.74), (30, 20.76), (50, 19.04)])
def test_a_bad_joint_takes_its_share_from_the_coil(solve: Solve, ohm: float, by_hand: float) -> None:
    """Divider 24 V x 192 / (192 + R): 21.7, 20.8 and 19.0 V at 20, 30 and 50 ohm. Ohm's law, worked by hand."""
    assert by_hand == pytest.approx(24 * COIL / (COIL + ohm), abs=0.01)
    bad = solve(RUN, joints={"211": ohm})
    assert bad.volts("K1:A1", "K1:A2") == pytest.approx(by_hand, abs=0.1)
    across = bad.volts("F3:96", "K1:A1")
    assert across == pytest.approx(24 - by_hand, abs=0.1), "the drop is across the joint, under load"
    # one current through both, so their volts are as their ohms, whatever the rest of the way takes; the wire with
    # the joint in it has another 14 milliohm
    assert bad.volts("K1:A1", "K1:A2") / across == pytest.approx(COIL / ohm, rel=2e-3)


def test_a_fifty_ohm_joint_holds_a_contactor_that_it_does_not_let_in(solve: Solve) -> None:
    coil = solve().electrical.coils[0]
    assert solve(RUN, joints={"211": 30}).volts(coil.a, coil.b) >= coil.pick_up_v, "marginal, but it pulls in"
    assert coil.drop_out_v < solve(RUN, joints={"211": 50}).volts(coil.a, coil.b) < coil.pick_up_v


@pytest.mark.parametrize(
    ("ohm", "by_hand", "grade"), [(1_000, 20.0, "on"), (3_000, 15.0, "undefined"), (5_000, 12.0, "undefined")]
)
def test_the_same_joint_in_a_type_1_input(solve: Solve, ohm: float, by_hand: float, grade: str) -> None:
    """Divider 24 V x 5k / (5k + R); IEC 61131-2 type 1 is on from 15 V (confirmed), so 3 kohm is the very edge."""
    assert by_hand == pytest.approx(24 * CHANNEL / (CHANNEL + ohm))
    bad = solve({"S2": "pressed"}, joints={"102": ohm}, input_type=1)
    assert bad.channel("I2")[0] == pytest.approx(by_hand, abs=0.03)
    assert bad.grade("I2") == grade


def test_an_open_wire_to_the_coil(board: Board, solve: Solve) -> None:
    """The voltage stands across the break: output 24 V, coil plus 0 V."""
    broken = solve(RUN, board.wiring.without(211))
    assert broken.volts("A1:Q1") > 23.8
    assert broken.volts("F3:96") > 23.8
    assert broken.volts("K1:A1", "K1:A2") == pytest.approx(0, abs=0.01)
    assert broken.volts("F3:96", "K1:A1") > 23.8
    # the digital meter's own 10 Mohm does not change what an electrician reads here
    solver = Solver(broken.electrical.circuit)
    assert meter.volts(solver, broken.solution.key, "K1:A1", "X1:0V") == pytest.approx(0, abs=0.01)


def test_an_open_coil_return(board: Board, solve: Solve) -> None:
    """Coil plus and coil minus both at 24 V, nothing across the coil."""
    broken = solve(RUN, board.wiring.without(221))
    assert broken.volts("K1:A1") > 23.8
    assert broken.volts("K1:A2") > 23.8
    assert broken.volts("K1:A1", "K1:A2") == pytest.approx(0, abs=0.01)


def test_an_open_input_common(board: Board, solve: Solve) -> None:
    """All of the group dead: terminal of a closed device 24 V, common 24 V, nothing between them."""
    broken = solve({"S2": "pressed"}, board.wiring.without(14))
    assert broken.volts("A1:I1") > 23.8
    assert broken.volts("A1:I2") > 23.8
    assert broken.volts("A1:IC1") > 23.5
    assert all(broken.grade(f"I{n}") == "off" for n in range(1, 7))
    assert broken.grade("I7") == "on", "the other group has its own common"


def floating_return(board: Board) -> object:
    """Coil and lamp share a return that is off."""
    return board.wiring.without(221, 222).with_wire(Wire("900", "K1:A2", "P1:X2"))


def test_an_open_return_makes_a_sneak_path_if_the_other_load_has_a_way_to_0_v(board: Board) -> None:
    """Lamp and coil in series: 24 V x 1200 / 1392 = 20.7 V on the lamp, 3.3 V on the coil.

    The way out is here a pinched wire from coil plus to 0 V.
    """
    out = Resistor("pinched", "K1:A1", "X1:0V", 0.05)
    sneak = solved(board, floating_return(board), {"A1.Q2": "on"}, extra=[out])
    assert sneak.volts("P1:X1", "P1:X2") == pytest.approx(24 * LAMP / (LAMP + COIL), abs=0.05)
    assert sneak.volts("K1:A2", "K1:A1") == pytest.approx(24 * COIL / (LAMP + COIL), abs=0.05)


def test_transistor_outputs_that_are_off_give_a_sneak_path_no_way_out(board: Board) -> None:
    """A plus-switching output only leaks: the lamp stays dark and the shared return rises to 24 V."""
    open_return = solved(board, floating_return(board), {"A1.Q2": "on"})
    assert open_return.volts("K1:A2") > 23.5
    assert open_return.volts("P1:X1", "P1:X2") < 0.1


def test_a_group_without_its_supply_has_no_voltage_on_any_output(solve: Solve) -> None:
    dead = solve({**{f"A1.Q{n}": "on" for n in range(1, 9)}, "F4": "off"})
    assert all(abs(dead.volts(f"A1:Q{n}")) < 0.1 for n in (1, 2, 3, 4))
    assert dead.volts("F4:1", "F4:2") > 23.5, "the open breaker has all of it"
    assert dead.volts("A1:Q5") > 23.8


def test_a_two_wire_sensor_leaks_into_the_undefined_band_and_a_bleeder_cures_it(board: Board) -> None:
    """1.5 mA x 5 kohm = 7.5 V with no target; 5 kohm across the input makes it 3.75 V, off for certain.

    The leakage is the most that IEC 60947-5-2 grants (from memory), the off limit of 5 V that of IEC 61131-2.
    """
    two = with_type(board, "B2", "inductive-2wire")
    wiring = two.wiring.without(109, 149).with_wire(Wire("900", "B2:BU", "A1:I9"))
    idle = solved(two, wiring)
    assert idle.channel("I9")[0] == pytest.approx(7.5, abs=0.02)
    assert idle.grade("I9") == "undefined"
    bleeder = Resistor("bleeder", "A1:I9", "A1:IC2", 5_000)
    assert solved(two, wiring, extra=[bleeder]).channel("I9")[0] == pytest.approx(3.75, abs=0.05)
    assert solved(two, wiring, extra=[bleeder]).grade("I9") == "off"
    seen = solved(two, wiring, {"B2": "on"})
    assert 5.0 <= 24 - seen.channel("I9")[0] <= 7.0, "its drop when on (common practice, no source: 5 to 7 V)"
    assert seen.grade("I9") == "on"


def test_an_npn_sensor_on_a_common_at_0_v_never_lights_and_at_24_v_does(board: Board) -> None:
    """Sensor type against input type: with the common on plus, current flows out of the terminal.

    PNP joins its load to plus, NPN to minus (teaching pages, confirmed); 24 V less the sensor's own 2 V is 22 V.
    """
    npn = with_type(board, "B1", "photo-eye-npn")
    assert solved(npn, None, {"B1": "on"}).grade("I8") == "off"
    plus = npn.wiring.without(15).with_wire(Wire("900", "A1:IC2", "X1:24S"))
    on, off = solved(npn, plus, {"B1": "on"}), solved(npn, plus)
    assert on.channel("I8")[0] == pytest.approx(-22, abs=0.1)
    assert (on.grade("I8"), off.grade("I8")) == ("on", "off")


def test_a_sensor_drop_of_two_volts_is_at_the_input(solve: Solve) -> None:
    assert solve({"B1": "on"}).channel("I8")[0] == pytest.approx(22, abs=0.1)


def test_a_dead_short_on_an_output_pulls_the_supply_into_its_limit(solve: Solve) -> None:
    short = Resistor("short", "A1:Q3", "X1:0V", 0.05)
    shorted = solve({"A1.Q3": "on"}, extra=[short])
    assert shorted.solution.source_state("G1") == "limit"
    assert shorted.solution.amps("G1") == pytest.approx(2.5)
    assert shorted.volts("A1:24V", "A1:0V") < 15.0, "the controller gives up"
    f4 = next(f for f in shorted.electrical.fuses if f.actor == "F4")
    assert shorted.solution.amps(f4.element) > 2 * f4.rated_a, "and F4 heats towards opening"


@pytest.mark.parametrize("bonded", [True, False])
def test_a_first_earth_fault_is_silent_only_if_the_supply_floats(board: Board, bonded: bool) -> None:
    """Earth fault on plus: bonded it is a short; floating it only moves the rails against earth."""
    wiring = board.wiring if bonded else board.wiring.without(4)
    fault = Resistor("earth fault", "X1:24I", "PE", 1.0)
    faulted = solved(board, wiring, {"S2": "pressed", "A1.Q1": "on"}, extra=[fault])
    if bonded:
        assert faulted.solution.source_state("G1") == "limit"
    else:
        assert faulted.grade("I2") == "on"
        assert faulted.volts("K1:A1", "K1:A2") > 23.5
        assert faulted.volts("X1:24I", "PE") == pytest.approx(0, abs=0.01)
        assert faulted.volts("X1:0V", "PE") == pytest.approx(-24, abs=0.1)
        clean = solved(board, wiring)
        assert -24 < clean.volts("X1:0V", "PE") < -1, "without a fault the rails drift between"


def test_a_reversed_suppression_diode_shorts_its_output(board: Board) -> None:
    diode = with_type(board, "V1", "suppressor-diode")
    right = solved(diode, None, RUN)
    assert right.volts("K1:A1", "K1:A2") > 23.5
    wrong = diode.wiring.without(231, 241)
    wrong = wrong.with_wire(Wire("231", "K1:A1", "V1:-"), Wire("241", "K1:A2", "V1:+"))
    blown = solved(diode, wrong, RUN)
    assert blown.volts("K1:A1", "K1:A2") == pytest.approx(0.9, abs=0.2)
    assert blown.solution.source_state("G1") == "limit"
    assert solved(diode, wrong).solution.amps("G1") < 0.3, "nothing shows until the output turns on"


@pytest.mark.parametrize(
    ("entry", "removed", "release_ms"),
    [
        ("suppressor-bidirectional", (), (12 + 2, 12 + 5)),  # contactor accessory table: 2 to 5 ms more
        ("suppressor-diode", (), (6 * 12, 10 * 12)),  # contactor handbooks, from memory: 6 to 10 times
        ("suppressor-diode", ("V1",), (10, 25)),  # small DC contactor without a diode, typical, from memory
    ],
)
def test_release_is_slower_by_what_is_across_the_coil(
    board: Board, entry: str, removed: tuple[str, ...], release_ms: tuple[float, float]
) -> None:
    coil = electrify(with_type(board, "V1", entry), removed=removed).coils[0]
    assert release_ms[0] <= coil.release_us / 1000 <= release_ms[1]


def test_a_loose_or_reversed_suppressor_does_not_slow_the_release(board: Board) -> None:
    diode = with_type(board, "V1", "suppressor-diode")
    wrong = diode.wiring.without(231, 241)
    assert electrify(diode, wrong).coils[0].suppression == "none"
    wrong = wrong.with_wire(Wire("231", "K1:A1", "V1:-"), Wire("241", "K1:A2", "V1:+"))
    assert electrify(diode, wrong).coils[0].suppression == "none"
    at_output = diode.wiring.moved(231, end="K1:A1", to="F3:95")
    assert electrify(diode, at_output).coils[0].suppression == "diode", "across the closed trip contact as well"


def drops() -> list[dict[str, str]]:
    with (TRUTH / "voltage_drop.csv").open(encoding="utf-8", newline="") as f:
        return list(csv.DictReader(f))


@pytest.mark.parametrize("row", drops(), ids=lambda r: r["case"])
def test_voltage_drop_of_a_long_run(board: Board, row: dict[str, str]) -> None:
    """voltage_drop.csv, worked from IEC 60228: both wires of the run, from terminal to terminal."""
    size = {"mm2": float(row["mm2"]), "m": float(row["one_way_m"]), "conductor_class": int(row["conductor_class"])}
    out, back = Wire("901", "X1:24V", "S2:13", **size), Wire("902", "S2:14", "X1:0V", **size)
    wiring = board.wiring.without(102, 122).with_wire(out, back)
    amps = float(row["amps"])
    load = Resistor("load", "S2:13", "S2:14", (float(row["supply_v"]) - float(row["drop_v"])) / amps)
    run = solved(board, wiring, extra=[load], at_c=float(row["at_c"]))
    flows = run.solution.amps("load")
    drop = run.volts("X1:24V", "S2:13") + run.volts("S2:14", "X1:0V")
    assert flows == pytest.approx(amps, rel=0.01)
    # two clamped joints of 2 milliohm at each wire come on top
    assert drop == pytest.approx(float(row["drop_v"]) * flows / amps + 8e-3 * flows, abs=2e-3)


@pytest.mark.parametrize("type_no", [1, 3])
def test_what_the_standard_grants_at_the_edges_of_each_type(board: Board, type_no: int) -> None:
    """IEC 61131-2, input_thresholds.csv: volts confirmed for both types, the lower current limits from memory."""
    with (TRUTH / "input_thresholds.csv").open(encoding="utf-8", newline="") as f:
        row = next(r for r in csv.DictReader(f) if int(r["input_type"]) == type_no)
    low, high, some, enough = (float(row[key]) for key in ("off_max_v", "on_min_v", "transition_min_a", "on_min_a"))
    channel = electrify(board, input_type=type_no).inputs[0]
    assert channel.type_no == type_no
    asked = {
        (low, 0.010): "off",  # up to the off limit whatever flows
        (low + 0.01, some): "undefined",
        (high - 0.01, some - 1e-5): "off",  # too little flows: off right up to the on limit
        (high - 0.01, 0.010): "undefined",
        (high, enough): "on",
        (high, enough - 1e-5): "undefined",
        (12.0, 0.005): "on" if type_no == 3 else "undefined",  # what sets the two types apart
    }
    assert {edge: channel.grade(*edge) for edge in asked} == asked


def test_thresholds_of_both_input_types_by_turning_the_voltage_up_and_down(board: Board) -> None:
    """IEC 61131-2: a channel must be off up to its off limit and on from its on limit; between, hysteresis."""
    with (TRUTH / "input_thresholds.csv").open(encoding="utf-8", newline="") as f:
        truth = {int(r["input_type"]): r for r in csv.DictReader(f)}
    for type_no in (1, 3):
        channel = electrify(board, input_type=type_no).inputs[0]
        low, high = float(truth[type_no]["off_max_v"]), float(truth[type_no]["on_min_v"])
        state, went_on, went_off = False, None, None
        for tenths in [*range(301), *range(300, -1, -1)]:
            now = channel.reads(tenths / 10, state)
            if now and not state:
                went_on = tenths / 10
            if state and not now:
                went_off = tenths / 10
            state = now
        assert went_on is not None
        assert went_off is not None
        assert low < went_off < went_on < high
        assert channel.reads(-24.0) == channel.bidirectional


def test_a_resistor_that_stands_in_for_a_bad_joint_has_to_be_rated(board: Board) -> None:
    """24 V over 192 + 33 ohm: 0.107 A, 0.38 W in the resistor: too much for a quarter watt, as the key says."""
    without = board.wiring.without(211)
    loaded = solved(board, without, RUN, extra=[Resistor("joint", "F3:96", "K1:A1", 33)])
    assert loaded.volts("F3:96", "K1:A1") ** 2 / 33 == pytest.approx(0.38, abs=0.02)
    assert loaded.volts("K1:A1", "K1:A2") == pytest.approx(24 * 192 / (192 + 33), abs=0.15)

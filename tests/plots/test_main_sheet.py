"""The main circuit's sheet: its parts are those that the network finds, its bonds those that a current finds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labkit.board import Board, Wire, Wiring, check_wiring, electrify, load_board, parts_catalogue
from labkit.plots._power_paths import Mains, bonding
from labkit.plots.bench_sheets import papers_pdf, papers_svg
from labkit.plots.main_sheet import CAUTION, main_circuit_sheet
from labkit.plots.shapes import Arc, Sheet

BOARD = load_board("orchard")
W = BOARD.wiring


def words(sheet: Sheet) -> list[str]:
    return [text.text for text in sheet.texts()]


def notes(sheet: Sheet) -> str:
    return " ".join(text.text for text in sheet.texts("label") if text.x == 16)


def test_supply_contactor_overload_and_motor_stand_on_the_lines_that_the_wiring_makes() -> None:
    (branch,) = Mains(BOARD, W).branches()
    (motor,) = electrify(BOARD).motors  # found by the network's own walk
    assert (branch.part.designation, *branch.parts) == (motor.part, motor.overload, motor.contactor)
    sheet = main_circuit_sheet(BOARD)
    names = [text.text for text in sheet.texts("name") if text.size == 11]
    assert sorted(names) == ["A1", "F3", "G1", "G1", "K1", "M1"]
    for no in ("301", "302", "303", "311", "312", "313", "320", "3", "4", "13"):
        assert no in words(sheet), f"wire {no}"
    for number in ("1/L1", "3/L2", "5/L3", "2/T1", "4/T2", "6/T3"):  # IEC 60947-4-1 numbers, of both devices
        assert words(sheet).count(number) == 2
    assert {"U1", "V1", "W1", "M", "3 ~", "M1:PE", "X1:PE"} <= set(words(sheet))


def test_a_main_contact_has_the_half_circle_of_a_contactor() -> None:
    """IEC 60617: contactor, main make contact (from memory)."""
    lines = [g for name, g in main_circuit_sheet(BOARD).groups().items() if name.startswith("line:")]
    assert len(lines) == 3
    for line in lines:
        halves = [s for s in line.shapes if isinstance(s, Arc) and not s.whole]
        assert [(h.start, h.end) for h in halves] == [(90, 270)]


def test_what_the_board_does_not_hold_is_said_and_the_caution_stands_on_the_sheet() -> None:
    sheet = main_circuit_sheet(BOARD)
    assert "mains side: not in this board's data" in words(sheet)
    assert "Not in this board's data: the mains supply, its isolating switch, short-circuit protection" in notes(sheet)
    assert "all that lies before K1:1/L1, K1:3/L2, K1:5/L3" in notes(sheet)
    assert CAUTION in notes(sheet)
    assert "Local codes" in CAUTION
    assert "licensed practitioner" in CAUTION
    assert CAUTION in sheet.desc


@pytest.mark.parametrize(
    ("gone", "said"),
    [
        (("302",), "Not wired: F3:3/L2 to K1:4/T2."),
        (("311", "313"), "Not wired: M1:U1 to F3:2/T1; M1:W1 to F3:6/T3."),
    ],
)
def test_a_broken_line_is_drawn_on_both_sides_and_said(gone: tuple[str, ...], said: str) -> None:
    sheet = main_circuit_sheet(BOARD, W.without(*gone))
    assert said in notes(sheet)
    assert {text.text for text in sheet.texts("name")} >= {"K1", "F3", "M1"}
    assert not set(gone) & set(words(sheet))
    assert sheet.check() == []


def test_lines_that_are_crossed_are_told_by_their_numbers() -> None:
    crossed = W.moved("301", end="F3:1/L1", to="F3:3/L2").moved("302", end="F3:3/L2", to="F3:1/L1")
    about = main_circuit_sheet(BOARD, crossed).groups()["line:M1:U1"].about
    assert about == "M1:U1, wire 311, F3 heater 2/T1-1/L1, wire 302, K1 pole 4/T2-3/L2"


@pytest.mark.parametrize("gone", [(), ("320",), ("3",), ("13",), ("3", "13", "320", "4"), ("4",)])
def test_each_bond_is_one_that_a_current_finds(gone: tuple[str, ...]) -> None:
    wiring = W.without(*gone)
    open_ones = {bond.terminal for bond in bonding(BOARD, wiring) if bond.earth and not bond.bar}
    found = {f.terminal for f in check_wiring(BOARD, wiring) if f.code == "not-bonded"}
    # the bond of 0 V is a second way for the supply's own earth only on paper: it has none through its terminals
    assert open_ones == found
    sheet = main_circuit_sheet(BOARD, wiring)
    assert words(sheet).count("not bonded") == len(open_ones)
    assert ("0 V bond" in words(sheet)) == ("4" not in gone)
    assert ("No wire joins G1:0V to the protective conductor by itself." in notes(sheet)) == ("4" in gone)
    assert sheet.check() == []


def test_an_earth_that_runs_over_another_part_and_a_load_on_it_are_drawn_so() -> None:
    odd = W.moved("320", end="X1:PE", to="A1:PE").moved("222", end="X1:0V", to="X1:PE")
    sheet = main_circuit_sheet(BOARD, odd)
    assert sheet.groups()["bond:M1:PE"].about == "M1:PE, wire 320, A1:PE, wire 13, X1:PE"
    assert sheet.groups()["bond:P1:X2"].about == "P1:X2, wire 222, X1:PE"
    assert "joined to PE" in words(sheet)
    assert sheet.check() == []


def with_breakers() -> Board:
    """The board with a breaker in each line and a strip before them, as somebody's own board file may have it."""
    strip = replace(BOARD.part("X1"), designation="X2")
    board = BOARD.with_part(strip)
    breaker = parts_catalogue()["breaker-2a"]
    wires = []
    for n, (pole, bar) in enumerate((("1/L1", "24V"), ("3/L2", "24I"), ("5/L3", "24S"))):
        name = f"F{11 + n}"
        board = board.with_part(replace(BOARD.part("F1"), designation=name, entry_name="breaker-2a", entry=breaker))
        wires += [
            Wire(f"33{n}", f"{name}:2", f"K1:{pole}", "BK", 1.5),
            Wire(f"34{n}", f"X2:{bar}", f"{name}:1", "BK", 1.5),
        ]
    return replace(board, wiring=board.wiring.with_wire(*wires))


def test_breakers_in_the_lines_and_the_strip_before_them_are_drawn_and_the_sheet_says_that_it_ends_there() -> None:
    sheet = main_circuit_sheet(with_breakers())
    assert {"F11", "F12", "F13", "X2:24V", "X2:24I", "X2:24S"} <= set(words(sheet))
    assert "what feeds this is not in the board's data" in words(sheet)
    assert "short-circuit protection" not in notes(sheet)
    assert "before X2:24V, X2:24I, X2:24S" in notes(sheet)
    assert sheet.check() == []


def test_a_contactor_without_a_motor_is_drawn_with_its_poles() -> None:
    alone = replace(
        BOARD, parts={n: p for n, p in BOARD.parts.items() if n in {"K1", "X1"}}, points={}, wiring=Wiring()
    )
    sheet = main_circuit_sheet(alone)
    assert words(sheet).count("no motor") == 3
    assert sheet.check() == []


def test_it_is_one_of_the_papers_of_every_board() -> None:
    press = load_board("orchard-press")
    assert "main-circuit.svg" in papers_svg(BOARD)
    assert ">Protective earth</text>" in papers_svg(press)["main-circuit.svg"], "no motor there"
    small = replace(BOARD, parts={n: p for n, p in BOARD.parts.items() if n in {"K1", "F3", "M1", "X1"}}, points={})
    wires = Wiring(tuple(w for w in W if {w.a[:2], w.b[:2]} <= {"K1", "F3", "M1", "X1"}))
    assert list(papers_svg(small, wires)) == ["layout.svg", "main-circuit.svg"]
    assert papers_pdf(small, wires).startswith(b"%PDF")

"""The papers agree with the board file and with each other, and print the same each time."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from labkit.base import LabkitError
from labkit.bench import Bench, PowerGate
from labkit.board import Board, Wire, Wiring, load_board, save_wiring
from labkit.cli import commands
from labkit.faults import FaultCard, Measured, SymptomCard, fault
from labkit.plots.bench_sheets import bench_papers, papers_csv, papers_pdf, papers_svg
from labkit.plots.fault_sheets import fault_card_page, log_paper, symptom_card_page, write_cards

CARD = FaultCard(
    student="R. Vale",
    fault=fault(load_board("orchard"), "wire-102-open"),
    symptom=SymptomCard(("The wash pump does not start.",), "It worked yesterday."),
    guess="The button is broken.",
    measured=(Measured("S2 held: volts A1:I2 to X1:0V", "0.0 mV", "23.97 V", 3),),
    suspects=("wire-102-open", "wire-122-open", "S2:13-14-open", "I2-dead"),
    minutes=2.5,
)


@pytest.fixture(scope="module")
def board() -> Board:
    return load_board("orchard")


def paper(board: Board, name: str):
    return next(p for p in bench_papers(board) if p.name == name)


def test_every_row_fits_its_headings_and_widths(board: Board) -> None:
    for page in bench_papers(board):
        assert len(page.headings) == len(page.widths)
        assert page.rows
        assert {len(row) for row in page.rows} == {len(page.headings)}


def test_every_wire_stands_at_both_its_ends_in_the_terminal_plan(board: Board) -> None:
    plan = {row[0]: row[3].split(", ") for row in paper(board, "terminal-plan").rows}
    for wire in board.wiring.wires:
        assert f"{wire.no} to {wire.b}" in plan[wire.a]
        assert f"{wire.no} to {wire.a}" in plan[wire.b]


def test_the_terminal_plan_counts_clamps_of_every_bar_and_tells_of_too_many(board: Board) -> None:
    plan = {row[0]: row[4] for row in paper(board, "terminal-plan").rows}
    for bar in board.part("X1").entry.bars:
        assert plan[f"X1:{bar.name}"] == f"{len(board.wiring.at(f'X1:{bar.name}'))} of {bar.clamps}"
    bare = {row[0]: row[4] for p in bench_papers(board, Wiring()) if p.name == "terminal-plan" for row in p.rows}
    assert bare["X1:24S"] == "0 of 8", "a bar with no wire is there too"
    over = board.wiring.with_wire(*(Wire(str(n), "X1:24S", "X1:PE") for n in range(900, 906)))
    rows = next(p for p in bench_papers(board, over) if p.name == "terminal-plan").rows
    assert {row[0]: row[4] for row in rows if "too many" in row[4]} == {
        "X1:24S": "9 of 8: too many",
        "X1:PE": "10 of 8: too many",
    }


def test_each_wire_has_a_label_for_both_ends(board: Board) -> None:
    labels = paper(board, "wire-labels").rows
    wanted = {(w.no, w.a, w.b) for w in board.wiring} | {(w.no, w.b, w.a) for w in board.wiring}
    assert set(labels) == wanted
    assert len(labels) == 2 * len(board.wiring)


def test_the_checkout_sheets_have_every_point_once(board: Board) -> None:
    points = [row[0] for name in ("checkout-inputs", "checkout-outputs") for row in paper(board, name).rows]
    assert sorted(points) == sorted(board.points)


def test_the_meter_is_proved_before_and_after_on_the_pre_power_sheet(board: Board) -> None:
    rows = paper(board, "pre-power").rows
    first, last = (i for i, row in enumerate(rows) if row[3] == "unit+")
    between = rows[first + 1 : last]
    assert between
    assert {row[2] for row in between} == {"volts"}
    assert {row[4] for row in between} == {"X1:0V", "X1:PE"}


def test_the_pdf_is_the_same_bytes_each_time(board: Board) -> None:
    small = replace(board, parts={name: board.parts[name] for name in ("G1", "F1", "X1")}, points={})
    wires = Wiring(tuple(w for w in board.wiring if {w.a[:2], w.b[:2]} <= {"G1", "F1", "X1"}))
    first = papers_pdf(small, wires)
    assert first.startswith(b"%PDF")
    assert first == papers_pdf(small, wires)


def test_the_command_writes_a_pdf_and_a_csv_for_each_table(tmp_path: Path, board: Board) -> None:
    mine = save_wiring(board.wiring.without("103"), tmp_path / "mine.csv")
    out = tmp_path / "out"
    result = CliRunner().invoke(commands, ["sheets", "orchard", "--out", str(out), "--wiring", str(mine), "--svg"])
    assert result.exit_code == 0, result.output
    names = {p.name for p in out.iterdir()}
    assert names == {"papers.pdf", *(f"{p.name}.csv" for p in bench_papers(board)), *papers_svg(board)}
    with (out / "wire-list.csv").open() as file:
        assert {row["no"] for row in csv.DictReader(file)} == {w.no for w in board.wiring} - {"103"}


def test_the_checks_before_power_are_the_rows_of_the_gate(board: Board) -> None:
    table = csv.DictReader(io.StringIO(papers_csv(board)["pre-power.csv"]))
    printed = [(row["mode"], row["red"], row["black"]) for row in table]
    gate = [(row.mode, row.red, row.black) for row in PowerGate(Bench(board)).rows]
    assert [row for row in printed if row[0] != "hand"] == gate


def test_every_pole_of_every_block_stands_in_the_plan_with_its_coding(board: Board) -> None:
    rows = paper(board, "terminal-blocks").rows
    assert [row[2] for row in rows] == [pole for plug in board.plugs.values() for pole in plug.poles]
    pins = {(row[0], int(row[1])) for row in rows if row[3]}
    assert pins == {(plug.id, n) for plug in board.plugs.values() for n in plug.coded}


def test_drawings_come_as_svg(board: Board) -> None:
    made = papers_svg(board)
    assert set(made) == {
        f"{name}.svg"
        for name in ("layout", "supply", "main-circuit", "inputs-1", "inputs-2", "outputs-1", "outputs-2", "control-K1")
    }
    assert all(text.startswith("<svg") for text in made.values())


def test_a_bare_board_has_drawings_and_tables_that_say_what_is_not_wired(board: Board) -> None:
    drawn = papers_svg(board, Wiring())
    assert drawn["control-K1.svg"].count(">not wired: ") == 2 * 4
    assert drawn["inputs-1.svg"].count(">not wired: ") == 2 * 6
    assert papers_csv(board, Wiring())["wire-list.csv"].count("\n") == 1


def test_cards_of_a_hunt_are_written_for_students_and_instructor(tmp_path: Path) -> None:
    made = write_cards([CARD], tmp_path, "x")
    assert [path.name for path in made] == ["fault-reports.pdf", "fault-cards.pdf"]
    assert all(path.read_bytes().startswith(b"%PDF") for path in made)


def words_on(figure) -> str:
    return "\n".join(text.get_text() for text in figure.texts)


def test_the_students_page_does_not_tell_what_is_wrong() -> None:
    student, instructor = words_on(symptom_card_page("x", CARD)), words_on(fault_card_page("x", CARD))
    assert "The wash pump does not start." in student
    for secret in ("wire 102", "wire-102", "F01", "broken", "23.97"):
        assert secret not in student
    for told in ("wire 102: open", "The button is broken.", "0.0 mV with the fault", "3 of 3 other", "2.5 minutes"):
        assert told in instructor


def test_the_log_says_whose_it_is() -> None:
    assert log_paper(CARD.student).title == f"Log of the search: {CARD.student}"


def test_a_class_list_is_read_and_what_is_wrong_with_it_is_told_before_anything_is_written(tmp_path: Path) -> None:
    out, names = tmp_path / "out", tmp_path / "names.txt"
    names.write_text("\n  \n")
    empty = CliRunner().invoke(commands, ["sheets", "orchard", "--out", str(out), "--class", str(names)])
    assert isinstance(empty.exception, LabkitError)
    assert empty.exception.what == "there is no name in names.txt"
    mine = save_wiring(Wiring(), tmp_path / "mine.csv")
    both = CliRunner().invoke(
        commands, ["sheets", "orchard", "--out", str(out), "--hunt", "R. Vale", "--wiring", str(mine)]
    )
    assert isinstance(both.exception, LabkitError)
    assert "not on another wiring" in both.exception.what
    press = CliRunner().invoke(commands, ["sheets", "orchard-press", "--out", str(out), "--hunt", "R. Vale"])
    assert isinstance(press.exception, LabkitError)
    assert press.exception.what.startswith("no hunt can be drawn on this board")
    assert not out.exists()

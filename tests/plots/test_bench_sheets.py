"""The papers agree with the board file and with each other, and print the same each time."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from click.testing import CliRunner

from labkit.board import Board, load_board
from labkit.cli import commands
from labkit.plots.bench_sheets import bench_papers, papers_pdf, write_papers


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
    plan = {row[0]: row[2].split() for row in paper(board, "terminal-plan").rows}
    for wire in board.wiring.wires:
        assert wire.no in plan[wire.a]
        assert wire.no in plan[wire.b]


def test_the_checkout_sheets_have_every_point_once(board: Board) -> None:
    points = [row[0] for name in ("checkout-inputs", "checkout-outputs") for row in paper(board, name).rows]
    assert sorted(points) == sorted(board.points)


def test_the_meter_is_proved_before_and_after_on_the_pre_power_sheet(board: Board) -> None:
    checks = [row[1] for row in paper(board, "pre-power").rows]
    first, last = (i for i, what in enumerate(checks) if "proving unit" in what)
    between = checks[first + 1 : last]
    assert between
    assert all(" to X1:" in what for what in between)


def test_the_pdf_is_the_same_bytes_each_time(board: Board) -> None:
    first = papers_pdf(board)
    assert first.startswith(b"%PDF")
    assert first == papers_pdf(board)


def test_the_command_writes_a_pdf_and_a_csv_for_each_table(tmp_path: Path, board: Board) -> None:
    result = CliRunner().invoke(commands, ["sheets", "orchard", "--out", str(tmp_path)])
    assert result.exit_code == 0, result.output
    names = sorted(p.name for p in tmp_path.iterdir())
    assert names == sorted(["papers.pdf", *(f"{p.name}.csv" for p in bench_papers(board))])
    with (tmp_path / "wire-list.csv").open() as file:
        assert len(list(csv.DictReader(file))) == len(board.wiring.wires)


def test_csv_files_follow_a_changed_wiring(tmp_path: Path, board: Board) -> None:
    write_papers(board, tmp_path, board.wiring.without("101"))
    with (tmp_path / "wire-list.csv").open() as file:
        assert "101" not in {row["no"] for row in csv.DictReader(file)}

"""The page of the measured ratios names each row that can be printed, with the same floor and aim."""

from __future__ import annotations

import pytest

from labkit.base import data_path
from labkit.cli._speed import measure
from labkit.notebook._speed import BOUNDS


@pytest.mark.slow
def test_the_page_has_every_row_with_its_floor_and_aim() -> None:
    page = (data_path("datasets").parent / "docs" / "reference" / "speed.md").read_text("utf-8")
    printed = {}
    for line in page.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("| `"):
            printed[cells[0].strip("`")] = tuple(float(cell.replace(",", "")) for cell in cells[-2:])
    ratios = {row["key"]: (row["floor"], row["aim"]) for row in measure(quick=True)}
    assert printed == ratios | BOUNDS

"""The page of the measured ratios names each row that can be printed, with the same floor and aim."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from labkit.base import data_path
from labkit.cli import _speed
from labkit.notebook._speed import BOUNDS


def test_the_page_has_every_row_with_its_floor_and_aim() -> None:
    page = (data_path("datasets").parent / "docs" / "reference" / "speed.md").read_text("utf-8")
    printed = {}
    for line in page.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("| `"):
            printed[cells[0].strip("`")] = tuple(float(cell.replace(",", "")) for cell in cells[-2:])
    assert printed == _speed.bounds() | BOUNDS


@pytest.mark.parametrize(
    "rows",
    [
        [],
        [{"key": "a", "floor": 1.0, "aim": 2.0}, {"key": "b", "floor": 1.0, "aim": 2.0}],
        [{"key": "a", "floor": 1.0, "aim": 3.0}],
    ],
    ids=["too few", "too many", "another aim"],
)
def test_rows_that_are_not_the_listed_ones_are_not_printed(
    rows: list[dict[str, Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """So `labkit speed`, which measures everything, holds the page as well."""
    good = [{"key": "a", "floor": 1.0, "aim": 2.0}]
    room = SimpleNamespace(BOUNDS={"a": (1.0, 2.0)}, rows=lambda quick: good)
    monkeypatch.setattr(_speed, "_MEASURED_IN", ("room",))
    monkeypatch.setattr(
        _speed, "_import_rows", lambda quick: [{"key": k, "floor": f, "aim": a} for k, (f, a) in _speed._IMPORT.items()]
    )
    monkeypatch.setattr(_speed.importlib, "import_module", lambda name: room)
    assert _speed.measure(quick=True)[0] == good[0]
    room.rows = lambda quick: rows
    with pytest.raises(RuntimeError, match="bounds"):
        _speed.measure(quick=True)

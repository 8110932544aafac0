"""The how-to page about hunts runs as written."""

from __future__ import annotations

import re
from typing import Any

import pytest

from labkit.base import data_path, read_text


@pytest.mark.slow
def test_the_page_runs_as_written(capsys: pytest.CaptureFixture[str]) -> None:
    page = read_text(data_path("docs", "how-to", "find-a-fault.md"))
    blocks = re.findall(r"```python\n(.*?)```", page, flags=re.S)
    names: dict[str, Any] = {}
    exec("\n".join(blocks), names)
    said = capsys.readouterr().out
    assert "**Operator:**" in said
    assert "# Fault card: R. Vale" in said
    got = {line.about: line.points for line in names["marking"].lines}
    assert got["safety"] == 0
    assert got["tested again"] == 2
    assert names["hunt"].truth in names["left"]


def test_the_thresholds_of_the_page_are_computed() -> None:
    from labkit.faults import earth_thresholds

    page = read_text(data_path("docs", "how-to", "find-a-fault.md"))
    ohms = [round(t.ohm) for t in earth_thresholds() if (t.contacts, t.bonded) == ("0 V", True)]
    assert all(f"{ohm} ohm" in page for ohm in ohms)
    assert len(ohms) == 2

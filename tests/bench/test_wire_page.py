"""The page about wiring runs as written, and lists every finding that the checks can make."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs/how-to/wire-a-board.md"


def test_the_page_runs_as_written() -> None:
    result = doctest.testfile(str(PAGE), module_relative=False)
    assert result.attempted > 15
    assert result.failed == 0


def test_every_finding_is_on_the_page() -> None:
    source = "\n".join(path.read_text("utf-8") for path in sorted((ROOT / "labkit/board").glob("*.py")))
    codes = set(re.findall(r'Finding\(\s*"([a-z0-9-]+)"', source)) | {"point-stays-0", "point-stays-1"}
    table = set(re.findall(r"`([a-z0-9-]+)`", PAGE.read_text("utf-8").split("| code |")[1].split("\n\n")[0]))
    assert codes == table

"""The docs' examples run, and no link leads nowhere."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
LINK = re.compile(r"!?\[[^\]]*\]\(([^)#\s]+)")


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    targets = [t for t in LINK.findall(page.read_text("utf-8")) if "://" not in t]
    assert [t for t in targets if not (page.parent / t).exists()] == []


def test_every_page_can_be_reached_from_the_index() -> None:
    index = (ROOT / "docs" / "index.md").read_text("utf-8")
    pages = [
        str(p.relative_to(ROOT / "docs")) for p in PAGES if p.is_relative_to(ROOT / "docs") and p.name != "index.md"
    ]
    assert [page for page in pages if page not in index] == []


def test_the_tutorial_runs_as_written() -> None:
    result = doctest.testfile(str(ROOT / "docs" / "tutorials" / "first-bench.md"), module_relative=False)
    assert result.attempted > 15
    assert result.failed == 0


def test_the_readme_example_runs() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    (example,) = re.findall(r"```python\n(.*?)```", text, flags=re.S)
    names: dict[str, object] = {}
    exec(compile(example, "README.md", "exec"), names)
    assert names["bench"].bit("K1") is True  # type: ignore[attr-defined]

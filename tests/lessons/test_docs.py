"""The reference page names every key, step and kind that the code knows."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from labkit.base import did_you_mean
from labkit.lessons import _document
from labkit.lessons._steps import STEP_FORMS

PAGE = (Path(__file__).parents[2] / "docs" / "reference" / "lesson-file.md").read_text(encoding="utf-8")
NAMED = set(re.findall(r"`([^`]+)`", PAGE))
KEYS = sorted(
    {
        info.alias or key
        for record in vars(_document).values()
        if isinstance(record, type) and issubclass(record, _document.Record)
        for key, info in record.model_fields.items()
    }
    - {
        "tasks",
        "runs",
        "checks",
        "roles",
        "programs",
        "states",
        "outcomes",
        "searches",
        "wrong",
        "expect",
        "file",
        "short",
    }
)


@pytest.mark.parametrize("key", KEYS)
def test_every_key_stands_in_the_page(key: str) -> None:
    assert key in NAMED or any(re.search(rf"\b{key} =", text) for text in NAMED), did_you_mean(key, NAMED)


@pytest.mark.parametrize("example", [form for forms in STEP_FORMS.values() for form in forms.split(" | ") if form])
def test_every_step_stands_in_the_page(example: str) -> None:
    assert example in NAMED


@pytest.mark.parametrize("section", ["roles", "programs", "states", "runs", "checks", "outcomes", "tasks", "wrong"])
def test_every_table_has_its_section(section: str) -> None:
    assert re.search(rf"^## .*\[{section}\]", PAGE, re.MULTILINE)

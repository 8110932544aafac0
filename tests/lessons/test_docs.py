"""The reference page names every key, step and kind that the code knows."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from labkit.base import did_you_mean
from labkit.lessons import _document, load_lesson, mark, variant, wrong_answer
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


HEAD = """schema = 1
id = "my-lesson"
edition = 1
title = "From the page"
about = "The example of the page."
cautions = ["A simulated bench cannot hurt you; a real one can."]
board = "orchard"
family = "alder"
"""


def test_the_example_of_the_page_is_a_lesson_that_works(tmp_path: Path) -> None:
    page = (Path(__file__).parents[2] / "docs" / "how-to" / "build-a-lesson.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```toml\n(.*?)```", page, flags=re.DOTALL)
    (session,) = re.findall(r"```python\n(.*?)```", page, flags=re.DOTALL)
    path = tmp_path / "my-lesson.toml"
    path.write_text(HEAD + example, encoding="utf-8")
    source = load_lesson(path)
    mine = variant(source, "R. Vale")
    (wrong,) = source.file.wrong
    line = mark(source, mine, {wrong.task: wrong_answer(source, mine, wrong)}).line(wrong.fails)
    assert line.points == 0
    assert wrong.says in line.reason
    names: dict[str, Any] = {}
    exec(session.replace('"my-lesson.toml"', repr(str(path))), names)
    assert names["work"].check("along").right

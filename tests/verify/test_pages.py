"""The pages on proof say what the code does: each example is run, what it prints stands below it."""

from __future__ import annotations

import contextlib
import io
import re
from pathlib import Path

import labkit.verify

DOCS = Path(__file__).parents[2] / "docs"


def test_the_how_to_runs_as_written():
    page = (DOCS / "how-to" / "prove-a-program.md").read_text("utf-8")
    blocks = re.findall(r"```(python|text)\n(.*?)```", page, flags=re.S)
    names: dict[str, object] = {}
    compared = 0
    for number, (kind, code) in enumerate(blocks):
        if kind != "python":
            continue
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(compile(code, "prove-a-program.md", "exec"), names)
        if printed.getvalue():
            assert blocks[number + 1] == ("text", printed.getvalue())
            compared += 1
    assert compared == 3
    assert "broken here" in names["svg"]


def test_every_name_on_the_page_is_at_the_door():
    page = (DOCS / "explanation" / "proof.md").read_text("utf-8")
    called = set(re.findall(r"`(\w+)\(", page)) - {"draw_story", "ms"}
    assert {"compare_families", "coverage", "failure_effects", "fault_pairs", "same_behaviour"} <= called
    assert [name for name in called if not hasattr(labkit.verify, name)] == []

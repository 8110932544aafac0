"""The pages about programs hold what the code says."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import pytest

import labkit.logic
from labkit.logic import BLOCKS, SLIPS, print_ladder, print_st, read_ladder, read_st
from labkit.logic.messages import messages_page

PAGES = Path(__file__).parents[2] / "docs" / "reference"
MODULES = [f"labkit.logic.{m.name}" for m in pkgutil.iter_modules(labkit.logic.__path__)]


def test_the_messages_page_is_the_table():
    page = (PAGES / "messages.md").read_text(encoding="utf-8")
    assert page.startswith(messages_page()), "run: python -m labkit.cli._messages > docs/reference/messages.md"
    assert all(f"## {code}\n" in page for code in SLIPS)


def examples(language):
    page = (PAGES / "ladder-text.md").read_text(encoding="utf-8")
    return re.findall(rf"```{language}\n(.*?)```", page, re.DOTALL)


@pytest.mark.parametrize("text", examples("ladder"))
def test_each_ladder_of_the_page_reads_and_comes_back(text):
    program = read_ladder(text)
    assert read_ladder(print_ladder(program)).rungs == program.rungs
    assert program.rungs[0].title or program.declarations


@pytest.mark.parametrize("text", examples("st"))
def test_each_statement_of_the_page_reads_and_comes_back(text):
    program = read_st(text)
    assert read_st(print_st(program)).rungs == program.rungs


def test_the_page_has_its_examples():
    assert (len(examples("ladder")), len(examples("st"))) == (5, 2)
    first, statement = read_ladder(examples("ladder")[0]), read_st(examples("st")[0])
    assert first.rungs == statement.rungs


def test_the_table_of_blocks_is_the_code_s():
    page = (PAGES / "ladder-text.md").read_text(encoding="utf-8")
    for kind in BLOCKS.values():
        outputs = ", ".join([*kind.outputs, *([kind.value] if kind.value else [])])
        row = f"| {kind.name} | {', '.join(kind.inputs)} | {kind.preset} | {outputs} | {kind.does} |"
        assert re.sub(" +", " ", row) in page, row


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_run(name):
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0


def test_every_public_name_has_a_docstring():
    for name in labkit.logic.__all__:
        thing = getattr(labkit.logic, name)
        if inspect.isclass(thing) or inspect.isfunction(thing):
            assert inspect.getdoc(thing), name
    assert sorted(set(labkit.logic.__all__)) == sorted(labkit.logic.__all__)

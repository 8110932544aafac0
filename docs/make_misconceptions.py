"""Print ``docs/reference/misconceptions.md`` from the programs in ``tests/truth/misconceptions`` and their proofs.

Run from the top of the repository: ``python docs/make_misconceptions.py``.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
PAGE = HERE / "reference" / "misconceptions.md"

HEAD = """\
# Misconceptions, each with a program that shows it

What students believe, what they then see on the bench, and the requirement that catches it. Each wrong program is
proved wrong in every way that the board can be worked (`labkit.verify`): the story is a shortest one, and it was
done on a bench to see that it is so. Each right program is proved to hold. Put a requirement to your students'
programs with `labkit prove PROGRAM --require "..."`, see [prove a program](../how-to/prove-a-program.md).

In a story one scan is 10 ms, and what is named before `then` is done just before the scan. This page is printed from
`tests/truth/misconceptions` by `python docs/make_misconceptions.py`.

"""

TAIL = """\
## Shown another way

| | belief | why no proof, and where it is shown |
|---|---|---|
| M25 | A pulse shorter than a scan is surely seen. | In the model a press lasts a scan or more. \
On the bench: of twenty presses of 5 ms some are lost, of presses longer than scan and filter together none \
(`tests/verify/test_misconceptions.py`). |
| M33 | A timer in a section that is skipped is reset. | The two languages here have no jump: nothing can be skipped. |
"""


def _data() -> Any:
    """The reader of the files lies with the tests."""
    path = HERE.parent / "tests" / "verify" / "circuits.py"
    spec = importlib.util.spec_from_file_location("verify_circuits", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def _code(text: str) -> str:
    return f"```text\n{text.strip()}\n```\n"


def _wrong(one: Any, form: Any) -> list[str]:
    from labkit.logic import findings, read_program

    said = [f"Wrong: {form.says}.\n", _code(form.program)]
    if form.faults or form.join:
        bench = [f"{a} and {b} joined" for a, b in form.join] + [f"fault {name}" for name in form.faults]
        said.append(f"On the board: {', '.join(bench)}.\n")
    for found in findings(read_program(form.program)):
        if found.code == form.finding:
            said.append(f"Seen without running it: {found.what}.\n")
    for asked in one.asks(form):
        if asked.id in form.fails:
            story = one.verdict(form, asked).story
            said += [f"Caught by: {asked.says}\n", _code(f"{asked.asked}\n\n{story}")]
    return said


def page() -> str:
    """The whole page."""
    parts = [HEAD]
    for one in _data().circuits("misconceptions"):
        right = next(f for f in one.forms.values() if not f.fails)
        parts.append(f"## {one.number} {one.title}\n")
        parts.append(f"Belief: {one.belief} What is seen: {one.symptom}\n")
        for form in one.forms.values():
            if form.fails:
                parts += _wrong(one, form)
        parts += [f"Right: {right.says}.\n", _code(right.program)]
    return "\n".join([*parts, TAIL])


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    print(PAGE.name)

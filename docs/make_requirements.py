"""Print ``docs/reference/requirements.md``: the ready requirements, from their own docstrings.

Run from the top of the repository: ``python docs/make_requirements.py``.
"""

from __future__ import annotations

import doctest
import inspect
import re
from collections.abc import Callable
from pathlib import Path

from labkit.verify.library import LIBRARY

PAGE = Path(__file__).resolve().parent / "reference" / "requirements.md"

HEAD = """\
# Ready requirements

What motor control always has, as functions of `labkit.verify`: `prove(bench, stop_opens(), may=["S1", "S2"])`. Each
makes a requirement for the signals that you name; without names those of the orchard board. The text beside it is what
you would write yourself, also after `labkit prove PROGRAM --require`. [Proof](../explanation/proof.md) explains the
forms; [how to prove a program](../how-to/prove-a-program.md) shows them at work. Printed from the docstrings by
`python docs/make_requirements.py`.

| function | what it asks | why | must be able to happen | for example |
|---|---|---|---|---|
"""


def row(rule: Callable[..., object]) -> str:
    """One line of the table."""
    text = inspect.getdoc(rule) or ""
    says, _, rest = text.partition("\n\n")
    names = r"``\"[^`]*\"``"
    may = re.findall(names, " ".join(re.findall(rf"[Mm]ay: ({names}(?:, {names})*)", text)))
    says = re.sub(rf"\s*May: {names}.*$", "", says.replace("\n", " "))
    why = " ".join(rest.partition("Examples")[0].split())
    if why.startswith("Examples") or not why:
        why = ""
    example = doctest.DocTestParser().get_examples(text)[0]
    call, shown = example.source.strip(), example.want.strip()
    things = ", ".join(dict.fromkeys(may)).replace("``", "`")
    why = re.sub(r":func:`(\w+)`", r"`\1`", why).replace("``", "`")
    return f"| `{call}` | {says} | {why} | {things} | `{shown}` |"


def page() -> str:
    """The whole page."""
    return HEAD + "\n".join(row(rule) for rule in LIBRARY) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    print(PAGE.name)

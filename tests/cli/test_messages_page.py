"""The page of messages has every code that labkit can raise, as the source says it."""

from __future__ import annotations

import re
from pathlib import Path

import labkit
from labkit.cli._messages import messages, messages_page

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "reference" / "messages.md").read_text("utf-8")


def test_the_page_is_what_the_source_prints() -> None:
    assert messages_page() == PAGE, "run: python -m labkit.cli._messages > docs/reference/messages.md"


def test_every_code_in_the_source_stands_on_the_page() -> None:
    """Found by its letters alone, so that a form of call that the printer does not know is noticed."""
    source = "\n".join(path.read_text("utf-8") for path in sorted(Path(labkit.__file__).parent.rglob("*.py")))
    codes = set(re.findall(r'\bcode=\(?"([a-z][a-z0-9-]*)"', source))
    assert len(codes) > 200
    assert sorted(code for code in codes if f"`{code}`" not in PAGE and f"#{code})" not in PAGE) == []


def test_a_message_is_shown_with_its_cure_and_gaps() -> None:
    every = messages()
    found = {m.code: m for m in every}
    assert found["bench-record"].what == "this bench is being recorded already"
    assert found["bench-record"].try_this == "end the other recording first"
    assert found["bench-record-name"].what == "this bench has nothing called ... to record"
    assert {m.room for m in every} >= {"board", "bench", "circuit", "controller", "faults", "lessons", "verify"}

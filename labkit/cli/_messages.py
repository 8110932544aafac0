"""The reference page of messages: ``python -m labkit.cli._messages > docs/reference/messages.md``.

The part about programs comes from the table of slips. The rest is read off labkit's own source: wherever an error is
made with a code, its sentence and its cure stand beside it, and so they cannot drift apart from the page.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from labkit.logic.messages import messages_page as page_about_programs

__all__ = ["Message", "messages", "messages_page"]

_LABKIT = Path(__file__).resolve().parent.parent
_MADE_BY = ("Error", "_refuse", "Note")  # what the callable that takes a code is called, or how its name ends
_MOST = 3  # sentences shown for one code: a code may be used for several slips of one kind

_HEAD = """\
# Messages of the rooms

What every other room of labkit can refuse, by its code: the sentence, and what is said to try. Three dots stand for
what is put in: a name, a number, the known names nearest to a slip. Where a code is used for several slips of one
kind the first three are shown. Lessons, translations and tests go by the code; the sentences may be bettered.

This part is read off the source by `python -m labkit.cli._messages`, which prints the whole page; a test holds the
page and the source equal.
"""


@dataclass(frozen=True, slots=True)
class Message:
    """One place in the source that makes an error with a code."""

    room: str
    code: str
    what: str
    try_this: str


def messages() -> list[Message]:
    """Every message with a code, by room, in the order of the files."""
    found: list[Message] = []
    for path in sorted(_LABKIT.rglob("*.py")):
        room = path.relative_to(_LABKIT).parts[0]
        found += _in_file(room, ast.parse(path.read_text(encoding="utf-8")))
    return found


def _in_file(room: str, tree: ast.Module) -> Iterator[Message]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and _called(node.func).endswith(_MADE_BY):
            words = {keyword.arg: keyword.value for keyword in node.keywords}
            for code in _constants(words.get("code")):
                first = node.args[0] if node.args else words.get("what")
                yield Message(room, code, _shown(first), _shown(words.get("try_this")))


def _called(node: ast.expr) -> str:
    """The last name of what is called."""
    return node.id if isinstance(node, ast.Name) else node.attr if isinstance(node, ast.Attribute) else ""


def _constants(node: ast.expr | None) -> list[str]:
    """The codes that an expression may give; a choice between two gives both."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value] if node.value else []
    if isinstance(node, ast.IfExp):
        return [*_constants(node.body), *_constants(node.orelse)]
    return []


def _shown(node: ast.expr | None) -> str:
    """A text as it stands in the source, with ``...`` for what is put in."""
    if node is None:
        return ""
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(_shown(part) for part in node.values)
    if isinstance(node, ast.BinOp):
        return _shown(node.left) + _shown(node.right)
    if isinstance(node, ast.BoolOp):  # a guess, or else this
        return _shown(node.values[-1])
    return "..."


def messages_page() -> str:
    """The whole page as Markdown."""
    parts = [page_about_programs(), _HEAD]
    rooms: dict[str, dict[str, list[Message]]] = {}
    for message in messages():
        rooms.setdefault(message.room, {}).setdefault(message.code, []).append(message)
    for room in sorted(rooms):
        rows = [_row(code, rooms[room][code]) for code in sorted(rooms[room])]
        parts.append("\n".join([f"## Room {room}", "", "| code | message | what to try |", "|---|---|---|", *rows]))
    return "\n\n".join(part.strip("\n") for part in parts) + "\n"


def _row(code: str, all_of_it: list[Message]) -> str:
    shown = list(dict.fromkeys((m.what, m.try_this) for m in all_of_it))[:_MOST]
    whats, cures = ("<br>".join(dict.fromkeys(_cell(text[i]) for text in shown if text[i])) for i in (0, 1))
    return f"| `{code}` | {whats} | {cures} |"


def _cell(text: str) -> str:
    flat = " ".join(text.split()).replace("|", "\\|").replace("<", "&lt;").replace("[", "\\[")
    return flat or "..."


if __name__ == "__main__":
    sys.stdout.write(messages_page())

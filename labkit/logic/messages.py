"""The first part of the page of messages, printed from the table of slips.

Each message on the page is what the reader really says about the snippet above it.
"""

from __future__ import annotations

import sys

from labkit.logic._read_ladder import read_ladder
from labkit.logic._read_st import read_st
from labkit.logic.limits import LIMITS
from labkit.logic.slips import SLIPS, Slip, SlipError

__all__ = ["messages_page"]

_HEAD = """\
# Messages about programs

What labkit says when a ladder or a statement cannot be read: one sentence, the line with a caret under the place, and
what to try. Each entry below is a slip with its code, a text that shows it, and the message it gives. Other texts with
the same slip follow.

This part is printed from the table in `labkit/logic/slips.py`; a test holds the two equal. How programs are written is
in [ladder text](ladder-text.md). What the other rooms say stands [below](#messages-of-the-rooms).
"""


def messages_page() -> str:
    """The whole page as Markdown."""
    parts = [_HEAD, "| code | first of its messages |\n|---|---|"]
    parts[-1] += "".join(f"\n| [{row.code}](#{row.code}) | {_cell(_said(row, 0).what)} |" for row in SLIPS.values())
    parts += [_entry(row) for row in SLIPS.values()]
    parts.append(_bounds())
    return "\n\n".join(part.strip("\n") for part in parts) + "\n"


def _said(row: Slip, index: int) -> SlipError:
    language, text = row.bad[index]
    try:
        (read_ladder if language == "ladder" else read_st)(text)
    except SlipError as error:
        return error
    raise AssertionError(f"{row.code}: the snippet reads without a slip")  # a test keeps this from happening


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _entry(row: Slip) -> str:
    lines = [f"## {row.code}", "", _fence(row.bad[0][1]), "", _fence(str(_said(row, 0)))]
    if len(row.bad) > 1:
        lines += ["", "Also:", "", _fence("\n\n".join(text for _, text in row.bad[1:]))]
    return "\n".join(lines)


def _fence(text: str) -> str:
    return "```\n" + "\n".join(line.rstrip() for line in text.strip("\n").split("\n")) + "\n```"


def _bounds() -> str:
    rows = "\n".join(
        f"| {name} | {limit.most:,} | {_cell(limit.what.format(most=limit.most, got='...'))} | {limit.try_this} |"
        for name, limit in LIMITS.items()
    )
    return (
        "## Bounds\n\nA text above one of these is refused at once (code `too-big`).\n\n"
        f"| what | most | message | try |\n|---|---|---|---|\n{rows}"
    )


if __name__ == "__main__":
    sys.stdout.write(messages_page())

"""One line of a lesson's scenario, such as ``press {start_button} for 60 ms``, turned into bench steps.

The lines read as what a person would be told to do. They become the rows of a bench stimulus, with times, so
that what was judged can be played again at any bench.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from labkit.base import LabkitError, did_you_mean
from labkit.bench import Stimulus
from labkit.lessons._text import fill, span_us
from labkit.lessons.errors import LessonError

__all__ = ["STEP_FORMS", "Script", "compile_steps"]

# verb -> pattern of the words after it, and what they are for the bench
_FORMS: dict[str, tuple[str, str]] = {
    "press": (r"(?P<part>\S+)(?: for (?P<hold>.+))?", "press S2 for 60 ms | press S2"),
    "release": (r"(?P<part>\S+)", "release S2"),
    "turn": (r"(?P<part>\S+) (?P<to>\S+)", "turn S4 left"),
    "key": (r"(?P<part>\S+) (?P<on>on|off)", "key S5 on"),
    "power": (r"(?P<on>on|off)", "power on"),
    "breaker": (r"(?P<part>\S+) (?P<on>on|off)", "breaker F4 off"),
    "beam": (r"(?P<part>\S+) (?P<beam>blocked|whole)", "beam B1 blocked"),
    "metal": (
        r"(?P<part>\S+) (?:(?P<mm>\d+(?:\.\d+)?) mm(?: (?P<metal>\S+))?|away)",
        "metal B2 1 mm | metal B2 4 mm brass | metal B2 away",
    ),
    "trip": (r"(?P<part>\S+)", "trip F3"),
    "reset": (r"(?P<part>\S+)", "reset F3"),
    "remove": (r"(?P<part>\S+)", "remove K1.aux"),
    "fit": (r"(?P<part>\S+)", "fit K1.aux"),
    "weld": (r"(?P<part>\S+)", "weld K1"),
    "unweld": (r"(?P<part>\S+)", "unweld K1"),
    "jam": (r"(?P<part>\S+)", "jam K1"),
    "free": (r"(?P<part>\S+)", "free K1"),
    "lift": (r"wire (?:at (?P<terminal>\S+)|(?P<wire>[^\s:]+))", "lift wire at K1:A1 | lift wire 14"),
    "land": (r"wire (?:at (?P<terminal>\S+)|(?P<wire>[^\s:]+))", "land wire at K1:A1 | land wire 14"),
    "joint": (r"wire (?P<wire>\S+) (?P<ohm>\d+(?:\.\d+)?) ohm", "joint wire 211 50 ohm"),
    "join": (r"(?P<a>\S+) (?P<b>\S+)", "join A1:I10 X1:24V"),
    "unjoin": (r"(?P<a>\S+) (?P<b>\S+)", "unjoin A1:I10 X1:24V"),
    "set": (r"(?P<tag>\S+) (?P<value>0|1)", "set PSTOP 1"),
    "force": (r"(?P<tag>\S+) (?P<value>0|1)", "force K1 1"),
    "unforce": (r"(?P<tag>\S+)", "unforce K1"),
    "run": (r"", "run"),
    "stop": (r"", "stop"),
    "wait": (r"(?P<span>.+)", "wait 200 ms"),
    "mark": (r"(?P<label>[a-z][a-z0-9_-]*)", "mark stop"),
}

STEP_FORMS: Mapping[str, str] = {verb: example for verb, (_, example) in _FORMS.items()}
"""Each verb of a scenario line, with an example."""

_PATTERNS = {verb: re.compile(pattern) for verb, (pattern, _) in _FORMS.items()}


@dataclass(frozen=True, slots=True)
class Script:
    """A scenario with every time known.

    Parameters
    ----------
    stimulus
        What is done, for ``bench.play``.
    marks
        Microseconds of each label; ``start`` and ``end`` are always there.
    """

    stimulus: Stimulus
    marks: Mapping[str, int] = field(default_factory=dict)

    @property
    def end_us(self) -> int:
        """How long the scenario runs."""
        return self.marks["end"]


def compile_steps(
    lines: Iterable[str],
    *,
    words: Mapping[str, str],
    symbols: Mapping[str, int],
    wire_at: Callable[[str], int | str],
    start_after: int = 0,
) -> Script:
    """Turn scenario lines into a :class:`Script`.

    Parameters
    ----------
    lines
        Scenario lines; ``{names}`` in them are filled from `words`.
    words, symbols
        The variant's words, and its spans in microseconds.
    wire_at
        The number of the one wire that ends at a terminal.
    start_after
        How many of the lines are preparation; the label ``start`` stands after them.

    Raises
    ------
    LessonError
        If a line cannot be read.
    """
    now, marks, rows = 0, {"start": 0}, []
    for number, line in enumerate(lines):
        if number == start_after:
            marks["start"] = now
        verb, said = _read(fill(line, words), line)
        if verb == "wait":
            now += span_us(said["span"], symbols)
        elif verb == "mark":
            marks[said["label"]] = now
        else:
            rows.append((now, {"do": verb, **_words(verb, said, symbols, wire_at)}))
    marks["end"] = now
    try:
        stimulus = Stimulus.of({"at_ms": at / 1000, **row} for at, row in rows)
    except LabkitError as exc:
        raise LessonError(exc.what, where=exc.where, try_this=exc.try_this, code="lesson-step") from None
    return Script(stimulus, marks)


def check_line(line: str) -> None:
    """Refuse a line that no variant could play."""
    _read(line, line)


def _read(line: str, original: str) -> tuple[str, dict[str, str]]:
    verb, _, rest = line.strip().partition(" ")
    if verb not in _PATTERNS:
        raise LessonError(
            f"nobody can {verb!r} at a bench",
            where=original,
            try_this=did_you_mean(verb, _PATTERNS) or "one of " + ", ".join(_PATTERNS),
            code="lesson-step",
        )
    found = _PATTERNS[verb].fullmatch(rest.strip())
    if found is None:
        raise LessonError(
            f"this step cannot be read: {line}", where=original, try_this=f"write {_FORMS[verb][1]}", code="lesson-step"
        )
    return verb, {key: value for key, value in found.groupdict().items() if value is not None}


def _words(
    verb: str, said: Mapping[str, str], symbols: Mapping[str, int], wire_at: Callable[[str], int | str]
) -> dict[str, Any]:
    words: dict[str, Any] = {}
    for key, value in said.items():
        if key == "hold":
            words["hold_ms"] = span_us(value, symbols) / 1000
        elif key == "terminal":
            words["wire"] = wire_at(value)
        elif key in ("ohm", "mm"):
            words[key] = float(value)
        elif key == "beam":
            words["blocked"] = value == "blocked"
        elif key == "on":
            words["on"] = value == "on"
        elif key == "value":
            words["value"] = value == "1"
        else:
            words[key] = value
    if verb == "set":
        words["do"] = "set_bit"
    return words

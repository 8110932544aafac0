"""A timed list of what a person does at the bench: as data, checked, and played again at will."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labkit.base import did_you_mean, ms
from labkit.bench.errors import BenchError
from labkit.bench.trace import Done

if TYPE_CHECKING:
    from labkit.bench.front import Bench

__all__ = ["VERBS", "WATCHED", "Step", "Stimulus"]

WATCHED = frozenset({"read", "note"})
"""Entries of a bench's log that only tell what was seen: nothing was done."""


@dataclass(frozen=True, slots=True)
class _Word:
    """One word of a verb: which Python types it takes, and whether it may be left out."""

    types: tuple[type, ...]
    needed: bool = True
    say: str = ""


_NAME = _Word((str,), say="a name in quotes")
_FLAG = _Word((bool,), say="true or false")
_PART = {"part": _NAME}

VERBS: Mapping[str, Mapping[str, _Word]] = {
    "press": {"part": _NAME, "hold_ms": _Word((int, float), False, "a number of milliseconds")},
    "release": _PART,
    "turn": {"part": _NAME, "to": _NAME},
    "key": {"part": _NAME, "on": _FLAG},
    "power": {"on": _FLAG},
    "breaker": {"part": _NAME, "on": _FLAG},
    "beam": {"part": _NAME, "blocked": _FLAG},
    "metal": {
        "part": _NAME,
        "mm": _Word((int, float), False, "a number of millimetres; left out, the target is taken away"),
        "metal": _Word((str,), False, "steel, stainless, brass, aluminium or copper"),
    },
    "trip": _PART,
    "reset": _PART,
    "remove": _PART,
    "fit": _PART,
    "weld": _PART,
    "unweld": _PART,
    "jam": _PART,
    "free": _PART,
    "bounce": {"part": _NAME, "gaps_ms": _Word((list, tuple), say="a list of milliseconds")},
    "lift": {"wire": _Word((int, str), say="a wire number")},
    "land": {"wire": _Word((int, str), say="a wire number")},
    "joint": {"wire": _Word((int, str), say="a wire number"), "ohm": _Word((int, float), say="a number of ohms")},
    "join": {"a": _NAME, "b": _NAME, "ohm": _Word((int, float), False, "a number of ohms")},
    "unjoin": {"a": _NAME, "b": _NAME},
    "swap": _PART,
    "wire": {
        "a": _NAME,
        "b": _NAME,
        "no": _Word((int, str), False, "a wire number; left out, the lowest free one"),
        "colour": _Word((str,), False, "a colour's letters, such as BU"),
        "mm2": _Word((int, float), False, "a number of mm2"),
        "m": _Word((int, float), False, "a number of metres"),
        "ferrule": _Word((bool,), False, "true or false"),
    },
    "unwire": {"wire": _Word((int, str), say="a wire number")},
    "park": {"block": _NAME},
    "pull": {"block": _NAME},
    "seat": {"block": _NAME, "on": _Word((str,), False, "a header"), "loose": _Word((list, tuple), False, "terminals")},
    "uncode": {"header": _NAME},
    "rewire": {
        "off": _Word((list, tuple), False, "a list of wire numbers"),
        "on": _Word((list, tuple), False, "a list of wires, each a list of its fields"),
    },
    "set_bit": {"tag": _NAME, "value": _Word((bool, int), say="true or false")},
    "force": {"tag": _NAME, "value": _Word((bool, int), say="true or false")},
    "unforce": {"tag": _Word((str,), False, "a tag's name; left out, all forces")},
    "run": {},
    "stop": {},
}
"""What can be done, and the words that each takes; a word that may be left out has ``needed`` False."""

_LONGEST_MS = 24 * 3600 * 1000  # a day: longer is a slip of units


@dataclass(frozen=True, slots=True)
class Step:
    """One line of a stimulus.

    Parameters
    ----------
    at_us
        Microseconds after the start of the stimulus.
    do
        One of :data:`VERBS`.
    what
        The verb's words.
    """

    at_us: int
    do: str
    what: Mapping[str, Any]

    def as_dict(self) -> dict[str, Any]:
        """The step as data: ``{"at_ms": 0, "do": "press", "part": "S2", "hold_ms": 45}``."""
        at = self.at_us / 1000
        return {"at_ms": int(at) if at.is_integer() else at, "do": self.do, **self.what}


@dataclass(frozen=True, slots=True)
class Stimulus:
    """A checked list of steps; times do not fall.

    Examples
    --------
    >>> tap = Stimulus.of([{"at_ms": 0, "do": "press", "part": "S2", "hold_ms": 45}])
    >>> tap.steps[0].do, tap.end_us
    ('press', 0)
    """

    steps: tuple[Step, ...]

    @classmethod
    def of(cls, rows: Iterable[Mapping[str, Any]]) -> Stimulus:
        """From a list of dicts.

        Raises
        ------
        BenchError
            Naming the row and the word that is wrong.
        """
        steps: list[Step] = []
        for number, row in enumerate(rows):
            step = _step(row, f"steps[{number}]")
            if steps and step.at_us < steps[-1].at_us:
                raise BenchError(
                    "a step comes before the one above it",
                    where=f"steps[{number}].at_ms",
                    try_this="put the steps in the order in which they happen",
                    code="stimulus-order",
                )
            steps.append(step)
        return cls(tuple(steps))

    @classmethod
    def loads(cls, text: str) -> Stimulus:
        """From TOML text with ``[[steps]]`` tables.

        Raises
        ------
        BenchError
            If the text is not TOML, or a step is wrong.
        """
        try:
            document = tomllib.loads(text)
        except tomllib.TOMLDecodeError as exc:
            raise BenchError(
                f"this is not TOML: {exc}", try_this="look at the named line", code="stimulus-toml"
            ) from None
        rows = document.get("steps")
        if not isinstance(rows, list):
            raise BenchError("a stimulus has [[steps]]", where="steps", code="stimulus-toml")
        return cls.of(rows)

    @classmethod
    def from_log(cls, log: Iterable[Done], *, start_us: int = 0) -> Stimulus:
        """What was done by hand from `start_us` on, to be played again; what is no verb of a bench is left out."""
        return cls(
            tuple(
                Step(done.t_us - start_us, done.do, done.what)
                for done in log
                if done.t_us >= start_us and done.do in VERBS
            )
        )

    def dumps(self) -> str:
        """TOML text that :meth:`loads` reads back."""
        return "\n".join(
            "[[steps]]\n" + "".join(f"{k} = {_toml(v)}\n" for k, v in s.as_dict().items()) for s in self.steps
        )

    @property
    def end_us(self) -> int:
        """When the last step is done."""
        return self.steps[-1].at_us if self.steps else 0

    def play(self, bench: Bench) -> None:
        """Do it all at a bench, from its present time on. Ends with the last step; holds may still run."""
        start = bench.now_us
        for step in self.steps:
            bench.wait_until(start + step.at_us)
            words = dict(step.what)
            if "hold_ms" in words:
                words["hold"] = ms(words.pop("hold_ms"))
            if "gaps_ms" in words:
                words["gaps"] = [ms(gap) for gap in words.pop("gaps_ms")]
            getattr(bench, step.do)(**words)


def _step(row: Mapping[str, Any], where: str) -> Step:
    if not isinstance(row, Mapping):
        raise BenchError(f"a step is a table, not {type(row).__name__}", where=where, code="stimulus-step")
    words = dict(row)
    at, do = words.pop("at_ms", None), words.pop("do", None)
    if isinstance(at, bool) or not isinstance(at, int | float) or not 0 <= at <= _LONGEST_MS:
        raise BenchError(
            f"at_ms is a number of milliseconds from 0 up, not {at!r}",
            where=f"{where}.at_ms",
            try_this="write for example at_ms = 250",
            code="stimulus-time",
        )
    if not isinstance(do, str) or do not in VERBS:
        raise BenchError(
            f"nobody can {do!r} at a bench",
            where=f"{where}.do",
            try_this=did_you_mean(str(do), VERBS) or "one of " + ", ".join(VERBS),
            code="stimulus-verb",
        )
    takes = VERBS[do]
    for key, value in words.items():
        if key not in takes:
            known = ", ".join(takes) or "nothing"
            raise BenchError(
                f"{do} takes no {key!r}",
                where=f"{where}.{key}",
                try_this=did_you_mean(key, takes) or f"{do} takes {known}",
                code="stimulus-word",
            )
        word = takes[key]
        if not isinstance(value, word.types) or (isinstance(value, bool) and bool not in word.types):
            raise BenchError(f"{key} is {word.say}, not {value!r}", where=f"{where}.{key}", code="stimulus-word")
    missing = [key for key, word in takes.items() if word.needed and key not in words]
    if missing:
        raise BenchError(
            f"{do} needs {missing[0]!r}",
            where=where,
            try_this=f"add {missing[0]} = {takes[missing[0]].say}",
            code="stimulus-word",
        )
    return Step(round(at * 1000), do, words)


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    return repr(value)

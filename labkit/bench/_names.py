"""Which words fit which part, and what to say when they do not."""

from __future__ import annotations

import math
from typing import NoReturn

from labkit.base import did_you_mean
from labkit.bench.errors import BenchError
from labkit.board import Board

__all__ = ["Names", "number"]

# kind of part -> what it is, and what a person can do with it
_HOW: dict[str, tuple[str, str]] = {
    "push_button": ("a push button", "press or release it"),
    "emergency_stop": ("an emergency stop", "press it, and release it to turn it free"),
    "selector": ("a selector switch", "turn it"),
    "key_switch": ("a key switch", "turn it, or use key"),
    "breaker": ("a breaker", "switch it with breaker"),
    "fuse": ("a fuse", "put it in or take it out with breaker"),
    "supply": ("a supply", "switch it with power"),
    "sensor": ("a sensor", "block its beam with beam, or hold metal to it with metal"),
    "contactor": ("a contactor", "it moves by its coil; weld, unweld, jam or free it"),
    "overload": ("an overload relay", "trip or reset it"),
    "lamp": ("a lamp", "look whether it is lit"),
    "horn": ("a horn", "hear whether it is lit"),
    "motor": ("a motor", "ask its speed"),
    "controller": ("a controller", "load, run or stop it"),
    "aux_block": ("a plug-on block", "remove or fit it"),
    "suppressor": ("a suppressor", "remove or fit it"),
    "terminal_strip": ("a terminal strip", "lift or land wires on it"),
}


# verbs that can stand in a sentence; breaker, key, beam and metal only name what is worked
_ENGLISH = frozenset({"press", "release", "turn", "trip", "reset", "bounce", "weld", "jam", "remove", "fit"})


def number(value: object, what: str, where: str) -> float:
    """A value that must be a number; `what` says so in a sentence, as in ``"a joint is a number of ohms"``.

    Raises
    ------
    BenchError
        If it is none.
    """
    try:
        got = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        got = math.nan
    if isinstance(value, bool) or math.isnan(got):
        raise BenchError(f"{what}, not {value!r}", where=where, try_this="write the bare number", code="bench-value")
    return got


class Names:
    """The names of one board, and the sentences about wrong ones."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._kinds = {part.designation: part.kind for part in board.parts.values()}
        self._blocks = {block.id: block.entry.kind for part in board.parts.values() for block in part.blocks}

    def of_kind(self, *kinds: str) -> tuple[str, ...]:
        """The parts of these kinds, in board order."""
        return tuple(name for name, kind in self._kinds.items() if kind in kinds)

    def known(self, part: str) -> str:
        """The kind of a part, or the sentence that there is no such part."""
        kind = self._kinds.get(part) or self._blocks.get(part)
        if kind is None:
            raise BenchError(
                f"there is no part {part} on this board",
                where=str(part),
                try_this=did_you_mean(str(part), [*self._kinds, *self._blocks]),
                code="bench-part",
            )
        return kind

    def expect(self, part: str, verb: str, *kinds: str) -> str:
        """The part's kind, if it is one of `kinds`."""
        kind = self.known(part)
        if kind not in kinds:
            self._refuse(part, verb, kind, self.of_kind(*kinds))
        return kind

    def expect_sensor(self, part: str, senses: str) -> None:
        """The part is a sensor of this kind."""
        fitting = tuple(p.designation for p in self._board.parts.values() if getattr(p.entry, "senses", "") == senses)
        if part not in fitting:
            kind = self.known(part)
            if kind == "sensor":
                other = "a photo-eye: use beam" if senses == "metal" else "an inductive sensor: use metal"
                raise BenchError(f"{part} is {other}", where=part, try_this=_these(senses, fitting), code="bench-verb")
            self._refuse(part, senses, kind, fitting)

    def expect_block(self, part: str, verb: str) -> None:
        """The part is something plugged on: a block or a suppressor."""
        fitting = (*self._blocks, *self.of_kind("suppressor"))
        if part not in fitting:
            self._refuse(part, verb, self.known(part), fitting)

    def terminal(self, name: str) -> str:
        """The terminal of this id."""
        if name not in self._board.terminals:
            what, try_this = self._board.about_unknown(str(name))
            raise BenchError(what.rstrip("."), where=str(name), try_this=try_this, code="bench-terminal")
        return name

    def _refuse(self, part: str, verb: str, kind: str, fitting: tuple[str, ...]) -> NoReturn:
        what, how = _HOW.get(kind, (f"a {kind}", "it takes no action"))
        raise BenchError(
            f"{part} is {what}: {how}" + (f", you cannot {verb} it" if verb in _ENGLISH else ""),
            where=part,
            try_this=_these(verb, fitting),
            code="bench-verb",
        )


def _these(verb: str, fitting: tuple[str, ...]) -> str:
    return f"{verb} works with {', '.join(fitting)}" if fitting else ""

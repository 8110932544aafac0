"""What can be said about a program without running it: who reads and writes what, and what looks like a slip.

Nothing here stops a program from running. Each finding is a value that names a rung and a column.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from labkit.logic.nodes import Block, Coil, Constant, Contact, Program, elements

__all__ = ["Finding", "Use", "cross_reference", "findings"]

_HOW = {"": "written", "/": "written", "P": "written", "N": "written", "S": "set", "R": "reset"}


@dataclass(frozen=True, slots=True)
class Use:
    """One place where a name is used.

    Parameters
    ----------
    name
        Tag or block output.
    how
        ``"read"``, ``"written"``, ``"set"`` or ``"reset"``.
    rung
        Number of the rung, from 1.
    line, column
        Place in the text, from 1.
    element
        Element number, in the order of evaluation.
    """

    name: str
    how: str
    rung: int
    line: int
    column: int
    element: int


@dataclass(frozen=True, slots=True)
class Finding:
    """Something worth a second look: `what` is a sentence, `others` are the other places it speaks of."""

    code: str
    name: str
    rung: int
    line: int
    column: int
    what: str
    try_this: str
    others: tuple[Use, ...] = ()


def cross_reference(program: Program) -> dict[str, tuple[Use, ...]]:
    """Every use of every name, names in order of first use, uses in order of evaluation."""
    table: dict[str, list[Use]] = {}
    for number, rung in enumerate(program.rungs, 1):
        for e in elements(rung.network):
            for name, how in _uses(e):
                use = Use(name, how, number, e.span.line, e.span.column, e.element)
                table.setdefault(name, []).append(use)
    return {name: tuple(uses) for name, uses in table.items()}


def _uses(e: Contact | Constant | Coil | Block) -> Iterable[tuple[str, str]]:
    if isinstance(e, Contact):
        return [(e.name, "read")]
    if isinstance(e, Coil):
        return [(e.name, _HOW[e.kind])]
    if isinstance(e, Block):
        return [(name, "written") for _, name in e.outputs]
    return []


def findings(program: Program, *, inputs: Iterable[str] = ()) -> tuple[Finding, ...]:
    """What looks like a slip, in the order of the text.

    Parameters
    ----------
    inputs
        Names that are inputs of the controller: a program that writes one is told so.

    Examples
    --------
    >>> from labkit.logic import read_st
    >>> [f.code for f in findings(read_st("K1 := S1; K1 := S2;"))]
    ['written-twice']
    """
    outside = {name.upper() for name in inputs}
    found: list[Finding] = []
    for name, uses in cross_reference(program).items():
        plain = [u for u in uses if u.how == "written"]
        sets, resets = [[u for u in uses if u.how == how] for how in ("set", "reset")]
        reads = [u for u in uses if u.how == "read"]
        writes = [u for u in uses if u.how != "read"]
        if name.upper() in outside and writes:
            found.append(_input_written(writes[0], writes[1:]))
        if len(plain) > 1:
            found.append(_written_twice(plain))
        if plain and (sets or resets):
            found.append(_mixed(plain[0], sets + resets))
        if sets and not resets and not plain:
            found.append(_one_sided(sets, "set", "reset"))
        if resets and not sets and not plain:
            found.append(_one_sided(resets, "reset", "set"))
        if reads and writes and reads[0].element < writes[0].element and reads[0].rung < writes[0].rung:
            found.append(_read_above(reads[0], writes[0]))
    return tuple(sorted(found, key=lambda f: (f.rung, f.column, f.line, f.code)))


def _finding(code: str, at: Use, what: str, try_this: str, others: Iterable[Use]) -> Finding:
    return Finding(code, at.name, at.rung, at.line, at.column, what, try_this, tuple(others))


def _rungs(uses: Iterable[Use]) -> str:
    return ", ".join(dict.fromkeys(str(u.rung) for u in uses))


def _input_written(first: Use, rest: list[Use]) -> Finding:
    return _finding(
        "input-written",
        first,
        f"rung {first.rung} writes {first.name}, which is an input: the next read of the inputs overwrites it",
        f"write a memory bit, and read {first.name} only",
        rest,
    )


def _written_twice(plain: list[Use]) -> Finding:
    last = plain[-1]
    return _finding(
        "written-twice",
        last,
        f"{last.name} is written on rungs {_rungs(plain)}: the last one in the scan wins, the others have no effect"
        if len({u.rung for u in plain}) > 1
        else f"{last.name} is written {len(plain)} times on rung {last.rung}: only the last one counts",
        f"join the conditions in one rung with a branch, and keep one coil for {last.name}",
        plain[:-1],
    )


def _mixed(plain: Use, latches: list[Use]) -> Finding:
    return _finding(
        "coil-and-latch",
        plain,
        f"{plain.name} has a plain coil on rung {plain.rung} and set or reset coils on rung {_rungs(latches)}: "
        "the plain coil undoes them in every scan",
        f"use either a plain coil or set and reset for {plain.name}",
        latches,
    )


def _one_sided(uses: list[Use], has: str, lacks: str) -> Finding:
    first = uses[0]
    stuck = "once it is on it stays on" if has == "set" else "it can never come on"
    return _finding(
        f"{has}-without-{lacks}",
        first,
        f"{first.name} is {has} on rung {first.rung} but never {lacks}: {stuck}",
        f"add a {lacks} coil for {first.name}",
        uses[1:],
    )


def _read_above(read: Use, write: Use) -> Finding:
    return _finding(
        "read-above-written",
        read,
        f"rung {read.rung} reads {read.name}, which is written below on rung {write.rung}: it sees last scan's value",
        f"move rung {write.rung} above rung {read.rung} if it should see this scan's value",
        [write],
    )

"""What a controller asks of a program before it takes it."""

from __future__ import annotations

from collections.abc import Iterator

from labkit.base import did_you_mean
from labkit.controller._memory import FIRST_SCAN
from labkit.controller.errors import LoadError, Note
from labkit.controller.family import Family
from labkit.controller.tags import TagTable
from labkit.logic import Block, Coil, Contact, Program, Span, elements

__all__ = ["check_program"]

_A = {"input": "an input", "output": "an output", "memory": "a memory bit"}


def check_program(program: Program, tags: TagTable, family: Family) -> tuple[Note, ...]:
    """Refuse a program that this controller cannot run; what is merely worth saying comes back.

    Raises
    ------
    LoadError
        With the first thing that is wrong and where it stands.
    """
    _check_length(program, family)
    _check_own_names(program, tags)
    own = {variable.name for variable in program.declarations}
    for name, written, where in _uses(program):
        if name not in own:
            _check_use(name, written, where, tags, family)
    return _check_coils(program, family)


def _check_length(program: Program, family: Family) -> None:
    if len(program.rungs) > family.program.rungs:
        raise LoadError(
            f"the program has {len(program.rungs)} rungs; family {family.name} takes {family.program.rungs}",
            try_this="shorten the program, or choose a family with more room",
            where=f"rung {family.program.rungs + 1}",
            code="load-too-long",
        )


def _check_own_names(program: Program, tags: TagTable) -> None:
    """A program's own variables and blocks must not be called like a tag or the first-scan flag."""
    blocks = program.instances()
    own = [(v.name, "block" if v.name in blocks else "variable", _line(v.span)) for v in program.declarations]
    own += [(name, "block", "") for name in blocks]  # a ladder may use a block without declaring it
    for name, what, where in own:
        if name == FIRST_SCAN:
            raise LoadError(
                f"{name} is the name of the first-scan flag, so no {what} can have it",
                where=where,
                try_this="choose another name",
                code="load-name-taken",
            )
        if name in tags:
            kind = tags.by_name[name].kind
            raise LoadError(
                f"{name} is in the tag table ({_A[kind]}), so no {what} can have that name",
                where=where,
                try_this=f"take {name} out of VAR: the program may use the tag as it is"
                if what == "variable"
                else f"give the block a name of its own, such as T_{name}",
                code="load-name-taken",
            )


def _check_use(name: str, written: bool, where: str, tags: TagTable, family: Family) -> None:
    if name == FIRST_SCAN:
        if not family.start.first_scan:
            raise LoadError(
                f"family {family.name} has no first-scan flag",
                where=where,
                try_this="use a memory bit that is not retained: it is 0 in the first scan, set it in the last rung",
                code="load-no-first-scan",
            )
        if written:
            raise LoadError(
                f"{name} is raised by the controller; a program can only read it",
                where=where,
                try_this="write to a memory tag of your own",
                code="load-writes-flag",
            )
        return
    if name not in tags:
        raise LoadError(
            f"{name} is neither a tag nor a variable of the program",
            where=where,
            try_this=f"{did_you_mean(name, tags.by_name)} Or add {name} to the tag table, "
            f"or declare it: VAR {name} : BOOL; END_VAR".lstrip(),
            code="load-unknown-tag",
        )
    tag = tags.by_name[name]
    if written and tag.kind == "input":
        raise LoadError(
            f"the program writes to {name}, which is an input",
            where=where,
            try_this="an input comes from its terminal; write to an output or a memory bit",
            code="load-writes-input",
        )
    if tags.place(name) is None:
        raise LoadError(
            f"{name} has no address: it is an {tag.kind} without a point",
            where=where,
            try_this=f"give the tag a point such as {'I1' if tag.kind == 'input' else 'Q1'}",
            code="load-no-address",
        )


def _check_coils(program: Program, family: Family) -> tuple[Note, ...]:
    """Plain and negated coils that write the same bit. A set and a reset belong together and are no slip."""
    policy = family.program.duplicate_coil
    if policy == "allow":
        return ()
    places: dict[str, list[tuple[int, str]]] = {}
    for number, rung in enumerate(program.rungs, 1):
        for e in elements(rung.network):
            if isinstance(e, Coil) and e.kind in ("", "/"):
                places.setdefault(e.name, []).append((number, _place(number, e.span)))
    notes = []
    for name, found in places.items():
        if len(found) > 1:
            rungs = ", ".join(str(number) for number, _ in found[:-1])
            note = Note(
                f"the coil {name} stands more than once: in rungs {rungs} and {found[-1][0]}",
                found[-1][1],
                f"the last one wins, rungs do not OR together; join the conditions in one rung for {name}",
                "load-duplicate-coil",
            )
            if policy == "refuse":
                raise LoadError(note.what, where=note.where, try_this=note.try_this, code=note.code)
            notes.append(note)
    return tuple(notes)


def _uses(program: Program) -> Iterator[tuple[str, bool, str]]:
    """Every BOOL name that the program reads or writes, whether it writes it, and where."""
    for number, rung in enumerate(program.rungs, 1):
        for e in elements(rung.network):
            if isinstance(e, Contact) and "." not in e.name:
                yield e.name, False, _place(number, e.span)
            elif isinstance(e, Coil):
                yield e.name, True, _place(number, e.span)
            elif isinstance(e, Block):
                yield from ((name, True, _place(number, e.span)) for _, name in e.outputs)


def _place(rung: int, span: Span) -> str:
    line = _line(span)
    return f"rung {rung}, {line}" if line else f"rung {rung}"


def _line(span: Span) -> str:
    return f"line {span.line}, column {span.column}" if span.line else ""

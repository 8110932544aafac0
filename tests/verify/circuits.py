"""The data of `tests/truth/circuits` and `tests/truth/misconceptions` as records, and a bench for each form."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

from labkit.bench import Bench
from labkit.board import Board, load_board, parts_catalogue
from labkit.faults import fault, put_in
from labkit.logic import Program, read_program
from labkit.verify import Verdict, prove

TRUTH = Path(__file__).parents[1] / "truth"


@dataclass(frozen=True)
class Asked:
    """One requirement of a circuit."""

    id: str
    says: str
    asked: str
    may: Sequence[str] | None = None
    join: Sequence[Sequence[str]] = ()
    parts: Mapping[str, str] = field(default_factory=dict)
    family: str | None = None


@dataclass(frozen=True)
class Form:
    """One way to program (or wire) a circuit; `fails` are the requirements that it breaks, all others hold."""

    id: str
    says: str
    program: str
    fails: Sequence[str] = ()
    asks: Sequence[str] | None = None
    join: Sequence[Sequence[str]] = ()
    lift: Sequence[str] = ()
    parts: Mapping[str, str] = field(default_factory=dict)
    faults: Sequence[str] = ()
    family: str = "alder"
    finding: str = ""


@dataclass(frozen=True)
class Circuit:
    """One file."""

    file: str
    number: str
    title: str
    board: str
    may: Sequence[str] | None
    requirements: Mapping[str, Asked]
    forms: Mapping[str, Form]
    about: str = ""
    symptom: str = ""
    belief: str = ""

    def asks(self, form: Form) -> list[Asked]:
        """The requirements that are put to a form."""
        return [a for a in self.requirements.values() if form.asks is None or a.id in form.asks]

    def subject(self, form: Form, asked: Asked) -> Bench | Program:
        """What a requirement is put to: a bench as the form wires it, or the program alone."""
        program = read_program(form.program)
        if self.board == "none":
            return program
        parts = tuple(sorted({**form.parts, **asked.parts}.items()))
        bench = _bench(self.board, parts, asked.family or form.family).again()
        bench.load(program)
        for a, b in (*form.join, *asked.join):
            bench.join(a, b)
        for wire in form.lift:
            bench.lift(wire)
        if form.faults:
            put_in(bench, *(fault(bench.board, name) for name in form.faults))
        return bench

    def verdict(self, form: Form, asked: Asked) -> Verdict:
        """The proof."""
        may = None if self.board == "none" else (asked.may or self.may)
        return prove(self.subject(form, asked), asked.asked, may=may)


@cache
def _bench(name: str, parts: tuple[tuple[str, str], ...], family: str) -> Bench:
    """One bench of each kind; what it has solved, the ones made from it find."""
    return Bench(_board(name, dict(parts)), family=family)


def _board(name: str, parts: Mapping[str, str]) -> Board:
    own = TRUTH / "boards" / f"{name}.toml"
    board = load_board(own if own.exists() else name)
    for designation, entry in parts.items():
        old = board.part(designation)
        board = board.with_part(replace(old, entry_name=entry, entry=parts_catalogue()[entry]))
    return board


def read(path: Path) -> Circuit:
    """One file."""
    data = tomllib.loads(path.read_text("utf-8"))
    return Circuit(
        file=path.stem,
        requirements={k: Asked(k, **v) for k, v in data.pop("requirements").items()},
        forms={k: Form(k, **v) for k, v in data.pop("forms").items()},
        may=data.pop("may", None),
        **data,
    )


def circuits(folder: str = "circuits") -> list[Circuit]:
    """All files of a folder in order."""
    return [read(path) for path in sorted((TRUTH / folder).glob("*.toml"))]

"""Failure effects: the same requirements once per single fault. Does STOP still stop, and who would notice?"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from labkit.base import LabkitError, did_you_mean
from labkit.bench import Bench
from labkit.faults import Fault as CatalogueFault
from labkit.faults import combined, every_single_fault, faults_in, put_in
from labkit.verify._seen import Seen, looks, told_apart
from labkit.verify.errors import ProofError
from labkit.verify.prove import prove
from labkit.verify.requirements import Requirement, requirement
from labkit.verify.surroundings import as_found, things
from labkit.verify.verdict import Verdict

__all__ = [
    "Bridge",
    "Effects",
    "EffectsRow",
    "EffectsTable",
    "Fault",
    "Off",
    "Pulled",
    "failure_effects",
    "fault_pairs",
    "wires_off",
]


@dataclass(frozen=True, slots=True)
class Off:
    """A wire that is off (an open circuit)."""

    wire: str

    def put(self, bench: Bench) -> None:
        """Make the fault."""
        bench.lift(self.wire)

    def __str__(self) -> str:
        return f"wire {self.wire} off"


@dataclass(frozen=True, slots=True)
class Bridge:
    """Two terminals joined: a short circuit, or an earth fault with ``b="PE"`` of a strip."""

    a: str
    b: str
    ohm: float = 0.05

    def put(self, bench: Bench) -> None:
        """Make the fault."""
        bench.join(self.a, self.b, self.ohm)

    def __str__(self) -> str:
        return f"{self.a} joined to {self.b}"


@dataclass(frozen=True, slots=True)
class Pulled:
    """Something plugged on that is missing."""

    part: str

    def put(self, bench: Bench) -> None:
        """Make the fault."""
        bench.remove(self.part)

    def __str__(self) -> str:
        return f"{self.part} missing"


OUTSIDE = "proof-feed"
"""What the model does not cover, met only with some fault: an armature that takes the controller's own supply away."""

Fault = Off | Bridge | Pulled | CatalogueFault
"""One made here, or one of :func:`labkit.faults.every_single_fault`."""


def title_of(fault: Fault | None) -> str:
    """What a person would point at, and what is wrong with it."""
    if fault is None:
        return "none"
    return fault.title if isinstance(fault, CatalogueFault) else str(fault)


@dataclass(frozen=True, slots=True)
class EffectsRow:
    """One fault as words: its title, its kind in the catalogue, an outcome per column, what shows it."""

    title: str
    code: str
    cells: tuple[str, ...]
    shows: str


@dataclass(frozen=True, slots=True)
class EffectsTable:
    """The table as words, to draw (``labkit.plots.draw_effects``) or to print. The healthy board comes first."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[EffectsRow, ...]


@dataclass(frozen=True, slots=True, repr=False)
class Effects:
    """Fault x requirement: a verdict each. The first row is the board without a fault (`fault` None).

    Parameters
    ----------
    asked
        The requirements, one per column.
    rows
        ``(fault, verdicts)``; a verdict is None where the board with that fault cannot be solved, or is outside what
        the model covers.
    names
        The columns' names.
    seen
        For each row the first thing that a person would notice, None if nothing shows; empty if nobody looked.
    """

    asked: tuple[Requirement, ...]
    rows: tuple[tuple[Fault | None, tuple[Verdict | None, ...]], ...]
    names: tuple[str, ...] = ()
    seen: tuple[Seen | None, ...] = ()

    @property
    def dangerous(self) -> tuple[Fault, ...]:
        """The faults with which a requirement that holds without them fails, or of which it cannot be said."""
        return tuple(f for f, verdicts in self.rows[1:] if f is not None and any(self._lost(verdicts)))

    @property
    def hidden(self) -> tuple[Fault, ...]:
        """The dangerous ones of which nothing shows in a round of work: they wait for the day they matter."""
        bad = self.dangerous
        shows = dict(zip((id(f) for f, _ in self.rows), self.seen, strict=False))
        return tuple(f for f in bad if id(f) in shows and shows[id(f)] is None)

    def _lost(self, verdicts: Sequence[Verdict | None]) -> tuple[bool, ...]:
        healthy = self.rows[0][1]
        return tuple(
            h is not None and h.outcome == "holds" and (v is None or v.outcome != "holds")
            for h, v in zip(healthy, verdicts, strict=True)
        )

    def answer(self, name: str | int = 0) -> str:
        """One line for one column: with which faults is it lost?

        Raises
        ------
        ProofError
            If there is no such column.
        """
        names = self.names or tuple(map(repr, self.asked))
        if isinstance(name, str) and name not in names:
            raise ProofError(f"no column {name}", where=name, try_this=did_you_mean(name, names), code="proof-column")
        column = names.index(name) if isinstance(name, str) else name
        label, faults = names[column], len(self.rows) - 1
        healthy = self.rows[0][1][column]
        if healthy is None or healthy.outcome != "holds":
            return f"{label}: not even without a fault"
        lost = [(title_of(f), verdicts[column]) for f, verdicts in self.rows[1:] if self._lost(verdicts)[column]]
        fails = [title for title, v in lost if v is not None and v.outcome == "fails"]
        open_ = [title for title, v in lost if v is None or v.outcome != "fails"]
        said = f"not with {len(fails)} of {faults} faults: {'; '.join(fails)}" if fails else ""
        if open_:
            said += ("; " if fails else "") + f"nothing can be said of {len(open_)}: {'; '.join(open_)}"
        return f"{label}: " + (said or f"yes, with each of {faults} faults")

    def csv(self) -> str:
        """The table as CSV text: fault, then one column per requirement, and what shows it if somebody looked."""
        text = io.StringIO()
        write = csv.writer(text, lineterminator="\n")
        looked = bool(self.seen)
        write.writerow(["fault", *(self.names or map(repr, self.asked)), *(["first seen"] if looked else [])])
        for number, (fault, verdicts) in enumerate(self.rows):
            said = ["not solved" if v is None else v.outcome for v in verdicts]
            write.writerow([title_of(fault), *said, *([self.shows(number)] if looked else [])])
        return text.getvalue()

    def shows(self, row: int) -> str:
        """What shows the fault of a row, in words; empty for the healthy board."""
        return "" if row == 0 or not self.seen else str(self.seen[row] or "nothing shows")

    def table(self, title: str = "", *, lost_only: bool = False) -> EffectsTable:
        """The table as words; with `lost_only` the healthy board and the faults that take something away."""
        rows = []
        for number, (fault, verdicts) in enumerate(self.rows):
            if not lost_only or fault is None or any(self._lost(verdicts)):
                cells = tuple("not solved" if v is None else v.outcome for v in verdicts)
                name = "no fault" if fault is None else title_of(fault)
                rows.append(EffectsRow(name, getattr(fault, "code", ""), cells, self.shows(number)))
        return EffectsTable(title, self.names or tuple(map(repr, self.asked)), tuple(rows))

    def html(self, title: str = "Single faults and what they take away") -> str:
        """The table as a page of its own."""
        from labkit.verify._page import effects_page

        return effects_page(self, title)

    def __repr__(self) -> str:
        found = self.dangerous
        if not found:
            return f"no fault of {len(self.rows) - 1} breaks what holds without it"
        said = ", ".join(title_of(f) for f in found)
        return f"{len(found)} of {len(self.rows) - 1} faults break what holds: {said}"


def wires_off(bench: Bench) -> tuple[Off, ...]:
    """Every landed wire off, one at a time."""
    return tuple(Off(wire.no) for wire in bench.wiring.wires)


def fault_pairs(faults: Iterable[CatalogueFault]) -> tuple[CatalogueFault, ...]:
    """Every two of these faults at once; two at one place are left out."""
    return tuple(combined(f"{a.id} and {b.id}", a, b) for a, b in combinations(faults, 2) if a.location != b.location)


def failure_effects(
    bench: Bench,
    asked: Mapping[str, Requirement | str] | Iterable[Requirement | str] | Requirement | str,
    faults: Iterable[Fault] | Literal["catalogue"] | None = None,
    *,
    may: Iterable[str] | None = None,
    look: bool = False,
) -> Effects:
    """Prove requirements with each fault present from the start, one fault at a time.

    Parameters
    ----------
    bench
        With a program. It is not touched; what is lifted, joined or put into it stays in each row.
    asked
        One requirement or several; with names, such as ``{"STOP": "whenever ..."}``, if you give them.
    faults
        Without them, every wire off; ``"catalogue"`` for every single fault that the catalogue knows and that is
        not in the bench already.
    may
        As for :func:`prove`.
    look
        Whether to work each faulty bench through a round of everything that may happen, and to say what would
        show the fault: a light, a lamp, a contactor, a breaker.

    Raises
    ------
    ProofError
        If the bench has no program, or a question cannot be put.
    """
    names: tuple[str, ...] = ()
    if isinstance(asked, Mapping):
        names, asked = tuple(asked), list(asked.values())
    several = [asked] if isinstance(asked, str | Requirement) else list(asked)
    wanted = tuple(requirement(one) for one in several)
    program = bench.engine.controller.program
    if program is None:
        raise ProofError("the bench has no program", try_this="load one first", code="proof-program")
    may = None if may is None else list(may)
    chosen: Iterable[Fault]
    if isinstance(faults, str):
        present = {fault.id for fault in faults_in(bench)}
        chosen = [fault for fault in every_single_fault(bench.board) if fault.id not in present]
    else:
        chosen = wires_off(bench) if faults is None else faults
    rows: list[tuple[Fault | None, tuple[Verdict | None, ...]]] = []
    seen: list[Seen | None] = []
    moving = things(bench, may)
    healthy = None
    for fault in (None, *chosen):
        other = _with(bench, fault)
        rows.append((fault, tuple(_prove(other, one, may) for one in wanted)))
        if look:
            shown = looks(other, moving)  # the proofs have not touched it
            healthy = shown if healthy is None else healthy
            seen.append(told_apart(healthy, shown))
    return Effects(wanted, tuple(rows), names, tuple(seen))


def _with(bench: Bench, fault: Fault | None) -> Bench:
    other = as_found(bench)
    program = bench.engine.controller.program
    assert program is not None
    other.load(program)
    if isinstance(fault, CatalogueFault):
        put_in(other, fault)
    elif fault is not None:
        fault.put(other)
    return other


def _prove(bench: Bench, asked: Requirement, may: list[str] | None) -> Verdict | None:
    try:
        return prove(bench, asked, may=may)
    except ProofError as wrong:
        if wrong.code != OUTSIDE:
            raise
        return None
    except LabkitError:  # this board has no solution in some position: nothing can be said, and nothing is
        return None

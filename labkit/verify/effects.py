"""Failure effects: the same requirements once per single fault. Does STOP still stop?"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass

from labkit.base import LabkitError
from labkit.bench import Bench
from labkit.verify.errors import ProofError
from labkit.verify.prove import prove
from labkit.verify.requirements import Requirement, requirement
from labkit.verify.verdict import Verdict

__all__ = ["Bridge", "Effects", "Fault", "Off", "Pulled", "failure_effects", "wires_off"]


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


Fault = Off | Bridge | Pulled


@dataclass(frozen=True, slots=True, repr=False)
class Effects:
    """Fault x requirement: a verdict each. The first row is the board without a fault (`fault` None).

    Parameters
    ----------
    asked
        The requirements, one per column.
    rows
        ``(fault, verdicts)``; a verdict is None where the board with that fault cannot be solved.
    """

    asked: tuple[Requirement, ...]
    rows: tuple[tuple[Fault | None, tuple[Verdict | None, ...]], ...]

    @property
    def dangerous(self) -> tuple[Fault, ...]:
        """The faults with which a requirement fails that holds without them."""
        healthy = self.rows[0][1]
        return tuple(
            fault
            for fault, verdicts in self.rows[1:]
            if fault is not None
            and any(
                h is not None and h.outcome == "holds" and (v is None or v.outcome != "holds")
                for h, v in zip(healthy, verdicts, strict=True)
            )
        )

    def csv(self) -> str:
        """The table as CSV text: fault, then one column per requirement."""
        text = io.StringIO()
        write = csv.writer(text, lineterminator="\n")
        write.writerow(["fault", *map(repr, self.asked)])
        for fault, verdicts in self.rows:
            write.writerow([fault or "none", *("not solved" if v is None else v.outcome for v in verdicts)])
        return text.getvalue()

    def __repr__(self) -> str:
        found = self.dangerous
        if not found:
            return f"no single fault of {len(self.rows) - 1} breaks what holds without it"
        return f"{len(found)} of {len(self.rows) - 1} single faults break what holds: " + ", ".join(map(str, found))


def wires_off(bench: Bench) -> tuple[Off, ...]:
    """Every landed wire off, one at a time."""
    return tuple(Off(wire.no) for wire in bench.wiring.wires)


def failure_effects(
    bench: Bench,
    asked: Iterable[Requirement | str] | Requirement | str,
    faults: Iterable[Fault] | None = None,
    *,
    may: Iterable[str] | None = None,
) -> Effects:
    """Prove requirements with each fault present from the start, one fault at a time.

    Parameters
    ----------
    bench
        With a program. It is not touched.
    asked
        One requirement or several.
    faults
        Without them, every wire off.
    may
        As for :func:`prove`.

    Raises
    ------
    ProofError
        If the bench has no program, or a question cannot be put.
    """
    several = [asked] if isinstance(asked, str | Requirement) else list(asked)
    wanted = tuple(requirement(one) for one in several)
    program = bench.engine.controller.program
    if program is None:
        raise ProofError("the bench has no program", try_this="load one first", code="proof-program")
    names = None if may is None else list(may)
    rows: list[tuple[Fault | None, tuple[Verdict | None, ...]]] = []
    for fault in (None, *(wires_off(bench) if faults is None else faults)):
        other = bench.as_wired()
        other.load(program)
        if fault is not None:
            fault.put(other)
        rows.append((fault, tuple(_prove(other, one, names) for one in wanted)))
    return Effects(wanted, tuple(rows))


def _prove(bench: Bench, asked: Requirement, may: list[str] | None) -> Verdict | None:
    try:
        return prove(bench, asked, may=may)
    except ProofError:
        raise
    except LabkitError:  # this board has no solution in some position: nothing can be said, and nothing is
        return None

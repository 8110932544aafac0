"""A question as a file that an outside tool can check: the system before anything is explored, and what is "bad"."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from labkit.base import Duration, write_atomic
from labkit.logic import Program
from labkit.verify._aiger import to_aag, to_aig, to_smv
from labkit.verify._model import model
from labkit.verify._nodes import Flat
from labkit.verify.errors import ProofError
from labkit.verify.prove import question
from labkit.verify.requirements import Requirement

if TYPE_CHECKING:
    from labkit.bench import Bench

__all__ = ["FORMS", "export", "system_of"]

FORMS = (".aag", ".aig", ".smv")
"""What a file name may end in: AIGER in ASCII, AIGER in binary, SMV-like text."""


def system_of(
    what: Bench | Program | str,
    asked: Requirement | str,
    *,
    board: str | None = None,
    may: Iterable[str] | None = None,
    scan: Duration | None = None,
) -> Flat:
    """The finite system that :func:`labkit.verify.prove` would explore, timers counted exactly.

    Raises
    ------
    ProofError
        If the question cannot be put, or the electrical map is too large to be solved beforehand.
    """
    system, wanted = question(what, asked, board=board, may=may, scan=scan)
    return model(system, wanted).flat()


def export(
    what: Bench | Program | str,
    asked: Requirement | str,
    path: Path | str,
    *,
    board: str | None = None,
    may: Iterable[str] | None = None,
    scan: Duration | None = None,
) -> Flat:
    """Write the question to a file; its ending tells the form. Arguments as for :func:`labkit.verify.prove`.

    The output ``bad`` (in SMV the invariant ``!bad``) is true in a scan that breaks the requirement; a counterexample
    of n steps is a story of n scans.

    Raises
    ------
    ProofError
        If the ending is none of :data:`FORMS`, or as for :func:`system_of`.
    """
    path = Path(path)
    if path.suffix not in FORMS:
        raise ProofError(
            f"a file that ends in {path.suffix or 'nothing'} has no known form",
            where=str(path),
            try_this="end it in .aag (AIGER, text), .aig (AIGER, binary) or .smv",
            code="proof-export",
        )
    flat = system_of(what, asked, board=board, may=may, scan=scan)
    comment = f"labkit: {asked!r}" if not isinstance(asked, str) else f"labkit: {asked}"
    if path.suffix == ".aig":
        write_atomic(path, to_aig(flat, comment))
    else:
        write_atomic(path, to_aag(flat, comment) if path.suffix == ".aag" else to_smv(flat, comment))
    return flat

"""What is known of each kind of fault in words: how it shows, the wrong first guess, the measurement that decides."""

from __future__ import annotations

import tomllib
from functools import lru_cache

from pydantic import BaseModel, ConfigDict, ValidationError

from labkit.base import data_path, read_text
from labkit.faults.errors import FaultError

__all__ = ["Alike", "Note", "Notes", "load_notes", "loads_notes"]

SCHEMA = 1


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Note(_Strict):
    """One kind of fault.

    ``symptom`` and ``decides`` hold pairs of a test's id and the band it shows with ``example`` in; of each one at
    least reads otherwise on the healthy board. A fault that shows at no lamp, indicator or contactor is ``hidden``
    and has no symptom. ``mistaken`` is the fault that the wrong first guess means, if it means one: it shares a
    symptom with the example, and one of the pairs that decide reads otherwise with it.
    """

    title: str
    shows: str
    guess: str
    measure: str
    example: str
    decides: tuple[tuple[str, str], ...]
    symptom: tuple[tuple[str, str], ...] = ()
    hidden: bool = False
    mistaken: str = ""


class Alike(_Strict):
    """Faults that no test of the dictionary tells apart (``"healthy"`` may be one of them), and why."""

    faults: tuple[str, ...]
    why: str


class Only(_Strict):
    """Faults that only one kind of test tells apart, as part of a group that is alike without it, and why."""

    without: str
    kinds: tuple[str, ...]
    faults: tuple[str, ...]
    why: str


class Notes(_Strict):
    """The catalogue in words, the groups that stay alike, and the codes of the trade that this board cannot have.

    `only` has groups that are alike when one kind of test is left out.
    """

    codes: dict[str, Note]
    alike: tuple[Alike, ...] = ()
    only: tuple[Only, ...] = ()
    absent: dict[str, str] = {}


def loads_notes(text: str, *, source: str = "notes") -> Notes:
    """Notes from the text of their file.

    Raises
    ------
    FaultError
        If the text is not TOML, or has a key or value that does not fit.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        raise FaultError(f"{source} is not TOML: {exc}", where=source, code="fault-file") from None
    if document.pop("schema", None) != SCHEMA:
        raise FaultError(f"write schema = {SCHEMA} at the top of {source}", where=source, code="fault-file")
    try:
        return Notes.model_validate(document)
    except ValidationError as exc:
        slip = exc.errors(include_url=False)[0]
        place = ".".join(str(part) for part in slip["loc"])
        raise FaultError(f"{place}: {slip['msg']}", where=f"{source}: {place}", code="fault-file") from None


@lru_cache(maxsize=4)  # a frozen record of a shipped file: sharing it is safe
def load_notes(board: str = "orchard") -> Notes:
    """The notes that come with a shipped board."""
    return loads_notes(read_text(data_path("datasets", "faults", f"{board}.toml")), source=f"{board}.toml")

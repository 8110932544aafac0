"""Family files: loads, load, dumps; the only place in this room that reads TOML."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from labkit.base import LabkitError, data_path, did_you_mean, need, read_text
from labkit.controller.family import Family

__all__ = ["FamilyError", "dumps_family", "families", "family", "load_family", "loads_family"]

SCHEMA = 1


class FamilyError(LabkitError):
    """A family file that cannot be used, or a family that is not there."""

    default_code = "family-file"


def families() -> tuple[str, ...]:
    """The names of the families that come with labkit, in alphabetical order."""
    return tuple(sorted(path.stem for path in data_path("datasets", "families").glob("*.toml")))


def family(which: str | Family) -> Family:
    """A shipped family by name; a :class:`Family` is handed back as it is.

    Raises
    ------
    FamilyError
        If there is no family of that name.
    """
    if isinstance(which, Family):
        return which
    known = families()
    need(which, str, "a family's name", f"write one of {', '.join(known)}")
    if which not in known:
        raise FamilyError(
            f"there is no controller family called {which!r}",
            where=which,
            try_this=did_you_mean(which, known) or f"Known here: {', '.join(known)}.",
            code="family-unknown",
        )
    return _shipped(which)


@lru_cache(maxsize=32)  # a frozen record of a shipped file: sharing it is safe
def _shipped(name: str) -> Family:
    return load_family(data_path("datasets", "families", f"{name}.toml"))


def load_family(path: str | Path) -> Family:
    """Read a family file.

    Raises
    ------
    LabkitError
        If the file cannot be read, or is not a family: see :func:`loads_family`.
    """
    return loads_family(read_text(path), source=Path(path).name)


def loads_family(text: str, *, source: str = "family") -> Family:
    """A family from the text of its file.

    Raises
    ------
    FamilyError
        If the text is not TOML, has another schema number, or has a key or value that does not fit; the
        message points into the document.
    """
    need(text, str, "the text of a family file", "to read a file give its name to load_family")
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        raise FamilyError(
            f"{source} is not TOML: {exc}",
            where=source,
            try_this="look at that line: text stands in quotes, a table's name in square brackets",
            code="family-not-toml",
        ) from None
    number = document.pop("schema", None)
    if number != SCHEMA or isinstance(number, bool):
        what, try_this = _schema_slip(number)
        raise FamilyError(what, where=f"{source}: schema", try_this=try_this, code="family-schema")
    try:
        return Family.model_validate(document)
    except ValidationError as exc:
        raise _first_slip(exc, source) from None


def _schema_slip(number: object) -> tuple[str, str]:
    if number is None:
        return "the file does not say which schema it follows", f"write schema = {SCHEMA} at its top"
    if isinstance(number, int) and number > SCHEMA:
        return f"schema {number} is newer than this labkit knows ({SCHEMA})", "update labkit"
    return f"schema {number!r} is not one that labkit ever used", f"write schema = {SCHEMA}"


def _first_slip(exc: ValidationError, source: str) -> FamilyError:
    """The first thing that is wrong, by its place in the document."""
    slips = exc.errors(include_url=False)
    # a misspelt key is also a missing one: the misspelling is the better thing to say
    slip = next((slip for slip in slips if slip["type"] == "extra_forbidden"), slips[0])
    place = ".".join(str(part) for part in slip["loc"])
    where = f"{source}: {place}" if place else source
    key = str(slip["loc"][-1]) if slip["loc"] else ""
    if slip["type"] == "extra_forbidden":
        known = _keys_beside(slip["loc"])
        return FamilyError(
            f"{place}: this table has no key {key}",
            where=where,
            try_this=did_you_mean(key, known, most=12),
            code="family-key",
        )
    if slip["type"] == "missing":
        return FamilyError(f"{place} is missing", where=where, try_this=f"add {key} = ...", code="family-key")
    given = slip["input"]
    shown = "" if isinstance(given, Mapping | BaseModel) else f", not {given!r}"[:60]
    message = slip["msg"].removeprefix("Value error, ").removeprefix("Input ")
    return FamilyError(
        f"{place}: {message}{shown}",
        where=where,
        try_this=f"compare with {key} in a shipped family's file",
        code="family-value",
    )


def _keys_beside(loc: tuple[int | str, ...]) -> tuple[str, ...]:
    """The keys of the table in which the last part of `loc` stands."""
    table: type[BaseModel] = Family
    for part in loc[:-1]:
        inner = table.model_fields[str(part)].annotation if str(part) in table.model_fields else None
        if not (isinstance(inner, type) and issubclass(inner, BaseModel)):
            return ()
        table = inner
    return tuple(table.model_fields)


def dumps_family(of: Family) -> str:
    """The family as the text of a file that :func:`loads_family` reads back to the same record."""
    lines = [f"schema = {SCHEMA}"]
    lines += _lines_of(of.model_dump(), ())
    return "\n".join(lines) + "\n"


def _lines_of(table: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    plain = {key: value for key, value in table.items() if not isinstance(value, Mapping)}
    if path and plain:
        yield f"\n[{'.'.join(path)}]"
    for key, value in plain.items():
        yield f"{key} = {_toml(value)}"
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _lines_of(value, (*path, key))


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple | list):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return repr(value)

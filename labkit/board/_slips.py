"""From what a schema check says to sentences that point into the document."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from labkit.base import did_you_mean
from labkit.board.errors import BoardFileError, Slip

__all__ = ["check_schema", "parse_toml", "path_of", "slips_of", "validate"]

M = TypeVar("M", bound=BaseModel)

MOST_TEXT = 1_000_000  # a board with a thousand wires is a tenth of this; more is not a board


def parse_toml(text: str, name: str) -> dict[str, Any]:
    """The tables of a TOML text.

    Raises
    ------
    BoardFileError
        If it is not TOML, or far too long.
    """
    if len(text) > MOST_TEXT:
        raise BoardFileError([Slip("document", f"has {len(text)} characters; {MOST_TEXT} is the most.")], name=name)
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as exc:
        what = str(exc) if isinstance(exc, tomllib.TOMLDecodeError) else "is nested too deeply"
        raise BoardFileError([Slip("document", f"is not TOML: {what}.")], name=name, code="board-not-toml") from None


def check_schema(document: Mapping[str, Any], known: int, name: str) -> None:
    """See that this version can read the document's schema number.

    Raises
    ------
    BoardFileError
        If the number is missing, is no whole number, or is newer than `known`.
    """
    schema = document.get("schema")
    if schema is None:
        slip = Slip("schema", "is missing.", f"Write schema = {known} at the top.")
    elif not isinstance(schema, int) or isinstance(schema, bool) or schema < 1:
        slip = Slip("schema", f"must be a whole number from 1, not {schema!r}.")
    elif schema > known:
        slip = Slip("schema", f"is {schema}, newer than the {known} that this labkit reads.", "Update labkit.")
        raise BoardFileError([slip], name=name, code="board-newer-schema")
    else:
        return
    raise BoardFileError([slip], name=name, code="board-schema")


def path_of(loc: Sequence[int | str], prefix: str = "") -> str:
    """A place in a document as people write it: ``wires[14].b``."""
    path = prefix
    for step in loc:
        path += f"[{step}]" if isinstance(step, int) else f".{step}" if path else str(step)
    return path or "document"


def validate(model: type[M], document: object, prefix: str = "") -> tuple[M | None, list[Slip]]:
    """The record, or every slip that keeps the document from being one."""
    try:
        return model.model_validate(document), []
    except ValidationError as exc:
        return None, slips_of(model, exc, prefix)


def slips_of(model: type[BaseModel], exc: ValidationError, prefix: str = "") -> list[Slip]:
    """One slip per complaint, in words of the document."""
    return [_slip(model, error, prefix) for error in exc.errors(include_url=False)]


def _slip(model: type[BaseModel], error: Any, prefix: str) -> Slip:
    loc = tuple(step for step in error["loc"] if step != "[key]")
    path, kind, given = path_of(loc, prefix), error["type"], _short(error.get("input"))
    if kind == "missing":
        return Slip(path, "is missing.")
    if kind == "extra_forbidden":
        key = str(loc[-1])
        known = _keys(_model_at(model, loc[:-1]))
        return Slip(path, f"unknown key {key}.", did_you_mean(key, known, most=20))
    if kind == "literal_error":
        known = [k.strip().strip("'") for k in error["ctx"]["expected"].replace(" or ", ", ").split(", ")]
        return Slip(
            path, f"must be {error['ctx']['expected']}, not {given}.", did_you_mean(given.strip("'\""), known, most=0)
        )
    if kind in ("float_type", "float_parsing", "int_type", "int_parsing", "int_from_float"):
        whole = "whole number" if kind.startswith("int") else "number"
        return Slip(path, f"must be a {whole}, not {given}.")
    if kind == "string_type":
        return Slip(path, f"must be text in quotes, not {given}.")
    if kind == "string_pattern_mismatch":
        return Slip(path, f"{given} is not written as it must be ({error['ctx']['pattern']}).")
    if kind == "value_error":
        return Slip(path, f"{error['ctx']['error']}.")
    return Slip(path, f"{error['msg'].replace('Input should be', 'must be')}, not {given}.")


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _keys(model: type[BaseModel] | None) -> list[str]:
    return [f.alias or name for name, f in model.model_fields.items()] if model else []


def _model_at(model: type[BaseModel], loc: Sequence[int | str]) -> type[BaseModel] | None:
    """The record that stands at a place, found by the annotations on the way."""
    here: type[BaseModel] | None = model
    for step in loc:
        if isinstance(step, str) and here is not None and step in here.model_fields:
            here = _record_in(here.model_fields[step].annotation)
    return here


def _record_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in get_args(annotation):
        found = _record_in(inner)
        if found is not None:
            return found
    return None

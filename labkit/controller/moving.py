"""Moving to another family: the mapping sheet, and what behaves differently there."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from labkit.controller.addresses import AddressError, print_address
from labkit.controller.family import Family, family_given
from labkit.controller.tags import TagKind, TagTable

__all__ = ["Difference", "MappingRow", "MappingSheet", "Switch", "differences", "move", "switches"]

_COLUMN_WORD = {"power_up": "at power-up: ", "stop_to_run": "at stop-to-run: "}


@dataclass(frozen=True, slots=True)
class Switch:
    """One thing in which families differ, with one family's setting."""

    key: str
    title: str
    setting: str
    why: str


@dataclass(frozen=True, slots=True)
class Difference:
    """A switch that two families set differently."""

    key: str
    title: str
    old: str
    new: str
    why: str

    def __str__(self) -> str:
        return f"{self.title}: {self.old} becomes {self.new} ({self.why})"


@dataclass(frozen=True, slots=True)
class MappingRow:
    """Where one tag was and where it goes.

    `old` or `new` is empty where the tag has no place in that family; `differs` says why the row needs a
    second look, and is empty where the address reads the same.
    """

    tag: str
    kind: TagKind
    point: str
    old: str
    new: str
    differs: str


@dataclass(frozen=True, slots=True)
class MappingSheet:
    """The sheet that goes with a program from one family to another."""

    source: str
    target: str
    rows: tuple[MappingRow, ...]
    behaviour: tuple[Difference, ...]

    def to_csv(self) -> str:
        """The rows as CSV text."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(("tag", "kind", "point", self.source, self.target, "differs"))
        writer.writerows((r.tag, r.kind, r.point, r.old, r.new, r.differs) for r in self.rows)
        return out.getvalue()

    def __str__(self) -> str:
        lines = [f"from {self.source} to {self.target}"]
        lines += [f"  {r.tag:<12} {r.old:<10} {r.new:<10} {r.differs}".rstrip() for r in self.rows]
        lines += [f"  {difference}" for difference in self.behaviour]
        return "\n".join(lines)


def switches(of: Family) -> tuple[Switch, ...]:
    """Every switch of a family, in the order of its file, in words."""
    return tuple(_switches(of, ""))


def _switches(table: BaseModel, path: str) -> Iterator[Switch]:
    for key, field in type(table).model_fields.items():
        value = getattr(table, key)
        if isinstance(value, BaseModel):
            yield from _switches(value, f"{path}{key}.")
        elif field.title:
            column = next((word for name, word in _COLUMN_WORD.items() if f"{name}." in path), "")
            yield Switch(path + key, column + field.title, _in_words(key, value), field.description or "")


def _in_words(key: str, value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return " and ".join(value) if value else "nothing: no such flag"
    if key == "group_bits":
        return f"{value}" if value else "flat"
    if key == "watchdog_us" and value == 0:
        return "none"
    if key == "period_us" and value == 0:
        return "as long as its phases"
    if key.endswith("_us") or key == "solve_us_per_rung":
        for unit, size in (("s", 1_000_000), ("ms", 1_000)):
            if value and value % (size // 10) == 0 and value >= size:
                return f"{value / size:g} {unit}"
        return f"{value} us"
    return f"{value:g} V" if key.endswith("_v") else str(value)


def differences(old: Family, new: Family) -> tuple[Difference, ...]:
    """The switches in which two families differ, in the order of their files."""
    old, new = family_given(old), family_given(new)
    return tuple(
        Difference(before.key, before.title, before.setting, after.setting, before.why)
        for before, after in zip(switches(old), switches(new), strict=True)
        if before.setting != after.setting
    )


def move(table: TagTable, old: Family, new: Family) -> MappingSheet:
    """The mapping sheet of a tag table from one family to another. The terminals stay; their names change."""
    rows = tuple(_row(table, name, old, new) for name in table.by_name)
    return MappingSheet(old.name, new.name, rows, differences(old, new))


def _row(table: TagTable, name: str, old: Family, new: Family) -> MappingRow:
    tag = table.tag(name)
    place = table.place(name)
    if place is None:
        return MappingRow(name, tag.kind, "", "", "", "has no point yet")
    before, _ = _written(table, name, old)
    after, slip = _written(table, name, new)
    point = f"{place.area}{place.index + 1}"
    differs = slip if slip else "" if before == after else "another address"
    return MappingRow(name, tag.kind, point, before, after, differs)


def _written(table: TagTable, name: str, family: Family) -> tuple[str, str]:
    """The address, or nothing and the sentence that says why not."""
    place = table.place(name)
    assert place is not None  # asked for placed tags only
    try:
        return print_address(place, family), ""
    except AddressError as slip:
        return "", slip.what

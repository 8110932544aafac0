"""The tag table as CSV, for spreadsheets: one row a tag."""

from __future__ import annotations

import csv
import io

from labkit.base import LabkitError, did_you_mean, need
from labkit.controller.addresses import print_address
from labkit.controller.family import Family
from labkit.controller.tags import Tag, TagError, TagTable

__all__ = ["dumps_tags", "loads_tags"]

_COLUMNS = ("tag", "kind", "point", "retain", "comment")
_YES_NO = {"yes": True, "no": False, "": False}
MOST_TAGS = 5_000  # more than any family has places for


def dumps_tags(table: TagTable, family: Family | None = None) -> str:
    """The table as CSV text; with a family, a last column with its addresses.

    The address column is for reading only: :func:`loads_tags` goes by the point.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow((*_COLUMNS, *([f"address in {family.name}"] if family else [])))
    for tag in table:
        place = table.place(tag.name)
        row = [tag.name, tag.kind, tag.point or "", "yes" if tag.retain else "no", tag.comment]
        if family:
            row.append(print_address(place, family) if place else "")
        writer.writerow(row)
    return out.getvalue()


def loads_tags(text: str, *, source: str = "tags.csv") -> TagTable:
    """A tag table from CSV text.

    Raises
    ------
    TagError
        If a column is missing, or a row does not make a tag; the message names the line.
    """
    need(text, str, "the text of a tag table", "to read a file: loads_tags(Path('tags.csv').read_text())")
    try:
        reader = csv.DictReader(io.StringIO(text.lstrip("\ufeff"), newline=""), strict=True)
        header = tuple(name.strip().lower() for name in reader.fieldnames or ())
        _check_header(header, source)
        reader.fieldnames = header
        tags: list[Tag] = []
        for row in reader:
            if len(tags) == MOST_TAGS:
                raise TagError(
                    f"more than {MOST_TAGS} tags",
                    where=f"{source}: line {reader.line_num}",
                    try_this=f"keep the first {MOST_TAGS}; that is more than a controller here has points",
                    code="tag-csv-size",
                )
            tags.append(_tag(row, f"{source}: line {reader.line_num}"))
    except csv.Error as exc:
        raise TagError(
            f"this is not CSV: {exc}", where=source, try_this="save the sheet as CSV (parted by commas)", code="tag-csv"
        ) from None
    return TagTable(tags)


def _check_header(header: tuple[str, ...], source: str) -> None:
    for column in _COLUMNS:
        if column not in header:
            others = [name for name in header if name not in _COLUMNS]
            slip = next((name for name in others if did_you_mean(name, [column]) == f"Did you mean {column}?"), None)
            raise TagError(
                f"the first line has no column {column}",
                where=f"{source}: line 1",
                try_this=f"rename the column {slip}" if slip else f"the columns are {', '.join(_COLUMNS)}",
                code="tag-csv-column",
            )


def _tag(row: dict[str, str | None], where: str) -> Tag:
    # csv files what is beyond the last column under the key None
    if None in row:
        raise TagError(
            "this row has more cells than the first line has columns",
            where=where,
            try_this="put a comment that holds commas in double quotes",
            code="tag-csv-row",
        )
    cell = {name: (row.get(name) or "").strip() for name in _COLUMNS}
    retain = _YES_NO.get(cell["retain"].lower())
    if retain is None:
        raise TagError(
            f"retain is yes or no, not {cell['retain']!r}",
            where=where,
            try_this="write yes or no in that cell",
            code="tag-csv-row",
        )
    try:
        kind = cell["kind"].lower()
        return Tag(cell["tag"], kind, cell["point"].upper() or None, retain, cell["comment"])  # type: ignore[arg-type]
    except LabkitError as slip:  # the same slip, told with its line
        raise TagError(slip.what, where=where, try_this=slip.try_this, code=slip.code) from None

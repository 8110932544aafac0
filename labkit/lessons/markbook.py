"""The mark book: one SQLite file, one row for each marking, rows are only ever added.

A torn or hostile hand-in is a row too, so that nothing that came in is lost from the record. A re-sit, or the
same file marked again, adds a row; the latest row of a student and lesson is what counts.
"""

from __future__ import annotations

import csv
import io
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, fields
from pathlib import Path

from labkit.base import write_atomic
from labkit.lessons.errors import MarkBookError

__all__ = ["BookRow", "MarkBook"]

BOOK_SCHEMA = 1

# Each line does nothing where it is already so: two markers may make one book at the same moment.
_MAKE = f"""
CREATE TABLE IF NOT EXISTS book (schema INTEGER NOT NULL);
INSERT INTO book SELECT {BOOK_SCHEMA} WHERE NOT EXISTS (SELECT 1 FROM book);
CREATE TABLE IF NOT EXISTS marking (
  number INTEGER PRIMARY KEY AUTOINCREMENT,
  marked_at TEXT NOT NULL,
  file TEXT NOT NULL,
  file_sha256 TEXT NOT NULL,
  outcome TEXT NOT NULL,
  lesson TEXT NOT NULL,
  student TEXT NOT NULL,
  attempt INTEGER NOT NULL,
  seed TEXT NOT NULL,
  points REAL NOT NULL,
  out_of REAL NOT NULL,
  passed INTEGER NOT NULL,
  message TEXT NOT NULL,
  sheet TEXT NOT NULL
);
CREATE INDEX IF NOT EXISTS marking_who ON marking (lesson, student);
CREATE TRIGGER IF NOT EXISTS marking_no_change BEFORE UPDATE ON marking
BEGIN SELECT RAISE(ABORT, 'a mark book is only added to'); END;
CREATE TRIGGER IF NOT EXISTS marking_no_delete BEFORE DELETE ON marking
BEGIN SELECT RAISE(ABORT, 'a mark book is only added to'); END;
"""


@dataclass(frozen=True, slots=True)
class BookRow:
    """One marking.

    Parameters
    ----------
    marked_at
        When, as text; given by whoever marks, so that marking itself needs no clock.
    file, file_sha256
        The bare name and the digest of what was handed in.
    outcome
        ``marked``, ``flagged`` or ``unreadable``.
    lesson, student, attempt, seed
        Whose; empty (and 0) where the file could not be read.
    points, out_of, passed
        The marks.
    message
        One line: the verdict, or why it could not be marked.
    sheet
        The mark sheet as JSON; empty where there is none.
    """

    marked_at: str
    file: str
    file_sha256: str
    outcome: str
    lesson: str = ""
    student: str = ""
    attempt: int = 0
    seed: str = ""
    points: float = 0.0
    out_of: float = 0.0
    passed: bool = False
    message: str = ""
    sheet: str = ""


_COLUMNS = tuple(column.name for column in fields(BookRow))


class MarkBook:
    """A mark book at a path; made if it is not there.

    Raises
    ------
    MarkBookError
        If the file is something else, or cannot be opened.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        try:
            with closing(self._open()) as book, book:
                tables = {row[0] for row in book.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
                if not tables:
                    book.executescript(f"BEGIN IMMEDIATE; {_MAKE} COMMIT;")
                    return
                schema = book.execute("SELECT schema FROM book").fetchone()[0] if "book" in tables else None
        except sqlite3.Error as exc:
            raise self._error(exc) from None
        if schema is None or "marking" not in tables:
            raise MarkBookError(
                f"{self.path.name} is a database, but not a mark book", where=str(path), code="markbook-form"
            )
        if schema > BOOK_SCHEMA:
            raise MarkBookError(
                f"{self.path.name} has schema {schema}; this labkit knows up to {BOOK_SCHEMA}",
                try_this="update labkit",
                code="markbook-newer",
            )

    def add(self, rows: list[BookRow]) -> None:
        """Add rows, all or none.

        Raises
        ------
        MarkBookError
            If the file cannot be written.
        """
        sql = f"INSERT INTO marking ({', '.join(_COLUMNS)}) VALUES ({', '.join('?' * len(_COLUMNS))})"
        values = [tuple(getattr(row, column) for column in _COLUMNS) for row in rows]
        try:
            with closing(self._open()) as book, book:
                book.executemany(sql, values)
        except sqlite3.Error as exc:
            raise self._error(exc) from None

    def rows(self, *, lesson: str | None = None, latest: bool = False) -> list[BookRow]:
        """Every row in the order of marking; with `latest` only the last one of each student and lesson.

        Rows without a student (files that could not be read) are kept in both.
        """
        found = [row for row in self._read() if lesson is None or row.lesson in ("", lesson)]
        if not latest:
            return found
        last = {(row.lesson, row.student.casefold()): i for i, row in enumerate(found)}
        return [row for i, row in enumerate(found) if not row.student or last[row.lesson, row.student.casefold()] == i]

    def to_csv(self, path: str | Path | None = None, *, lesson: str | None = None, latest: bool = False) -> str:
        """The rows as CSV text, without the sheets; also written to `path` if given."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        columns = [column for column in _COLUMNS if column != "sheet"]
        writer.writerow(columns)
        for row in self.rows(lesson=lesson, latest=latest):
            writer.writerow([_cell(getattr(row, column)) for column in columns])
        if path is not None:
            write_atomic(path, out.getvalue())
        return out.getvalue()

    def _read(self) -> Iterator[BookRow]:
        try:
            with closing(self._open()) as book:
                for values in book.execute(f"SELECT {', '.join(_COLUMNS)} FROM marking ORDER BY number"):
                    record = dict(zip(_COLUMNS, values, strict=True))
                    yield BookRow(**{**record, "passed": bool(record["passed"])})
        except sqlite3.Error as exc:
            raise self._error(exc) from None

    def _open(self) -> sqlite3.Connection:
        # isolation by SQLite itself: two instructors may mark into one book
        return sqlite3.connect(self.path, timeout=30)

    def _error(self, exc: sqlite3.Error) -> MarkBookError:
        return MarkBookError(
            f"the mark book {self.path.name} cannot be used: {exc}",
            where=str(self.path),
            try_this="give another file, or check that it is not damaged",
            code="markbook-sqlite",
        )


def _cell(value: object) -> object:
    """A cell that no spreadsheet takes for a formula: a name may begin with = and mean harm."""
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return "'" + value
    return value

"""Durations carry units, errors carry a cure, files are never half written."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.base import (
    Duration,
    LabkitError,
    UnitError,
    as_us,
    data_path,
    did_you_mean,
    ms,
    read_text,
    s,
    us,
    write_atomic,
)


def test_durations_are_whole_microseconds_and_show_the_largest_unit() -> None:
    assert (ms(45).us, s(1.5).us, us(7).us) == (45_000, 1_500_000, 7)
    assert [repr(d) for d in (s(2), ms(1500), us(1501), us(0))] == ["2 s", "1500 ms", "1501 us", "0 us"]


@given(st.integers(-(10**12), 10**12), st.integers(-(10**12), 10**12))
def test_durations_add_and_compare_like_their_microseconds(a: int, b: int) -> None:
    assert (us(a) + us(b)).us == a + b
    assert (us(a) - us(b)).us == a - b
    assert (us(a) < us(b)) == (a < b)


def test_a_bare_number_is_refused_with_both_readings() -> None:
    with pytest.raises(TypeError, match=r"^hold needs a unit\n") as slip:
        as_us(45, "hold")
    assert isinstance(slip.value, LabkitError)
    assert slip.value.try_this == "write ms(45) or s(45), not the bare number 45"
    with pytest.raises(TypeError, match="must be a duration"):
        as_us("45 ms")
    with pytest.raises(UnitError, match=r"ms\(\) takes a number, not '45'"):
        ms("45")  # type: ignore[arg-type]
    with pytest.raises(UnitError, match=r"s\(\) takes a number, not nan"):
        s(float("nan"))
    with pytest.raises(TypeError, match="must be a duration"):
        as_us(True)
    assert as_us(Duration(3)) == 3


def test_an_error_says_what_where_and_what_to_try() -> None:
    error = LabkitError("no terminal K1:15", where="wires[3].b", try_this="use K1:14", code="wiring-terminal")
    assert str(error) == "no terminal K1:15\n  where: wires[3].b\n  try:   use K1:14"
    assert (error.code, error.what) == ("wiring-terminal", "no terminal K1:15")


def test_near_misses_are_guessed_and_short_lists_shown() -> None:
    many = [*(f"X{i}0" for i in range(20)), "S1", "S2"]
    assert did_you_mean("s2", ["S1x", "S2"]) == "Did you mean S2?"
    assert did_you_mean("zzz", ["S1", "S2"]) == "Known here: S1, S2."
    assert did_you_mean("zzz", many) == ""
    assert did_you_mean("S9", many) == "Known here: S1, S2."
    assert did_you_mean("999", [*many, "9"]) == ""


def test_a_write_replaces_whole_files_and_leaves_no_part_behind(tmp_path: Path) -> None:
    target = tmp_path / "new" / "book.json"
    write_atomic(target, "one")
    write_atomic(target, b"two")
    assert target.read_text() == "two"
    assert [p.name for p in target.parent.iterdir()] == ["book.json"]


def test_a_failed_write_keeps_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = write_atomic(tmp_path / "book.json", "old")
    monkeypatch.setattr("labkit.base.files.os.fsync", lambda _fd: (_ for _ in ()).throw(OSError("disk full")))
    with pytest.raises(LabkitError, match=r"book\.json cannot be written: disk full"):
        write_atomic(target, "new")
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["book.json"]


def test_writing_on_a_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(LabkitError, match="cannot be written: it is a folder") as told:
        write_atomic(tmp_path, "new")
    assert told.value.try_this == "give the name of a file in it"
    assert list(tmp_path.iterdir()) == []


def test_reading_says_what_is_wrong_with_a_file(tmp_path: Path) -> None:
    (tmp_path / "latin.txt").write_bytes(b"caf\xe9")
    with pytest.raises(LabkitError, match=r"latin.txt is not UTF-8 text \(byte 3\)"):
        read_text(tmp_path / "latin.txt")
    with pytest.raises(LabkitError, match=r"there is no file gone\.txt"):
        read_text(tmp_path / "gone.txt")
    with pytest.raises(LabkitError, match="cannot be read"):
        read_text(tmp_path)


def test_missing_data_is_named() -> None:
    with pytest.raises(LabkitError, match=r"has no datasets/boards/nowhere\.toml"):
        data_path("datasets", "boards", "nowhere.toml")


@pytest.mark.parametrize("module", ["durations", "hints"])
def test_the_examples_in_the_docstrings_run(module: str) -> None:
    result = doctest.testmod(importlib.import_module(f"labkit.base.{module}"))
    assert result.attempted > 0
    assert result.failed == 0


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("here")
    with pytest.raises(LabkitError, match=r"book\.csv cannot be written") as slip:
        write_atomic(tmp_path / "file" / "book.csv", "x")
    assert (slip.value.code, slip.value.where) == ("file-unwritable", str(tmp_path / "file" / "book.csv"))

"""A hand-in from a stranger: one clear line for whatever it is, and never anything else."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.lessons import LIMITS, HandIn, HandInError, dumps_handin, handin_name, loads_handin, one_line, read_handin
from labkit.lessons._strict_json import strict_json

GOOD: dict[str, Any] = {
    "schema": 1,
    "kind": "labkit hand-in",
    "lesson": "seal-in",
    "edition": 1,
    "student": "R. Vale",
    "attempt": 1,
    "seed": "8b605a888d5b7e3c",
    "answers": {"block-off": "drops"},
    "log": [{"at_ms": 0.0, "do": "power", "on": True}],
}


def _with(**changes: Any) -> bytes:
    return json.dumps({**GOOD, **changes}).encode()


def _without(key: str) -> bytes:
    return json.dumps({k: v for k, v in GOOD.items() if k != key}).encode()


def test_what_is_written_is_read_back() -> None:
    handin = loads_handin(json.dumps(GOOD).encode())
    assert loads_handin(dumps_handin(handin).encode()) == handin
    assert dumps_handin(handin) == dumps_handin(loads_handin(dumps_handin(handin).encode()))


HOSTILE: list[tuple[str, bytes, str]] = [
    ("empty", b"", "the file is empty"),
    ("blank", b"  \n", "the file is empty"),
    ("torn", json.dumps(GOOD).encode()[:150], "the file is torn"),
    ("torn in a string", b'{"schema": 1, "kind": "labk', "the file is torn"),
    ("two documents", b"{} {}", "not JSON"),
    ("not JSON", b"PK\x03\x04 zip", "not JSON"),
    ("not text", b"\xff\xfe\x00", "not UTF-8"),
    ("huge", b'{"a": "' + b"x" * LIMITS.file_bytes.value + b'"}', "more than 512000 bytes"),
    ("deep list", b"[" * 200_000 + b"]" * 200_000, "nested deeper than 12"),
    ("deep object", b'{"a":' * 50_000, "nested deeper than 12"),
    ("many quotes", b'["' + b'\\"' * 200_000, "torn"),
    ("NaN", _with(attempt=1).replace(b'"attempt": 1', b'"attempt": NaN'), "NaN is not a number"),
    ("infinity", _with().replace(b'"attempt": 1', b'"attempt": -Infinity'), "-Infinity is not a number"),
    ("beyond", _with().replace(b'"attempt": 1', b'"attempt": 1e999'), "beyond any reading"),
    ("long number", _with().replace(b'"attempt": 1', b'"attempt": ' + b"9" * 5000), "more than 15 digits"),
    ("twice", b'{"schema": 1, "schema": 1}', "'schema' is given twice"),
    ("surrogate", b'{"a": "\\ud800"}', "half a character"),
    ("a list", b"[1, 2]", "should be an object"),
    ("a number", b"7", "should be an object"),
    ("another kind", _with(kind="letter"), "not a hand-in of labkit"),
    ("newer", _with(schema=2), "knows up to 1"),
    ("schema true", _with(schema=True, kind="x"), "not a hand-in"),
    ("unknown key", _with(answer={}), "'answer' is not a key"),
    ("path as lesson", _with(lesson="../../etc/passwd"), "lesson is not one"),
    ("lesson object", _with(lesson={"a": 1}), "lesson is not one"),
    ("attempt text", _with(attempt="1"), "attempt is a whole number"),
    ("attempt true", _with(attempt=True), "attempt is a whole number"),
    ("attempt zero", _with(attempt=0), "attempt is a whole number"),
    ("edition float", _with(edition=1.5), "edition is a whole number"),
    ("student list", _with(student=["R. Vale"]), "name is missing"),
    ("student blank", _with(student="  "), "name is missing"),
    ("student long", _with(student="x" * 81), "81 characters"),
    ("student control", _with(student="R\x00Vale"), "cannot be printed"),
    ("seed", _with(seed="zz"), "seed is not one"),
    ("seed path", _with(seed="../../../../../x"), "seed is not one"),
    ("answers list", _with(answers=[1]), "answers is not a table"),
    ("answers many", _with(answers={f"t{i}": 1 for i in range(201)}), "answers 201 tasks"),
    ("answers path", _with(answers={"../x": 1}), "'../x' cannot be a task"),
    ("answers dunder", _with(answers={"__class__": 1}), "cannot be a task"),
    ("log text", _with(log="all"), "log is not a list"),
    ("log many", _with(log=[{}] * 2001), "2001 entries"),
    *((f"no {key}", _without(key), f"no '{key}'") for key in GOOD),
]


@pytest.mark.parametrize(("data", "says"), [h[1:] for h in HOSTILE], ids=[h[0] for h in HOSTILE])
def test_a_hostile_document_gets_one_line(data: bytes, says: str) -> None:
    with pytest.raises(HandInError) as caught:
        loads_handin(data)
    line = one_line(caught.value)
    assert says in line
    assert "\n" not in line
    assert len(line) <= 300
    assert "Traceback" not in line


def _read(data: bytes) -> HandIn | str:
    """A hand-in, or the line that is said instead; anything else that is raised fails the test."""
    try:
        return loads_handin(data)
    except HandInError as exc:
        return one_line(exc)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_give_a_line_or_a_hand_in(data: bytes) -> None:
    found = _read(data)
    assert isinstance(found, HandIn) or found.isprintable()


plain = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(sorted(GOOD)), plain)
def test_any_value_in_any_place_gives_a_line_or_a_hand_in(key: str, value: Any) -> None:
    found = _read(json.dumps({**GOOD, key: value}).encode())
    assert isinstance(found, HandIn) or found.isprintable()


@settings(max_examples=200, deadline=None)
@given(plain)
def test_strict_json_agrees_with_json_on_what_it_takes(value: Any) -> None:
    text = json.dumps(value)
    try:
        found = strict_json(text.encode())
    except HandInError as exc:
        found = exc
    if isinstance(found, HandInError):
        assert found.code in ("handin-number", "handin-too-deep", "handin-not-text")
    else:
        assert found == json.loads(text)


@settings(max_examples=100, deadline=None)
@given(st.integers(0, len(json.dumps(GOOD)) - 1))
def test_a_file_cut_anywhere_is_called_torn(cut: int) -> None:
    with pytest.raises(HandInError) as caught:
        loads_handin(json.dumps(GOOD).encode()[:cut])
    assert caught.value.code in ("handin-torn", "handin-empty")


@settings(max_examples=200, deadline=None)
@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=80))
def test_a_file_name_holds_nothing_that_a_file_system_minds(student: str) -> None:
    name = handin_name(HandIn("seal-in", 1, student, 1, "8b605a888d5b7e3c"))
    assert Path(name).name == name
    assert name.isascii()
    assert not name.startswith((".", "-"))
    assert len(name) < 100


def test_names_that_look_alike_do_not_share_a_file() -> None:
    one, two = (handin_name(HandIn("seal-in", 1, "R. Vale", 1, seed)) for seed in ("8b605a888d5b7e3c", "f" * 16))
    assert one != two


def test_a_folder_a_pipe_and_nothing_are_no_files(tmp_path: Path) -> None:
    with pytest.raises(HandInError, match="is not a file"):
        read_handin(tmp_path)
    with pytest.raises(HandInError, match="cannot be read"):
        read_handin(tmp_path / "none.json")
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.json")
        with pytest.raises(HandInError, match="is not a file"):
            read_handin(tmp_path / "pipe.json")

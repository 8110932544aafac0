"""Beginners' slips: each has a sentence, a place and a cure; nothing a stranger writes gives a traceback."""

from __future__ import annotations

import re
import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.logic import LIMITS, SLIPS, SlipError, read_ladder, read_program, read_st

READERS = {"ladder": read_ladder, "st": read_st}
BAD = [(code, language, text) for code, row in SLIPS.items() for language, text in row.bad]


@pytest.mark.parametrize(("code", "language", "text"), BAD, ids=[f"{c}-{i}" for i, (c, *_) in enumerate(BAD)])
def test_each_bad_snippet_gives_its_own_slip(code, language, text):
    with pytest.raises(SlipError) as caught:
        READERS[language](text)
    error = caught.value
    assert error.code == code
    lines = text.split("\n")
    assert 1 <= error.line <= len(lines)
    shown, mark = error.caret.split("\n")
    assert shown == lines[error.line - 1].rstrip()
    assert set(mark) == {" ", "^"} or set(mark) == {"^"}
    assert mark.index("^") == error.column - 1
    assert error.what
    assert error.try_this
    assert not re.search(r"\{\w+\}", error.what + error.try_this)  # every word of the sentence was filled in
    assert error.where == f"line {error.line}, column {error.column}"
    assert error.caret.split("\n")[1] in str(error)


@pytest.mark.parametrize(
    ("text", "line", "column", "code"),
    [
        ("K1 := S1 AND (S2 OR K1_A;", 1, 14, "parenthesis-open"),
        ("K1 := S1;\nP1 = K1;", 2, 4, "equals-for-assign"),
        ("K1 := S1\nP1 := K1;", 1, 9, "semicolon-missing"),
        ("K1 := S1 && S2;", 1, 10, "foreign-operator"),
        ("VAR\n T1 : TON;\nEND_VAR\nT1(IN := S1, PT := 200ms);", 4, 20, "time-unmarked"),
        ("|   S1         |\n|--| |----( )--|", 2, 11, "contact-unnamed"),
        ("|   S1     K1    S2  |\n|--| |----( )---| |--|", 2, 17, "after-coil"),
        ("|   S1     K1  |\n|--| |----(L)--|", 2, 11, "symbol-unknown"),
        ("|   S1     K1  |\n|--| |–---( )--|", 2, 7, "look-alike"),
    ],
)
def test_the_caret_stands_where_the_slip_is(text, line, column, code):
    with pytest.raises(SlipError) as caught:
        read_program(text)
    assert (caught.value.line, caught.value.column, caught.value.code) == (line, column, code)


def test_every_cure_of_a_foreign_operator_reads():
    """What the cure says to write is accepted."""
    for text in ("K1 := S1 AND S2;", "K1 := S1 OR S2;", "K1 := NOT S1;", "K1 := S1 XOR S2;", "K1 := NOT (S1 XOR S2);"):
        read_st(text)


# ---- hostile text

_SIGNS = st.sampled_from(
    [*"|-+()/ SRPNK1_.:=;,#\n\t", "\n|--", "( )", "| |", "|/|", "+--", "T#", ":= ", "(* ", " *)", "–"]
)


@settings(max_examples=400, deadline=None)
@given(st.lists(_SIGNS, max_size=120).map("".join))
def test_random_signs_are_read_or_refused_with_a_place(text):
    for reader in (read_ladder, read_st, read_program):
        error = with_slip(reader, text)
        if isinstance(error, SlipError):
            lines = text.split("\n")
            assert 1 <= error.line <= len(lines)
            assert error.column >= 1


@settings(max_examples=200, deadline=None)
@given(st.text(st.characters(codec="utf-8"), max_size=80))
def test_any_text_is_read_or_refused(text):
    for reader in (read_ladder, read_st, read_program):
        with_slip(reader, text)


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_a_good_program_with_one_character_changed_is_read_or_refused(data):
    text = data.draw(st.sampled_from([t for row in SLIPS.values() for _, t in row.bad]))
    at = data.draw(st.integers(0, max(0, len(text) - 1)))
    char = data.draw(st.sampled_from([*"|-+() /NPT1;:=,", ""]))
    changed = text[:at] + char + text[at + 1 :]
    for reader in (read_ladder, read_st):
        with_slip(reader, changed)


def with_slip(reader, text):
    try:
        return reader(text)
    except SlipError as error:
        return error


@pytest.mark.parametrize(
    "text",
    [  # found by the test above: each once gave a traceback
        "|            T1            |\n|         +------+         |\n|   S1    | TON  |    K1   |\n"
        "|--| |----|IN   Q|-1--( )---|\n|   T#1s--|PT  ET|         |\n|         +------+         |",
    ],
)
def test_texts_that_once_broke_a_reader(text):
    for reader in (read_ladder, read_st, read_program):
        assert isinstance(with_slip(reader, text), SlipError)


BIG = {
    "characters": "K1 := S1; " * 30_000,
    "lines": "\n" * 6_000 + "K1 := S1;",
    "columns": "K1 := S1" + " " * 600 + ";",
    "rungs": "K1 := S1;\n" * 700,
    "elements": "K1 := S1 AND S2 AND S3 AND S4 AND S5 AND S6 AND S7 AND S8 AND S9;\n" * 599,
    "rung elements": "K1 := S1" + "\n AND S1" * 500 + ";",
    "nesting": "K1 := " + "(" * 31 + "S1" + ")" * 31 + ";",
    "names": "\n".join("K1 := " + " OR ".join(f"A{i}_{j}" for j in range(20)) + ";" for i in range(60)),
    "name length": f"{'K' * 33} := S1;",
}


@pytest.mark.parametrize("limit", sorted(LIMITS))
def test_each_limit_is_refused_with_its_own_sentence(limit):
    with pytest.raises(SlipError) as caught:
        read_st(BIG[limit])
    assert caught.value.code == "too-big"
    assert caught.value.what.startswith(LIMITS[limit].what.split("{")[0])
    assert caught.value.try_this == LIMITS[limit].try_this


def test_nesting_that_only_alternation_makes_is_refused_too():
    text = "S1"
    for i in range(40):
        text = f"({text} {'AND' if i % 2 else 'OR'} S2)"
    with pytest.raises(SlipError, match="nested too deep"):
        read_st(f"K1 := {text};")


def test_a_ladder_nested_too_deep_is_refused():
    """Drawn by the printer from a tree, each level one branch inside the last."""
    from labkit.logic import Coil, Contact, Program, Rung, print_ladder
    from labkit.logic.nodes import numbered, parallel, series

    node = Contact("S1")
    for _ in range(45):
        node = parallel(series(Contact("S1"), node), Contact("S2"))
    program = Program("deep", numbered((Rung(series(node, Coil("K1"))),)))
    with pytest.raises(SlipError) as caught:
        read_ladder(print_ladder(program))
    assert caught.value.code == "too-big"


def test_what_a_long_line_shows_is_short():
    with pytest.raises(SlipError) as caught:
        read_st("K1 := " + "S1 AND " * 60 + "&& S2;")
    assert all(len(line) <= 141 for line in caught.value.caret.split("\n"))
    shown, mark = caught.value.caret.split("\n")
    assert shown[mark.index("^")] == "&"


def test_sentences_are_sentences():
    for row in SLIPS.values():
        assert row.bad, row.code
        assert not row.what.endswith("."), row.code
        assert set(row.code) <= set(string.ascii_lowercase + "-"), row.code

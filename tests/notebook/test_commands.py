"""Messages from the page are read as if a stranger had sent them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.notebook._commands import Choice, CommandError, Flag, Number, Once, Word, read_command

SPEC = {
    "press": {"via": Choice(("pointer", "key")), "held_ms": Number(0, 1000), "latched": Flag(), "to": Word(10)},
    "beat": {},
}
GOOD = {"do": "press", "view": "ab12", "no": 1}


def test_a_command_with_all_its_fields_is_read():
    command = read_command({**GOOD, "via": "key", "held_ms": 4.5, "latched": False, "to": "K1:A1"}, SPEC)
    assert (command.do, command.view, command.no) == ("press", "ab12", 1)
    assert command.fields == {"via": "key", "held_ms": 4.5, "latched": False, "to": "K1:A1"}


@pytest.mark.parametrize(
    "message",
    [
        None,
        [],
        "press",
        {},
        {**GOOD, "do": "explode"},
        {**GOOD, "do": ["press"]},
        {**GOOD, "do": "__class__"},
        {**GOOD, "view": ""},
        {**GOOD, "view": "x" * 41},
        {**GOOD, "view": "../a"},
        {**GOOD, "view": 7},
        {**GOOD, "no": 0},
        {**GOOD, "no": -1},
        {**GOOD, "no": True},
        {**GOOD, "no": 1.0},
        {**GOOD, "no": 2**60},
        {**GOOD, "via": "telepathy"},
        {**GOOD, "held_ms": "5"},
        {**GOOD, "held_ms": True},
        {**GOOD, "held_ms": float("nan")},
        {**GOOD, "held_ms": float("inf")},
        {**GOOD, "held_ms": -1},
        {**GOOD, "held_ms": 10**5000},
        {**GOOD, "to": 10**5000},
        {**GOOD, "latched": 1},
        {**GOOD, "latched": None},
        {**GOOD, "to": "much too long a word"},
        {**GOOD, "to": "a\nb"},
        {**GOOD, "extra": 1},
        {**GOOD, 5: 1},
        {"do": "beat", "view": "a", "no": 3, "via": "key"},
    ],
)
def test_anything_else_is_refused_with_a_sentence(message):
    with pytest.raises(CommandError) as refused:
        read_command(message, SPEC)
    assert refused.value.what


_json = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=50),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=8,
)


@settings(deadline=None)
@given(st.dictionaries(st.sampled_from(["do", "view", "no", "via", "held_ms", "to", "x"]), _json | st.just("press")))
def test_no_message_does_anything_but_read_or_refuse(message):
    try:
        command = read_command(message, SPEC)
    except CommandError:
        return
    assert command.do in SPEC
    assert set(command.fields) <= set(SPEC[command.do])


def test_a_repeated_or_older_number_of_a_view_is_not_new():
    once = Once()
    first = read_command(GOOD, SPEC)
    assert once.is_new(first)
    assert not once.is_new(first)
    assert once.is_new(read_command({**GOOD, "no": 5}, SPEC))
    assert not once.is_new(read_command({**GOOD, "no": 4}, SPEC))
    assert once.is_new(read_command({**GOOD, "view": "other"}, SPEC))


def test_the_memory_of_views_is_bounded():
    once = Once()
    for k in range(1000):
        assert once.is_new(read_command({**GOOD, "view": f"v{k}"}, SPEC))
    assert len(once._last) <= 64

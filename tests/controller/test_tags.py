"""Tags, their table, its CSV, and the mapping sheet to another family."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.controller import (
    AddressError,
    Controller,
    Tag,
    TagError,
    TagTable,
    dumps_tags,
    family,
    loads_tags,
    move,
    parse_address,
)

names = st.from_regex(r"[A-Z][A-Z0-9]{0,7}(_[A-Z0-9]{1,3})?", fullmatch=True)
comments = st.text(alphabet=st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=20).map(str.strip)


@st.composite
def tables(draw):
    chosen = draw(st.lists(names, max_size=14, unique=True))
    free = {"input": list(range(1, 13)), "output": list(range(1, 9)), "memory": list(range(1, 40))}
    tags = []
    for name in chosen:
        kind = draw(st.sampled_from([k for k in free if free[k]]))
        letter = {"input": "I", "output": "Q", "memory": "M"}[kind]
        point = None
        if draw(st.booleans()):
            number = draw(st.sampled_from(free[kind]))
            free[kind].remove(number)
            point = f"{letter}{number}"
        tags.append(Tag(name, kind, point, kind != "input" and draw(st.booleans()), draw(comments)))
    return TagTable(tags)


@given(tables())
def test_a_table_survives_csv(table):
    assert loads_tags(dumps_tags(table)) == table
    assert loads_tags(dumps_tags(table, family("birch"))) == table
    assert loads_tags("\ufeff" + dumps_tags(table)) == table  # as spreadsheets save it


@given(tables())
def test_moving_there_and_back_changes_nothing(table):
    alder, birch = family("alder"), family("birch")
    there, back = move(table, alder, birch), move(table, birch, alder)
    assert [(r.old, r.new) for r in there.rows] == [(r.new, r.old) for r in back.rows]
    for row in there.rows:
        if row.new:
            assert parse_address(row.old, alder) == parse_address(row.new, birch) == table.place(row.tag)
            assert (row.differs == "") == (row.old == row.new)
        else:
            assert row.differs == "has no point yet"
            assert table.tag(row.tag).point is None


@given(tables())
def test_an_address_finds_its_tag_again(table):
    for name in ("alder", "birch"):
        profile = family(name)
        for tag in table:
            if table.place(tag.name) is not None:
                assert table.parse_address(table.address(tag.name, profile), profile) is tag


def test_a_point_without_a_tag_has_no_name(tags):
    assert tags.parse_address("%IX1.3", family("alder")) is None


def test_the_sheet_of_a_small_table():
    table = TagTable(
        [
            Tag("S2", "input", "I2"),
            Tag("B1", "input", "I9"),
            Tag("K1", "output", "Q1"),
            Tag("M9", "memory", "M200"),
            Tag("X", "input"),
        ]
    )
    sheet = move(table, family("alder"), family("birch"))
    rows = list(csv.reader(io.StringIO(sheet.to_csv())))
    assert rows == [
        ["tag", "kind", "point", "alder", "birch", "differs"],
        ["S2", "input", "I2", "%IX0.1", "%IX1", "another address"],
        ["B1", "input", "I9", "%IX1.0", "%IX10", "another address"],
        ["K1", "output", "Q1", "%QX0.0", "%QX0", "another address"],
        ["M9", "memory", "M200", "%MX24.7", "", "family birch has 128 memory bits; there is no number 200"],
        ["X", "input", "", "", "", "has no point yet"],
    ]
    assert "scan period: 10 ms becomes 50 ms" in str(sheet)
    assert str(sheet).startswith("from alder to birch\n  S2           %IX0.1     %IX1       another address\n")


def test_memory_without_a_point_takes_the_next_free_bit():
    table = TagTable([Tag("A", "memory"), Tag("B", "memory", "M1"), Tag("C", "memory"), Tag("D", "memory", "M3")])
    assert [table.address(t.name, family("alder")) for t in table] == ["%MX0.1", "%MX0.0", "%MX0.3", "%MX0.2"]


@pytest.mark.parametrize(
    ("make", "what"),
    [
        (lambda: Tag("2S", "input", "I1"), "'2S' cannot be the name of a tag"),
        (lambda: Tag("A__B", "input", "I1"), "'A__B' cannot be the name of a tag"),
        (lambda: Tag("S 1", "input", "I1"), "'S 1' cannot be the name of a tag"),
        (lambda: Tag("S1", "inptu", "I1"), "tag S1: there is no kind 'inptu'"),
        (lambda: Tag("S1", "input", "Q1"), "tag S1: 'Q1' is not a point for an input tag"),
        (lambda: Tag("M1", "memory", "I1"), "tag M1: 'I1' is not a point for a memory tag"),
        (lambda: Tag("S1", "input", "I0"), "tag S1: 'I0' is not a point for an input tag"),
        (
            lambda: Tag("S1", "input", "I1", retain=True),
            "tag S1: an input cannot be retained, it is read anew in each scan",
        ),
        (lambda: TagTable([Tag("S1", "input", "I1"), Tag("S1", "input", "I2")]), "two tags are called S1"),
        (
            lambda: TagTable([Tag("S1", "input"), Tag("s1", "input")]),
            "S1 and s1 are the same name: capitals do not count",
        ),
        (lambda: TagTable([Tag("S1", "input", "I1"), Tag("S2", "input", "I1")]), "S1 and S2 are both at I1"),
        (lambda: TagTable([]).tag("S1"), "there is no tag S1"),
        (
            lambda: TagTable([Tag("S1", "input")]).address("S1", family("alder")),
            "tag S1 has no address: it is an input without a point",
        ),
    ],
)
def test_what_does_not_fit_is_told(make, what):
    with pytest.raises(TagError) as slip:
        make()
    assert slip.value.what == what


def test_a_misspelt_tag_gets_a_hint(tags):
    with pytest.raises(TagError) as slip:
        tags.tag("K1_B")
    assert slip.value.try_this == "Did you mean K1_A?"


def test_a_controller_refuses_a_tag_on_a_point_that_it_does_not_have():
    with pytest.raises(AddressError, match="family alder has 8 outputs; there is no number 9"):
        Controller("alder", TagTable([Tag("K9", "output", "Q9")]))


HEAD = "tag,kind,point,retain,comment\n"


@pytest.mark.parametrize(
    ("text", "what", "where", "try_this"),
    [
        ("name,kind,point,retain,comment\n", "the first line has no column tag", "line 1", "the columns are"),
        ("tags,kind,point,retain,comment\n", "the first line has no column tag", "line 1", "rename the column tags"),
        ("", "the first line has no column tag", "line 1", "the columns are"),
        (
            HEAD + "S1,input,I1,no,\nS2,inpt,I2,no,\n",
            "tag S2: there is no kind 'inpt'",
            "line 3",
            "Did you mean input?",
        ),
        (HEAD + "S1,input,I1,perhaps,\n", "retain is yes or no, not 'perhaps'", "line 2", ""),
        (
            HEAD + "S1,input,I1,no,stop, normally closed\n",
            "this row has more cells than the first line has columns",
            "line 2",
            "put a comment",
        ),
        (HEAD + 'S1,input,I1,no,"open\n', "this is not CSV: unexpected end of data", "mine.csv", ""),
    ],
)
def test_a_wrong_csv_is_told_by_its_line(text, what, where, try_this):
    with pytest.raises(TagError) as slip:
        loads_tags(text, source="mine.csv")
    assert slip.value.what == what
    assert where in slip.value.where
    assert slip.value.try_this.startswith(try_this)


def test_an_endless_csv_is_refused():
    text = HEAD + "".join(f"T{i},memory,,no,\n" for i in range(5_001))
    with pytest.raises(TagError, match="more than 5000 tags"):
        loads_tags(text)

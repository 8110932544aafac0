"""The address codec against the standard's form, its own inverse, and the slips that people make."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.controller import Address, AddressError, addresses, families, family, parse_address, print_address

TRUTH = Path(__file__).parents[1] / "truth"

shapes = st.tuples(st.sampled_from([0, 8, 16]), st.sampled_from([8, 10, 16]), st.sampled_from([0, 1]))


def shaped(group_bits, base, first, points=300):
    """Alder with another way of writing addresses."""
    alder = family("alder")
    form = alder.addresses.model_copy(update={"group_bits": group_bits, "base": base, "first": first})
    count = alder.points.model_copy(update={"inputs": points, "outputs": points, "memory": points})
    return alder.model_copy(update={"addresses": form, "points": count})


@given(shapes, st.sampled_from("IQM"), st.integers(0, 299))
def test_what_is_printed_is_read_back(shape, area, index):
    profile = shaped(*shape)
    place = Address(area, index)
    text = print_address(place, profile)
    assert parse_address(text, profile) == place
    assert parse_address(f" {text.lower()} ", profile) == place
    if not text[3].isalpha():  # a hexadecimal number that begins with a letter cannot stand without its X
        assert parse_address(text.replace("X", "", 1), profile) == place


@given(shapes)
def test_points_are_counted_in_order_and_each_has_its_own_address(shape):
    profile = shaped(*shape)
    listed = list(addresses("I", profile))
    assert len(set(listed)) == len(listed) == 300
    assert [parse_address(text, profile).index for text in listed] == list(range(300))


@given(shapes, st.text(alphabet="%IQMX0123456789ABCDEFxbw.*-+ _", max_size=12))
def test_any_text_is_an_address_or_gets_a_sentence(shape, text):
    profile = shaped(*shape)
    try:
        place = parse_address(text, profile)
    except AddressError:
        return  # any other kind of error fails the test
    # the same place, whatever zeros stood in front
    assert parse_address(print_address(place, profile), profile) == place


def test_ways_of_counting():
    """Octal and hexadecimal counting: arithmetic."""
    assert list(addresses("I", shaped(0, 8, 0, 12)))[6:] == ["%IX6", "%IX7", "%IX10", "%IX11", "%IX12", "%IX13"]
    assert list(addresses("Q", shaped(0, 16, 0, 18)))[9:] == [
        "%QX9", "%QXA", "%QXB", "%QXC", "%QXD", "%QXE", "%QXF", "%QX10", "%QX11",
    ]  # fmt: skip
    assert list(addresses("I", shaped(0, 10, 1, 12)))[7:10] == ["%IX8", "%IX9", "%IX10"]
    assert list(addresses("I", shaped(8, 10, 0, 12)))[6:10] == ["%IX0.6", "%IX0.7", "%IX1.0", "%IX1.1"]
    assert list(addresses("M", shaped(16, 10, 1, 18)))[14:] == ["%MX1.14", "%MX1.15", "%MX2.0", "%MX2.1"]


def test_the_standards_own_examples():
    """IEC 61131-3, directly represented variables: location, size and fields of each example."""
    sizes = {8: "byte", 16: "word", 32: "double word", 64: "long word"}
    profile = shaped(8, 10, 0)
    with (TRUTH / "direct_addresses.csv").open(encoding="utf-8", newline="") as rows:
        for row in csv.DictReader(rows):
            if row["fields"] == "*":
                with pytest.raises(AddressError, match="a place that is not chosen yet"):
                    parse_address(row["text"], profile)
            elif row["size"] != "1":
                with pytest.raises(AddressError, match=f"is a whole {sizes[int(row['size'])]},"):
                    parse_address(row["text"], profile)
            else:
                high, low = row["fields"].split(".")
                assert parse_address(row["text"], profile) == Address(row["location"], int(high) * 8 + int(low))


SLIPS = [
    ("alder", "%IX0.8", "%IX0.8: byte 0 has bits 0..7 in this family; the ninth point is %IX1.0"),
    ("alder", "%QX0.9", "%QX0.9: byte 0 has bits 0..7 in this family; the tenth point is %QX1.1"),
    ("alder", "%IX1.8", "%IX1.8: byte 1 has bits 0..7 in this family; the 17th point is %IX2.0"),
    ("alder", "%MX1.12", "%MX1.12: byte 1 has bits 0..7 in this family; the 21st point is %MX2.4"),
    ("alder", "%IX3", "%IX3: family alder writes byte and bit with one dot between"),
    ("alder", "%IX0.0.1", "%IX0.0.1: family alder writes byte and bit with one dot between"),
    ("alder", "%IX1.4", "%IX1.4: family alder has 12 inputs"),
    ("alder", "%IX0.", "%IX0.: a number is missing"),
    ("alder", "%IX0.A", "%IX0.A: A is not a decimal digit"),
    ("alder", "%KX0.1", "%KX0.1: there is no location K"),
    ("alder", "%IZ0.1", "%IZ0.1: there is no size Z"),
    ("alder", "I1", "'I1' is not an address: it does not start with % and a location letter"),
    ("birch", "%IX8", "%IX8: 8 is not an octal digit; after 7 comes 10"),
    ("birch", "%IX19", "%IX19: 9 is not an octal digit; after 7 comes 10"),
    ("birch", "%IX0.1", "%IX0.1: family birch numbers its points flat, with no dot"),
    ("birch", "%QX10", "%QX10: family birch has 8 outputs"),
    ("birch", "%IX-1", "%IX-1: - is not an octal digit"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "text", "what"), SLIPS)
def test_a_slip_is_told_in_the_familys_terms(name, text, what):
    with pytest.raises(AddressError) as slip:
        parse_address(text, family(name))
    assert slip.value.what == what


def test_a_family_that_counts_from_one_has_no_zero():
    with pytest.raises(AddressError, match="%IX0: this family counts from 1"):
        parse_address("%IX0", shaped(0, 10, 1))


def test_a_hexadecimal_number_keeps_its_x_where_it_would_read_as_a_size():
    """%IB0 is a byte in the standard, never point B0."""
    profile = shaped(0, 16, 0)
    assert parse_address("%IXB0", profile) == Address("I", 0xB0)
    with pytest.raises(AddressError, match="%IB0 is a whole byte"):
        parse_address("%IB0", profile)
    with pytest.raises(AddressError, match="%IA0: there is no size A"):
        parse_address("%IA0", profile)


@pytest.mark.parametrize("name", families())
def test_a_point_beyond_the_last_cannot_be_printed(name):
    profile = family(name)
    with pytest.raises(AddressError, match=f"family {name} has 12 inputs; there is no number 13"):
        print_address(Address("I", 12), profile)

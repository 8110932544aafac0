"""The address codec: between a point's number on the terminal and where a family keeps it.

Only the standard's own form is used (IEC 61131-3, directly represented variables): ``%``, the location
I, Q or M, the size X, and then fields whose meaning each family sets.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from labkit.base import LabkitError, need
from labkit.controller.family import Family, family_given

__all__ = ["Address", "AddressError", "Area", "addresses", "parse_address", "print_address"]

Area = Literal["I", "Q", "M"]
_AREAS: dict[str, Area] = {"I": "I", "Q": "Q", "M": "M"}
_AREA_WORD = {"I": "input", "Q": "output", "M": "memory bit"}
_BASE_WORD = {8: "octal", 10: "decimal", 16: "hexadecimal"}
_SIZE_WORD = {"B": "byte", "W": "word", "D": "double word", "L": "long word"}
_FORM = re.compile(r"%([A-Z])([A-Z]?)(.*)", re.DOTALL)
_LONGEST = 24  # no place of any family needs more; a longer text is not an address


class AddressError(LabkitError):
    """A text that is not an address in this family."""

    default_code = "address"


@dataclass(frozen=True, slots=True, order=True)
class Address:
    """A place: location I, Q or M, and the point's index counted from 0."""

    area: Area
    index: int


def print_address(place: Address, family: Family) -> str:
    """Write `place` the way `family` writes it.

    Raises
    ------
    AddressError
        If the family has no such point.
    """
    count = _count(place.area, family)
    if not 0 <= place.index < count:
        raise AddressError(
            f"family {family.name} has {count} {_AREA_WORD[place.area]}s; there is no number {place.index + 1}",
            where=f"{_AREA_WORD[place.area]} {place.index + 1}",
            try_this=f"take one from 1 to {count}" if count else "take a family that has such points",
            code="address-range",
        )
    return _text(place, family)


def addresses(area: Area, family: Family) -> Iterator[str]:
    """Every place of one area, in the order of the terminals."""
    return (_text(Address(area, index), family) for index in range(_count(area, family)))


def parse_address(text: str, family: Family) -> Address:
    """Read an address as `family` means it. Capitals do not matter, and X may be left out before a digit.

    Raises
    ------
    AddressError
        With the reason and, where it can be guessed, what was meant.
    """
    family_given(family)
    need(text, str, "an address", f"write it in quotes, such as {_text(Address('I', 0), family)!r}")
    shown = text.strip()
    match = _FORM.fullmatch(shown.upper()) if len(shown) <= _LONGEST else None
    if match is None:
        raise AddressError(
            f"{shown[:_LONGEST]!r} is not an address: it does not start with % and a location letter",
            try_this=f"the first input of this family is {_text(Address('I', 0), family)}",
            where=shown[:_LONGEST],
            code="address-form",
        )
    area = _area(match[1], shown)
    if match[2] and match[2] != "X":
        raise _size_slip(match[2], shown)
    index = _index(match[3], area, shown, family)
    count = _count(area, family)
    if index >= count:
        raise AddressError(
            f"{shown}: family {family.name} has {count} {_AREA_WORD[area]}s",
            try_this=f"the last one is {_text(Address(area, count - 1), family)}" if count else "",
            where=shown,
            code="address-range",
        )
    return Address(area, index)


def _area(letter: str, shown: str) -> Area:
    area = _AREAS.get(letter)
    if area is not None:
        return area
    raise AddressError(
        f"{shown}: there is no location {letter}",
        try_this="I is input, Q is output, M is memory",
        where=shown,
        code="address-form",
    )


def _size_slip(letter: str, shown: str) -> AddressError:
    if letter in _SIZE_WORD:
        return AddressError(
            f"{shown} is a whole {_SIZE_WORD[letter]}, and a tag here is a single bit",
            try_this=f"write {shown[:2]}X and the place of the bit",
            where=shown,
            code="address-size",
        )
    return AddressError(
        f"{shown}: there is no size {letter}",
        try_this="X, or nothing, is a single bit",
        where=shown,
        code="address-size",
    )


def _index(fields: str, area: Area, shown: str, family: Family) -> int:
    form = family.addresses
    if fields == "*":
        raise AddressError(
            f"{shown} stands for a place that is not chosen yet",
            try_this="give the place",
            where=shown,
            code="address-open",
        )
    parts = fields.split(".")
    if form.group_bits == 0:
        if len(parts) != 1:
            raise AddressError(
                f"{shown}: family {family.name} numbers its points flat, with no dot",
                try_this=f"the second {_AREA_WORD[area]} is {_text(Address(area, 1), family)}",
                where=shown,
                code="address-form",
            )
        return _number(parts[0], shown, form.base, form.first)
    group_word = _SIZE_WORD["B"] if form.group_bits == 8 else _SIZE_WORD["W"]
    if len(parts) != 2:
        raise AddressError(
            f"{shown}: family {family.name} writes {group_word} and bit with one dot between",
            try_this=f"the second {_AREA_WORD[area]} is {_text(Address(area, 1), family)}",
            where=shown,
            code="address-form",
        )
    group = _number(parts[0], shown, form.base, form.first)
    bit = _number(parts[1], shown, 10, 0)
    if bit >= form.group_bits:
        carried = Address(area, (group + bit // form.group_bits) * form.group_bits + bit % form.group_bits)
        raise AddressError(
            f"{shown}: {group_word} {parts[0]} has bits 0..{form.group_bits - 1} in this family; "
            f"the {_ordinal(carried.index + 1)} point is {_text(carried, family)}",
            where=shown,
            try_this=f"write {_text(carried, family)}",
            code="address-bit",
        )
    return group * form.group_bits + bit


def _number(digits: str, shown: str, base: int, first: int) -> int:
    if not digits:
        raise AddressError(
            f"{shown}: a number is missing",
            where=shown,
            try_this="write the number of the point after the letters",
            code="address-form",
        )
    for digit in digits:
        value = int(digit, 16) if digit in "0123456789ABCDEF" else 99
        if value >= base:
            raise _digit_slip(digit, value, shown, base)
    number = int(digits, base) - first
    if number < 0:
        raise AddressError(
            f"{shown}: this family counts from {first}",
            where=shown,
            try_this=f"the first number is {first}",
            code="address-first",
        )
    return number


def _digit_slip(digit: str, value: int, shown: str, base: int) -> AddressError:
    after = ""
    if value < 16 and base < 16:
        after = f"; after {base - 1} comes 10" if base != 10 else ""
    article = "an" if base == 8 else "a"
    return AddressError(
        f"{shown}: {digit} is not {article} {_BASE_WORD[base]} digit{after}",
        where=shown,
        try_this=f"write digits from 0 to {_digits(base - 1, 16)}",
        code="address-digit",
    )


def _text(place: Address, family: Family) -> str:
    form = family.addresses
    if form.group_bits == 0:
        return f"%{place.area}X{_digits(place.index + form.first, form.base)}"
    group, bit = divmod(place.index, form.group_bits)
    return f"%{place.area}X{_digits(group + form.first, form.base)}.{bit}"


def _digits(number: int, base: int) -> str:
    return f"{number:o}" if base == 8 else f"{number:X}" if base == 16 else str(number)


def _count(area: Area, family: Family) -> int:
    points = family.points
    return points.inputs if area == "I" else points.outputs if area == "Q" else points.memory


def _ordinal(number: int) -> str:
    words = ("", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
    if number < len(words):
        return words[number]
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"

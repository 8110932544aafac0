"""Tags: names for the controller's points and memory bits, and where a family keeps each."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from labkit.base import LabkitError, as_many, did_you_mean, nearest, need
from labkit.controller.addresses import Address, Area, parse_address, print_address
from labkit.controller.family import Family

__all__ = ["Tag", "TagError", "TagKind", "TagTable"]

TagKind = Literal["input", "output", "memory"]

_AREA: dict[str, Area] = {"input": "I", "output": "Q", "memory": "M"}
# IEC 61131-3 identifiers: a letter or underscore first, no two underscores together, none at the end
_NAME = re.compile(r"[A-Za-z](?:_?[A-Za-z0-9])*|_[A-Za-z0-9](?:_?[A-Za-z0-9])*")
_POINT = re.compile(r"([IQM])([1-9][0-9]{0,4})")


class TagError(LabkitError):
    """A tag table that does not fit together, or a name that is not in it."""

    default_code = "tag"


_MAKE = 'make one: Tag("S2", "input", "I2"), and give a list of them'


@dataclass(frozen=True, slots=True)
class Tag:
    """A name for one bit.

    Parameters
    ----------
    name
        An identifier as IEC 61131-3 has it.
    kind
        ``"input"``, ``"output"`` or ``"memory"``.
    point
        The terminal as it is printed on the controller, counted from 1: ``"I1"``, ``"Q1"``; for a memory
        tag ``"M1"`` or None, which takes the next free bit. An input or output tag without a point can
        stand in the table, but no program may use it.
    retain
        Whether the value belongs to the family's retained class.
    comment
        For the people.

    Raises
    ------
    TagError
        If the name is not an identifier, or the point does not belong to the kind.
    """

    name: str
    kind: TagKind
    point: str | None = None
    retain: bool = False
    comment: str = ""

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not _NAME.fullmatch(self.name):
            raise TagError(
                f"{self.name!r} cannot be the name of a tag",
                try_this="start with a letter, then letters, digits and single underscores",
                where="the tag's name",
                code="tag-name",
            )
        if not isinstance(self.kind, str) or self.kind not in _AREA:
            raise TagError(
                f"tag {self.name}: there is no kind {self.kind!r}",
                try_this=did_you_mean(self.kind, _AREA),
                where=f"tag {self.name}",
                code="tag-kind",
            )
        if self.kind == "input" and self.retain:
            raise TagError(
                f"tag {self.name}: an input cannot be retained, it is read anew in each scan",
                where=f"tag {self.name}",
                try_this="leave retain away; retain the memory bit that the program makes of it",
                code="tag-retain",
            )
        if self.point is not None:
            match = _POINT.fullmatch(self.point) if isinstance(self.point, str) else None
            if match is None or match[1] != _AREA[self.kind]:
                raise TagError(
                    f"tag {self.name}: {self.point!r} is not a point for an {self.kind} tag"
                    if self.kind != "memory"
                    else f"tag {self.name}: {self.point!r} is not a point for a memory tag",
                    try_this=f"points of this kind are {_AREA[self.kind]}1, {_AREA[self.kind]}2 and so on",
                    where=f"tag {self.name}",
                    code="tag-point",
                )

    @property
    def index(self) -> int | None:
        """The point's number counted from 0; None where the tag has no point of its own."""
        return None if self.point is None else int(self.point[1:]) - 1


class TagTable:
    """The tags of one controller, in their order; it never changes.

    Examples
    --------
    >>> from labkit.controller import Tag, TagTable, family
    >>> table = TagTable([Tag("S2", "input", "I9"), Tag("K1", "output", "Q1")])
    >>> table.address("S2", family("alder")), table.address("S2", family("birch"))
    ('%IX1.0', '%IX10')
    """

    __slots__ = ("_places", "by_name", "tags")

    def __init__(self, tags: Iterable[Tag]) -> None:
        self.tags: tuple[Tag, ...] = as_many(tags, "a list of tags", _MAKE)
        for tag in self.tags:
            need(tag, Tag, "a tag", _MAKE)
        by_name: dict[str, Tag] = {}
        seen: dict[str, str] = {}
        for tag in self.tags:
            twin = seen.get(tag.name.upper())
            if twin is not None:
                raise TagError(
                    f"two tags are called {tag.name}"
                    if twin == tag.name
                    else f"{twin} and {tag.name} are the same name: capitals do not count",
                    try_this="give one of them another name",
                    where=f"tag {tag.name}",
                    code="tag-twice",
                )
            seen[tag.name.upper()] = tag.name
            by_name[tag.name] = tag
        self.by_name: Mapping[str, Tag] = MappingProxyType(by_name)
        self._places: Mapping[str, Address | None] = MappingProxyType(_places(self.tags))

    def __iter__(self) -> Iterator[Tag]:
        return iter(self.tags)

    def __len__(self) -> int:
        return len(self.tags)

    def __contains__(self, name: object) -> bool:
        return name in self.by_name

    def __eq__(self, other: object) -> bool:
        return self.tags == other.tags if isinstance(other, TagTable) else NotImplemented

    def __hash__(self) -> int:
        return hash(self.tags)

    def __repr__(self) -> str:
        return f"TagTable({len(self.tags)} tags)"

    def tag(self, name: str) -> Tag:
        """The tag of that name.

        Raises
        ------
        TagError
            If there is none.
        """
        try:
            return self.by_name[name]
        except (KeyError, TypeError):
            raise TagError(
                f"there is no tag {name}",
                where=str(name),
                try_this=nearest(name, self.by_name),
                code="tag-unknown",
            ) from None

    def place(self, name: str) -> Address | None:
        """Where the tag is kept, free of any family's way of writing; None if it has no place."""
        return self._places[self.tag(name).name]

    def address(self, name: str, family: Family) -> str:
        """The tag's address as `family` writes it.

        Raises
        ------
        TagError
            If there is no such tag, or it has no point.
        AddressError
            If the family has fewer points than that.
        """
        place = self.place(name)
        if place is None:
            raise TagError(
                f"tag {name} has no address: it is an {self.tag(name).kind} without a point",
                try_this=f"give it a point such as {_AREA[self.tag(name).kind]}1",
                where=f"tag {name}",
                code="tag-no-address",
            )
        return print_address(place, family)

    def parse_address(self, text: str, family: Family) -> Tag | None:
        """The tag at an address as `family` writes it; None if that point has no name.

        Raises
        ------
        AddressError
            If the text is not an address in this family.
        """
        wanted = parse_address(text, family)
        return next((tag for tag in self.tags if self._places[tag.name] == wanted), None)


def _places(tags: tuple[Tag, ...]) -> dict[str, Address | None]:
    """A place for each tag: its own point, or for memory the next bit that nobody asked for."""
    places: dict[str, Address | None] = {}
    taken: dict[Address, str] = {}
    for tag in tags:
        if tag.index is None:
            continue
        place = Address(_AREA[tag.kind], tag.index)
        if place in taken:
            raise TagError(
                f"{taken[place]} and {tag.name} are both at {tag.point}",
                try_this="one point carries one tag",
                where=f"tag {tag.name}",
                code="tag-place-twice",
            )
        taken[place] = tag.name
        places[tag.name] = place
    free = 0
    for tag in tags:
        if tag.index is not None:
            continue
        if tag.kind != "memory":
            places[tag.name] = None
            continue
        while Address("M", free) in taken:
            free += 1
        places[tag.name] = Address("M", free)
        free += 1
    return places

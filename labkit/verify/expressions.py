"""Conditions over tags and machine signals: read from text, printed, and turned into a Python function."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from labkit.verify.errors import RequirementError

__all__ = ["And", "Condition", "Not", "Or", "Sign", "condition", "holds_in", "signals_of"]


@dataclass(frozen=True, slots=True)
class Sign:
    """One signal: a tag such as ``K1``, or ``pole:K1``, ``pos:S2``, ``pos:S4=left``."""

    name: str

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True, slots=True)
class Not:
    """The opposite of a condition."""

    of: Condition

    def __str__(self) -> str:
        return f"not {_inner(self.of)}"


@dataclass(frozen=True, slots=True)
class And:
    """All of the conditions."""

    items: tuple[Condition, ...]

    def __str__(self) -> str:
        return " and ".join(_inner(item) for item in self.items)


@dataclass(frozen=True, slots=True)
class Or:
    """At least one of the conditions."""

    items: tuple[Condition, ...]

    def __str__(self) -> str:
        return " or ".join(_inner(item) for item in self.items)


Condition = Sign | Not | And | Or


def _inner(item: Condition) -> str:
    return f"({item})" if isinstance(item, And | Or) else str(item)


_TOKEN = re.compile(r"\s*(?:(?P<word>[A-Za-z_][\w.:=\-]*)|(?P<sign>[()]))")
_WORDS = ("and", "or", "not")


def condition(text: str | Condition) -> Condition:
    """Read a condition: names with ``and``, ``or``, ``not`` and parentheses.

    Raises
    ------
    RequirementError
        If the text cannot be read; the place is shown.

    Examples
    --------
    >>> str(condition("K1 and not (S1 or pos:S0)"))
    'K1 and not (S1 or pos:S0)'
    """
    if not isinstance(text, str):
        return text
    reader = _Reader(text)
    found = reader.any_of()
    if reader.token is not None:
        raise reader.slip(f"{reader.token!r} is not expected here", "join two conditions with and, or")
    return found


class _Reader:
    def __init__(self, text: str) -> None:
        self.text, self.at, self.start = text, 0, 0
        self.token: str | None = None
        self.step()

    def step(self) -> None:
        if not self.text[self.at :].strip():
            self.token, self.start = None, len(self.text)
            return
        found = _TOKEN.match(self.text, self.at)
        if found is None:
            self.start = self.at + len(self.text[self.at :]) - len(self.text[self.at :].lstrip())
            raise self.slip(
                f"{self.text[self.start]!r} has no place in a condition", "use and, or, not, parentheses and names"
            )
        self.start, self.at = found.start(found.lastgroup or 0), found.end()
        self.token = found.group(found.lastgroup or 0)

    def slip(self, what: str, cure: str) -> RequirementError:
        return RequirementError(
            what,
            where=f"{self.text}\n         {' ' * self.start}^",
            try_this=cure,
            code="requirement-syntax",
        )

    def is_word(self, word: str) -> bool:
        return self.token is not None and self.token.lower() == word

    def any_of(self) -> Condition:
        items = [self.all_of()]
        while self.is_word("or"):
            self.step()
            items.append(self.all_of())
        return items[0] if len(items) == 1 else Or(tuple(items))

    def all_of(self) -> Condition:
        items = [self.one()]
        while self.is_word("and"):
            self.step()
            items.append(self.one())
        return items[0] if len(items) == 1 else And(tuple(items))

    def one(self) -> Condition:
        if self.is_word("not"):
            self.step()
            return Not(self.one())
        if self.token == "(":
            self.step()
            inside = self.any_of()
            if self.token != ")":
                raise self.slip("a parenthesis is not closed", "add )")
            self.step()
            return inside
        if self.token is None:
            raise self.slip("a name is missing", "name a tag such as K1, or a signal such as pole:K1")
        if self.token == ")" or self.token.lower() in _WORDS:
            raise self.slip(f"a name is missing before {self.token!r}", "name a tag such as K1")
        sign = Sign(self.token)
        self.step()
        return sign


def signals_of(item: Condition) -> tuple[str, ...]:
    """The signals that a condition reads, in order of first use."""
    if isinstance(item, Sign):
        return (item.name,)
    parts = (item.of,) if isinstance(item, Not) else item.items
    return tuple(dict.fromkeys(name for part in parts for name in signals_of(part)))


def holds_in(item: Condition, order: Mapping[str, int]) -> Callable[[Sequence[int]], bool]:
    """A function of a view (one 0 or 1 per signal, in the places of `order`) that tells whether the condition holds."""
    return _function(f"lambda v: bool({_source(item, order)})")


@lru_cache(maxsize=256)  # a proof asks for the same condition several times, a class for the same ones again
def _function(source: str) -> Callable[[Sequence[int]], bool]:
    return eval(source)  # type: ignore[no-any-return]  # only our own text is in it


def _source(item: Condition, order: Mapping[str, int]) -> str:
    if isinstance(item, Sign):
        return f"v[{order[item.name]}]"
    if isinstance(item, Not):
        return f"(not {_source(item.of, order)})"
    return "(" + (" and " if isinstance(item, And) else " or ").join(_source(i, order) for i in item.items) + ")"

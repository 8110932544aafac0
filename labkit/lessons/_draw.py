"""Drawing a variant from a seed: each choice by its own label, so that a new choice disturbs no old one."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

__all__ = ["Draw", "seed_of"]

T = TypeVar("T")


def seed_of(lesson: str, edition: int, student: str, attempt: int) -> str:
    """The seed, 16 hexadecimal digits of a SHA-256 over the four; case and spaces of the name do not count."""
    who = " ".join(student.split()).casefold()
    # the separator cannot stand in any of the parts, so no two different fours give the same text
    text = "\x1f".join(["labkit variant 1", lesson, str(edition), who, str(attempt)])
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class Draw:
    """Choices that follow from a seed and a label, and from nothing else."""

    seed: str

    def number(self, label: str, below: int) -> int:
        """A whole number from 0 to below `below`."""
        digest = hashlib.sha256(f"{self.seed}/{label}".encode()).digest()
        return int.from_bytes(digest[:8], "big") % below

    def pick(self, label: str, among: Sequence[T]) -> T:
        """One of `among`."""
        return among[self.number(label, len(among))]

    def shuffled(self, label: str, among: Sequence[T]) -> list[T]:
        """All of `among`, in a drawn order."""
        keyed = [(hashlib.sha256(f"{self.seed}/{label}/{i}".encode()).digest(), i) for i in range(len(among))]
        return [among[i] for _, i in sorted(keyed)]

"""What equal benches share in one process: a class whose benches differ only in what is hidden solves each board once.

Two students may have the same times, names and landings, and differ only in the faults that are drawn for them. Their
sound boards are then one board, and so are two boards with the same fault in. What is kept here is kept by exactly
what it follows from, so that whoever comes first makes no difference to the marks (a test compares them).
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, TypeVar

from labkit.bench import Bench
from labkit.board import Wiring
from labkit.faults import Fault
from labkit.faults.inject import Solved
from labkit.lessons._files import LessonSource
from labkit.lessons.variants import Variant

__all__ = ["Shared", "forget_shared", "shared_by"]

T = TypeVar("T")

_MOST_KINDS = 4  # kinds of equal benches; where every student's differ, the last ones only
_MOST_FAULTY = 160  # boards with a fault in, each with what was solved in it: some hundred kB
_MOST_LEFT = 120
_MOST_SEEN = 20_000


class Kept(OrderedDict[Hashable, Any]):
    """So many things by what they follow from; the one that was not asked for the longest goes first."""

    def __init__(self, most: int) -> None:
        super().__init__()
        self._most = most

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What is kept by a key, or is from now on."""
        if key in self:
            self.move_to_end(key)
        else:
            made = make()
            self[key] = made
            while len(self) > self._most:
                self.popitem(last=False)
        found: T = self[key]
        return found


class Shared:
    """What the benches of equal variants share."""

    def __init__(self) -> None:
        self.first: dict[Wiring, Bench] = {}
        """Sound benches, everything off, that others are made from."""
        self.catalogues: dict[Wiring, dict[str, Fault]] = {}
        self.left = Kept(_MOST_LEFT)
        """Benches as a run leaves them, for looking only."""
        self.seen = Kept(_MOST_SEEN)
        """What is to be seen at these."""
        self._faulty = Kept(_MOST_FAULTY)

    def solved(self, wiring: Wiring, faults: tuple[Fault, ...]) -> Solved:
        """Networks of the boards with these faults in."""
        return self._faulty.once((wiring, *(fault.id for fault in faults)), dict)


_SHARED: OrderedDict[Hashable, tuple[LessonSource, Shared]] = OrderedDict()


def forget_shared() -> None:
    """Forget all of it, as in a new process."""
    _SHARED.clear()


def shared_by(lesson: LessonSource, variant: Variant) -> Shared:
    """What is shared by all variants that have this one's bench; something new if nothing says that they are equal."""
    if not lesson.digest or lesson.file.board.endswith(".toml"):
        return Shared()
    key = (
        lesson.digest,
        (variant.scan_us, variant.filter_us, variant.pull_in_us),
        *(tuple(sorted(words.items())) for words in (variant.points, variant.names, variant.moved, variant.words)),
    )
    held = _SHARED.get(key)
    if held is None or (held[0] is not lesson and held[0] != lesson):
        held = _SHARED[key] = (lesson, Shared())
    _SHARED.move_to_end(key)
    while len(_SHARED) > _MOST_KINDS:
        _SHARED.popitem(last=False)
    return held[1]

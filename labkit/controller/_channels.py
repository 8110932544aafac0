"""The input channels: each has a filter that lets a change through once it has been stable."""

from __future__ import annotations

__all__ = ["Channels"]


class Channels:
    """Raw and filtered values of the input channels, by index.

    A filtered value follows the raw one when that has been the same for `filter_us` without a break; both
    edges are delayed alike, so a pulse that gets through keeps its length.
    """

    __slots__ = ("_due", "_pending", "_powered", "filter_us", "filtered", "raw")

    def __init__(self, count: int, filter_us: int) -> None:
        self.filter_us = filter_us
        self.raw = [0] * count
        self.filtered = [0] * count
        self._due: list[int | None] = [None] * count
        self._pending = 0
        self._powered = False

    @property
    def next_due_us(self) -> int | None:
        """When the next filtered value will change if the raw ones stay as they are."""
        return min((due for due in self._due if due is not None), default=None) if self._pending else None

    def change(self, index: int, value: int, t_us: int) -> int | None:
        """Raw channel `index` is now `value`; the time when the filtered value follows, if that is new."""
        if self.raw[index] == value:
            return None
        self.raw[index] = value
        return self._start(index, t_us) if self._powered else None

    def _start(self, index: int, t_us: int) -> int | None:
        if self.raw[index] == self.filtered[index]:
            if self._due[index] is not None:
                self._due[index] = None
                self._pending -= 1
            return None
        self._due[index] = t_us + self.filter_us
        self._pending += 1
        return self._due[index]

    def settle(self, index: int, t_us: int) -> bool:
        """Let a due change of one channel through; whether there was one."""
        due = self._due[index]
        if due is None or due > t_us:
            return False
        self._due[index] = None
        self._pending -= 1
        self.filtered[index] = self.raw[index]
        return True

    def settle_all(self, t_us: int) -> bool:
        """Let every due change through; whether there was one."""
        if not self._pending:
            return False
        changed = False
        for index in range(len(self._due)):
            changed |= self.settle(index, t_us)
        return changed

    def power(self, up: bool, t_us: int) -> None:
        """Without supply every channel reads 0; with it the filters start from there."""
        self._powered = up
        self.filtered = [0] * len(self.raw)
        self._due = [None] * len(self.raw)
        self._pending = 0
        if up:
            for index in range(len(self.raw)):
                self._start(index, t_us)

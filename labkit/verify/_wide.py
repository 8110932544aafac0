"""The same exploration with numpy: a column of states against a row of input classes, for many states at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from labkit.verify._lanes import Result, _Search

__all__ = ["run_wide"]

CELLS = 1 << 19
"""States times classes worked out at once: the arrays stay in a processor's cache."""

MAPPED = 27
"""State bits up to which the states met are marked in one byte each (128 MiB, touched only where marked)."""


class _Met:
    """The states met: marked in a map, or in sorted runs of which each is at least half as long as the one before."""

    def __init__(self, bits: int, first: Any) -> None:
        self.map = np.zeros(1 << bits, np.uint8) if bits <= MAPPED else None
        self.runs: list[Any] = []
        self.count = 0
        self.add(first)

    def add(self, states: Any) -> None:
        """Mark sorted states that are new."""
        self.count += len(states)
        if self.map is not None:
            self.map[states] = 1
            return
        self.runs.append(states)
        while len(self.runs) > 1 and 2 * len(self.runs[-1]) > len(self.runs[-2]):
            last = self.runs.pop()
            self.runs[-1] = np.sort(np.concatenate([self.runs[-1], last]))

    def new(self, states: Any) -> Any:
        """Those not met yet, each once, sorted."""
        if self.map is not None:
            return np.unique(states[self.map[states] == 0])
        states = np.unique(states)
        for run in self.runs:
            at = np.minimum(np.searchsorted(run, states), len(run) - 1)
            states = states[run[at] != states]
        return states


class _Gates:
    """Every gate over a column of states and a row of classes; gates of latches alone stay columns."""

    def __init__(self, search: _Search) -> None:
        flat, classes = search.flat, search.classes
        self.flat, self.depends = flat, classes.depends
        lanes = classes.lanes
        self.first = 1 + len(flat.inputs)
        self.fixed = {}
        for n, value in classes.fixed.items():
            raw = np.frombuffer(value.to_bytes(-(-lanes // 8), "little"), np.uint8)
            self.fixed[n] = np.unpackbits(raw, bitorder="little")[:lanes].reshape(1, lanes)
        self.zero = np.zeros((1, 1), np.uint8)
        last = {}
        for n, (a, b) in enumerate(flat.ands, self.first + len(flat.latches)):
            last[a >> 1] = last[b >> 1] = n
        roots = {lit >> 1 for lit in (*flat.nexts, *flat.outputs)}
        self.free: dict[int, list[int]] = {}
        for n, at in last.items():
            if n not in roots and n not in self.fixed:
                self.free.setdefault(at, []).append(n)

    def work_out(self, states: Any) -> dict[int, Any]:
        """The roots' variables as arrays of 0 and 1."""
        flat = self.flat
        known: dict[int, Any] = {0: self.zero, **self.fixed}
        for k in range(len(flat.latches)):
            known[self.first + k] = (states >> k & 1).astype(np.uint8).reshape(-1, 1)
        for n, (a, b) in enumerate(flat.ands, self.first + len(flat.latches)):
            if self.depends[n] != 1:
                if a & b & 1:
                    known[n] = (known[a >> 1] | known[b >> 1]) ^ 1
                else:
                    va, vb = known[a >> 1], known[b >> 1]
                    known[n] = (va ^ 1 if a & 1 else va) & (vb ^ 1 if b & 1 else vb)
            for done in self.free.get(n, ()):
                known.pop(done, None)
        return known

    def followers(self, known: dict[int, Any], states: int) -> Any:
        """Next states as one flat array: per state one, or one per class."""
        total: Any = np.zeros((states, 1), np.int64)
        for start in range(0, len(self.flat.nexts), 8):
            # eight bits into a byte before anything becomes eight bytes wide
            column: Any = self.zero
            wide: Any = self.zero
            for k, lit in enumerate(self.flat.nexts[start : start + 8]):
                value: Any = (known[lit >> 1] ^ (lit & 1)) << np.uint8(k)
                if value.shape[1] > 1:
                    wide = wide | value
                else:
                    column = column | value
            total = total | column.astype(np.int64) << start
            if wide.size > 1:
                total = total | wide.astype(np.int64) << start
        return total.ravel()


def run_wide(search: _Search) -> Result:
    """Go on where the search stands; its levels become arrays."""
    gates = _Gates(search)
    met = _Met(len(search.flat.latches), np.array(sorted(search.seen), np.int64))
    search.seen.clear()
    while len(search.levels[-1]):
        if search.most_scans is not None and len(search.levels) > search.most_scans:
            return _stop(search, met, "undecided", f"{search.most_scans} scans")
        level = search.levels[-1]
        try:
            few = len(level) <= search.narrow
            found, broken = _few(search, met, level) if few else _many(search, gates, met, level)
        except OverflowError:
            found, broken = _many(search, gates, met, level)
        if broken is not None:
            search.triggered = True
            return _stop(search, met, "fails", path=_way(search, gates, *broken))
        if search.work > search.most_work:
            return _stop(search, met, "undecided", search.exceeded())
        if met.count > search.most_states:
            return _stop(search, met, "undecided", f"{search.most_states} states")
        search.levels.append(np.concatenate(found))  # type: ignore[arg-type]  # an array is as good as a list
    del search.levels[-1]
    return _stop(search, met, "holds")


def _few(search: _Search, met: _Met, level: Any) -> tuple[list[Any], tuple[int, int] | None]:
    """A level of few states: one after the other, as without numpy."""
    codes, broken = search.look([int(state) for state in level])
    new = met.new(np.array(codes, np.int64))
    met.add(new)
    return [new], broken


def _many(search: _Search, gates: _Gates, met: _Met, level: Any) -> tuple[list[Any], tuple[int, int] | None]:
    """A level in chunks: the new states, and a bad ``(state, lane)`` if there is one."""
    lanes, (bad, cause) = search.classes.lanes, search.flat.outputs
    found: list[Any] = []
    chunk = max(1, CELLS // lanes)
    level = np.asarray(level, np.int64)
    for start in range(0, len(level), chunk):
        states = level[start : start + chunk]
        known = gates.work_out(states)
        broken = np.broadcast_to(known[bad >> 1] ^ (bad & 1), (len(states), lanes))
        if broken.any():
            state, lane = divmod(int(broken.argmax()), lanes)
            return found, (int(states[state]), lane)
        search.triggered = search.triggered or bool((known[cause >> 1] ^ (cause & 1)).any())
        new = met.new(gates.followers(known, len(states)))
        met.add(new)
        found.append(new)
        search.work += len(states) * (1 + len(search.flat.ands) * lanes // 512)
        if search.work > search.most_work or met.count > search.most_states:
            break
    return found, None


def _stop(search: _Search, met: _Met, outcome: str, bound: str = "", path: Sequence[tuple[int, ...]] = ()) -> Result:
    result = search.stop(outcome, bound, path)
    result.states = met.count
    return result


def _way(search: _Search, gates: _Gates, state: int, lane: int) -> list[tuple[int, ...]]:
    """Inputs from the start to `state` of the last level, and then those of `lane`."""
    path = [search.classes.bits(lane)]
    for level in reversed(search.levels[:-1]):
        if len(level) <= search.narrow:
            state, lane = search.before([int(one) for one in level], state)
        else:
            state, lane = _before(search, gates, np.asarray(level, np.int64), state)
        path.append(search.classes.bits(lane))
    return path[::-1]


def _before(search: _Search, gates: _Gates, level: Any, state: int) -> tuple[int, int]:
    chunk = max(1, CELLS // search.classes.lanes)
    for start in range(0, len(level), chunk):
        part = level[start : start + chunk]
        hits = gates.followers(gates.work_out(part), len(part)) == state
        if hits.any():
            row, lane = divmod(int(hits.argmax()), hits.size // len(part))
            return int(part[row]), lane
    raise AssertionError("a state without a way to it")

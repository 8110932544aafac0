"""Measured ratios of the engines, for ``labkit speed``: both sides in one run, taken in turn."""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable
from typing import Any

from labkit.logic import (
    Lowered,
    Program,
    lower,
    new_bits,
    new_memory,
    read_st,
    to_lanes,
    to_numpy,
    to_python,
    walker,
)

__all__ = ["BOUNDS", "program_of", "rows"]

BOUNDS = {"engine_compiled_vs_walker_50": (20.0, 30.0), "lanes_vs_numpy_1024": (10.0, 15.0)}
"""Key -> floor and aim."""

LANES = 1024
RUNGS = 50


def program_of(rungs: int) -> Program:
    """A program of seal-in rungs, each with the contact of the rung before it as a permissive."""
    lines = ["M0 := STOP0 AND (START0 OR M0) AND NOT TRIP0;"]
    for i in range(1, rungs):
        k = i % 8
        lines.append(f"M{i} := STOP{k} AND (START{k} OR M{i}) AND NOT TRIP{k} AND (M{i - 1} OR HAND{k});")
    return read_st("\n".join(lines))


def rows(quick: bool = False) -> list[dict[str, Any]]:
    """The rows of this room: generated Python against the walker, integer lanes against numpy words."""
    program = program_of(RUNGS)
    lowered = lower(program)
    return [_compiled(program, lowered, quick), _lanes(lowered, quick)]


def _inputs(lowered: Lowered, count: int, most: int) -> list[list[tuple[int, int]]]:
    """For each of `count` scans, ``(slot, value)`` of every input; values are below `most`."""
    source = random.Random(7)
    slots = [
        i for i, name in enumerate(lowered.slots) if name.rstrip("0123456789") in {"STOP", "START", "TRIP", "HAND"}
    ]
    return [[(slot, source.randrange(most)) for slot in slots] for _ in range(count)]


def _in_turn(a: Callable[[], None], b: Callable[[], None], times: int) -> tuple[float, float, float]:
    """Median seconds of `a` and of `b`, run in turn, and the median of the pairs' ratios b / a."""
    pairs = []
    for _ in range(times):
        pair = []
        for run in (a, b):
            start = time.perf_counter()
            run()
            pair.append(time.perf_counter() - start)
        pairs.append(pair)
    return (
        statistics.median(p[0] for p in pairs),
        statistics.median(p[1] for p in pairs),
        statistics.median(p[1] / p[0] for p in pairs),
    )


def _compiled(program: Program, lowered: Lowered, quick: bool) -> dict[str, Any]:
    scans = 200 if quick else 1000
    scan, bits, mem, walk = to_python(lowered), new_bits(lowered), new_memory(lowered), walker(program)
    feed = _inputs(lowered, scans, 2)
    names = lowered.slots
    # both sides are handed ready inputs, so that only the solving is timed
    feed_named = [{names[slot]: bool(value) for slot, value in row} for row in feed]
    values: dict[str, bool] = {}

    def generated() -> None:
        for t, row in enumerate(feed):
            for slot, value in row:
                bits[slot] = value
            scan(bits, mem, t)

    def tree() -> None:
        for t, row in enumerate(feed_named):
            values.update(row)
            walk.scan(values, t)

    ours, other, ratio = _in_turn(generated, tree, 5 if quick else 9)
    floor, aim = BOUNDS["engine_compiled_vs_walker_50"]
    return {
        "key": "engine_compiled_vs_walker_50",
        "ratio": ratio,
        "floor": floor,
        "aim": aim,
        "ours": f"{scans / ours / 1e3:,.0f} k scans/s",
        "other": f"{scans / other / 1e3:,.1f} k scans/s",
        "note": f"generated Python against the tree walker (which also notes power flow), {RUNGS} rungs",
    }


def _lanes(lowered: Lowered, quick: bool) -> dict[str, Any]:
    import numpy as np

    scans, every = (100 if quick else 500), (1 << LANES) - 1
    lane_scan, bits = to_lanes(lowered), [0] * len(lowered.slots)
    mem = [0] * len(lowered.memory)
    feed = _inputs(lowered, scans, 1 << LANES)
    word_scan = to_numpy(lowered, words=True)
    words = np.zeros((len(lowered.slots), LANES // 64), dtype=np.uint64)
    word_mem = np.zeros((max(1, len(lowered.memory)), LANES // 64), dtype=np.uint64)
    feed_words = [
        [(slot, np.frombuffer(value.to_bytes(LANES // 8, "little"), dtype=np.uint64)) for slot, value in row]
        for row in feed
    ]

    def integers() -> None:
        for row in feed:
            for slot, value in row:
                bits[slot] = value
            lane_scan(bits, mem, every)

    def arrays() -> None:
        for t, row in enumerate(feed_words):
            for slot, value in row:
                words[slot] = value
            word_scan(words, word_mem, t)

    ours, other, ratio = _in_turn(integers, arrays, 5 if quick else 9)
    floor, aim = BOUNDS["lanes_vs_numpy_1024"]
    same = all(int.from_bytes(words[i].tobytes(), "little") == bits[i] for i in range(len(bits)))
    if not same:
        raise AssertionError("integer lanes and numpy words disagree: a ratio of two different answers means nothing")
    return {
        "key": "lanes_vs_numpy_1024",
        "ratio": ratio,
        "floor": floor,
        "aim": aim,
        "ours": f"{scans * LANES / ours / 1e6:,.0f} M bench-scans/s",
        "other": f"{scans * LANES / other / 1e6:,.1f} M bench-scans/s",
        "note": f"{LANES:,} benches at once, {RUNGS} rungs; both sides end with the same bits",
    }

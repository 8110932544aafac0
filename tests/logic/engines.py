"""One program through every engine, side by side."""

from __future__ import annotations

from dataclasses import dataclass

from labkit.base import LabkitError
from labkit.logic import (
    Program,
    lower,
    new_bits,
    new_memory,
    numpy_bits,
    numpy_memory,
    to_lanes,
    to_numpy,
    to_python,
    walker,
)

Scans = list[tuple[int, list[dict[str, bool]]]]  # per scan its time and, per lane, the inputs


@dataclass
class History:
    """`bits[scan][lane]` maps every slot to 0 or 1; `values[scan][lane]` maps T1.ET and C1.CV to a number."""

    bits: list[list[dict[str, int]]]
    values: list[list[dict[str, int]]]


def by_walker(program: Program, scans: Scans) -> History:
    slots = lower(program).slots
    lanes = [(walker(program), {}) for _ in scans[0][1]]
    history = History([], [])
    for now, inputs in scans:
        for (walk, state), given in zip(lanes, inputs, strict=True):
            state.update(given)
            walk.scan(state, now)
        history.bits.append([{s: int(state.get(s, False)) for s in slots} for _, state in lanes])
        history.values.append([walk.values() for walk, _ in lanes])
    return history


def by_python(program: Program, scans: Scans) -> History:
    low = lower(program)
    scan = to_python(low)
    lanes = [(new_bits(low), new_memory(low)) for _ in scans[0][1]]
    history = History([], [])
    for now, inputs in scans:
        for (bits, mem), given in zip(lanes, inputs, strict=True):
            for name, bit in given.items():
                if name in low.slots:
                    bits[low.slots.index(name)] = int(bit)
            scan(bits, mem, now)
            assert set(bits) <= {0, 1}
            assert all(type(b) is int for b in bits + mem)
        history.bits.append([dict(zip(low.slots, bits, strict=True)) for bits, _ in lanes])
        history.values.append([low.values(mem) for _, mem in lanes])
    return history


def by_numpy(program: Program, scans: Scans, *, words: bool = False) -> History:
    """Arrays of benches; with `words` each lane is bit 0 of a word of its own (only boolean programs)."""
    low = lower(program)
    scan = to_numpy(low, words=words)
    count = len(scans[0][1])
    bits, mem = numpy_bits(low, count), numpy_memory(low, count)
    if words:
        bits, mem = bits.astype("uint64"), mem.astype("uint64")
    history = History([], [])
    for now, inputs in scans:
        for lane, given in enumerate(inputs):
            for name, bit in given.items():
                if name in low.slots:
                    bits[low.slots.index(name), lane] = bit
        scan(bits, mem, now)
        got = bits & (1 if words else True)
        history.bits.append([{s: int(got[i, lane]) for i, s in enumerate(low.slots)} for lane in range(count)])
        history.values.append([{n: int(mem[c, lane]) for n, c in low.readings} for lane in range(count)])
    return history


def by_lanes(program: Program, scans: Scans) -> History | None:
    """Integer lanes; None if the program is not purely boolean."""
    low = lower(program)
    try:
        scan = to_lanes(low)
    except LabkitError:
        return None
    count = len(scans[0][1])
    every = (1 << count) - 1
    bits = [every if b else 0 for b in new_bits(low)]
    mem = new_memory(low)
    history = History([], [])
    for _, inputs in scans:
        for name in low.slots:
            if name in inputs[0]:
                bits[low.slots.index(name)] = sum(given[name] << lane for lane, given in enumerate(inputs))
        scan(bits, mem, every)
        assert all(0 <= b <= every for b in bits + mem)
        history.bits.append([{s: b >> lane & 1 for s, b in zip(low.slots, bits, strict=True)} for lane in range(count)])
        history.values.append([{} for _ in range(count)])
    return history


def all_agree(program: Program, scans: Scans) -> History:
    """Run every engine and compare each slot and value after each scan with the walker's."""
    want = by_walker(program, scans)
    for name, got in (("python", by_python(program, scans)), ("numpy", by_numpy(program, scans))):
        assert got.bits == want.bits, name
        assert got.values == want.values, name
    lanes = by_lanes(program, scans)
    if lanes is not None:
        assert lanes.bits == want.bits, "lanes"
        assert by_numpy(program, scans, words=True).bits == want.bits, "numpy words"
    return want

"""A program as a step function on packed states: bits, edge memories, timers by age, counters up to their preset."""

from __future__ import annotations

from collections.abc import Iterable

from labkit.logic import Lowered, Program, Variable, lower, new_bits, new_memory, to_python

__all__ = ["NOW_US", "Bits", "ProgramSteps"]

Bits = tuple[int, ...]
"""Slots, then cells; what cannot matter later is 0."""

NOW_US = 1 << 50  # the instant of every scan: timers are kept by age, so that equal states are equal


class ProgramSteps:
    """One program, scanned with a fixed period.

    Parameters
    ----------
    program
        The program.
    also
        Names that need a slot whether the program uses them or not.
    scan_us
        From one scan to the next, in microseconds: the tick in which timers are counted.
    any_preset
        Let a running timer be over at any scan: an over-approximation that is true for every preset.
    """

    def __init__(self, program: Program, also: Iterable[str], scan_us: int, *, any_preset: bool = False) -> None:
        from dataclasses import replace

        more = tuple(Variable(name, "BOOL") for name in also)
        self.lowered: Lowered = lower(replace(program, declarations=(*program.declarations, *more)))
        self.scan = to_python(self.lowered)
        self.slots = self.lowered.slots
        self.place = {name: i for i, name in enumerate(self.slots)}
        self.scan_us, self.any_preset = scan_us, any_preset
        self.timers = self.lowered.timers
        self._bits = len(self.slots)
        self._caps = [
            (op.cells[0], 0 if op.do == "CTD" else None, None if op.do == "CTD" else op.number)
            for op in self.lowered.ops
            if op.do in ("CTU", "CTD")
        ]
        self.reads = _read_first(self.lowered)
        self.counts = any(op.do in ("TON", "TOF", "TP", "CTU", "CTD", "CTUD") for op in self.lowered.ops)

    def fresh(self) -> Bits:
        """Everything at its initial value."""
        return (*new_bits(self.lowered), *new_memory(self.lowered))

    def keep(self, outputs: Iterable[int]) -> None:
        """Say which slots matter beside those that the program reads before it writes them: the rest become 0."""
        wanted = self.reads | set(outputs)
        self._dead = [i for i in range(self._bits) if i not in wanted]

    def expiries(self, state: Bits) -> tuple[int, ...]:
        """With `any_preset`: the choices of which running timers are over at this scan, as masks; else just 0."""
        if not self.any_preset:
            return (0,)
        running = [i for i, t in enumerate(self.timers) if state[self._bits + t.mode] == 1]
        masks = [0]
        for i in running:
            masks += [m | 1 << i for m in masks]
        return tuple(masks)

    def step(self, state: Bits, inputs: Iterable[tuple[int, int]], expire: int = 0) -> tuple[Bits, list[int]]:
        """One scan with these input bits: the next state, and all bits as they are after it."""
        n = self._bits
        bits, cells = list(state[:n]), list(state[n:])
        for slot, value in inputs:
            bits[slot] = value
        for i, t in enumerate(self.timers):
            if self.any_preset:
                age = t.preset_us if expire >> i & 1 else 0
                # a preset of a scan or less is over at the scan after its start in any case
                cells[t.since] = NOW_US - age
            else:
                cells[t.since] = NOW_US - cells[t.since] - self.scan_us
        self.scan(bits, cells, NOW_US)
        for t in self.timers:
            running = cells[t.mode] == 1 and not self.any_preset
            cells[t.since] = NOW_US - cells[t.since] if running else 0
            cells[t.et] = 0
        for cell, low, high in self._caps:
            # beyond its preset a counter of one direction only waits for its reset
            cells[cell] = max(cells[cell], low) if low is not None else min(cells[cell], high or 0)
        after = bits[:]
        for i in self._dead:
            bits[i] = 0
        return (*bits, *cells), after


def _read_first(lowered: Lowered) -> set[int]:
    """Slots whose value from before the scan can matter: read before they are surely written, or kept by S and R."""
    read: set[int] = set()
    written: set[int] = set()
    for op in lowered.ops:
        if op.do == "load":
            read |= set(op.slots) - written
        elif op.do == "store" or op.do in ("TON", "TOF", "TP", "CTU", "CTD", "CTUD", "R_TRIG", "F_TRIG"):
            written |= set(op.slots)
        else:  # set, reset, SR, RS hold what was
            read |= set(op.slots) - written
    return read

"""What a loss of supply and its return do to a program's state."""

from __future__ import annotations

from labkit.controller._memory import FIRST_SCAN, Memory
from labkit.controller.family import Family
from labkit.controller.tags import TagTable
from labkit.logic import Program
from labkit.verify._program import NOW_US, Bits

__all__ = ["Restart"]


class Restart:
    """What a loss of supply and its return do to a program's memory: the controller's own rules."""

    def __init__(self, program: Program, tags: TagTable, family: Family) -> None:
        self.memory = Memory(program, tags)
        self.family = family

    def lost(self, state: Bits) -> Bits:
        """The supply has gone."""
        memory = self.memory
        n = len(memory.bits)
        memory.bits[:], memory.cells[:] = state[:n], state[n:]
        memory.start(self.family.retention.power_up)
        memory.clear_inputs()
        return (*memory.bits, *memory.cells)

    def back(self, state: Bits) -> Bits:
        """The first scan is about to be."""
        memory, rules = self.memory, self.family.start
        n = len(memory.bits)
        memory.bits[:], memory.cells[:] = state[:n], state[n:]
        if rules.edges == "zero":
            memory.forget_edges()
        memory.bits[memory.slot[FIRST_SCAN]] = int("power-up" in rules.first_scan)
        return (*memory.bits, *memory.cells)

    def prime(self, state: Bits) -> Bits:
        """Edges take the present inputs for the past, where the family does so."""
        if self.family.start.edges != "present":
            return state
        memory = self.memory
        n = len(memory.bits)
        memory.bits[:], memory.cells[:] = state[:n], state[n:]
        memory.prime_edges(NOW_US)
        return (*memory.bits, *memory.cells)

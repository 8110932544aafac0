"""The image tables: one list of bits for tags, variables and block outputs, and what a start does to them."""

from __future__ import annotations

from typing import Literal

from labkit.controller._engine import engine_of
from labkit.controller.family import RetentionRule
from labkit.controller.tags import TagTable
from labkit.logic import Program

__all__ = ["FIRST_SCAN", "Memory"]

FIRST_SCAN = "FIRST_SCAN"
"""The name of the first-scan flag, in the families that have one."""

Keeping = Literal["input", "plain", "retained", "blocks"]


class Memory:
    """Bits by name and number, the program's hidden cells, and the class that each belongs to.

    The bits are those of the compiled program, in its order; tags that it does not use are among them.
    """

    __slots__ = ("_keeping", "bits", "cells", "engine", "slot")

    def __init__(self, program: Program | None, tags: TagTable) -> None:
        self.engine = engine_of(program, (*tags.by_name, FIRST_SCAN))
        self.slot: dict[str, int] = {name: number for number, name in enumerate(self.engine.slots)}
        retained = self.engine.retained_slots
        self._keeping = [_keeping(name, number in retained, tags) for name, number in self.slot.items()]
        # every value is now at its initial one, as after loading
        self.bits = self.engine.new_bits()
        self.cells = self.engine.new_cells()

    def start(self, rule: RetentionRule) -> None:
        """Apply what one kind of start does: what is not kept gets its initial value."""
        cleared = {kind for kind in ("plain", "retained", "blocks") if getattr(rule, kind) == "clear"}
        for number, value in enumerate(self.engine.new_bits()):
            if self._keeping[number] in cleared:
                self.bits[number] = value
        retained_cells, edge_cells = self.engine.retained_cells, self.engine.edge_cells
        for number, value in enumerate(self.engine.new_cells()):
            # what an edge remembers has a switch of its own: see forget_edges
            keeping = "retained" if number in retained_cells else "blocks"
            if keeping in cleared and number not in edge_cells:
                self.cells[number] = value

    def forget_edges(self) -> None:
        """Every edge takes the value before the first scan to be the initial one."""
        fresh = self.engine.new_cells()
        for number in self.engine.edge_cells:
            self.cells[number] = fresh[number]

    def prime_edges(self, now_us: int) -> None:
        """Every edge takes the value before the first scan to be the present one.

        The program is solved once on a copy; only what its edges remember is taken from there.
        """
        bits, cells = self.bits[:], self.cells[:]
        self.engine.scan(bits, cells, now_us)
        for number in self.engine.edge_cells:
            self.cells[number] = cells[number]

    def clear_inputs(self) -> None:
        """The input image without supply."""
        for number, keeping in enumerate(self._keeping):
            if keeping == "input":
                self.bits[number] = 0


def _keeping(name: str, retained: bool, tags: TagTable) -> Keeping:
    if name in tags:
        tag = tags.by_name[name]
        return "input" if tag.kind == "input" else "retained" if tag.retain else "plain"
    if retained:
        return "retained"
    return "blocks" if "." in name else "plain"

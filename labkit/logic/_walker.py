"""The meaning of a program: a walk over the tree, slow and obvious, that also tells where power flows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from labkit.logic._meaning import MEANINGS, BlockState
from labkit.logic.blocks import BLOCKS
from labkit.logic.nodes import (
    Block,
    Coil,
    Constant,
    Contact,
    Not,
    Parallel,
    Power,
    Program,
    Series,
    Xor,
)

__all__ = ["ElementFlow", "Flow", "Walker", "walker"]


class ElementFlow(NamedTuple):
    """Power at one element in one scan.

    `passes` is what the element itself says: a contact would pass power, a coil wrote TRUE (or set, or reset), a block
    has its output on.
    """

    power_in: bool
    passes: bool
    power_out: bool


@dataclass(frozen=True, slots=True)
class Flow:
    """Power flow of one scan, by element number."""

    elements: Mapping[int, ElementFlow]

    def __getitem__(self, element: int) -> ElementFlow:
        return self.elements[element]

    def live(self, feeds: tuple[int, ...]) -> bool:
        """True if a link with these `feeds` carries power; a link without any hangs on the left rail."""
        return not feeds or any(self.elements[e].power_out for e in feeds)


def walker(program: Program) -> Walker:
    """A fresh walker over the program: edges and blocks as at a cold start."""
    return Walker(program)


class Walker:
    """One running copy of a program.

    Examples
    --------
    >>> from labkit.logic import read_st
    >>> walk = walker(read_st("K1 := S1 AND (S2 OR K1);"))
    >>> values = {"S1": True, "S2": True}
    >>> flow = walk.scan(values, 0)
    >>> values["K1"], flow[2].power_out
    (True, False)
    """

    def __init__(self, program: Program) -> None:
        self.program = program
        self._before: dict[int, bool] = {}  # per transition contact or coil: what it sensed last time
        self._blocks: dict[str, BlockState] = {i: MEANINGS[t]() for i, t in program.instances().items()}
        self._flow: dict[int, ElementFlow] = {}
        self._values: dict[str, bool] = {}
        self._now_us = 0

    def scan(self, values: dict[str, bool], now_us: int) -> Flow:
        """Solve every rung once, from top to bottom; `values` is read and written, a missing name is FALSE.

        Parameters
        ----------
        values
            BOOL variables by name; block outputs such as ``T1.Q`` appear in it too.
        now_us
            Start of the scan in whole microseconds; it may not run backwards.
        """
        self._values, self._now_us, self._flow = values, now_us, {}
        if self.program.declarations:
            for v in self.program.declarations:
                if v.type == "BOOL":
                    values.setdefault(v.name, bool(v.initial))
        for rung in self.program.rungs:
            self._power(rung.network, True)
        return Flow(self._flow)

    def values(self) -> dict[str, int]:
        """ET of each timer in microseconds and CV of each counter, by ``"T1.ET"`` and ``"C1.CV"``."""
        kinds = ((i, BLOCKS[t]) for i, t in self.program.instances().items())
        return {f"{i}.{kind.value}": self._blocks[i].value for i, kind in kinds if kind.value}

    # ---- power on the right of a network, given power on its left

    def _power(self, node: Power, left: bool) -> bool:
        if isinstance(node, Series):
            for item in node.items:
                left = self._power(item, left)
            return left
        if isinstance(node, Parallel):
            return any([self._power(item, left) for item in node.items])  # noqa: C419 - a list, so that every branch is walked
        if isinstance(node, Xor):
            odd = sum(self._power(item, True) for item in node.items) % 2 == 1
            return left and odd
        if isinstance(node, Not):
            passes = not self._power(node.of, True)
            return left and passes
        if isinstance(node, Constant):
            return self._note(node.element, left, node.value, left and node.value)
        if isinstance(node, Contact):
            passes = self._contact(node)
            return self._note(node.element, left, passes, left and passes)
        if isinstance(node, Coil):
            return self._note(node.element, left, self._coil(node, left), left)
        return self._block(node, left)

    def _note(self, element: int, power_in: bool, passes: bool, power_out: bool) -> bool:
        self._flow[element] = ElementFlow(power_in, passes, power_out)
        return power_out

    def _contact(self, node: Contact) -> bool:
        bit = bool(self._values.setdefault(node.name, False))
        if node.kind == "/":
            return not bit
        if node.kind in ("P", "N"):
            return self._transition(node.element, node.kind, bit)
        return bit

    def _transition(self, element: int, kind: str, now: bool) -> bool:
        """A change since the last evaluation; before the first one everything is FALSE, as an R_TRIG's M is."""
        before = self._before.get(element, False)
        self._before[element] = now
        return (now and not before) if kind == "P" else (before and not now)

    def _coil(self, node: Coil, power: bool) -> bool:
        """Write the variable; gives whether the coil acted: wrote TRUE, set, or reset."""
        if node.kind in ("S", "R"):
            if power:
                self._values[node.name] = node.kind == "S"
            self._values.setdefault(node.name, False)
            return power
        if node.kind in ("P", "N"):
            power = self._transition(node.element, node.kind, power)
        elif node.kind == "/":
            power = not power
        self._values[node.name] = power
        return power

    def _block(self, node: Block, left: bool) -> bool:
        kind = BLOCKS[node.type]
        feeds = dict(node.inputs)
        inputs = [left] + [self._power(feeds[pin], True) if pin in feeds else False for pin in kind.inputs[1:]]
        preset = node.presets[0][1].value if node.presets else 0
        outputs = self._blocks[node.instance].call(inputs, preset, self._now_us)
        for pin, bit in zip(kind.outputs, outputs, strict=True):
            self._values[f"{node.instance}.{pin}"] = bit
        for pin, name in node.outputs:
            self._values[name] = self._values[f"{node.instance}.{pin}"]
        return self._note(node.element, left, outputs[0], outputs[0])

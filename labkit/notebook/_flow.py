"""Where power stands in a program that a controller runs: drawn from the controller's bits, never run again.

Running a copy of the program beside the controller would soon tell another story (timers, edges). So the
tree is only walked, and what blocks and edges gave is taken from the controller's own bits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from labkit.logic import BLOCKS, Block, Coil, Constant, Contact, ElementFlow, Not, Parallel, Series, Xor, elements

__all__ = ["RungStep", "Solving", "standing_flow"]

Bits = Mapping[str, bool]


@dataclass(frozen=True, slots=True)
class RungStep:
    """What one rung did: the flow of all rungs so far, and the bits it changed, as name -> value."""

    number: int
    flow: dict[int, ElementFlow]
    changed: dict[str, bool]


class Solving:
    """One scan's solving, told rung by rung.

    Parameters
    ----------
    program
        The program as it is drawn.
    read
        Bits as the scan found them after reading its inputs.
    after
        Bits at its end: what blocks and edge coils gave.
    last
        Bits at the end of the scan before: what an edge contact saw last.
    earlier
        Bits one scan before `last`: what an edge contact saw last if its bit is written below it.
    """

    def __init__(self, program: Any, read: Bits, after: Bits, last: Bits, earlier: Bits) -> None:
        self.program = program
        self.bits = dict(read)
        self._after, self._last, self._earlier = after, last, earlier
        self._flow: dict[int, ElementFlow] = {}
        self._rung = 0
        self._written_in: dict[str, int] = {}
        for place, rung in enumerate(program.rungs):
            for element in elements(rung.network):
                if isinstance(element, Coil):
                    self._written_in[element.name] = place

    def rungs(self, write: bool = True) -> Iterator[RungStep]:
        """Each rung in the order of solving."""
        for place, rung in enumerate(self.program.rungs):
            self._rung = place
            held = dict(self.bits)
            self._power(rung.network, True, write)
            changed = {name: bit for name, bit in self.bits.items() if held.get(name) != bit}
            yield RungStep(place + 1, dict(self._flow), changed)

    def _power(self, node: Any, left: bool, write: bool) -> bool:
        match node:
            case Series():
                for item in node.items:
                    left = self._power(item, left, write)
                return left
            case Parallel():
                out = [self._power(item, left, write) for item in node.items]  # every branch is walked
                return any(out)
            case Xor():
                return left and sum([self._power(item, True, write) for item in node.items]) % 2 == 1
            case Not():
                return left and not self._power(node.of, True, write)
            case Constant():
                return self._note(node.element, left, node.value, left and node.value)
            case Contact():
                passes = self._passes(node)
                return self._note(node.element, left, passes, left and passes)
            case Coil():
                return self._note(node.element, left, self._coil(node, left, write), left)
            case _:
                return self._block(node, left, write)

    def _note(self, element: int, power_in: bool, passes: bool, power_out: bool) -> bool:
        self._flow[element] = ElementFlow(power_in, passes, power_out)
        return power_out

    def _passes(self, node: Contact) -> bool:
        bit = bool(self.bits.get(node.name, False))
        if node.kind in ("P", "N"):
            below = self._written_in.get(node.name, -1) >= self._rung
            last = bool((self._earlier if below else self._last).get(node.name, False))
            return bit and not last if node.kind == "P" else last and not bit
        return not bit if node.kind == "/" else bit

    def _coil(self, node: Coil, power: bool, write: bool) -> bool:
        acts = {"/": not power, "": power}.get(node.kind, power)
        if node.kind in ("P", "N"):
            acts = bool(self._after.get(node.name, False))
        if write:
            if node.kind in ("S", "R"):
                if power:
                    self.bits[node.name] = node.kind == "S"
            else:
                self.bits[node.name] = acts
        return acts

    def _block(self, node: Block, left: bool, write: bool) -> bool:
        feeds = dict(node.inputs)
        for pin in BLOCKS[node.type].inputs[1:]:
            if pin in feeds:
                self._power(feeds[pin], True, write)
        outputs = BLOCKS[node.type].outputs
        for pin in outputs:
            self.bits[f"{node.instance}.{pin}"] = bool(self._after.get(f"{node.instance}.{pin}", False))
        if write:
            for pin, name in node.outputs:
                self.bits[name] = self.bits[f"{node.instance}.{pin}"]
        out = self.bits[f"{node.instance}.{outputs[0]}"]
        return self._note(node.element, left, out, out)


def standing_flow(program: Any, bit: Callable[[str], bool]) -> dict[int, ElementFlow]:
    """The flow that the bits of this instant make, edges taken as passed."""
    names = {name: bit(name) for name in program.variables()}
    for instance, kind in program.instances().items():
        names |= {f"{instance}.{pin}": bit(f"{instance}.{pin}") for pin in BLOCKS[kind].outputs}
    flow: dict[int, ElementFlow] = {}
    for step in Solving(program, names, names, names, names).rungs(write=False):
        flow = step.flow
    return flow

"""From elements and nets to rungs: what hangs together is one rung, and each becomes one network."""

from __future__ import annotations

from collections.abc import Hashable, Iterable

from labkit.logic._names import Names
from labkit.logic._parts import Part, part_name
from labkit.logic._series_parallel import Branch, reduce_network
from labkit.logic._source import Source
from labkit.logic._wires import LEFT, RIGHT, Sets
from labkit.logic.nodes import Constant, Power

__all__ = ["RungBuilder"]


class RungBuilder:
    """Groups the parts of a text into rungs, and reduces each rung to series and parallel."""

    def __init__(self, source: Source, names: Names, parts: list[Part]) -> None:
        self.source = source
        self.names = names
        self.parts = parts

    def groups(self) -> list[list[Part]]:
        """Parts that hang together by wires, the rails left out: one group for each rung, from top to bottom."""
        owner = Sets()
        for i, part in enumerate(self.parts):
            ends = [part.start, part.end] + ([net for _, net, _ in part.box.wired] if part.box else [])
            for net in ends:
                if net not in (LEFT, RIGHT):
                    owner.union(("part", i), ("net", net))
        groups: dict[Hashable, list[Part]] = {}
        for i, part in enumerate(self.parts):
            groups.setdefault(owner.find(("part", i)), []).append(part)
        ordered = sorted(groups.values(), key=lambda g: min((p.top, p.col) for p in g))
        return [sorted(g, key=lambda p: (p.row, p.col)) for g in ordered]

    def network(self, group: list[Part]) -> Power:
        """A group as one network, the side networks of its blocks read first."""
        used: set[int] = set()
        for part in sorted(group, key=lambda p: p.col):
            if part.box is not None:
                self._finish_block(part, group, used)
        main = [p for p in group if id(p) not in used]
        ends = {p.end for p in main if p.end not in {q.start for q in main}}
        branches = [_branch(p, ends) for p in main]
        return self._reduced(branches, RIGHT, main)

    def _finish_block(self, part: Part, group: list[Part], used: set[int]) -> None:
        box = part.box
        assert box is not None
        for pin, net, span in box.wired:
            if net == LEFT:
                box.inputs.append((pin, Constant(True, span=span)))
                continue
            side = self._side_network(net, group)
            if side is None:
                raise self.source.slip("pin-network", span, pin=pin, name=box.instance)
            box.inputs.append((pin, self._reduced([_branch(p, {net}) for p in side], RIGHT, side)))
            used |= {id(p) for p in side}
        part.node = self.names.finish_block(
            box.kind, box.instance, part.span, fed=True, inputs=box.inputs, presets=box.presets, outputs=box.outputs
        )

    def _side_network(self, net: Hashable, group: list[Part]) -> list[Part] | None:
        """The parts that feed only this net; None if one of its nets also feeds something else."""
        nets: set[Hashable] = {net}
        found: dict[int, Part] = {}
        todo = [net]
        while todo:
            now = todo.pop()
            for p in group:
                if p.end == now and id(p) not in found:
                    found[id(p)] = p
                    if p.start != LEFT and p.start not in nets:
                        nets.add(p.start)
                        todo.append(p.start)
        for p in group:
            taps = [p.start] + ([n for _, n, _ in p.box.wired if n != net] if p.box else [])
            if id(p) not in found and any(t in nets for t in taps):
                return None
            if id(p) in found and (p.is_coil or p.box):
                return None
        return [p for p in group if id(p) in found] or None

    def _reduced(self, branches: list[Branch], end: Hashable, parts: list[Part]) -> Power:
        result = reduce_network(branches, LEFT, end)
        if not isinstance(result, list):
            return result
        # a bridge joins two nets that some way through the rung avoids
        shared = {net for b in result for net in (b.start, b.end) if not _reaches(result, LEFT, end, without=net)}
        inner = [b for b in result if not {b.start, b.end} & (shared | {LEFT, end})] or result
        bridging = min(inner, key=lambda b: b.order)
        part = next(p for p in parts if (p.row, p.col) == bridging.order)
        raise self.source.slip("bridge", part.span, name=part_name(part.node))


def _reaches(branches: list[Branch], start: Hashable, end: Hashable, *, without: Hashable) -> bool:
    """Whether power could get from `start` to `end` past the net `without`."""
    seen, todo = {start}, [start]
    while todo:
        now = todo.pop()
        for b in branches:
            if b.start == now and b.end != without and b.end not in seen:
                seen.add(b.end)
                todo.append(b.end)
    return end in seen


def _branch(part: Part, sinks: Iterable[Hashable]) -> Branch:
    return Branch(part.start, RIGHT if part.end in sinks else part.end, part.node, (part.row, part.col))

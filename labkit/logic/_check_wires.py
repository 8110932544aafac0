"""What may be wrong with the wires of a ladder, the plainest reason first."""

from __future__ import annotations

from collections.abc import Hashable

from labkit.logic._parts import Part, part_name
from labkit.logic._scan_ladder import Scan
from labkit.logic._source import Source
from labkit.logic._wires import LEFT, RIGHT, Nets
from labkit.logic.nodes import Span

__all__ = ["Checks"]


class Checks:
    """What may be wrong with a rung's wires, the plainest reason first."""

    def __init__(self, source: Source, scan: Scan, nets: Nets, groups: list[list[Part]]) -> None:
        self.source = source
        self.scan = scan
        self.nets = nets
        self.groups = groups
        self.feeders: dict[Hashable, list[Part]] = {}
        self.takers: dict[Hashable, list[Part]] = {}
        for part in (p for g in groups for p in g):
            self.feeders.setdefault(part.end, []).append(part)
            self.takers.setdefault(part.start, []).append(part)
            for _, net, _ in part.box.wired if part.box else ():
                self.takers.setdefault(net, []).append(part)

    def run(self) -> None:
        """Raise at the first thing that is wrong."""
        self._starts()
        for group in self.groups:
            for check in (self._shorts, self._behind_coils, self._left_rail, self._coil, self._backwards):
                check(group)
        self._loose_ends()

    def _starts(self) -> None:
        """A wire with nothing on its left."""
        for group in self.groups:
            for part in group:
                for net in [part.start] + ([n for _, n, _ in part.box.wired] if part.box else []):
                    if net != LEFT and net not in self.feeders:
                        place = min(p for p in self.scan.wires if self.nets.sets.find(p) == net)
                        row, col = part.row, self._leftmost(net, part.row, place[1])
                        raise self.nets.starts_nowhere(row, col)

    def _leftmost(self, net: Hashable, row: int, default: int) -> int:
        cols = [c for r, c in self.scan.wires if r == row and self.nets.sets.find((r, c)) == net]
        return min(cols, default=default)

    def _shorts(self, group: list[Part]) -> None:
        for part in group:
            if part.start == part.end:
                raise self.source.slip("short", part.span, name=part_name(part.node))

    def _behind_coils(self, group: list[Part]) -> None:
        coiled = {p.end for p in group if p.is_coil}
        for part in group:
            if part.start in coiled and not part.is_coil:
                if all(p.start == LEFT for p in self.feeders[part.start] if p.is_coil):
                    self._left_rail(self.feeders[part.start])
                raise self.source.slip(
                    "after-coil", part.span, name=part.box.instance if part.box else part_name(part.node)
                )

    def _left_rail(self, group: list[Part]) -> None:
        for part in group:
            if part.is_coil and part.start == LEFT:
                raise self.source.slip("coil-on-left-rail", part.span, name=part_name(part.node))

    def _coil(self, group: list[Part]) -> None:
        """Each way through the rung ends in a coil or a block."""
        if not any(p.is_coil or p.box for p in group):
            last = max(group, key=lambda p: (p.last, -p.row))
            raise self.source.slip("coil-missing", Span(last.row + 1, last.last + 1))
        for part in group:
            if part.is_coil or part.box:
                continue
            if part.end == RIGHT:
                raise self.source.slip("coil-missing", Span(part.row + 1, part.last + 1))
            if part.end not in self.takers:
                raise self.source.slip("branch-open", Span(part.row + 1, self._rightmost(part) + 1))

    def _rightmost(self, part: Part) -> int:
        col = part.last
        while (part.row, col + 1) in self.scan.wires:
            col += 1
        return col

    def _backwards(self, group: list[Part]) -> None:
        for part in group:
            for feeder in self.feeders.get(part.start, ()):
                if part.start not in (LEFT, RIGHT) and feeder.last >= part.col:
                    raise self.source.slip("right-to-left", part.span, name=part_name(part.node))

    def _loose_ends(self) -> None:
        """A wire, although joined to something, that also leads nowhere."""
        coils = {p.end for g in self.groups for p in g if p.is_coil or p.box}
        for (row, col), char in sorted(self.scan.wires.items()):
            net = self.nets.sets.find((row, col))
            if self.nets.degree[(row, col)] >= 2 or net == RIGHT or (net in coils and net not in self.takers):
                continue
            beside = self.scan.wires.get((row, col - 1))
            if char == "-" and (net == LEFT or not beside):
                how = "ends" if beside or net == LEFT else "starts"
                raise self.source.slip("wire-nowhere", Span(row + 1, col + 1), how=how)
            raise self.source.slip("branch-open", Span(row + 1, col + 1))

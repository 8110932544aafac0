"""From wires to nets: which ends of which elements are joined, and which wires lead nowhere."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from labkit.logic._scan_ladder import Scan
from labkit.logic._source import Source
from labkit.logic.nodes import Span
from labkit.logic.slips import SlipError

__all__ = ["LEFT", "RIGHT", "Edge", "Nets", "Sets", "join_wires"]

LEFT, RIGHT = "left rail", "right rail"


class Sets:
    """Disjoint sets with union and find; the rails stay the names of their sets."""

    def __init__(self) -> None:
        self.parent: dict[Hashable, Hashable] = {}

    def find(self, item: Hashable) -> Hashable:
        """The name of the set of `item`."""
        parent = self.parent.setdefault(item, item)
        while parent != item:
            grand = self.parent[parent]
            self.parent[item] = grand
            item, parent = parent, grand
        return item

    def union(self, a: Hashable, b: Hashable) -> None:
        """Join two sets."""
        a, b = self.find(a), self.find(b)
        if a != b:
            if a in (LEFT, RIGHT):
                a, b = b, a
            self.parent[a] = b


@dataclass(frozen=True, slots=True)
class Edge:
    """A place where something is joined to a wire: `side` is -1 if the wire lies on its left, 1 if on its right."""

    row: int
    col: int
    side: int


class Nets:
    """The wires of a text, joined."""

    def __init__(self, source: Source, scan: Scan) -> None:
        self.source = source
        self.scan = scan
        self.sets = Sets()
        self.degree: dict[tuple[int, int], int] = dict.fromkeys(scan.wires, 0)
        self.edges: set[tuple[int, int]] = set()

    def net(self, edge: Edge) -> Hashable | None:
        """The net at an element's edge; None if there is nothing beside it."""
        place = (edge.row, edge.col + edge.side)
        if place in self.scan.wires:
            return self.sets.find(place)
        if self.scan.left_rail.get(edge.row) == place[1] and edge.side < 0:
            return LEFT
        if self.scan.right_rail.get(edge.row) == place[1]:
            return RIGHT
        if place in self.edges:  # two elements side by side
            return self.sets.find(("gap", edge.row, max(edge.col, place[1])))
        return None

    def starts_nowhere(self, row: int, col: int) -> SlipError:
        """The slip of a wire or element with nothing on its left."""
        code = "wire-nowhere" if row in self.scan.left_rail else "rail-missing"
        return self.source.slip(code, Span(row + 1, col + 1), how="starts")


def join_wires(source: Source, scan: Scan, edges: list[Edge]) -> Nets:
    """Join wires with one another and with the rails; `edges` are where elements and pins begin and end.

    Raises
    ------
    SlipError
        If two wires cross.
    """
    nets = Nets(source, scan)
    nets.edges = {(e.row, e.col) for e in edges}
    for place, char in scan.wires.items():
        row, col = place
        right = scan.wires.get((row, col + 1))
        if right and not (char == right == "|"):
            _join(nets, place, (row, col + 1))
        below = scan.wires.get((row + 1, col))
        if below and _meets(char, below):
            _join(nets, place, (row + 1, col))
        if char == "|":
            _mend(nets, place)
        elif char == "-" and scan.wires.get((row - 1, col)) == "|" == below:
            raise source.slip("crossing", Span(row + 1, col + 1))
    for row, col in scan.left_rail.items():
        _to_rail(nets, (row, col + 1), LEFT)
    for row, col in scan.right_rail.items():
        _to_rail(nets, (row, col - 1), RIGHT)
    for edge in edges:
        place = (edge.row, edge.col + edge.side)
        if place in nets.degree:
            nets.degree[place] += 1
    return nets


def _meets(upper: str, lower: str) -> bool:
    """Whether two wire characters one above the other are joined: a + or | with a + or |, or a | that ends on a -."""
    return upper + lower in {"++", "+|", "|+", "||", "-|", "|-"}


def _join(nets: Nets, a: tuple[int, int], b: tuple[int, int]) -> None:
    nets.sets.union(a, b)
    nets.degree[a] += 1
    nets.degree[b] += 1


def _to_rail(nets: Nets, place: tuple[int, int], rail: str) -> None:
    if nets.scan.wires.get(place, "|") != "|":
        nets.sets.union(place, rail)
        nets.degree[place] += 1


def _mend(nets: Nets, place: tuple[int, int]) -> None:
    """A bar drawn one column beside the + that it means is joined to it, if only one + can be meant."""
    wires = nets.scan.wires
    row, col = place
    for step in (-1, 1):
        if (row + step, col) in wires:
            continue
        near = [(row + step, col + d) for d in (-1, 1) if wires.get((row + step, col + d)) == "+"]
        if len(near) == 1 and not _continued(wires, near[0], -step):
            _join(nets, place, near[0])


def _continued(wires: dict[tuple[int, int], str], corner: tuple[int, int], step: int) -> bool:
    """Whether the corner already has its own bar on that side."""
    return wires.get((corner[0] + step, corner[1]), " ") in "|+"

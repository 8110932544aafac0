"""Where the conductors of a board run: out of a terminal, through the free bands between the parts.

The bands that no part reaches into, right across the board, are its wiring ducts. A conductor leaves its
terminal, runs along a lane of the nearest duct, crosses a row of parts through a gap if it must, and ends
at the other terminal. No two conductors share a stretch of a lane or of a gap. All in sheet units.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

__all__ = ["Box", "Duct", "Exit", "Route", "ducts_of", "exits_of", "route"]

_LANE = 2.6  # the least that two conductors lie apart before they are drawn closer

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Box:
    """The outline of a part."""

    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Duct:
    """A free band right across the board."""

    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Exit:
    """Where one end of a wire leaves its terminal: at `x`, from `y` into duct number `duct`, tag at `level`."""

    x: float
    y: float
    up: bool
    duct: int
    level: int


@dataclass(frozen=True, slots=True)
class Route:
    """A conductor's way; the corners from one terminal to the other."""

    no: str
    points: tuple[tuple[float, float], ...]


def ducts_of(boxes: Iterable[Box], height: float, edge: float = 0.0) -> list[Duct]:
    """The free bands of a board, from top to bottom."""
    rows = sorted((b.top, b.bottom) for b in boxes)
    ducts, y = [], edge
    for top, bottom in rows:
        if top > y + 1:
            ducts.append(Duct(y, top))
        y = max(y, bottom)
    if height - edge > y + 1:
        ducts.append(Duct(y, height - edge))
    return ducts


def exits_of(
    ends: Mapping[str, Sequence[tuple[str, int]]],
    places: Mapping[str, tuple[float, float, bool, float]],
    ducts: Sequence[Duct],
) -> dict[tuple[str, int], Exit]:
    """Spread the wires of each terminal along it.

    Parameters
    ----------
    ends
        Terminal id -> the wire ends landed on it, as (wire number, 0 or 1).
    places
        Terminal id -> (x, y, whether it opens upwards, the room across it).
    ducts
        The board's ducts.
    """
    out: dict[tuple[str, int], Exit] = {}
    for terminal, landed in ends.items():
        x, y, up, room = places[terminal]
        duct = _nearest(ducts, y, up)
        step = min(8.0, (room - 4) / max(len(landed) - 1, 1)) if len(landed) > 1 else 0.0
        levels = 1 if not step or step >= 7.5 else 2 if step >= 3.8 else 3
        first = x - step * (len(landed) - 1) / 2
        for i, end in enumerate(landed):
            out[end] = Exit(first + step * i, y, up, duct, i % levels)
    return out


def _nearest(ducts: Sequence[Duct], y: float, up: bool) -> int:
    ahead = [i for i, d in enumerate(ducts) if (d.top < y - 1 if up else d.bottom > y + 1)]
    if not ahead:
        return 0 if up else len(ducts) - 1
    return max(ahead) if up else min(ahead)


@dataclass(slots=True)
class _Stretch:
    """A piece along a duct, not yet in a lane."""

    wire: int
    left: float
    right: float
    kind: str  # "up", "down", "mixed": where its ends lead


@dataclass(slots=True)
class _Gap:
    """A gap between parts of one row; its tracks are handed out from the middle outwards."""

    left: float
    right: float
    taken: int = 0

    @property
    def room(self) -> int:
        return max(1, int((self.right - self.left - 4) / _LANE))

    def cost(self, x: float) -> float:
        over = max(0, self.taken + 1 - self.room)
        return max(self.left - x, x - self.right, 0.0) + over * 60.0


def route(
    wires: Sequence[tuple[str, Exit, Exit]], boxes: Sequence[Box], ducts: Sequence[Duct], width: float
) -> list[Route]:
    """The ways of all wires, given as (number, exit, exit)."""
    gaps = [_gaps(boxes, a.bottom, b.top, width) for a, b in pairwise(ducts)]
    ways = [_crossings(a, b, gaps) for _, a, b in wires]  # the gap used in each row crossed
    tracks = _tracks(wires, ways)
    stretches: dict[int, list[_Stretch]] = defaultdict(list)
    plans: list[list[tuple[float, int]]] = []  # per wire: (x, duct) at each stop
    for i, (_, a, b) in enumerate(wires):
        stops = [(a.x, a.duct), *((tracks[i, row], row) for row, _ in ways[i]), (b.x, b.duct)]
        plans.append(stops)
        for k, duct in enumerate(_ducts_passed(a, b)):
            x1, x2 = stops[k][0], stops[k + 1][0]
            stretches[duct].append(_Stretch(i, min(x1, x2), max(x1, x2), _kind(a, b, k)))
    lanes = {(s, d): y for d, pieces in stretches.items() for s, y in _lanes(pieces, ducts[d]).items()}
    ways_y = [[lanes[i, duct] for duct in _ducts_passed(a, b)] for i, (_, a, b) in enumerate(wires)]
    return [_join(no, a, b, plans[i], ways_y[i]) for i, (no, a, b) in enumerate(wires)]


def _ducts_passed(a: Exit, b: Exit) -> list[int]:
    step = 1 if b.duct >= a.duct else -1
    return list(range(a.duct, b.duct + step, step))


def _gaps(boxes: Sequence[Box], top: float, bottom: float, width: float) -> list[_Gap]:
    inside = sorted((b.left, b.right) for b in boxes if b.bottom > top + 0.5 and b.top < bottom - 0.5)
    gaps, x = [], 2.0
    for left, right in [*inside, (width - 2, width)]:
        if left - x >= 7:
            gaps.append(_Gap(x + 2, left - 2))
        x = max(x, right)
    return gaps or [_Gap(2.0, width - 2)]


def _crossings(a: Exit, b: Exit, gaps: Sequence[Sequence[_Gap]]) -> list[tuple[int, _Gap]]:
    """For each row between the two ducts the gap with the least detour; taken in order, so each adds up."""
    rows = range(a.duct, b.duct) if b.duct > a.duct else range(a.duct - 1, b.duct - 1, -1)
    x, out = a.x, []
    for row in rows:
        gap = min(gaps[row], key=lambda g: g.cost(x) + 0.6 * max(g.left - b.x, b.x - g.right, 0.0))
        gap.taken += 1
        out.append((row, gap))
        x = min(max(x, gap.left), gap.right)
    return out


def _tracks(
    wires: Sequence[tuple[str, Exit, Exit]], ways: Sequence[list[tuple[int, _Gap]]]
) -> dict[tuple[int, int], float]:
    """Where in its gap each wire crosses: in the order in which the wires come from left to right."""
    users: dict[int, list[tuple[float, int, int]]] = defaultdict(list)
    by_id: dict[int, _Gap] = {}
    for i, way in enumerate(ways):
        _, a, b = wires[i]
        for row, gap in way:
            users[id(gap)].append(((a.x + b.x) / 2, i, row))
            by_id[id(gap)] = gap
    out: dict[tuple[int, int], float] = {}
    for key, group in users.items():
        gap = by_id[key]
        group.sort()
        step = min(5.0, (gap.right - gap.left) / (len(group) + 1))
        # bunched towards where most of them want to be
        want = sum(x for x, _, _ in group) / len(group)
        span = step * (len(group) - 1)
        first = min(max(want - span / 2, gap.left + step / 2), gap.right - step / 2 - span)
        first = max(first, gap.left)
        for n, (_, i, row) in enumerate(group):
            out[i, row] = first + step * n
    return out


def _kind(a: Exit, b: Exit, k: int) -> str:
    """Whether a stretch's ends both lead upwards, both downwards, or one each way."""
    passed = _ducts_passed(a, b)
    down = b.duct > a.duct
    start_up = (not a.up) if k == 0 else down
    end_up = (not b.up) if k == len(passed) - 1 else not down
    return "up" if start_up and end_up else "down" if not start_up and not end_up else "mixed"


def _lanes(pieces: Sequence[_Stretch], duct: Duct) -> dict[int, float]:
    """A lane for each stretch: short ones near the side they come from, long ones in the middle."""
    lanes: dict[str, list[list[Span]]] = {"up": [], "mixed": [], "down": []}
    chosen: dict[int, tuple[str, int]] = {}
    for s in sorted(pieces, key=lambda s: (s.right - s.left, s.left, s.wire)):
        rows = lanes[s.kind]
        n = next((i for i, row in enumerate(rows) if _fits(row, s)), len(rows))
        if n == len(rows):
            rows.append([])
        rows[n].append((s.left, s.right))
        chosen[s.wire] = (s.kind, n)
    count = {k: len(v) for k, v in lanes.items()}
    total = sum(count.values())
    step = (duct.bottom - duct.top) / (total + 1)
    step = min(step, 5.0)
    start = (duct.top + duct.bottom) / 2 - step * (total - 1) / 2
    order = {"up": 0, "mixed": count["up"], "down": count["up"] + count["mixed"]}
    out = {}
    for wire, (kind, n) in chosen.items():
        place = order[kind] + (count["down"] - 1 - n if kind == "down" else n)
        out[wire] = start + step * place
    return out


def _fits(row: Sequence[Span], s: _Stretch) -> bool:
    return all(s.right + 3 < left or right + 3 < s.left for left, right in row)


def _join(no: str, a: Exit, b: Exit, stops: Sequence[tuple[float, int]], ys: Sequence[float]) -> Route:
    """The corners of a way: from terminal to terminal over its lanes at the heights `ys`."""
    points = [(a.x, a.y)]
    for k, y in enumerate(ys):
        points += [(stops[k][0], y), (stops[k + 1][0], y)]
    points.append((b.x, b.y))
    kept = [points[0]]
    for p, after in zip(points[1:], [*points[2:], (None, None)], strict=True):
        same_x = kept[-1][0] == p[0] == after[0]
        same_y = kept[-1][1] == p[1] == after[1]
        if p != kept[-1] and not same_x and not same_y:
            kept.append(p)
    return Route(no, tuple(kept))

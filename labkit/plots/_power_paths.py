"""The main circuit and the protective conductor of a board, found in the wiring: plain records, nothing drawn."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from labkit.board import Board, Part, Wire, Wiring

__all__ = ["Bonding", "Branch", "Mains", "Step", "bonding"]


@dataclass(frozen=True, slots=True)
class Step:
    """One step up a line, from `below` to `above`: a conductor, or through a part.

    `wire` is the conductor's number, ``""`` where the board's own wiring has one that is not landed here; `part` and
    `kind` (pole, heater, breaker, fuse) say what it leads through.
    """

    below: str
    above: str
    wire: str = ""
    part: str = ""
    kind: str = ""

    @property
    def missing(self) -> bool:
        """Whether it is a conductor that is not there."""
        return not (self.wire or self.part)

    def __str__(self) -> str:
        if self.missing:
            return f"not wired: no way between {self.below} and {self.above}"
        ends = "-".join(t.partition(":")[2] for t in (self.below, self.above))
        return f"{self.part} {self.kind} {ends}" if self.part else f"wire {self.wire}"


@dataclass(frozen=True, slots=True)
class Branch:
    """What hangs together: a motor, or a contactor or overload relay that leads to none, and a line for each pole."""

    part: Part
    roots: tuple[str, ...]
    lines: tuple[tuple[Step, ...], ...]

    @property
    def tops(self) -> tuple[str, ...]:
        """Where each line ends."""
        return tuple(line[-1].above if line else root for root, line in zip(self.roots, self.lines, strict=True))

    @property
    def parts(self) -> tuple[str, ...]:
        """Designations on the lines, from below."""
        return tuple(dict.fromkeys(step.part for line in self.lines for step in line if step.part))


class Mains:
    """The power side of a wired board: its poles, heaters and what lies in the lines before them."""

    def __init__(self, board: Board, wiring: Wiring) -> None:
        self.board, self.wiring = board, wiring
        self.through: dict[str, tuple[str, str, str]] = {}  # terminal -> part, kind, the other end
        for part in board.parts.values():
            for kind, a, b in _power_ways(part):
                self.through[part.terminal(a)] = part.designation, kind, part.terminal(b)
                self.through[part.terminal(b)] = part.designation, kind, part.terminal(a)

    def branches(self) -> tuple[Branch, ...]:
        """Every motor with its lines, then what of contactors and overload relays leads to no motor."""
        found = [
            self._branch(part, tuple(part.terminal(w) for w in part.entry.windings))  # type: ignore[attr-defined]
            for part in self.board.of_kind("motor")
        ]
        for part in self.board.of_kind("overload", "contactor"):
            if not any(part.designation in branch.parts for branch in found):
                roots = tuple(part.terminal(b) for _, _, b in _power_ways(part))
                if roots:
                    found.append(self._branch(part, roots))
        return tuple(found)

    def _branch(self, part: Part, roots: tuple[str, ...]) -> Branch:
        return Branch(part, roots, tuple(self._line(root) for root in roots))

    def _line(self, root: str) -> tuple[Step, ...]:
        """The line as it is wired; where it reaches fewer parts than in the board's own wiring, with its breaks."""
        line, own = self._up(root), self._as_drawn._up(root)
        if _parts(line) >= _parts(own):
            return tuple(line)
        guided = []
        for step in own:
            wires = self.wiring.between(step.below, step.above)
            number = wires[0].no if wires else ""
            guided.append(step if step.part else Step(step.below, step.above, number))
        while guided and guided[-1].missing:
            guided.pop()
        return tuple(guided)

    @cached_property
    def _as_drawn(self) -> Mains:
        return Mains(self.board, self.board.wiring)

    def _up(self, root: str) -> list[Step]:
        steps: list[Step] = []
        here, seen = root, {root}
        if self.board.part(root.partition(":")[0]).kind != "motor":  # it starts in a pole or heater itself
            here = self._through(here, seen, steps)
        while True:
            wires = [(w, w.b if w.a == here else w.a) for w in self.wiring.at(here)]
            ways = [(w, far) for w, far in wires if far not in seen and far not in self.board.earth_terminals]
            if not ways or (len(ways) > 1 and here not in self.through and steps):  # it parts: what is fed, ends here
                return steps
            wire, far = next(((w, far) for w, far in ways if far in self.through), ways[0])
            steps.append(Step(here, far, wire.no))
            seen.add(far)
            here = self._through(far, seen, steps) if far in self.through else far

    def _through(self, here: str, seen: set[str], steps: list[Step]) -> str:
        part, kind, far = self.through[here]
        steps.append(Step(here, far, part=part, kind=kind))
        seen.add(far)
        return far


def _parts(line: list[Step]) -> int:
    return sum(bool(step.part) for step in line)


def _power_ways(part: Part) -> list[tuple[str, str, str]]:
    """Kind, line side and load side of each way through a part that carries a motor's current."""
    entry: Any = part.entry
    if part.kind == "contactor":
        return [("pole", c.a, c.b) for c in entry.contact_list() if "/" in c.a]
    if part.kind == "overload":
        return [("heater", a, b) for a, b in entry.heaters]
    if part.kind in {"breaker", "fuse"}:
        return [(part.kind, entry.a, entry.b)]
    return []


@dataclass(frozen=True, slots=True)
class Bonding:
    """One terminal's way to the bar of the protective conductor: the wires and the terminals after each."""

    terminal: str
    wires: tuple[tuple[str, str], ...]
    bar: str
    """The bar that it reaches, or ``""``."""
    earth: bool
    """Whether the terminal is one of the protective conductor; else something is bonded there, such as 0 V."""

    def __str__(self) -> str:
        words = [self.terminal, *(f"wire {no}, {terminal}" for no, terminal in self.wires)]
        return ", ".join(words) if self.bar else f"{self.terminal}, not bonded"


def bonding(board: Board, wiring: Wiring) -> tuple[Bonding, ...]:
    """How each earth terminal reaches a bar, and what else is joined to the protective conductor."""
    bars = {
        part.terminal(bar.name)
        for part in board.of_kind("terminal_strip")
        for bar in part.entry.bars  # type: ignore[attr-defined]
        if bar.earth
    }
    earth = board.earth_terminals
    found = [
        Bonding(terminal, *_to_bar(terminal, bars, earth, wiring), True)
        for terminal in board.terminals
        if terminal in earth and terminal not in bars
    ]
    for wire in wiring:
        if len(wire.ends & earth) == 1:
            (terminal,) = wire.ends - earth
            on = next(iter(wire.ends & earth))
            way, bar = _to_bar(on, bars, earth, wiring)
            found.append(Bonding(terminal, ((wire.no, on), *way), bar, False))
    return tuple(found)


def _to_bar(
    start: str, bars: set[str], earth: frozenset[str], wiring: Wiring
) -> tuple[tuple[tuple[str, str], ...], str]:
    """The fewest wires from an earth terminal over others of them to a bar."""
    came: dict[str, tuple[str, Wire] | None] = {start: None}
    waiting = deque([start])
    while waiting:
        here = waiting.popleft()
        if here in bars:
            way = []
            at = here
            while (step := came[at]) is not None:
                way.append((step[1].no, at))
                at = step[0]
            return tuple(way[::-1]), here
        for wire in wiring.at(here):
            far = wire.b if wire.a == here else wire.a
            if far in earth and far not in came:
                came[far] = here, wire
                waiting.append(far)
    return (), ""

"""A whole system as gates, before anything is explored: program, electrical map, armatures, the requirement's monitor.

The electrical map is made into tables by solving the network for every set of positions, outputs and armatures that
there can be; everything else is logic. What comes out is finite and closed, so any outside tool can check it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from labkit.verify._bare import Bare, Choice, NeedsImage
from labkit.verify._logic import Cells, Gates
from labkit.verify._nodes import FALSE, TRUE, Flat, Nodes
from labkit.verify.errors import ProofError
from labkit.verify.expressions import And, Condition, Not, Sign
from labkit.verify.requirements import Keeps, Never, OnlyAfter, Requirement, StaysUntil, Whenever

__all__ = ["Model", "model"]


class Model:
    """Gates with names; :meth:`flat` is the finite system alone.

    Parameters
    ----------
    system
        The system that the gates mean.
    exact
        The timers, by instance, that are counted; the others are over at any scan after they have started.
    """

    def __init__(self, system: Any, asked: Requirement, exact: frozenset[str]) -> None:
        self.nodes, self.system, self.exact = Nodes(), system, exact
        self.inputs: list[tuple[str, int]] = []
        self.latches: list[tuple[str, int, int]] = []
        self.next: dict[int, int] = {}
        steps = system.steps
        self.abstract = [t.instance for t in steps.timers if t.instance not in exact]
        over = {name: self.input(f"over:{name}") for name in self.abstract}
        self.gates = Gates(self.nodes, steps.lowered, system.scan_us, over)
        self.bits = self._program_bits()
        self.cells: Cells = {
            name: [self.latch(f"{name}.{i}" if width > 1 else name) for i in range(width)]
            for name, width in self.gates.cells.items()
        }
        if isinstance(system, Bare):
            view = _bare(self, system)
        else:  # not needed, and not loaded, for a program alone
            from labkit.verify._map import board

            view = board(self, system)
        self.bad, self.cause = _monitor(self, asked, view)

    def input(self, name: str) -> int:
        """A new input."""
        found = self.nodes.free()
        self.inputs.append((name, found))
        return found

    def latch(self, name: str, initial: int = 0) -> int:
        """A new latch; what it becomes is set in :attr:`next`."""
        found = self.nodes.free(latch=True)
        self.latches.append((name, found, initial))
        return found

    def _program_bits(self) -> list[int]:
        system, steps = self.system, self.system.steps
        start = steps.fresh()
        written = {slot for op in steps.lowered.ops if op.do != "load" for slot in op.slots}
        if isinstance(system, Bare):
            dead = {*steps._dead, *system._in}
        else:
            dead = set(steps._dead)
            written |= {slot for slot, _ in system._panel} | set(system._image_slots)
        # what nothing writes stays as it began
        return [
            FALSE if i in dead else self.latch(name, start[i]) if i in written else start[i]
            for i, name in enumerate(steps.slots)
        ]

    def keep_program(self, bits: Sequence[int], cells: Cells) -> None:
        """What the program's latches become."""
        for old, new in zip(self.bits, bits, strict=True):
            if old > TRUE:
                self.next[old] = new
        for name, parts in self.cells.items():
            self.next.update(zip(parts, cells[name], strict=True))

    def choice(self, values: dict[str, int]) -> Choice:
        """The system's own form of what was chosen, from input values by name; what is not named was free."""
        if isinstance(self.system, Bare):
            return tuple(values.get(name, 0) for name in self.system.inputs)
        return (*(take(values) for take in self.take), 0)

    def run(self, path: Sequence[dict[str, int]], names: Sequence[str]) -> Iterator[tuple[tuple[int, ...], int]]:
        """After each step of a path of inputs (what is not named is 0): some latches, by name, and "bad" in it."""
        fan = self.nodes.fan
        places = {name: lit >> 1 for name, lit, _ in self.latches}
        now = {lit >> 1: value for _, lit, value in self.latches}
        values = [0] * len(fan)
        for step in path:
            for name, lit in self.inputs:
                values[lit >> 1] = step.get(name, 0)
            for node, value in now.items():
                values[node] = value
            for node, pair in enumerate(fan):
                if pair is not None:
                    a, b = pair
                    values[node] = (values[a >> 1] ^ a & 1) & (values[b >> 1] ^ b & 1)
            now = {latch >> 1: values[new >> 1] ^ new & 1 for latch, new in self.next.items()}
            yield tuple(now[places[name]] for name in names), values[self.bad >> 1] ^ self.bad & 1

    def flat(self) -> Flat:
        """The cone of "bad" and of the requirement's cause, numbered as in AIGER, every latch starting at 0."""
        fan = self.nodes.fan
        source = {lit >> 1: self.next[lit] >> 1 for _, lit, _ in self.latches}
        needed: set[int] = set()
        todo = [self.bad >> 1, self.cause >> 1]
        while todo:
            node = todo.pop()
            if node in needed:
                continue
            needed.add(node)
            pair = fan[node]
            if pair is not None:
                todo += [pair[0] >> 1, pair[1] >> 1]
            elif node in source:
                todo.append(source[node])
        inputs = [(n, lit) for n, lit in self.inputs if lit >> 1 in needed]
        latches = [(n, lit, v) for n, lit, v in self.latches if lit >> 1 in needed]
        number = {0: 0}
        for lit, initial in [*((lit, 0) for _, lit in inputs), *((lit, v) for _, lit, v in latches)]:
            # a latch that starts at 1 is kept as its opposite
            number[lit >> 1] = 2 * len(number) | initial
        ands = []
        for node in sorted(needed):
            pair = fan[node]
            if pair is not None:
                ands.append((number[pair[0] >> 1] ^ pair[0] & 1, number[pair[1] >> 1] ^ pair[1] & 1))
                number[node] = 2 * len(number)
        nexts = [number[self.next[lit] >> 1] ^ self.next[lit] & 1 ^ v for _, lit, v in latches]
        outputs = [number[lit >> 1] ^ lit & 1 for lit in (self.bad, self.cause)]
        names = [f"not {n}" if v else n for n, _, v in latches]
        if not latches:  # a system without memory: some tools read only what has a latch
            lift = 2 * (1 + len(inputs))
            names, nexts = ["rest"], [0]
            ands = [tuple(lit + 2 if lit >= lift else lit for lit in pair) for pair in ands]  # type: ignore[misc]
            outputs = [lit + 2 if lit >= lift else lit for lit in outputs]
        return Flat([n for n, _ in inputs], names, nexts, ands, outputs, names=("bad", "cause"))

    take: Sequence[Any] = ()


def model(system: Any, asked: Requirement, exact: frozenset[str] | None = None) -> Model:
    """The gates of a system with a requirement's monitor; every timer counted unless `exact` names fewer.

    Raises
    ------
    ProofError
        If the electrical map is too large to be solved beforehand.
    """
    if exact is None:
        exact = frozenset(t.instance for t in system.steps.timers)
    try:
        return Model(system, asked, exact)
    except NeedsImage:
        system.keep_image()
        return Model(system, asked, exact)


def _bare(m: Model, system: Bare) -> dict[str, int]:
    bits = m.bits[:]
    for name, slot in zip(system.inputs, system._in, strict=True):
        bits[slot] = m.input(name)
    after, cells = m.gates.scan(bits, m.cells)
    m.keep_program(after, cells)
    return {name: after[slot] for name, slot in system.steps.place.items()}


# the requirement ----------------------------------------------------------------------------------------
def _monitor(m: Model, asked: Requirement, view: dict[str, int]) -> tuple[int, int]:
    """``(bad, cause)``."""
    nodes = m.nodes

    def says(item: Condition) -> int:
        if isinstance(item, Sign):
            return view[item.name]
        if isinstance(item, Not):
            return says(item.of) ^ 1
        return (nodes.all_of if isinstance(item, And) else nodes.any_of)([says(i) for i in item.items])

    cause = TRUE if asked.trigger is None else says(asked.trigger)
    if isinstance(asked, Never):
        return says(asked.bad), cause
    if isinstance(asked, Whenever):
        most = asked.within if asked.unit == "scans" else asked.within * 1000 // m.system.scan_us
        waited = [m.latch(f"waited.{i}") for i in range(most.bit_length())]
        waits = nodes.both(says(asked.effect) ^ 1, nodes.either(nodes.any_of(waited), cause))
        m.next.update((old, nodes.both(waits, new)) for old, new in zip(waited, nodes.plus_one(waited), strict=True))
        return nodes.both(waits, nodes.equals(waited, most)), cause
    if isinstance(asked, Keeps):
        length = asked.length if asked.unit == "scans" else asked.length * 1000 // m.system.scan_us
        left = [m.latch(f"left.{i}") for i in range(length.bit_length())]
        more = nodes.any_of(left)
        again = [TRUE if length >> i & 1 else FALSE for i in range(len(left))]
        fewer = [nodes.both(more, bit) for bit in nodes.minus_one(left)]
        m.next.update(zip(left, nodes.choose_all(cause, again, fewer), strict=True))
        return nodes.both(nodes.either(cause, more), says(asked.effect) ^ 1), cause
    if isinstance(asked, OnlyAfter):
        had = m.latch("had")
        since = FALSE if asked.since is None else says(asked.since)
        now = nodes.either(says(asked.first), nodes.both(had, since ^ 1))
        m.next[had] = now
        return nodes.both(says(asked.event), now ^ 1), cause
    if isinstance(asked, StaysUntil):
        was, now = m.latch("was"), says(asked.lasting)
        m.next[was] = now
        return nodes.all_of((was, now ^ 1, says(asked.end) ^ 1)), cause
    raise ProofError(
        f"'{asked}' is not a question about bad states alone, so it has no such export", code="proof-export"
    )

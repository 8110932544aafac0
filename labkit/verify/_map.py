"""A board as gates: the electrical map as truth tables, and what a loss of supply does."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import Any

from labkit.verify._bare import Choice
from labkit.verify._logic import Cells
from labkit.verify._model import Model
from labkit.verify._nodes import FALSE
from labkit.verify._systems import Board
from labkit.verify.errors import ProofError

__all__ = ["MOST_ROWS", "board"]

MOST_ROWS = 1 << 16
"""Rows of an electrical map (positions x outputs x armatures) that are solved beforehand, at most."""

_KEPT = 7  # a value that no bit has: what a restart leaves alone still has it afterwards


class _Map:
    """The electrical map in two steps: positions and outputs to a class of equal effect, and from there what it does.

    Two sets of positions and outputs are of one class if every reading is the same whichever way the armatures are:
    found by solving the network for each.
    """

    def __init__(self, m: Model, system: Board) -> None:
        self.m, self.system = m, system
        self.outputs = [(m.bits[slot], 1 << number) for slot, number in system._out if m.bits[slot] != FALSE]
        self.powered = m.latch("powered")
        coils = system.electric.electrical.coils
        self.at = [self._choosing(t.name, len(t.positions)) for t in system.things]
        times = [self._choosing(f"time:{c.part}", len(t)) for c, t in zip(coils, system._times, strict=True)]
        m.take = [taker for _, _, taker in (*self.at, *times)]
        # the outputs do something only while the controller runs
        driven = [m.nodes.both(lit, self.powered) for lit, _ in self.outputs]
        choosing = [lit for literals, _, _ in self.at for lit in literals]
        self.classes: dict[Any, int] = {}
        self.likes: list[tuple[Choice, int]] = []
        self._classify(len(choosing))
        code = [
            m.nodes.table(_rows(n for n, k in enumerate(self.numbers) if k >> i & 1), [*choosing, *driven])
            for i in range((len(self.classes) - 1).bit_length())
        ]
        taking = [lit for literals, _, _ in times for lit in literals]
        self.times = list(_combinations([(len(literals), n) for literals, n, _ in times]))
        self.codes: dict[Any, int] = {system.electric.rest(): 0}
        self.rows: dict[int, Any] = {}
        self._follow(len(code), len(taking))
        self.arms = [m.latch(f"armatures.{i}") for i in range((len(self.codes) - 1).bit_length())]
        self.over = [*code, *taking, self.powered, *self.arms]

    def _choosing(self, name: str, positions: int) -> tuple[list[int], int, Any]:
        width = (positions - 1).bit_length()
        names = [name] if width == 1 else [f"{name}.{i}" for i in range(width)]
        literals = [self.m.input(n) for n in names]
        return (
            literals,
            positions,
            lambda values: min(sum(values.get(n, 0) << i for i, n in enumerate(names)), positions - 1),
        )

    def _classify(self, width: int) -> None:
        """The class of every set of positions and outputs, positions in the low bits of the number."""
        electric, outputs = self.system.electric, self.outputs
        coils = len(electric.electrical.coils)
        if width + len(outputs) + coils > MOST_ROWS.bit_length() - 1:
            raise _too_many(1 << width + len(outputs) + coils)
        ways = [tuple((bool(way >> i & 1), -1) for i in range(coils)) for way in range(1 << coils)]
        used = [number for _, number in self.system._in]
        lit = [i for layer, i, _ in self.system._machine if layer == "lit"]

        def effect(choice: Choice, mask: int) -> Any:
            now = electric._set(choice)
            readings = [electric._reading(now, mask, way) for way in ways]
            return now.welded, tuple(
                (r.feed, r.coils, tuple([r.channels[k] for k in used]), tuple([r.lit[k] for k in lit]))
                for r in readings
            )

        choices = list(_combinations([(len(literals), n) for literals, n, _ in self.at]))
        dark = [effect(choice, 0) for choice in choices]
        self.numbers = []
        for number in range(1 << len(outputs)):
            mask = sum(bit for i, (_, bit) in enumerate(outputs) if number >> i & 1)
            for choice, without in zip(choices, dark, strict=True):
                # without supply the outputs are off whatever was written
                key = (without, effect(choice, mask) if mask else without)
                if key not in self.classes:
                    self.classes[key] = len(self.classes)
                    self.likes.append((choice, mask))
                self.numbers.append(self.classes[key])

    def _follow(self, width: int, times: int) -> None:
        """What each class does, from every state of armatures and supply that can come about."""
        system = self.system
        nothing = (0,) * len(system._image_slots) if system._keeps_seen else ()
        todo: list[tuple[Any, bool]] = [(system.electric.rest(), False)]
        met = set(todo)
        for arms, powered in todo:
            base = self.codes[arms] << width + times + 1 | powered << width + times
            for k, (choice, mask) in enumerate(self.likes):
                for t, taken in enumerate(self.times):
                    out = self._outcome((*choice, *taken), mask if powered else 0, arms, powered, nothing)
                    self.rows[base | t << width | k] = out
                    self.codes.setdefault(out[0].arms, len(self.codes))
                    if (after := (out[0].arms, out[0].powered)) not in met:
                        met.add(after)
                        todo.append(after)
            if len(self.rows) > MOST_ROWS:
                raise _too_many(len(self.rows))

    def _outcome(self, choice: Choice, mask: int, arms: Any, powered: bool, nothing: tuple[int, ...]) -> Any:
        """The outcome, and which inputs keep what they were."""
        out = self.system._outcome(choice, mask, arms, powered, nothing)
        if not nothing:
            return out, nothing
        other = self.system._outcome(choice, mask, arms, powered, tuple(1 for _ in nothing))
        return out, tuple(a ^ b for a, b in zip(out.image, other.image, strict=True))

    def value(self, of: Any) -> int:
        """A literal for a function of a row."""
        return self.m.nodes.table(_rows(index for index, row in self.rows.items() if of(row)), self.over)

    def seen(self, number: int) -> int:
        """A literal for a signal of the machine."""
        layer, thing, asked = self.system._machine[number]
        if layer != "pos":
            return self.value(lambda row: row[0].seen[number])
        literals, positions, _ = self.at[thing]
        return self.m.nodes.table(
            _rows(code for code in range(1 << len(literals)) if min(code, positions - 1) == asked), literals
        )


def _combinations(each: Sequence[tuple[int, int]]) -> Iterator[Choice]:
    """Per code, of so many bits each, what is chosen, the first in the low bits; a code too many means the last."""
    codes = [[min(code, n - 1) for code in range(1 << width)] for width, n in each]
    return (tuple(reversed(chosen)) for chosen in product(*reversed(codes)))


def _rows(numbers: Iterable[int]) -> int:
    """An integer with these bits set."""
    marked = bytearray(1)
    for number in numbers:
        if number >> 3 >= len(marked):
            marked.extend(bytes(number >> 2))
        marked[number >> 3] |= 1 << (number & 7)
    return int.from_bytes(marked, "little")


def _too_many(rows: int) -> ProofError:
    return ProofError(
        f"the electrical map would have {rows} rows or more; {MOST_ROWS} are solved beforehand at most",
        try_this="let fewer things happen (may=...), or use fewer outputs",
        code="proof-export",
    )


def board(m: Model, system: Board) -> dict[str, int]:
    """Put the electrical map and the armatures into the model; the node of each signal by its name."""
    nodes, map_ = m.nodes, _Map(m, system)
    fed = map_.value(lambda row: row[0].powered)
    for i, latch in enumerate(map_.arms):
        m.next[latch] = map_.value(lambda row, i=i: map_.codes[row[0].arms] >> i & 1)
    m.next[map_.powered] = fed
    image = []
    for i, slot in enumerate(system._image_slots):
        read = map_.value(lambda row, i=i: row[0].image and row[0].image[i])
        kept = map_.value(lambda row, i=i: row[1] and row[0].image and row[1][i])
        image.append((slot, nodes.choose(kept, m.bits[slot], read)))
    panel = [(slot, map_.at[i][0][0]) for slot, i in system._panel]
    lost_bits, lost_cells = _changed(m, system.restart.lost, m.bits, m.cells)
    bits, cells = _ready(m, system, map_.powered, [*image, *panel])
    bits, cells = m.gates.scan(bits, cells)
    bits[system._flag] = FALSE
    dark = [nodes.choose(map_.powered, a, b) for a, b in zip(lost_bits, m.bits, strict=True)]
    bits = nodes.choose_all(fed, bits, dark)
    for name, parts in cells.items():
        gone = nodes.choose_all(map_.powered, lost_cells[name], m.cells[name])
        cells[name] = nodes.choose_all(fed, parts, gone)
    m.keep_program(bits, cells)
    view = {}
    for name, place in zip(system.signals, system._view, strict=True):
        view[name] = bits[place] if place >= 0 else map_.seen(-1 - place)
    return view


def _ready(m: Model, system: Board, powered: int, inputs: list[tuple[int, int]]) -> tuple[list[int], Cells]:
    """Bits and cells with which a scan begins; the first after a return of the supply has rules of its own."""
    nodes = m.nodes
    bits, cells = _changed(m, system.restart.back, m.bits, m.cells)
    for slot, value in inputs:
        bits[slot] = value
    if system.bench.family.start.edges == "present":
        _, primed = m.gates.scan(bits, cells, all_over=True)
        edges = system.restart.memory.engine.edge_cells
        cells = {n: primed[n] if m.gates.owner[n] in edges else parts for n, parts in cells.items()}
    ready = nodes.choose_all(powered, m.bits, bits)
    for slot, value in inputs:
        ready[slot] = value
    return ready, {n: nodes.choose_all(powered, m.cells[n], parts) for n, parts in cells.items()}


def _changed(m: Model, rule: Any, bits: Sequence[int], cells: Cells) -> tuple[list[int], Cells]:
    """A restart rule, which keeps or sets each place by itself: found by giving it a value that it cannot make."""
    n = len(bits)
    after = rule((_KEPT,) * (n + len(m.gates.lowered.memory)))
    new = [old if value == _KEPT else value for old, value in zip(bits, after[:n], strict=True)]
    kept = {name: parts if after[n + m.gates.owner[name]] == _KEPT else [FALSE] * len(parts)
            for name, parts in cells.items()}  # fmt: skip
    return new, kept

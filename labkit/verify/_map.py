"""A board as gates: the electrical map as truth tables, and what a loss of supply does."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import Any

from labkit.verify._bare import Choice
from labkit.verify._logic import Cells
from labkit.verify._model import Model
from labkit.verify._nodes import FALSE
from labkit.verify._systems import Board
from labkit.verify.errors import ProofError

__all__ = ["MOST_ROWS", "board"]

MOST_ROWS = 1 << 15
"""Rows of an electrical map (positions x outputs x armatures) that are solved beforehand, at most."""

_KEPT = 7  # a value that no bit has: what a restart leaves alone still has it afterwards


class _Map:
    """The electrical map as a table: rows of outcomes, and the literals that choose the row."""

    def __init__(self, m: Model, system: Board) -> None:
        self.m, self.system = m, system
        self.outputs = [(m.bits[slot], 1 << number) for slot, number in system._out if m.bits[slot] != FALSE]
        self.powered = m.latch("powered")
        self.choosing: list[int] = []
        self.at: list[tuple[int, int, int]] = []  # first literal, how many, positions
        names = [(t.name, len(t.positions)) for t in system.things]
        coils = system.electric.electrical.coils
        names += [(f"time:{c.part}", len(times)) for c, times in zip(coils, system._times, strict=True)]
        for name, positions in names:
            width = (positions - 1).bit_length()
            first = len(self.choosing)
            self.choosing += [m.input(name if width == 1 else f"{name}.{i}") for i in range(width)]
            self.at.append((first, width, positions))
        m.take = [self._taker(name, width, positions) for (name, positions), (_, width, _) in
                  zip(names, self.at, strict=True)]  # fmt: skip
        self.codes: dict[Any, int] = {}
        self.rows: dict[int, Any] = {}
        self._solve()
        self.arms = [m.latch(f"armatures.{i}") for i in range((len(self.codes) - 1).bit_length())]
        # the outputs do something only while the controller runs
        driven = [m.nodes.both(lit, self.powered) for lit, _ in self.outputs]
        self.over = [*self.choosing, self.powered, *driven, *self.arms]

    @staticmethod
    def _taker(name: str, width: int, positions: int) -> Any:
        names = [name] if width == 1 else [f"{name}.{i}" for i in range(width)]
        return lambda values: min(sum(values.get(n, 0) << i for i, n in enumerate(names)), positions - 1)

    def _choices(self) -> list[Choice]:
        """Per code of the choosing literals what is chosen; a code without a position means the last."""
        each = [[min(code, n - 1) for code in range(1 << width)] for _, width, n in self.at]
        return [tuple(reversed(c)) for c in product(*reversed(each))]

    def _solve(self) -> None:
        system, width = self.system, len(self.choosing)
        if width > MOST_ROWS.bit_length():
            raise _too_many(1 << width)
        choices = self._choices()
        masks = [0]
        for _, bit in self.outputs:
            masks += [x | bit for x in masks]
        nothing = (0,) * len(system._image_slots) if system._keeps_seen else ()
        todo: list[tuple[Any, bool]] = [(system.electric.rest(), False)]
        self.codes[todo[0][0]] = 0
        met = set(todo)
        for arms, powered in todo:
            for o, mask in enumerate(masks if powered else [0]):
                base = self.codes[arms] << (width + 1 + len(self.outputs)) | o << (width + 1) | powered << width
                for code, choice in enumerate(choices):
                    out = self._outcome(choice, mask, arms, powered, nothing)
                    self.rows[base | code] = out
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
        rows = 0
        for index, row in self.rows.items():
            if of(row):
                rows |= 1 << index
        return self.m.nodes.table(rows, self.over)


def _too_many(rows: int) -> ProofError:
    return ProofError(
        f"the electrical map would have {rows} rows or more; {MOST_ROWS} are solved beforehand at most",
        try_this="let fewer things happen (may=...), or use fewer outputs",
        code="proof-export",
    )


def board(m: Model, system: Board) -> dict[str, int]:
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
    panel = [(slot, map_.choosing[map_.at[i][0]]) for slot, i in system._panel]
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
        view[name] = bits[place] if place >= 0 else map_.value(lambda row, k=-1 - place: row[0].seen[k])
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

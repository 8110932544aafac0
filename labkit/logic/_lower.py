"""From the tree to the flat operation list."""

from __future__ import annotations

from labkit.logic.blocks import BLOCKS
from labkit.logic.lowered import Lowered, Op, Timer
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
    elements,
)

__all__ = ["lower"]

_ALWAYS = -1  # the left rail: power that needs no operation


def lower(program: Program) -> Lowered:
    """The flat operation list of a program.

    Examples
    --------
    >>> from labkit.logic import read_st
    >>> lower(read_st("K1 := S1 AND (S2 OR K1);", name="hold"))
    (program hold
      (slots S1 S2 K1)
      (rung 1)
      %0 = (load S1)
      %1 = (load S2)
      %2 = (load K1)
      %3 = (or %1 %2)
      %4 = (and %0 %3)
      (store K1 %4))
    """
    work = _Lowering(program)
    for index, rung in enumerate(program.rungs):
        work.rung = index
        work.power(rung.network, _ALWAYS, needed=False)
    return work.finish()


class _Lowering:
    """The list so far, and the tables of slots and cells."""

    def __init__(self, program: Program) -> None:
        self.program = program
        self.ops: list[Op] = []
        self.slots: dict[str, int] = {}
        self.cells: list[str] = []
        self.results = 0
        self.rung = 0
        self.timers: list[Timer] = []
        self.readings: list[tuple[str, int]] = []
        self.owner: dict[int, str] = {}  # cell -> block instance
        for rung in program.rungs:
            for e in elements(rung.network):
                if isinstance(e, Contact | Coil):
                    self.slot(e.name)
                elif isinstance(e, Block):
                    for pin in BLOCKS[e.type].outputs:
                        self.slot(f"{e.instance}.{pin}")
                    for _, name in e.outputs:
                        self.slot(name)
        for v in program.declarations:
            if v.type == "BOOL":
                self.slot(v.name)

    def slot(self, name: str) -> int:
        return self.slots.setdefault(name, len(self.slots))

    def cell(self, name: str) -> int:
        self.cells.append(name)
        return len(self.cells) - 1

    def emit(self, do: str, args: tuple[int, ...] = (), *, gives: bool = True, element: int = -1,
             slots: tuple[int, ...] = (), cells: tuple[int, ...] = (), number: int = 0) -> int:  # fmt: skip
        result = -1
        if gives:
            result = self.results
            self.results += 1
        self.ops.append(Op(do, args, result, slots, cells, number, self.rung, element))
        return result

    def known(self, power: int) -> int:
        """A result number even for the left rail."""
        return self.emit("const", number=1) if power == _ALWAYS else power

    # ---- networks

    def power(self, node: Power, left: int, *, needed: bool = True) -> int:
        """Power on the right of `node`, given that on its left; without effect nothing is emitted if not `needed`."""
        if isinstance(node, Series):
            return self.series(node, left, needed)
        if isinstance(node, Parallel) and _acts(node):
            arms = [self.power(arm, left, needed=needed) for arm in node.items]
            return self.joined(arms) if needed else _ALWAYS
        if isinstance(node, Coil):
            self.coil(node, self.known(left))
            return left
        if isinstance(node, Block):
            return self.block(node, self.known(left), needed)
        own = self.value(node)
        return own if left == _ALWAYS else self.emit("and", (left, own))

    def series(self, node: Series, left: int, needed: bool) -> int:
        """Plain items are gathered into one AND; it is closed where a coil, a block or a branch with one needs it."""
        factors = [] if left == _ALWAYS else [left]
        for i, item in enumerate(node.items):
            if not _acts(item):
                factors.append(self.value(item))
                continue
            into = self.gathered(factors)
            last = i == len(node.items) - 1
            factors = [self.power(item, into, needed=needed or not last)]
            if factors == [_ALWAYS]:
                factors = []
        return self.gathered(factors)

    def gathered(self, factors: list[int]) -> int:
        if not factors:
            return _ALWAYS
        return factors[0] if len(factors) == 1 else self.emit("and", tuple(factors))

    def joined(self, arms: list[int]) -> int:
        if _ALWAYS in arms:
            return _ALWAYS
        distinct = tuple(dict.fromkeys(arms))
        return distinct[0] if len(distinct) == 1 else self.emit("or", distinct)

    def value(self, node: Power) -> int:
        """The truth of a network without coils and blocks, whatever is on its left."""
        if isinstance(node, Constant):
            return self.emit("const", number=int(node.value), element=node.element)
        if isinstance(node, Contact):
            return self.contact(node)
        if isinstance(node, Not):
            return self.emit("not", (self.value(node.of),))
        if isinstance(node, Series | Parallel | Xor):
            do = {Series: "and", Parallel: "or", Xor: "xor"}[type(node)]
            return self.emit(do, tuple(self.value(item) for item in node.items))
        raise AssertionError(node)  # coils and blocks are handled by power()

    def contact(self, node: Contact) -> int:
        bit = self.emit("load", slots=(self.slot(node.name),), element=node.element)
        if node.kind == "/":
            return self.emit("not", (bit,), element=node.element)
        if node.kind in ("P", "N"):
            cell = self.cell(f"edge{node.element}")
            return self.emit("rise" if node.kind == "P" else "fall", (bit,), cells=(cell,), element=node.element)
        return bit

    def coil(self, node: Coil, power: int) -> None:
        slots = (self.slot(node.name),)
        if node.kind in ("S", "R"):
            self.emit("set" if node.kind == "S" else "reset", (power,), gives=False, slots=slots, element=node.element)
            return
        if node.kind == "/":
            power = self.emit("not", (power,), element=node.element)
        elif node.kind in ("P", "N"):
            cell = self.cell(f"edge{node.element}")
            power = self.emit("rise" if node.kind == "P" else "fall", (power,), cells=(cell,), element=node.element)
        self.emit("store", (power,), gives=False, slots=slots, element=node.element)

    def block(self, node: Block, power: int, needed: bool) -> int:
        kind = BLOCKS[node.type]
        feeds = dict(node.inputs)
        args = [power]
        for pin in kind.inputs[1:]:
            feed = feeds.get(pin)
            args.append(self.emit("const", number=0) if feed is None else self.value(feed))
        cells = tuple(self.cell(f"{node.instance}:{c}") for c in kind.cells)
        self.owner.update(dict.fromkeys(cells, node.instance))
        preset = node.presets[0][1].value if node.presets else 0
        outputs = tuple(self.slot(f"{node.instance}.{pin}") for pin in kind.outputs)
        self.emit(kind.name, tuple(args), gives=False, slots=outputs, cells=cells, number=preset, element=node.element)
        if kind.is_timer:
            self.timers.append(Timer(node.instance, cells[0], cells[1], cells[2], preset))
        if kind.value:
            self.readings.append((f"{node.instance}.{kind.value}", cells[2] if kind.is_timer else cells[0]))
        for pin, name in node.outputs:
            bit = self.emit("load", slots=(self.slot(f"{node.instance}.{pin}"),), element=node.element)
            self.emit("store", (bit,), gives=False, slots=(self.slot(name),), element=node.element)
        return self.emit("load", slots=outputs[:1], element=node.element) if needed else _ALWAYS

    # ---- the record

    def finish(self) -> Lowered:
        initial = [0] * len(self.slots)
        retained = {v.name for v in self.program.declarations if v.retain}
        for v in self.program.declarations:
            if v.type == "BOOL":
                initial[self.slots[v.name]] = v.initial
        return Lowered(
            name=self.program.name,
            slots=tuple(self.slots),
            memory=tuple(self.cells),
            ops=tuple(self.ops),
            initial=tuple(initial),
            retained_slots=tuple(i for n, i in self.slots.items() if n.partition(".")[0] in retained),
            retained_cells=tuple(i for i, n in self.owner.items() if n in retained),
            timers=tuple(self.timers),
            readings=tuple(self.readings),
        )


def _acts(node: Power) -> bool:
    """True if a network holds a coil or a block, so that it does something besides passing power."""
    return any(isinstance(e, Coil | Block) for e in elements(node))

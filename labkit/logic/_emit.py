"""Python source from the operation list: one generator, three dialects (one bench, numpy arrays, integer lanes).

Each operation's result is kept as an expression and written into its consumer, so that a whole rung becomes one line.
An expression is put into a local variable first if it is wanted twice, or if a slot that it reads is about to change.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import Counter
from dataclasses import dataclass
from itertools import combinations

from labkit.logic.blocks import INT_MAX, INT_MIN
from labkit.logic.lowered import Lowered, Op

__all__ = ["AND", "ATOM", "NOT", "OR", "XOR", "Dialect", "Expr", "Generated", "filled", "generate", "reads_of"]


# How tightly operators bind, loosest highest: Python's `not`/`and`/`or` and its `&`/`^`/`|` agree in this order.
ATOM, NOT, AND, XOR, OR = range(5)


@dataclass(frozen=True, slots=True)
class Expr:
    """Source text, how tightly it binds, the slots it reads, and whether its value is surely 0 or 1."""

    text: str
    level: int = ATOM
    reads: frozenset[int] = frozenset()
    bit: bool = False

    def inside(self, level: int) -> str:
        """The text, in parentheses unless it binds more tightly than an operator of `level`."""
        return self.text if self.level < level else f"({self.text})"


class Dialect(ABC):
    """How one engine writes operators, stores and blocks."""

    and_: str
    or_: str
    #: NOT costs a whole operation, so that of a slot is worth keeping in a local while the slot stays as it is
    keeps_negations = False
    #: what several rungs AND together of bits that no rung writes is worked out once
    shares_inputs = False

    @abstractmethod
    def negate(self, e: Expr) -> Expr:
        """NOT."""

    @abstractmethod
    def odd(self, items: list[Expr]) -> Expr:
        """XOR of several."""

    @abstractmethod
    def const(self, value: int) -> Expr:
        """False or true."""

    @abstractmethod
    def assign(self, name: str, e: Expr) -> list[str]:
        """A slot or an edge cell takes a value."""

    @abstractmethod
    def latch(self, name: str, e: Expr, value: int) -> list[str]:
        """A slot becomes `value` where `e` is true."""

    @abstractmethod
    def block(self, op: Op, args: list[str], outs: list[str], cells: list[str]) -> list[str]:
        """A standard block; arguments are names."""

    def all_of(self, items: list[Expr]) -> Expr:
        """AND of several."""
        return _joined(f" {self.and_} ", items, AND)

    def any_of(self, items: list[Expr]) -> Expr:
        """OR of several."""
        return _joined(f" {self.or_} ", items, OR)


def filled(template: str, op: Op, args: list[str], outs: list[str], cells: list[str]) -> list[str]:
    """The lines of a block's template with its names put in.

    In the template x0, x1.. are inputs in pin order, q0.. outputs, c0.. cells in the order of blocks.py, p the preset,
    lo and hi the ends of INT.
    """
    words = {f"x{i}": a for i, a in enumerate(args)} | {f"q{i}": o for i, o in enumerate(outs)}
    words |= {f"c{i}": c for i, c in enumerate(cells)} | {"p": str(op.number)}
    return template.format(**words, lo=INT_MIN, hi=INT_MAX).splitlines()


def _joined(sign: str, items: list[Expr], level: int) -> Expr:
    text = sign.join(e.inside(level) for e in items)
    return Expr(text, level, reads_of(items), all(e.bit for e in items))


def reads_of(items: list[Expr]) -> frozenset[int]:
    """Slots read by any of the items."""
    return frozenset().union(*(e.reads for e in items))


@dataclass(frozen=True, slots=True)
class Generated:
    """The lines of a function body, and the slots it writes."""

    lines: tuple[str, ...]
    written: tuple[int, ...]


def generate(lowered: Lowered, dialect: Dialect) -> Generated:
    """The body for every operation in order; slot i is the local ``b<i>``, cell j ``m<j>``, a kept result ``t<k>``."""
    return _Generator(lowered, dialect).run()


class _Generator:
    def __init__(self, lowered: Lowered, dialect: Dialect) -> None:
        self.lowered = lowered
        self.dialect = dialect
        self.lines: list[str] = []
        self.pending: dict[int, Expr] = {}  # results that some later operation still wants
        self.wanted: dict[int, int] = {}
        self.written: dict[int, None] = {}
        self.kept: dict[int, Expr] = {}  # slot -> its negation, while that holds
        for op in lowered.ops:
            for arg in op.args:
                self.wanted[arg] = self.wanted.get(arg, 0) + 1
        loads = {op.result: op.slots[0] for op in lowered.ops if op.do == "load"}
        self.groups = _groups(lowered) if dialect.shares_inputs else {}
        self.shared: dict[Group, Expr] = {}
        self.negations = Counter(loads[op.args[0]] for op in lowered.ops if op.do == "not" and op.args[0] in loads)

    def run(self) -> Generated:
        for op in self.lowered.ops:
            self.one(op)
        return Generated(tuple(self.lines), tuple(sorted(self.written)))

    def one(self, op: Op) -> None:
        d = self.dialect
        if op.do == "load":
            self.give(op, Expr(f"b{op.slots[0]}", ATOM, frozenset(op.slots), bit=True))
        elif op.do == "const":
            self.give(op, d.const(op.number))
        elif op.do == "not":
            self.give(op, self.negation(self.take(op.args[0])))
        elif op.do in ("and", "or", "xor"):
            join = {"and": d.all_of, "or": d.any_of, "xor": d.odd}[op.do]
            self.give(op, join(self.together(op) if op.result in self.groups else [self.take(a) for a in op.args]))
        elif op.do in ("rise", "fall"):
            self.edge(op)
        elif op.do in ("store", "set", "reset"):
            value = self.take(op.args[0])
            self.settle(op.slots)
            name = f"b{op.slots[0]}"
            self.lines += d.assign(name, value) if op.do == "store" else d.latch(name, value, int(op.do == "set"))
            self.written[op.slots[0]] = None
        else:
            self.block(op)

    def together(self, op: Op) -> list[Expr]:
        """The arguments of an AND, those that other rungs have too as one."""
        group, args = self.groups[op.result]
        items = [(arg in args, self.take(arg)) for arg in op.args]
        if group not in self.shared:
            name = f"g{len(self.shared)}"
            mine = [e for both, e in items if both]
            self.lines.append(f"{name} = {self.dialect.all_of(mine).text}")
            self.shared[group] = Expr(name, ATOM, reads_of(mine), all(e.bit for e in mine))
        return [self.shared[group], *(e for both, e in items if not both)]

    def negation(self, e: Expr) -> Expr:
        slot = next(iter(e.reads), None) if e.level == ATOM else None
        if slot is None or not self.dialect.keeps_negations or self.negations[slot] < 2:
            return self.dialect.negate(e)
        if slot not in self.kept:
            self.lines.append(f"k{slot} = {self.dialect.negate(e).text}")
            self.kept[slot] = Expr(f"k{slot}", ATOM, e.reads)
        return self.kept[slot]

    def edge(self, op: Op) -> None:
        """The argument is compared with the memory, then remembered."""
        d = self.dialect
        now = self.atom(self.take(op.args[0]), f"n{op.result}")
        cell = Expr(f"m{op.cells[0]}", bit=True)
        changed = [now, d.negate(cell)] if op.do == "rise" else [cell, d.negate(now)]
        self.lines.append(f"t{op.result} = {d.all_of(changed).text}")
        self.lines += d.assign(cell.text, now)
        self.give(op, Expr(f"t{op.result}"))

    def block(self, op: Op) -> None:
        args = []
        for i, arg in enumerate(op.args):
            e = self.take(arg)
            if e.reads & set(op.slots):  # the block's own output feeds it: take the value of before
                self.lines.append(f"a{i} = {e.text}")
                e = Expr(f"a{i}")
            args.append(self.atom(e, f"a{i}").text)
        self.settle(op.slots)
        self.lines += self.dialect.block(op, args, [f"b{s}" for s in op.slots], [f"m{c}" for c in op.cells])
        self.written.update(dict.fromkeys(op.slots))

    # ---- results

    def give(self, op: Op, e: Expr) -> None:
        """Keep an expression for its consumer; in a local if there are several."""
        wanted = self.wanted.get(op.result, 0)
        if wanted > 1 and e.level > ATOM:
            self.lines.append(f"t{op.result} = {e.text}")
            e = Expr(f"t{op.result}", bit=e.bit)
        if wanted:
            self.pending[op.result] = e

    def take(self, result: int) -> Expr:
        """The expression of a result; it is forgotten after its last use."""
        self.wanted[result] -= 1
        return self.pending[result] if self.wanted[result] else self.pending.pop(result)

    def atom(self, e: Expr, name: str) -> Expr:
        """A name for the expression, so that it may be written twice."""
        if e.level == ATOM:
            return e
        self.lines.append(f"{name} = {e.text}")
        return Expr(name, bit=e.bit)

    def settle(self, slots: tuple[int, ...]) -> None:
        """Put aside every expression still wanted that reads one of the `slots` about to change."""
        changing = set(slots)
        for slot in slots:
            self.kept.pop(slot, None)
        for result, e in self.pending.items():
            if e.reads & changing:
                self.lines.append(f"t{result} = {e.text}")
                self.pending[result] = Expr(f"t{result}", bit=e.bit)


Group = frozenset[tuple[int, bool]]
"""Two bits that are ANDed: slot, and whether it is negated."""


def _groups(lowered: Lowered) -> dict[int, tuple[Group, frozenset[int]]]:
    """For the result of an AND: the two bits in it that most other ANDs have too, and the arguments that make them.

    Only bits that no operation writes are looked at: their value is the same in the whole scan.
    """
    written = {slot for op in lowered.ops if op.do not in ("load", "not") for slot in op.slots}
    literal = {op.result: (op.slots[0], False) for op in lowered.ops if op.do == "load" and op.slots[0] not in written}
    literal |= {
        op.result: (literal[op.args[0]][0], not literal[op.args[0]][1])
        for op in lowered.ops
        if op.do == "not" and op.args[0] in literal
    }
    mine = {  # what each AND has of them, and by which argument
        op.result: {literal[arg]: arg for arg in op.args if arg in literal} for op in lowered.ops if op.do == "and"
    }
    times = Counter(frozenset(pair) for literals in mine.values() for pair in combinations(literals, 2))
    found: dict[int, tuple[Group, frozenset[int]]] = {}
    for result, literals in mine.items():
        pairs = [frozenset(pair) for pair in combinations(literals, 2)]
        best = max(pairs, key=times.__getitem__, default=frozenset())  # the first of those met most often
        if times[best] > 1:
            found[result] = best, frozenset(literals[bit] for bit in best)
    return found

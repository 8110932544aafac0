"""Many benches at once in the bits of Python's own long integers: the fastest way for boolean programs.

Bit k of every slot belongs to bench k. A scan of 1,024 benches costs little more than a scan of one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from labkit.base import LabkitError
from labkit.logic._emit import ATOM, XOR, Dialect, Expr, generate, reads_of
from labkit.logic._to_python import compile_scan, framed
from labkit.logic.lowered import Lowered, Op

__all__ = ["LaneScan", "refuse_unless_boolean", "to_lanes"]

LaneScan: TypeAlias = Callable[[list[int], list[int], int], None]


def to_lanes(lowered: Lowered) -> LaneScan:
    """A function ``scan(bits, mem, every)`` that solves the program once in every lane, in place.

    `bits` and `mem` hold one integer per slot and cell; `every` is the mask of all lanes, ``(1 << lanes) - 1``.

    Raises
    ------
    LabkitError
        If the program has timers or counters: their values do not fit one bit.

    Examples
    --------
    >>> from labkit.logic import lower, read_st
    >>> scan = to_lanes(lower(read_st("K1 := S1 AND NOT S2;")))
    >>> bits = [0b0011, 0b0101, 0]
    >>> scan(bits, [], 0b1111); bits[2]
    2
    """
    refuse_unless_boolean(lowered, "integer lanes")
    body = generate(lowered, _Lanes())
    return compile_scan(framed(lowered, body, "A"), {})


def refuse_unless_boolean(lowered: Lowered, engine: str) -> None:
    """Raise if a program keeps more than bits.

    Raises
    ------
    LabkitError
        Naming the first timer or counter.
    """
    for op in lowered.ops:
        if op.do not in _BOOLEAN:
            name = lowered.slots[op.slots[0]].partition(".")[0]
            raise LabkitError(
                f"{engine} hold one bit per bench, and the {op.do} block {name} keeps a "
                + ("time" if op.do.startswith("T") else "count"),
                where=f"rung {op.rung + 1}",
                try_this="use to_numpy(lowered), which has timers and counters",
                code="engine-needs-boolean",
            )


_BOOLEAN = frozenset(("load", "const", "and", "or", "xor", "not", "rise", "fall", "store", "set", "reset")) | frozenset(
    ("SR", "RS", "R_TRIG", "F_TRIG")
)


class _Lanes(Dialect):
    and_, or_ = "&", "|"
    keeps_negations = True
    shares_inputs = True  # each operation on a long integer makes a new one: the fewest operations win

    def negate(self, e: Expr) -> Expr:
        # never ~: a negative integer would make every later operation slower
        return Expr(f"{e.inside(XOR)} ^ A", XOR, e.reads)

    def odd(self, items: list[Expr]) -> Expr:
        return Expr(" ^ ".join(e.inside(XOR) for e in items), XOR, reads_of(items))

    def const(self, value: int) -> Expr:
        return Expr("A" if value else "0", ATOM)

    def assign(self, name: str, e: Expr) -> list[str]:
        return [f"{name} = {e.text}"]

    def latch(self, name: str, e: Expr, value: int) -> list[str]:
        return [f"{name} |= {e.text}" if value else f"{name} &= ({e.text}) ^ A"]

    def block(self, op: Op, args: list[str], outs: list[str], cells: list[str]) -> list[str]:
        q, x = outs[0], args
        if op.do == "SR":
            return [f"{q} = {x[0]} | (({x[1]} ^ A) & {q})"]
        if op.do == "RS":
            return [f"{q} = ({x[1]} ^ A) & ({x[0]} | {q})"]
        m = cells[0]
        if op.do == "R_TRIG":
            return [f"{q} = {x[0]} & ({m} ^ A)", f"{m} = {x[0]}"]
        return [f"{q} = ({x[0]} | {m}) ^ A", f"{m} = {x[0]} ^ A"]

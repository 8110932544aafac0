"""Many benches at once as numpy arrays: one element per bench; timers and counters included."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeAlias, cast

from labkit.logic._emit import ATOM, NOT, OR, XOR, Dialect, Expr, filled, generate, reads_of
from labkit.logic._to_lanes import refuse_unless_boolean
from labkit.logic._to_python import compile_scan
from labkit.logic.lowered import Lowered, Op

if TYPE_CHECKING:  # numpy is loaded only by those who use this engine
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["NumpyScan", "numpy_bits", "numpy_memory", "to_numpy"]

NumpyScan: TypeAlias = "Callable[[NDArray[Any], NDArray[Any], int], None]"


def numpy_bits(lowered: Lowered, benches: int) -> NDArray[np.bool_]:
    """Starting bits for :func:`to_numpy`: array ``[slot, bench]``."""
    import numpy as np

    return np.repeat(np.array(lowered.initial, dtype=bool)[:, None], benches, axis=1)


def numpy_memory(lowered: Lowered, benches: int) -> NDArray[np.int64]:
    """Starting memory for :func:`to_numpy`: array ``[cell, bench]``."""
    import numpy as np

    return np.zeros((len(lowered.memory), benches), dtype=np.int64)


def to_numpy(lowered: Lowered, *, words: bool = False) -> NumpyScan:
    """A function ``scan(bits, mem, now_us)`` over arrays ``[slot, bench]`` and ``[cell, bench]``, in place.

    Parameters
    ----------
    words
        With this, `bits` and `mem` are unsigned words and each bit of a word is a bench (boolean programs only).

    Raises
    ------
    LabkitError
        If `words` is asked of a program with timers or counters.
    """
    import numpy as np

    if words:
        refuse_unless_boolean(lowered, "words of bits")
    dialect = _Arrays()
    body = generate(lowered, dialect)
    edges = {c for op in lowered.ops if op.do in _BOOL_CELLS for c in op.cells}
    lines = ["F = bits[0] ^ bits[0]", "T = ~F"] if any(op.do == "const" for op in lowered.ops) else []
    lines += [f"b{i} = bits[{i}]" for i in range(len(lowered.slots))]
    lines += [f"m{i} = mem[{i}]" + (" != 0" if i in edges and not words else "") for i in range(len(lowered.memory))]
    lines += body.lines
    lines += [f"mem[{i}] = m{i}" for i in range(len(lowered.memory))]
    lines += [f"bits[{i}] = b{i}" for i in body.written]
    source = "def scan(bits, mem, now):\n" + "\n".join("    " + line for line in lines) + "\n"
    return cast("NumpyScan", compile_scan(source, {"where": np.where, "minimum": np.minimum}))


_BOOL_CELLS = frozenset({"rise", "fall", "R_TRIG", "F_TRIG"})


class _Arrays(Dialect):
    and_, or_ = "&", "|"
    keeps_negations = True

    def negate(self, e: Expr) -> Expr:
        return Expr(f"~{e.inside(NOT)}", NOT, e.reads)

    def odd(self, items: list[Expr]) -> Expr:
        return Expr(" ^ ".join(e.inside(XOR) for e in items), XOR, reads_of(items))

    def const(self, value: int) -> Expr:
        return Expr("T" if value else "F", ATOM)

    def assign(self, name: str, e: Expr) -> list[str]:
        # A bare name may be a view of the state, which is written back at the end: take a copy.
        return [f"{name} = {e.text}.copy()" if e.level == ATOM else f"{name} = {e.text}"]

    def latch(self, name: str, e: Expr, value: int) -> list[str]:
        return [f"{name} = {name} | {e.inside(OR)}" if value else f"{name} = {name} & ~{e.inside(NOT)}"]

    def block(self, op: Op, args: list[str], outs: list[str], cells: list[str]) -> list[str]:
        return filled(_BLOCKS[op.do], op, args, outs, cells)


# The same blocks as in _to_python.py, for all benches at once.
_BLOCKS = {
    "TON": """\
{c1} = where({x0} & ({c0} == 0), now, {c1})
el = minimum(now - {c1}, {p})
{q0} = {x0} & (el >= {p})
{c2} = where({x0}, el, 0)
{c0} = where({x0}, where({q0}, 2, 1), 0)""",
    "TOF": """\
{c1} = where(~{x0} & ({c0} == 2), now, {c1})
el = minimum(now - {c1}, {p})
run = ~{x0} & ({c0} != 0)
{c2} = where({x0}, 0, where(run, el, {c2}))
{q0} = {x0} | (run & (el < {p}))
{c0} = where({x0}, 2, where({q0}, 1, 0))""",
    "TP": """\
start = {x0} & ({c0} == 0)
{c1} = where(start, now, {c1})
{c0} = where(start, 1, {c0})
on = {c0} == 1
el = minimum(now - {c1}, {p})
{c2} = where(on, el, {c2})
{c0} = where(on & (el >= {p}), 2, {c0})
over = ({c0} == 2) & ~{x0}
{c2} = where(over, 0, {c2})
{c0} = where(over, 0, {c0})
{q0} = {c0} == 1""",
    "CTU": """\
up = {x0} & ({c1} == 0) & ({c0} < {hi})
{c0} = where({x1}, 0, {c0} + up)
{c1} = where({x0}, 1, 0)
{q0} = {c0} >= {p}""",
    "CTD": """\
down = {x0} & ({c1} == 0) & ({c0} > {lo})
{c0} = where({x1}, {p}, {c0} - down)
{c1} = where({x0}, 1, 0)
{q0} = {c0} <= 0""",
    "CTUD": """\
up = {x0} & ({c1} == 0)
down = {x1} & ({c2} == 0)
step = (up & ~down & ({c0} < {hi})) * 1 - (down & ~up & ({c0} > {lo})) * 1
{c0} = where({x2}, 0, where({x3}, {p}, {c0} + step))
{c1} = where({x0}, 1, 0)
{c2} = where({x1}, 1, 0)
{q0} = {c0} >= {p}
{q1} = {c0} <= 0""",
    "SR": "{q0} = {x0} | (~{x1} & {q0})",
    "RS": "{q0} = ~{x1} & ({x0} | {q0})",
    "R_TRIG": "{q0} = {x0} & ~{c0}\n{c0} = {x0}.copy()",
    "F_TRIG": "{q0} = ~{x0} & ~{c0}\n{c0} = ~{x0}",
}

"""One bench at a time: a generated Python function with its state in locals and short-circuit logic."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from types import CodeType
from typing import TypeAlias

from labkit.logic._emit import ATOM, NOT, XOR, Dialect, Expr, Generated, filled, generate, reads_of
from labkit.logic.lowered import Lowered, Op

__all__ = ["PythonScan", "compile_scan", "python_source", "to_python"]

PythonScan: TypeAlias = Callable[[list[int], list[int], int], None]


def to_python(lowered: Lowered) -> PythonScan:
    """A function ``scan(bits, mem, now_us)`` that solves the program once, in place.

    `bits` are 0 or 1, indexed like ``lowered.slots``; `mem` like ``lowered.memory``; `now_us` is the start of the scan
    in whole microseconds and may not run backwards.

    Examples
    --------
    >>> from labkit.logic import lower, new_bits, new_memory, read_st
    >>> low = lower(read_st("K1 := S1 AND (S2 OR K1);"))
    >>> scan, bits, mem = to_python(low), new_bits(low), new_memory(low)
    >>> bits[low.slots.index("S1")] = bits[low.slots.index("S2")] = 1
    >>> scan(bits, mem, 0); bits
    [1, 1, 1]
    """
    return compile_scan(python_source(lowered), {})


def compile_scan(source: str, names: dict[str, object]) -> PythonScan:
    """The function `scan` of a generated source; only slot numbers and presets of ours are ever in it."""
    space: dict[str, object] = dict(names)
    exec(_code(source), space)
    return space["scan"]  # type: ignore[return-value]  # exec gives object; generate() made it a scan


@lru_cache(maxsize=256)  # a class hands in the same seal many times, and a proof asks many questions of one program
def _code(source: str) -> CodeType:
    return compile(source, "<program>", "exec")


def python_source(lowered: Lowered) -> str:
    """The source of :func:`to_python`'s function, for those who want to see it."""
    return framed(lowered, generate(lowered, _Scalar()), "now")


def framed(lowered: Lowered, body: Generated, last: str) -> str:
    """A body between the unpacking of the state lists and their writing back."""
    lines = list(body.lines)
    slots, cells = len(lowered.slots), len(lowered.memory)
    if slots:
        lines.insert(0, f"{', '.join(f'b{i}' for i in range(slots))}, = bits")
    if cells:
        lines.insert(0, f"{', '.join(f'm{i}' for i in range(cells))}, = mem")
        lines.append(f"mem[:] = ({', '.join(f'm{i}' for i in range(cells))},)")
    if 2 * len(body.written) > slots:
        lines.append(f"bits[:] = ({', '.join(f'b{i}' for i in range(slots))},)")
    else:
        lines += [f"bits[{i}] = b{i}" for i in body.written]
    return f"def scan(bits, mem, {last}):\n" + "\n".join("    " + line for line in lines or ["pass"]) + "\n"


class _Scalar(Dialect):
    and_, or_ = "and", "or"

    def negate(self, e: Expr) -> Expr:
        return Expr(f"not {e.inside(NOT)}", NOT, e.reads)

    def odd(self, items: list[Expr]) -> Expr:
        # the parity of the negations is the parity itself, turned over if their number is odd
        text = " ^ ".join(f"(not {e.inside(NOT)})" for e in items) + (" ^ True" if len(items) % 2 else "")
        return Expr(text, XOR, reads_of(items))

    def const(self, value: int) -> Expr:
        return Expr(str(value), ATOM, bit=True)

    def assign(self, name: str, e: Expr) -> list[str]:
        return [f"{name} = {e.text if e.bit else f'1 if {e.text} else 0'}"]

    def latch(self, name: str, e: Expr, value: int) -> list[str]:
        return [f"if {e.text}:", f"    {name} = {value}"]

    def block(self, op: Op, args: list[str], outs: list[str], cells: list[str]) -> list[str]:
        return filled(_BLOCKS[op.do], op, args, outs, cells)


# A timer's mode is 0 at rest, 1 running, 2 done (TON, TP) or input on (TOF).
_BLOCKS = {
    "TON": """\
if {x0}:
    if not {c0}:
        {c0} = 1
        {c1} = now
    if {c0} == 1:
        {c2} = now - {c1}
        if {c2} >= {p}:
            {c2} = {p}
            {c0} = 2
    {q0} = 1 if {c0} == 2 else 0
else:
    {c0} = {c2} = {q0} = 0""",
    "TOF": """\
if {x0}:
    {c0} = 2
    {c2} = 0
    {q0} = 1
elif {c0}:
    if {c0} == 2:
        {c0} = 1
        {c1} = now
    {c2} = now - {c1}
    if {c2} >= {p}:
        {c2} = {p}
        {c0} = 0
    {q0} = {c0}
else:
    {q0} = 0""",
    "TP": """\
if {x0} and not {c0}:
    {c0} = 1
    {c1} = now
if {c0} == 1:
    {c2} = now - {c1}
    if {c2} >= {p}:
        {c2} = {p}
        {c0} = 2
if {c0} == 2 and not {x0}:
    {c0} = {c2} = 0
{q0} = 1 if {c0} == 1 else 0""",
    "CTU": """\
if {x1}:
    {c0} = 0
elif {x0} and not {c1} and {c0} < {hi}:
    {c0} += 1
{c1} = 1 if {x0} else 0
{q0} = 1 if {c0} >= {p} else 0""",
    "CTD": """\
if {x1}:
    {c0} = {p}
elif {x0} and not {c1} and {c0} > {lo}:
    {c0} -= 1
{c1} = 1 if {x0} else 0
{q0} = 1 if {c0} <= 0 else 0""",
    "CTUD": """\
up = {x0} and not {c1}
down = {x1} and not {c2}
if {x2}:
    {c0} = 0
elif {x3}:
    {c0} = {p}
elif up and not down:
    if {c0} < {hi}:
        {c0} += 1
elif down and not up and {c0} > {lo}:
    {c0} -= 1
{c1} = 1 if {x0} else 0
{c2} = 1 if {x1} else 0
{q0} = 1 if {c0} >= {p} else 0
{q1} = 1 if {c0} <= 0 else 0""",
    "SR": "{q0} = 1 if {x0} or (not {x1} and {q0}) else 0",
    "RS": "{q0} = 1 if not {x1} and ({x0} or {q0}) else 0",
    "R_TRIG": "{q0} = 1 if {x0} and not {c0} else 0\n{c0} = 1 if {x0} else 0",
    "F_TRIG": "{q0} = 0 if {x0} or {c0} else 1\n{c0} = 0 if {x0} else 1",
}

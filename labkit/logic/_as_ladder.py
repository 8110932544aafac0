"""A program as a ladder can show it: no NOT of a group, no XOR, only contacts in series and parallel."""

from __future__ import annotations

from dataclasses import replace

from labkit.base import LabkitError
from labkit.logic.limits import LIMITS
from labkit.logic.nodes import (
    Block,
    Coil,
    Constant,
    Contact,
    Not,
    Parallel,
    Power,
    Program,
    Rung,
    Series,
    Xor,
    elements,
    numbered,
    parallel,
    series,
)

__all__ = ["as_ladder"]


def as_ladder(program: Program) -> Program:
    """The same program with every NOT moved to its contacts and every XOR drawn out; a ladder stays as it is.

    Raises
    ------
    LabkitError
        If an expression with XOR would fill more than one rung can hold.
    """
    if not any(_has_text_only(rung.network) for rung in program.rungs):
        return program
    rungs = []
    for number, rung in enumerate(program.rungs, 1):
        size = _size(rung.network)
        if size > LIMITS["rung elements"].most:
            raise LabkitError(
                f"rung {number} would need {size} elements as a ladder, because each XOR is drawn out",
                where=f"rung {number}",
                try_this="split the expression with a memory bit",
                code="too-wide-to-draw",
            )
        rungs.append(replace(rung, network=_drawn(rung.network, False)))
    return replace(program, rungs=numbered(tuple[Rung, ...](rungs)))


def _has_text_only(node: Power) -> bool:
    if isinstance(node, Not | Xor):
        return True
    if isinstance(node, Series | Parallel):
        return any(_has_text_only(item) for item in node.items)
    return isinstance(node, Block) and any(_has_text_only(feed) for _, feed in node.inputs)


def _size(node: Power) -> int:
    """Elements after drawing out; the same for a network and its negation."""
    if isinstance(node, Xor):
        total = 0
        for item in reversed(node.items):
            total = 2 * (_size(item) + total) if total else _size(item)
            if total > 10**6:
                break
        return total
    if isinstance(node, Not):
        return _size(node.of)
    if isinstance(node, Series | Parallel):
        return sum(_size(item) for item in node.items)
    return 1 + (sum(_size(feed) for _, feed in node.inputs) if isinstance(node, Block) else 0)


def _drawn(node: Power, turned: bool) -> Power:
    """The network, or with `turned` its negation (De Morgan's rules)."""
    if isinstance(node, Not):
        return _drawn(node.of, not turned)
    if isinstance(node, Xor):
        first, rest = node.items[0], node.items[1:]
        other: Power = rest[0] if len(rest) == 1 else Xor(rest, node.span)
        return parallel(
            series(_drawn(first, False), _drawn(other, not turned)),
            series(_drawn(first, True), _drawn(other, turned)),
        )
    if isinstance(node, Series | Parallel):
        items = [_drawn(item, turned) for item in node.items]
        return series(*items) if isinstance(node, Series) != turned else parallel(*items)
    if isinstance(node, Block):
        return replace(node, inputs=tuple((pin, _drawn(feed, False)) for pin, feed in node.inputs))
    if not turned:
        return node
    if isinstance(node, Constant):
        return replace(node, value=not node.value)
    if isinstance(node, Contact) and node.kind in ("", "/"):
        return replace(node, kind="" if node.kind == "/" else "/")
    what = ", ".join(e.name for e in elements(node) if isinstance(e, Contact | Coil))
    raise LabkitError(f"NOT cannot stand before {what} in a ladder", code="too-wide-to-draw")

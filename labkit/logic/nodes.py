"""The tree that both languages make: rungs of contacts, coils and blocks in series and in parallel.

Power flows through a rung from left to right. An ST assignment is the same thing without the drawing: its expression
is the network left of the coil. Nodes are plain frozen records; each knows where it stands in the text (`span`), and
two trees are equal when they say the same, wherever they stand.

Every contact, constant, coil and block has an `element` number, counted through the program in the order of
evaluation (left to right in a series, top to bottom in a parallel).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TypeAlias

__all__ = [
    "NOWHERE",
    "Block",
    "Coil",
    "Constant",
    "Contact",
    "Not",
    "Parallel",
    "Power",
    "Preset",
    "Program",
    "Rung",
    "Series",
    "Span",
    "Variable",
    "Xor",
    "elements",
    "nesting",
    "numbered",
    "parallel",
    "series",
]


@dataclass(frozen=True, slots=True)
class Span:
    """A place in a program text: line and column from 1, and how many characters it is wide."""

    line: int
    column: int
    width: int = 1


NOWHERE = Span(0, 0, 0)


@dataclass(frozen=True, slots=True)
class Contact:
    """Passes power when its variable allows: ``""`` normally open, ``"/"`` closed, ``"P"`` and ``"N"`` transitions."""

    name: str
    kind: str = ""
    element: int = -1
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Constant:
    """TRUE or FALSE where a contact could stand."""

    value: bool
    element: int = -1
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Coil:
    """Writes its variable from the power on its left, and hands that power on.

    `kind` is ``""`` plain, ``"/"`` negated, ``"S"`` set, ``"R"`` reset, ``"P"`` or ``"N"`` transition.
    """

    name: str
    kind: str = ""
    element: int = -1
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Preset:
    """The value on a PT or PV pin: microseconds or a count, and the text it was written as (a literal or a name)."""

    value: int
    text: str
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Block:
    """One standard function block in the power flow.

    The power on its left goes to the first BOOL input of its type (IN, CLK, CU, CD, S1 or S); its first BOOL output
    (Q, QU or Q1) is the power on its right.

    Parameters
    ----------
    instance, type
        For example ``T1`` and ``TON``.
    inputs
        The other BOOL inputs that are connected: pin and the network that feeds it from the left rail.
    presets
        The PT or PV pins.
    outputs
        Variables attached to BOOL outputs: pin and the name it writes.
    """

    instance: str
    type: str
    inputs: tuple[tuple[str, Power], ...] = ()
    presets: tuple[tuple[str, Preset], ...] = ()
    outputs: tuple[tuple[str, str], ...] = ()
    element: int = -1
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Not:
    """The opposite of what `of` gives (ST only; a ladder has normally closed contacts instead)."""

    of: Power
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Xor:
    """True if an odd number of `items` is (ST only)."""

    items: tuple[Power, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Series:
    """Power passes when every item passes it: AND."""

    items: tuple[Power, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Parallel:
    """Power passes when any item passes it: OR."""

    items: tuple[Power, ...]
    span: Span = field(default=NOWHERE, compare=False)


Power: TypeAlias = Contact | Constant | Coil | Block | Not | Xor | Series | Parallel


@dataclass(frozen=True, slots=True)
class Rung:
    """One network, or one ST statement, with the comment that stood before it."""

    network: Power
    title: str = ""
    comment: str = ""
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Variable:
    """One declaration: `type` is BOOL, TIME, INT or a block type; `initial` in microseconds for TIME."""

    name: str
    type: str
    retain: bool = False
    initial: int = 0
    constant: bool = False
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Program:
    """A program as read: its declarations, its rungs, and the text it came from.

    Examples
    --------
    >>> from labkit.logic import read_st
    >>> hold = read_st("K1 := S1 AND (S2 OR K1_A);", name="hold")
    >>> hold.reads(), hold.writes()
    (('S1', 'S2', 'K1_A'), ('K1',))
    """

    name: str
    rungs: tuple[Rung, ...]
    declarations: tuple[Variable, ...] = ()
    text: str = field(default="", compare=False, repr=False)
    language: str = field(default="ladder", compare=False)

    def variables(self) -> tuple[str, ...]:
        """Names of BOOL variables read or written, in order of first use (block outputs such as T1.Q left out)."""
        return _unique(name for name, _ in self._uses())

    def reads(self) -> tuple[str, ...]:
        """Names read by a contact, a pin or an expression, in order of first use."""
        return _unique(name for name, how in self._uses() if how == "read")

    def writes(self) -> tuple[str, ...]:
        """Names written by a coil, an assignment or a block output, in order of first use."""
        return _unique(name for name, how in self._uses() if how == "write")

    def instances(self) -> dict[str, str]:
        """Block instances called, with their type, in order of call."""
        return {e.instance: e.type for rung in self.rungs for e in elements(rung.network) if isinstance(e, Block)}

    def _uses(self) -> Iterator[tuple[str, str]]:
        for rung in self.rungs:
            for e in elements(rung.network):
                if isinstance(e, Contact):
                    if "." not in e.name:
                        yield e.name, "read"
                elif isinstance(e, Coil):
                    yield e.name, "write"
                elif isinstance(e, Block):
                    for _, name in e.outputs:
                        yield name, "write"


def series(*items: Power, span: Span = NOWHERE) -> Power:
    """`items` in series, nested ones flattened, a single one as it is."""
    flat = tuple(x for i in items for x in (i.items if isinstance(i, Series) else (i,)))
    return flat[0] if len(flat) == 1 else Series(flat, span if span is not NOWHERE else flat[0].span)


def parallel(*items: Power, span: Span = NOWHERE) -> Power:
    """`items` in parallel, nested ones flattened, a single one as it is."""
    flat = tuple(x for i in items for x in (i.items if isinstance(i, Parallel) else (i,)))
    return flat[0] if len(flat) == 1 else Parallel(flat, span if span is not NOWHERE else flat[0].span)


def elements(network: Power) -> Iterator[Contact | Constant | Coil | Block]:
    """The elements of a network in the order of evaluation; a block after the networks on its pins."""
    if isinstance(network, Series | Parallel | Xor):
        for item in network.items:
            yield from elements(item)
    elif isinstance(network, Not):
        yield from elements(network.of)
    else:
        if isinstance(network, Block):
            for _, feed in network.inputs:
                yield from elements(feed)
        yield network


def nesting(network: Power) -> int:
    """How deep series, parallels and negations stand inside one another."""
    if isinstance(network, Series | Parallel | Xor):
        return 1 + max(nesting(item) for item in network.items)
    if isinstance(network, Not):
        return 1 + nesting(network.of)
    if isinstance(network, Block) and network.inputs:
        return 1 + max(nesting(feed) for _, feed in network.inputs)
    return 0


def numbered(rungs: tuple[Rung, ...]) -> tuple[Rung, ...]:
    """The same rungs with their elements counted from 0 in the order of evaluation."""
    count = iter(range(1_000_000_000))

    def walk(n: Power) -> Power:
        if isinstance(n, Series | Parallel | Xor):
            return replace(n, items=tuple(walk(i) for i in n.items))
        if isinstance(n, Not):
            return replace(n, of=walk(n.of))
        if isinstance(n, Block):
            inputs = tuple((pin, walk(feed)) for pin, feed in n.inputs)
            return replace(n, inputs=inputs, element=next(count))
        return replace(n, element=next(count))

    return tuple(replace(rung, network=walk(rung.network)) for rung in rungs)


def _unique(names: Iterator[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))

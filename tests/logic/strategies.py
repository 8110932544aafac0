"""Random programs: Structured-Text-shaped and ladder-shaped trees. A new kind of node joins here first."""

from __future__ import annotations

from collections.abc import Callable

from hypothesis import strategies as st

from labkit.logic import (
    BLOCKS,
    Block,
    Coil,
    Constant,
    Contact,
    Not,
    Parallel,
    Preset,
    Program,
    Rung,
    Series,
    Variable,
    Xor,
)
from labkit.logic.nodes import Power, numbered, parallel, series

INPUTS = ("S1", "S2", "S3", "START_PB")
MEMORY = ("M1", "M2", "K1", "K1_A")
_OUTPUT_OF_SOME_BLOCK = "@"  # becomes T1.Q or the like once the program's blocks are known

names = st.sampled_from([*INPUTS, *MEMORY, _OUTPUT_OF_SOME_BLOCK])
titles = st.sampled_from(["", "", "Hold", "Start, stop (both shifts)", "50 % rule; see page 3"])
comments = st.sampled_from(["", "one line", "two\nlines", "a gap\n\nand more"])


# ---- expressions


def _grown(leaf: st.SearchStrategy[Power], *, text_only: bool) -> st.SearchStrategy[Power]:
    def more(inner: st.SearchStrategy[Power]) -> st.SearchStrategy[Power]:
        several = st.lists(inner, min_size=2, max_size=3)
        ways = [several.map(lambda x: series(*x)), several.map(lambda x: parallel(*x))]
        if text_only:
            ways += [several.map(_xor), inner.map(_not)]
        return st.one_of(ways)

    return st.recursive(leaf, more, max_leaves=8)


def _xor(items: list[Power]) -> Power:
    return Xor(tuple(x for i in items for x in (i.items if isinstance(i, Xor) else (i,))))


def _not(node: Power) -> Power:
    """NOT as the reader makes it: never before a plain contact, never twice."""
    if isinstance(node, Contact):
        return Contact(node.name, "" if node.kind == "/" else "/")
    if isinstance(node, Constant):
        return Constant(not node.value)
    return node.of if isinstance(node, Not) else Not(node)


_constants = st.booleans().map(Constant)
_st_leaf = st.one_of(st.builds(Contact, names, st.sampled_from(["", "/"])), _constants)
_ladder_leaf = st.one_of(st.builds(Contact, names, st.sampled_from(["", "", "/", "P", "N"])), _constants)
st_expressions = _grown(_st_leaf, text_only=True)
contacts = _grown(_ladder_leaf, text_only=False)


# ---- blocks


@st.composite
def blocks(draw: Callable, feeds: st.SearchStrategy[Power] | None, *, last: bool) -> Block:
    """A block with its instance still unnamed; `last` if nothing follows it, so that Q may be written to a tag."""
    kind = BLOCKS[draw(st.sampled_from(sorted(BLOCKS)))]
    inputs = []
    for pin in kind.inputs[1:]:
        if feeds is not None and draw(st.booleans()):
            inputs.append((pin, draw(feeds)))
    presets: tuple[tuple[str, Preset], ...] = ()
    if kind.is_timer:
        ms = draw(st.integers(0, 30))
        presets = (("PT", Preset(ms * 1000, f"T#{ms}ms")),)
    elif kind.is_counter:
        count = draw(st.integers(-2, 4))
        presets = (("PV", Preset(count, str(count))),)
    outputs = []
    for pin in kind.outputs if last else kind.outputs[1:]:
        if draw(st.booleans()):
            outputs.append((pin, draw(st.sampled_from(MEMORY))))
    return Block("?", kind.name, tuple(inputs), presets, tuple(outputs))


# ---- rungs

coils = st.builds(Coil, st.sampled_from(MEMORY), st.sampled_from(["", "", "", "/", "S", "R", "P", "N"]))


@st.composite
def coil_groups(draw: Callable, depth: int = 2) -> Power:
    """Coils in series, or in parallel branches with contacts of their own."""
    if depth and draw(st.integers(0, 2)) == 0:
        arms = draw(st.lists(coil_groups(depth - 1), min_size=2, max_size=3))
        group = parallel(*(series(draw(contacts), arm) if draw(st.booleans()) else arm for arm in arms))
        return series(group, draw(coils)) if draw(st.integers(0, 3)) == 0 else group  # a coil for all branches
    return series(*draw(st.lists(coils, min_size=1, max_size=2)))


@st.composite
def ladder_networks(draw: Callable) -> Power:
    """Contacts, perhaps a block among them, and coils."""
    parts: list[Power] = [draw(contacts)]
    shape = draw(st.integers(0, 3))
    if shape == 0:  # a block ends the rung
        return series(*parts, draw(blocks(contacts, last=True)))
    if shape == 1:
        parts.append(draw(blocks(contacts, last=False)))
    if shape == 2:  # a block in a branch
        inner = series(draw(contacts), draw(blocks(None, last=False)))
        parts.append(parallel(*draw(st.permutations([inner, draw(contacts)]))))
    if draw(st.booleans()) and shape:
        parts.append(draw(contacts))
    return series(*parts, draw(coil_groups()))


@st.composite
def st_networks(draw: Callable) -> Power:
    """What one statement makes: an assignment or a block call."""
    if draw(st.integers(0, 3)) == 0:
        return series(draw(st_expressions), draw(blocks(st_expressions, last=True)))
    return series(draw(st_expressions), Coil(draw(st.sampled_from(MEMORY))))


@st.composite
def _programs(draw: Callable, networks: st.SearchStrategy[Power], language: str, most: int) -> Program:
    rungs = []
    for network in draw(st.lists(networks, min_size=1, max_size=most)):
        title = draw(titles)
        rungs.append(Rung(network, title, draw(comments) if title else ""))
    return finished(tuple(rungs), language)


def finished(rungs: tuple[Rung, ...], language: str) -> Program:
    """Name the blocks, give contacts on some block an output that exists, count the elements."""
    kinds: list[str] = []

    def named(node: Power) -> Power:
        if isinstance(node, Series | Parallel | Xor):
            return type(node)(tuple(named(i) for i in node.items))
        if isinstance(node, Not):
            return Not(named(node.of))
        if isinstance(node, Block):
            inputs = tuple((pin, named(feed)) for pin, feed in node.inputs)
            kinds.append(node.type)
            return Block(f"B{len(kinds)}", node.type, inputs, node.presets, node.outputs)
        return node

    def read(node: Power) -> Power:
        if isinstance(node, Series | Parallel | Xor):
            return type(node)(tuple(read(i) for i in node.items))
        if isinstance(node, Not):
            return Not(read(node.of))
        if isinstance(node, Block):
            inputs = tuple((pin, read(feed)) for pin, feed in node.inputs)
            return Block(node.instance, node.type, inputs, node.presets, node.outputs)
        if isinstance(node, Contact) and node.name == _OUTPUT_OF_SOME_BLOCK:
            outputs = [f"B{i}.{pin}" for i, t in enumerate(kinds, 1) for pin in BLOCKS[t].outputs]
            return Contact(outputs[-1] if outputs else "M1", node.kind)
        return node

    rungs = tuple(Rung(named(r.network), r.title, r.comment) for r in rungs)
    rungs = tuple(Rung(read(r.network), r.title, r.comment) for r in rungs)
    declared = tuple(Variable(f"B{i}", t) for i, t in enumerate(kinds, 1)) if language == "st" else ()
    return Program("random", numbered(rungs), declared, "", language)


def st_programs(most: int = 4) -> st.SearchStrategy[Program]:
    """Programs as Structured Text makes them."""
    return _programs(st_networks(), "st", most)


def ladder_programs(most: int = 4) -> st.SearchStrategy[Program]:
    """Programs as ladder text makes them."""
    return _programs(ladder_networks(), "ladder", most)


def programs(most: int = 4) -> st.SearchStrategy[Program]:
    """Programs of either shape."""
    return st.one_of(st_programs(most), ladder_programs(most))


@st.composite
def scans(draw: Callable, lanes: int, most: int = 10) -> list[tuple[int, list[dict[str, bool]]]]:
    """For each scan its time in microseconds and, per lane, the inputs."""
    now, found = 0, []
    for step in draw(st.lists(st.sampled_from([1, 1_000, 5_000, 10_000, 40_000]), min_size=1, max_size=most)):
        masks = draw(st.lists(st.integers(0, 2 ** len(INPUTS) - 1), min_size=lanes, max_size=lanes))
        found.append((now, [{n: bool(m >> i & 1) for i, n in enumerate(INPUTS)} for m in masks]))
        now += step
    return found

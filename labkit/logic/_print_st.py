"""A program as Structured Text; what is printed reads back with the same meaning.

What only a ladder has (set and reset coils, transition sensing, several coils on one rung) is written out with plain
assignments and, where a value must be kept, a helper bit.
"""

from __future__ import annotations

from dataclasses import dataclass

from labkit.logic._print_header import comment_lines, header_lines
from labkit.logic.blocks import BLOCKS
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
    Variable,
    Xor,
    elements,
)

__all__ = ["print_st"]

_ATOM, _AND, _XOR, _OR = range(4)
_SHORT = 40  # characters: a longer condition that is wanted twice gets a helper bit


@dataclass(frozen=True, slots=True)
class _Text:
    """An expression, how loosely its outermost operator binds, and the names it reads."""

    text: str
    level: int = _ATOM
    names: frozenset[str] = frozenset()

    def inside(self, level: int) -> str:
        return self.text if self.level < level else f"({self.text})"


def print_st(program: Program) -> str:
    """Structured Text of a program; reading it gives a program that does the same in every scan.

    Examples
    --------
    >>> from labkit.logic import read_ladder
    >>> print(print_st(read_ladder('''
    ... |   S1        S2        K1   |
    ... |--| |---+---| |---+---( )---|
    ... |        |  K1_A   |         |
    ... |        +---|/|---+         |
    ... ''')), end="")
    K1 := S1 AND (S2 OR NOT K1_A);
    """
    writer = _Writer(program)
    bodies = [comment_lines(r.title, r.comment) + writer.rung(r, i) for i, r in enumerate(program.rungs, 1)]
    known = {v.name for v in program.declarations}
    added = tuple(Variable(i, t) for i, t in program.instances().items() if i not in known)
    header = header_lines(program.declarations + added)
    titled = any(r.title for r in program.rungs)
    body = ("\n\n" if titled else "\n").join("\n".join(lines) for lines in bodies)
    return ("\n".join(header) + "\n\n" if header else "") + body + "\n"


class _Writer:
    def __init__(self, program: Program) -> None:
        used = {e.name for r in program.rungs for e in elements(r.network) if isinstance(e, Contact | Coil)}
        used |= set(program.instances()) | {v.name for v in program.declarations} | set(program.writes())
        self.used = {name.upper() for name in used}
        self.lines: list[str] = []
        self.written: frozenset[str] = frozenset()
        self.number = 0

    def rung(self, rung: Rung, number: int) -> list[str]:
        self.lines, self.number = [], number
        found = list(elements(rung.network))
        self.written = frozenset(e.name for e in found if isinstance(e, Coil)) | {
            name
            for e in found
            if isinstance(e, Block)
            for name in [n for _, n in e.outputs] + [f"{e.instance}.{pin}" for pin in BLOCKS[e.type].outputs]
        }
        self.power(rung.network, None)
        return self.lines

    def helper(self, base: str) -> str:
        """A name that is not taken."""
        name, count = base, 1
        while name.upper() in self.used:
            count += 1
            name = f"{base}_{count}"
        self.used.add(name.upper())
        return name

    # ---- power on the right of a network, as text; None is the left rail

    def power(self, node: Power, left: _Text | None, *, needed: bool = False) -> _Text | None:
        """Write what `node` does; `needed` if the power on its right is wanted afterwards."""
        if isinstance(node, Series):
            acting = sum(_acts(item) for item in node.items)
            for item in node.items:
                if _acts(item):
                    acting -= 1
                wanted = needed or acting > 0
                if wanted and _acts(item) and not isinstance(item, Block):
                    left = self.kept(left)
                left = self.power(item, left, needed=wanted)
            return left
        if isinstance(node, Parallel) and _acts(node):
            left = self.kept(left)
            # a branch's power is fixed before the next branch may change what it reads
            arms = [self.kept(self.power(arm, left, needed=needed)) if needed else self.power(arm, left)
                    for arm in node.items]  # fmt: skip
            return None if None in arms else _join("OR", _OR, [a for a in arms if a])
        if isinstance(node, Coil):
            self.coil(node, left or _Text("TRUE"))
            return left
        if isinstance(node, Block):
            return self.block(node, left or _Text("TRUE"))
        own = self.value(node)
        return own if left is None else _join("AND", _AND, [left, own])

    def kept(self, left: _Text | None) -> _Text | None:
        """A condition that is wanted more than once: as it is if short and not disturbed, otherwise a helper bit."""
        if left is None or (len(left.text) <= _SHORT and not left.names & self.written):
            return left
        name = self.helper(f"RUNG{self.number}")
        self.lines.append(f"{name} := {left.text};")
        return _Text(name, _ATOM, frozenset([name]))

    def value(self, node: Power) -> _Text:
        if isinstance(node, Constant):
            return _Text("TRUE" if node.value else "FALSE")
        if isinstance(node, Contact):
            plain = _Text(node.name, _ATOM, frozenset([node.name]))
            if node.kind in ("P", "N"):
                return self.transition(plain, node.kind, node.name.replace(".", "_"))
            return _negated(plain) if node.kind else plain
        if isinstance(node, Not):
            return _negated(self.value(node.of))
        if isinstance(node, Series):
            return _join("AND", _AND, [self.value(item) for item in node.items])
        if isinstance(node, Parallel):
            return _join("OR", _OR, [self.value(item) for item in node.items])
        if isinstance(node, Xor):
            return _join("XOR", _XOR, [self.value(item) for item in node.items])
        raise AssertionError(node)  # coils and blocks are handled by power()

    def transition(self, now: _Text, kind: str, base: str) -> _Text:
        """One scan of TRUE at a change, from a bit that remembers the last value."""
        was = self.helper(f"{base}_WAS")
        edge = self.helper(f"{base}_{'RISES' if kind == 'P' else 'FALLS'}")
        terms = [now, _Text(f"NOT {was}")] if kind == "P" else [_Text(was), _negated(now)]
        self.lines.append(f"{edge} := {_join('AND', _AND, terms).text};")
        self.lines.append(f"{was} := {now.text};")
        return _Text(edge, _ATOM, frozenset([edge]))

    def coil(self, node: Coil, power: _Text) -> None:
        own = _Text(node.name)
        if node.kind == "S":
            value = _join("OR", _OR, [power, own])
        elif node.kind == "R":
            value = _join("AND", _AND, [own, _negated(power)])
        elif node.kind == "/":
            value = _negated(power)
        elif node.kind in ("P", "N"):
            value = self.transition(power, node.kind, node.name)
        else:
            value = power
        self.lines.append(f"{node.name} := {value.text};")

    def block(self, node: Block, power: _Text) -> _Text:
        kind = BLOCKS[node.type]
        pins = [f"{kind.inputs[0]} := {power.text}"]
        pins += [f"{pin} := {self.value(feed).text}" for pin, feed in node.inputs]
        pins += [f"{pin} := {preset.text}" for pin, preset in node.presets]
        pins += [f"{pin} => {name}" for pin, name in node.outputs]
        self.lines.append(f"{node.instance}({', '.join(pins)});")
        return _Text(f"{node.instance}.{kind.outputs[0]}")  # not changed again in this rung: no name to guard


def _acts(node: Power) -> bool:
    return any(isinstance(e, Coil | Block) for e in elements(node))


def _negated(e: _Text) -> _Text:
    return _Text(f"NOT {e.inside(_AND)}", _ATOM, e.names)


def _join(word: str, level: int, items: list[_Text]) -> _Text:
    if len(items) == 1:
        return items[0]
    # an operand of the same operator needs no parentheses: (A AND B) AND C is A AND B AND C
    text = f" {word} ".join(e.inside(level + 1) if e.level == level else e.inside(level) for e in items)
    return _Text(text, level, frozenset().union(*(e.names for e in items)))

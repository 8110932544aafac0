"""Combinational logic as a list of two-input ANDs with inverters, each stored once: what an outside tool can read.

A literal is ``2 * node`` for the node's value and ``2 * node + 1`` for its opposite; node 0 is false (the numbering of
the AIGER format, A. Biere, 2007). Nothing here imports anything, so that a check can start in a few milliseconds.
"""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

__all__ = ["FALSE", "TRUE", "Flat", "Nodes"]

FALSE, TRUE = 0, 1


class Nodes:
    """The list, and the few gates that everything else is made of."""

    def __init__(self) -> None:
        self.fan: list[tuple[int, int] | None] = [None]
        self.depends = [0]
        """Per node what it depends on: 1 inputs, 2 latches, 3 both."""
        self._known: dict[tuple[int, int], int] = {}

    def free(self, *, latch: bool = False) -> int:
        """A new literal that nothing drives: an input or a latch."""
        self.fan.append(None)
        self.depends.append(2 if latch else 1)
        return 2 * len(self.fan) - 2

    def both(self, a: int, b: int) -> int:
        """AND."""
        if a > b:
            a, b = b, a
        if a <= TRUE or a == b:
            return b if a else FALSE
        if a ^ b == 1:
            return FALSE
        found = self._known.get((a, b))
        if found is None:
            self.fan.append((a, b))
            self.depends.append(self.depends[a >> 1] | self.depends[b >> 1])
            found = self._known[a, b] = 2 * len(self.fan) - 2
        return found

    def either(self, a: int, b: int) -> int:
        """OR."""
        return self.both(a ^ 1, b ^ 1) ^ 1

    def differ(self, a: int, b: int) -> int:
        """XOR."""
        if a <= TRUE or b <= TRUE or a >> 1 == b >> 1:
            return a ^ b if a <= TRUE or b <= TRUE else (a ^ b) & 1
        return self.either(self.both(a, b ^ 1), self.both(a ^ 1, b))

    def choose(self, which: int, yes: int, no: int) -> int:
        """`yes` where `which` holds, else `no`."""
        if yes == no:
            return yes
        if yes <= TRUE and no <= TRUE:
            return which ^ no
        return self.either(self.both(which, yes), self.both(which ^ 1, no))

    def all_of(self, items: Iterable[int]) -> int:
        """AND of several, as balanced trees: first of those that depend on inputs alone, which can then be merged."""
        return self._tree(items, self.both, TRUE)

    def odd(self, items: Iterable[int]) -> int:
        """XOR of several, the same way."""
        return self._tree(items, self.differ, FALSE)

    def _tree(self, items: Iterable[int], join: Callable[[int, int], int], none: int) -> int:
        kinds: tuple[list[int], ...] = ([], [], [], [])
        for item in items:
            kinds[self.depends[item >> 1]].append(item)
        found = none
        for todo in kinds:
            while len(todo) > 1:
                todo = [join(*todo[i : i + 2]) if i + 1 < len(todo) else todo[i] for i in range(0, len(todo), 2)]
            if todo:
                found = join(found, todo[0])
        return found

    def any_of(self, items: Iterable[int]) -> int:
        """OR of several."""
        return self.all_of([i ^ 1 for i in items]) ^ 1

    # numbers, lowest bit first ---------------------------------------------------------------------
    def plus_one(self, bits: Sequence[int]) -> list[int]:
        """One more, without the carry out of the highest bit."""
        carry, new = TRUE, []
        for bit in bits:
            new.append(self.differ(bit, carry))
            carry = self.both(bit, carry)
        return new

    def minus_one(self, bits: Sequence[int]) -> list[int]:
        """One less, without the borrow."""
        return [b ^ 1 for b in self.plus_one([b ^ 1 for b in bits])]

    def equals(self, bits: Sequence[int], number: int) -> int:
        """Whether the bits are this number."""
        return self.all_of(b ^ (number >> i & 1 ^ 1) for i, b in enumerate(bits))

    def at_least(self, bits: Sequence[int], number: int) -> int:
        """Whether the bits are this number or more (no sign)."""
        if number <= 0:
            return TRUE
        if number >> len(bits):
            return FALSE
        found = TRUE
        for i, bit in enumerate(bits):
            found = self.both(bit, found) if number >> i & 1 else self.either(bit, found)
        return found

    def choose_all(self, which: int, yes: Sequence[int], no: Sequence[int]) -> list[int]:
        """:meth:`choose` bit by bit."""
        return [self.choose(which, y, n) for y, n in zip(yes, no, strict=True)]

    def table(self, rows: int, over: Sequence[int]) -> int:
        """A truth table over literals: bit k of `rows` is the value where they read k, the first as the lowest bit."""
        return self._table(rows, over, len(over), {})

    def _table(self, rows: int, over: Sequence[int], n: int, known: dict[tuple[int, int], int]) -> int:
        if rows == 0:
            return FALSE
        if rows == (1 << (1 << n)) - 1:
            return TRUE
        found = known.get((rows, n))
        if found is None:
            half = 1 << (n - 1)
            low, high = rows & ((1 << half) - 1), rows >> half
            low_node = self._table(low, over, n - 1, known)
            high_node = low_node if low == high else self._table(high, over, n - 1, known)
            found = known[rows, n] = self.choose(over[n - 1], high_node, low_node)
        return found


class Flat:
    """A finite system by itself: inputs, latches that start at 0, ANDs in order, and the outputs.

    Parameters
    ----------
    inputs, latches
        Names. Variables are numbered as in AIGER: inputs from 1, then latches, then ANDs.
    nexts
        Per latch the literal that it takes at each step.
    ands
        Per AND its two literals, both of lower number.
    outputs
        Literals; the first is "bad": the property is that it is never true.
    names
        Of the outputs.
    """

    def __init__(  # noqa: PLR0917 - the order of the file format
        self,
        inputs: Sequence[str],
        latches: Sequence[str],
        nexts: Sequence[int],
        ands: Sequence[tuple[int, int]],
        outputs: Sequence[int],
        names: Sequence[str] = ("bad",),
    ) -> None:
        self.inputs, self.latches, self.nexts = tuple(inputs), tuple(latches), list(nexts)
        self.ands, self.outputs, self.names = list(ands), tuple(outputs), tuple(names)

    def values(self, state: Sequence[int], inputs: Sequence[int]) -> list[int]:
        """Every variable's value, for given latches and inputs: slow, for one step at a time."""
        known = [0, *inputs, *state]
        for a, b in self.ands:
            known.append((known[a >> 1] ^ a & 1) & (known[b >> 1] ^ b & 1))
        return known

    def walk(self, path: Iterable[Sequence[int]]) -> Iterator[tuple[int, ...]]:
        """The outputs at each step of a path of inputs."""
        state = [0] * len(self.latches)
        for inputs in path:
            known = self.values(state, inputs)
            yield tuple(known[o >> 1] ^ o & 1 for o in self.outputs)
            state = [known[n >> 1] ^ n & 1 for n in self.nexts]

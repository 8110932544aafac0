"""A program as gates: one scan of its operation list over literals, timers and counters as binary numbers of scans.

Written from the meaning of the blocks (IEC 61131-3), apart from the generated Python that the bench runs: the two are
held against each other in ``tests/verify``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from labkit.logic import Lowered, Op
from labkit.verify._nodes import FALSE, TRUE, Nodes

__all__ = ["Cells", "Gates"]

Cells = dict[str, list[int]]
"""Hidden memory: per part of a block or edge its literals, lowest bit first."""

WIDE = 16
"""Bits of a counter that counts both ways, as its INT."""

_COUNTERS = ("CTU", "CTD", "CTUD")
_TIMERS = ("TON", "TOF", "TP")


class Gates:
    """One program as gates.

    Parameters
    ----------
    nodes
        Where the gates go.
    lowered
        The program.
    scan_us
        From one scan to the next.
    over
        Per timer that is not counted, by instance name: a literal "its time is over now".
    """

    def __init__(self, nodes: Nodes, lowered: Lowered, scan_us: int, over: dict[str, int]) -> None:
        self.nodes, self.lowered, self.scan_us, self.over = nodes, lowered, scan_us, over
        self.instance = {t.mode: t.instance for t in lowered.timers}
        self.cells: dict[str, int] = {}
        """Every part of the memory and its width in bits."""
        self.owner: dict[str, int] = {}
        """The part's first cell in ``lowered.memory``: what a loss of supply does to it."""
        # a block has one name for all of it, and one for each edge that it remembers
        firsts = {op.cells[0] for op in lowered.ops if op.cells}
        whole = [n.partition(":")[0] if i in firsts else n.replace(":", ".") for i, n in enumerate(lowered.memory)]
        self._names = [n if whole.count(n) == 1 else f"{n}#{i}" for i, n in enumerate(whole)]
        self._parts()

    def _parts(self) -> None:
        for op in self.lowered.ops:
            if not op.cells:
                continue
            parts: dict[str, int] = {}
            name, first = self.name(op.cells[0]), op.cells[0]
            if op.do in _TIMERS:
                scans = self.scans(op.number)
                parts = {f"{name}.running": 1, f"{name}.done": 1}
                if self.instance[first] not in self.over:
                    parts[f"{name}.age"] = (scans - 1).bit_length() if scans > 1 else 0
            elif op.do in _COUNTERS:
                parts = {f"{name}.count": WIDE if op.do == "CTUD" else max(op.number, 0).bit_length()}
                self.owner.update({f"{self.name(c)}.before": c for c in op.cells[1:]})
                self.cells.update({f"{self.name(c)}.before": 1 for c in op.cells[1:]})
            else:
                parts = {f"{name}.before": 1}
            self.cells.update(parts)
            self.owner.update(dict.fromkeys(parts, first))

    def name(self, cell: int) -> str:
        """A cell's name: its block's, or the edge's."""
        return self._names[cell]

    def scans(self, preset_us: int) -> int:
        """Scans from a timer's start to its end: the first scan at which the preset has passed."""
        return max(0, -(-preset_us // self.scan_us))

    def scan(self, bits: Sequence[int], cells: Cells, *, all_over: bool = False) -> tuple[list[int], Cells]:
        """One scan: all bits and cells after it. With `all_over` every timer that ran before has reached its preset."""
        return _Scan(self, bits, cells, all_over).run()


class _Scan:
    def __init__(self, gates: Gates, bits: Sequence[int], cells: Cells, all_over: bool) -> None:
        self.gates, self.nodes = gates, gates.nodes
        self.bits, self.cells, self.all_over = list(bits), dict(cells), all_over
        self.results: dict[int, int] = {}

    def run(self) -> tuple[list[int], Cells]:
        nodes, bits = self.nodes, self.bits
        for op in self.gates.lowered.ops:
            args = [self.results[a] for a in op.args]
            slot = op.slots[0] if op.slots else -1
            if op.do == "load":
                self.results[op.result] = bits[slot]
            elif op.do == "const":
                self.results[op.result] = TRUE if op.number else FALSE
            elif op.do in ("and", "or"):
                self.results[op.result] = (nodes.all_of if op.do == "and" else nodes.any_of)(args)
            elif op.do == "not":
                self.results[op.result] = args[0] ^ 1
            elif op.do == "xor":
                self.results[op.result] = nodes.odd(args)
            elif op.do in ("rise", "fall"):
                before = self.edge(op.cells[0], args[0])
                pair = (args[0], before ^ 1) if op.do == "rise" else (args[0] ^ 1, before)
                self.results[op.result] = nodes.both(*pair)
            elif op.do == "store":
                bits[slot] = args[0]
            elif op.do == "set":
                bits[slot] = nodes.either(bits[slot], args[0])
            elif op.do == "reset":
                bits[slot] = nodes.both(bits[slot], args[0] ^ 1)
            else:
                block: Callable[..., tuple[int, ...]] = getattr(self, op.do)
                for place, value in zip(op.slots, block(op, *args), strict=True):
                    bits[place] = value
        return bits, self.cells

    def edge(self, cell: int, now: int) -> int:
        """What was remembered; from now on `now`."""
        name = f"{self.gates.name(cell)}.before"
        before = self.cells[name][0]
        self.cells[name] = [now]
        return before

    # bistables and edges ----------------------------------------------------------------------------
    def SR(self, op: Op, s: int, r: int) -> tuple[int, ...]:  # noqa: N802 - the block's own name
        return (self.nodes.either(s, self.nodes.both(r ^ 1, self.bits[op.slots[0]])),)

    def RS(self, op: Op, s: int, r: int) -> tuple[int, ...]:  # noqa: N802
        return (self.nodes.both(r ^ 1, self.nodes.either(s, self.bits[op.slots[0]])),)

    def R_TRIG(self, op: Op, clk: int) -> tuple[int, ...]:  # noqa: N802
        return (self.nodes.both(clk, self.edge(op.cells[0], clk) ^ 1),)

    def F_TRIG(self, op: Op, clk: int) -> tuple[int, ...]:  # noqa: N802
        # remembers the opposite, so that a first call with 0 gives a pulse
        return (self.nodes.both(clk ^ 1, self.edge(op.cells[0], clk ^ 1) ^ 1),)

    # timers -----------------------------------------------------------------------------------------
    def _clock(self, op: Op, start: int, running: int) -> tuple[int, list[int]]:
        """``(over now, age if it goes on)``: `start` has just begun, `running` had begun before."""
        nodes, gates = self.nodes, self.gates
        name, scans = gates.name(op.cells[0]), gates.scans(op.number)
        at_once = start if scans == 0 else FALSE
        instance = gates.instance[op.cells[0]]
        if self.all_over:
            return nodes.either(at_once, running), self.cells.get(f"{name}.age", [])
        if instance in gates.over:
            return nodes.either(at_once, nodes.both(running, gates.over[instance])), []
        age = self.cells[f"{name}.age"]
        # running for scans - 1 scans already, this is the one
        over = nodes.both(running, nodes.at_least(age, scans - 1))
        older = [nodes.both(running, bit) for bit in nodes.plus_one(age)]
        return nodes.either(at_once, over), older

    def _keep(self, op: Op, running: int, done: int, age: list[int]) -> None:
        name = self.gates.name(op.cells[0])
        self.cells[f"{name}.running"], self.cells[f"{name}.done"] = [running], [done]
        if f"{name}.age" in self.cells:
            self.cells[f"{name}.age"] = [self.nodes.both(running, bit) for bit in age]

    def _mode(self, op: Op) -> tuple[int, int]:
        name = self.gates.name(op.cells[0])
        return self.cells[f"{name}.running"][0], self.cells[f"{name}.done"][0]

    def TON(self, op: Op, x: int) -> tuple[int, ...]:  # noqa: N802
        nodes = self.nodes
        running, done = self._mode(op)
        start = nodes.all_of((x, running ^ 1, done ^ 1))
        over, age = self._clock(op, start, nodes.both(x, running))
        done = nodes.both(x, nodes.either(done, over))
        self._keep(op, nodes.all_of((x, nodes.either(start, running), over ^ 1)), done, age)
        return (done,)

    def TOF(self, op: Op, x: int) -> tuple[int, ...]:  # noqa: N802
        # "done" stands for: the input was on
        nodes = self.nodes
        running, was_on = self._mode(op)
        start = nodes.both(x ^ 1, was_on)
        over, age = self._clock(op, start, nodes.both(x ^ 1, running))
        running = nodes.all_of((x ^ 1, nodes.either(start, running), over ^ 1))
        self._keep(op, running, x, age)
        return (nodes.either(x, running),)

    def TP(self, op: Op, x: int) -> tuple[int, ...]:  # noqa: N802
        nodes = self.nodes
        running, done = self._mode(op)
        start = nodes.all_of((x, running ^ 1, done ^ 1))
        over, age = self._clock(op, start, running)
        done = nodes.both(x, nodes.either(done, over))
        running = nodes.both(nodes.either(start, running), over ^ 1)
        self._keep(op, running, done, age)
        return (running,)

    # counters ---------------------------------------------------------------------------------------
    def CTU(self, op: Op, cu: int, r: int) -> tuple[int, ...]:  # noqa: N802
        nodes = self.nodes
        name = f"{self.gates.name(op.cells[0])}.count"
        up = nodes.both(cu, self.edge(op.cells[1], cu) ^ 1)
        if op.number <= 0:
            return (TRUE,)
        count = self.cells[name]
        up = nodes.both(up, nodes.equals(count, op.number) ^ 1)
        count = nodes.choose_all(up, nodes.plus_one(count), count)
        self.cells[name] = count = [nodes.both(bit, r ^ 1) for bit in count]
        return (nodes.equals(count, op.number),)

    def CTD(self, op: Op, cd: int, ld: int) -> tuple[int, ...]:  # noqa: N802
        nodes = self.nodes
        name = f"{self.gates.name(op.cells[0])}.count"
        down = nodes.both(cd, self.edge(op.cells[1], cd) ^ 1)
        if op.number <= 0:
            return (TRUE,)
        count = self.cells[name]
        down = nodes.both(down, nodes.any_of(count))
        count = nodes.choose_all(down, nodes.minus_one(count), count)
        loaded = [TRUE if op.number >> i & 1 else FALSE for i in range(len(count))]
        self.cells[name] = count = nodes.choose_all(ld, loaded, count)
        return (nodes.any_of(count) ^ 1,)

    def CTUD(self, op: Op, cu: int, cd: int, r: int, ld: int) -> tuple[int, ...]:  # noqa: N802
        nodes = self.nodes
        name = f"{self.gates.name(op.cells[0])}.count"
        up = nodes.both(cu, self.edge(op.cells[1], cu) ^ 1)
        down = nodes.both(cd, self.edge(op.cells[2], cd) ^ 1)
        count = self.cells[name]
        top, bottom = (1 << WIDE - 1) - 1, 1 << WIDE - 1
        more = nodes.all_of((up, down ^ 1, nodes.equals(count, top) ^ 1))
        less = nodes.all_of((down, up ^ 1, nodes.equals(count, bottom) ^ 1))
        count = nodes.choose_all(more, nodes.plus_one(count), nodes.choose_all(less, nodes.minus_one(count), count))
        loaded = [TRUE if op.number >> i & 1 else FALSE for i in range(WIDE)]
        count = [nodes.both(bit, r ^ 1) for bit in nodes.choose_all(nodes.both(ld, r ^ 1), loaded, count)]
        self.cells[name] = count
        negative, zero = count[-1], nodes.any_of(count) ^ 1
        # with the sign turned over, order is that of plain numbers
        enough = nodes.at_least([*count[:-1], negative ^ 1], op.number + bottom)
        return enough, nodes.either(negative, zero)

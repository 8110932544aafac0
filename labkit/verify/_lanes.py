"""Every reachable state of a finite system, all inputs of a state at once in the bits of long integers.

1. Inputs that no gate can tell apart are merged into classes: each gate of inputs alone is worked out as a truth table.
2. Per state every gate is worked out once, one bit lane per class; the lanes are then split by the next-state bits that
   differ, so only distinct successors are visited.
3. Breadth first, so that the first bad state is at the end of a shortest path. Levels are kept, no parents: the way
   back is found by working out one level at a time.
4. Past some thousand states the frontier goes through numpy, which is loaded only then (``_wide.py``).

Nothing here imports more than the node list, so that a check can start in a few milliseconds.
"""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from labkit.verify._nodes import Flat

__all__ = ["MOST_WORK", "Classes", "Result", "alternating", "explore"]

MOST_INPUTS = 20
"""Free inputs of one scan, at most: 2 ** 20 combinations are 128 KiB per gate."""

MOST_WORK = 20_000_000
"""Gates times words of 64 lanes, and successors, that are worked out before a check gives up: some ten seconds."""

WIDE_FROM = 4_000
"""States from which numpy is quicker, its import included."""

MOST_LANE_BITS = 1 << 28
"""Bits of all successors' lanes of one state together: 32 MiB. Beyond that numpy takes the level."""

NARROW = 48
"""States of a level below which numpy's calls cost more than they save."""

MOST_LATCHES = 62
"""State bits that numpy packs into one word."""

MOST_COMPILED = 20_000
"""Gates that are made into one Python function; more are worked out from the list."""


class Result:
    """What an exploration came to; see :class:`labkit.verify._search.Found`. `path` holds input bits per step."""

    def __init__(  # noqa: PLR0917
        self, outcome: str, states: int, depth: int, triggered: bool, path: Sequence[tuple[int, ...]] = (),
        bound: str = "",
    ) -> None:  # fmt: skip
        self.outcome, self.states, self.depth, self.triggered = outcome, states, depth, triggered
        self.path, self.bound = tuple(path), bound


class Classes:
    """Inputs merged into classes, as far as the gates can tell them apart.

    Parameters
    ----------
    flat
        The system.

    Attributes
    ----------
    lanes
        How many classes.
    fixed
        Per variable that depends on inputs alone and is wanted elsewhere: its value, one bit per class.
    depends
        Per variable 0 (neither), 1 (inputs alone), 2 (latches alone), 3 (both).
    """

    def __init__(self, flat: Flat) -> None:
        n_in, n_latch = len(flat.inputs), len(flat.latches)
        self.inputs = n_in
        depends = [0] + [1] * n_in + [2] * n_latch
        for a, b in flat.ands:
            depends.append(depends[a >> 1] | depends[b >> 1])
        self.depends = depends
        first = 1 + n_in + n_latch
        wanted = {lit >> 1 for lit in (*flat.nexts, *flat.outputs)}
        for n, (a, b) in enumerate(flat.ands, first):
            if depends[n] & 2:
                wanted |= {a >> 1, b >> 1}
        self.cuts = sorted(n for n in wanted if depends[n] == 1)
        every = (1 << (1 << n_in)) - 1
        tables = {0: 0}
        for i in range(n_in):
            tables[i + 1] = alternating(1 << i, 1 << n_in)
        for n, (a, b) in enumerate(flat.ands, first):
            if depends[n] == 1:
                va, vb = tables[a >> 1], tables[b >> 1]
                tables[n] = (va ^ every if a & 1 else va) & (vb ^ every if b & 1 else vb)
        self._merge([tables[n] for n in self.cuts], every)
        self.fixed = {
            n: tables[n] if self.chosen is None else sum((tables[n] >> k & 1) << c for c, k in enumerate(self.chosen))
            for n in self.cuts
        }

    def _merge(self, tables: list[int], every: int) -> None:
        self.chosen: list[int] | None = None
        self.lanes = 1 << self.inputs
        groups = [every]
        for table in tables:
            parts = []
            for group in groups:
                yes = group & table
                no = group ^ yes
                parts += [part for part in (yes, no) if part]
            groups = parts
            if 2 * len(groups) > self.lanes or len(groups) << self.inputs > 2 * MOST_LANE_BITS:
                return
        chosen = sorted((group & -group).bit_length() - 1 for group in groups)
        self.chosen, self.lanes = chosen, len(chosen)

    def bits(self, lane: int) -> tuple[int, ...]:
        """Input bits that stand for a class."""
        number = lane if self.chosen is None else self.chosen[lane]
        return tuple(number >> i & 1 for i in range(self.inputs))


def alternating(run: int, size: int) -> int:
    """`size` lanes: `run` times 0, `run` times 1, and so on."""
    pattern, length = ((1 << run) - 1) << run, 2 * run
    while length < size:
        pattern |= pattern << length
        length *= 2
    return pattern


def _literal(lit: int) -> str:
    if lit <= 1:
        return "A" if lit else "0"
    return f"(v{lit >> 1} ^ A)" if lit & 1 else f"v{lit >> 1}"


def _stepper(flat: Flat, classes: Classes) -> Callable[[int], tuple[int, ...]]:
    """``step(state) -> (bad, cause, *next bits)``, each one lane per class; bit k of `state` is latch k."""
    first_latch = 1 + len(flat.inputs)
    first_and = first_latch + len(flat.latches)
    if len(flat.ands) > MOST_COMPILED:
        return _by_list(flat, classes)
    lines = [f"v{first_latch + k} = A if s >> {k} & 1 else 0" for k in range(len(flat.latches))]
    for n, (a, b) in enumerate(flat.ands, first_and):
        if classes.depends[n] == 1:
            continue
        if a & b & 1:  # a negation costs a whole operation: one instead of two
            lines.append(f"v{n} = (v{a >> 1} | v{b >> 1}) ^ A")
        elif (a | b) & 1:
            x, y = (b, a) if a & 1 else (a, b)
            lines.append(f"v{n} = v{x >> 1} & (v{y >> 1} ^ A)")
        else:
            lines.append(f"v{n} = v{a >> 1} & v{b >> 1}")
    back = ", ".join(_literal(lit) for lit in (*flat.outputs, *flat.nexts))
    fixed = "".join(f", v{n}=v{n}" for n in classes.fixed)
    body = "".join(f"    {line}\n" for line in lines)
    space: dict[str, object] = {f"v{n}": value for n, value in classes.fixed.items()}
    space["A"] = (1 << classes.lanes) - 1
    exec(f"def step(s, A=A{fixed}):\n{body}    return {back},\n", space)
    return space["step"]  # type: ignore[return-value]  # exec gives object


def _by_list(flat: Flat, classes: Classes) -> Callable[[int], tuple[int, ...]]:
    every = (1 << classes.lanes) - 1
    first_latch = 1 + len(flat.inputs)
    start = [classes.fixed.get(n, 0) for n in range(first_latch)]
    ands = [(a >> 1, every if a & 1 else 0, b >> 1, every if b & 1 else 0) for a, b in flat.ands]
    kept = {n: v for n, v in classes.fixed.items() if n >= first_latch}
    roots = [(lit >> 1, every if lit & 1 else 0) for lit in (*flat.outputs, *flat.nexts)]

    def step(state: int) -> tuple[int, ...]:
        values = [*start, *(every if state >> k & 1 else 0 for k in range(len(flat.latches)))]
        add = values.append
        for a, na, b, nb in ands:
            fixed = kept.get(len(values)) if kept else None
            add((values[a] ^ na) & (values[b] ^ nb) if fixed is None else fixed)
        return tuple([values[n] ^ turned for n, turned in roots])

    return step


def _followers(nexts: tuple[int, ...], every: int, most: int) -> list[tuple[int, int]]:
    """``(lanes, next state)`` per distinct successor; `nexts` begin at index 2.

    Raises
    ------
    OverflowError
        If there are more than `most`: each costs an integer as long as there are lanes.
    """
    base, bit = 0, 1
    groups: list[tuple[int, int]] = [(every, 0)]
    for value in nexts[2:]:
        if value:
            if value == every:
                base |= bit
            else:
                parts = []
                for lanes, code in groups:
                    yes = lanes & value
                    if yes:
                        parts.append((yes, code | bit))
                        lanes ^= yes
                    if lanes:
                        parts.append((lanes, code))
                groups = parts
                if len(groups) > most:
                    raise OverflowError
        bit <<= 1
    return [(lanes, code | base) for lanes, code in groups]


class _Search:
    """The state of an exploration that numpy may take over."""

    def __init__(self, flat: Flat, most_states: int, most_scans: int | None, most_work: int) -> None:
        self.flat, self.most_states, self.most_scans, self.most_work = flat, most_states, most_scans, most_work
        self.packs = len(flat.latches) <= MOST_LATCHES
        self.classes = Classes(flat)
        self.step = _stepper(flat, self.classes)
        self.every = (1 << self.classes.lanes) - 1
        self.most_groups = max(512, MOST_LANE_BITS // self.classes.lanes)
        self.seen = {0}
        self.levels: list[Sequence[int]] = [[0]]
        self.triggered = False
        self.work, self.narrow = 0, NARROW
        # what one state costs, in gates times words
        self.effort = 1 + len(flat.ands) // 4 + len(flat.ands) * (self.classes.lanes >> 8) // 4

    def stop(self, outcome: str, bound: str = "", path: Sequence[tuple[int, ...]] = ()) -> Result:
        """The result, at the depth reached so far."""
        depth = len(path) if path else len(self.levels) - 1
        return Result(outcome, len(self.seen), depth, self.triggered, path, bound)

    def exceeded(self) -> str:
        """The bound that is passed, or nothing."""
        if self.work > self.most_work:
            return f"{self.most_work} gates and successors worked out"
        return f"{self.most_states} states" if len(self.seen) > self.most_states else ""

    def run(self, wide_from: int) -> Result | None:
        """Level by level; None once there are `wide_from` states."""
        step, every, seen = self.step, self.every, self.seen
        while self.levels[-1]:
            if self.most_scans is not None and len(self.levels) > self.most_scans:
                return self.stop("undecided", f"{self.most_scans} scans")
            following: list[int] = []
            for state in self.levels[-1]:
                values = step(state)
                if values[0]:
                    self.triggered = True
                    return self.stop("fails", path=self.way_to(state, _lowest(values[0])))
                if values[1]:
                    self.triggered = True
                try:
                    groups = _followers(values, every, self.most_groups)
                except OverflowError:
                    if not self.packs:
                        return self.stop("undecided", f"{self.most_groups} successors of one state")
                    seen.difference_update(following)
                    return None
                self.work += self.effort + len(groups)
                for _, code in groups:
                    if code not in seen:
                        seen.add(code)
                        following.append(code)
                if bound := self.exceeded():
                    return self.stop("undecided", bound)
            self.levels.append(following)
            if len(seen) >= wide_from and len(following) > NARROW:
                return None
        del self.levels[-1]
        return self.stop("holds")

    def look(self, level: Sequence[int]) -> tuple[list[int], tuple[int, int] | None]:
        """Next states of a level, some more than once, and a bad ``(state, lane)`` if there is one.

        Raises
        ------
        OverflowError
            If one state has too many.
        """
        found = []
        for state in level:
            values = self.step(state)
            if values[0]:
                return [], (state, _lowest(values[0]))
            self.triggered = self.triggered or bool(values[1])
            groups = _followers(values, self.every, self.most_groups)
            self.work += self.effort + len(groups)
            found += [code for _, code in groups]
        return found, None

    def way_to(self, state: int, lane: int) -> list[tuple[int, ...]]:
        """Inputs from the start to `state` of the last level, and then those of `lane`."""
        path = [self.classes.bits(lane)]
        for level in reversed(self.levels[:-1]):
            state, lane = self.before(level, state)
            path.append(self.classes.bits(lane))
        return path[::-1]

    def before(self, level: Sequence[int], target: int) -> tuple[int, int]:
        """A state of the level and a lane that leads from it to the target."""
        bits = [self.every if target >> k & 1 else 0 for k in range(len(self.flat.latches))]
        for state in level:
            lanes = self.every
            for value, bit in zip(self.step(state)[2:], bits, strict=True):
                lanes &= value ^ bit ^ self.every
                if not lanes:
                    break
            if lanes:
                return state, _lowest(lanes)
        raise AssertionError("a state without a way to it")


def _lowest(lanes: int) -> int:
    return (lanes & -lanes).bit_length() - 1


def _numpy() -> Callable[[_Search], Result]:
    from labkit.verify._wide import run_wide

    return run_wide


def explore(
    flat: Flat,
    *,
    most_states: int = 1_000_000,
    most_scans: int | None = None,
    most_work: int = MOST_WORK,
    wide: Callable[[], Callable[[_Search], Result]] = _numpy,
) -> Result:
    """Visit every reachable state: the outcome, the number of states, and a shortest path to a bad one.

    `wide` brings in what goes on past some thousand states.
    """
    if len(flat.inputs) > MOST_INPUTS:
        return Result("undecided", 1, 0, False, bound=f"{1 << len(flat.inputs)} combinations of what may happen")
    search = _Search(flat, most_states, most_scans, most_work)
    found = search.run(WIDE_FROM if search.packs else most_states + 1)
    if found is None:
        found = wide()(search)
    return found

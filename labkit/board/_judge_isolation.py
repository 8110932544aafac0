"""Which breaker isolates what: advice where it is not the one of the board's drawing, or none.

Such a wiring works, so nothing else tells of it. But who locks a breaker out relies on what it isolates (29 CFR
1910.147(d)(3) and (d)(6)), and who reads its rating on what it protects.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import chain

from labkit.board._landing import landed
from labkit.board._trial import DEAD_V, Trial, shown
from labkit.board.catalogue import Breaker, FusePart
from labkit.board.findings import Finding
from labkit.board.wiring import Wire
from labkit.circuit import CircuitError, Resistor, Solver

__all__ = ["isolation"]

LOAD_OHM = 5000.0  # about an input: tells a terminal that is fed from one that floats
_SOURCES = ("terminal_strip", "supply", "breaker", "fuse")
_MOST = 4  # names in one sentence

Joins = frozenset[frozenset[str]]


@dataclass(frozen=True, slots=True)
class _Target:
    """Something that is live when all is on: its name, the terminal, and the positions that show it."""

    name: str
    terminal: str
    moves: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class _Feed:
    """The wire by which something is fed, from a bar, a breaker or the supply."""

    wire: Wire
    source: str
    end: str


@dataclass(slots=True)
class _Breakers:
    """What opening the breakers of one wired board does."""

    trial: Trial
    every: tuple[str, ...] = field(init=False)
    _open: dict[str, str] = field(init=False)
    _solver: Solver = field(init=False)

    def __post_init__(self) -> None:
        self._open = {fuse.actor: fuse.open_state for fuse in self.trial.electrical.fuses}
        self.every = tuple(self._open)
        tested = dict.fromkeys(self._tested())
        loads = (Resistor(f" test load {t}", t, self.trial.minus, LOAD_OHM) for t in tested if t != self.trial.minus)
        self._solver = Solver(self.trial.electrical.circuit.with_elements(*loads))

    def _tested(self) -> Iterator[str]:
        electrical = self.trial.electrical
        yield from chain.from_iterable(self.ends(name) for name in self.every)
        yield from (feed.plus for feed in electrical.supplies)
        yield from (out.group_plus for out in electrical.outputs)
        yield from (sensor.plus for sensor in electrical.sensors)
        yield from chain.from_iterable((c.terminal, c.common) for c in electrical.inputs)
        yield from chain.from_iterable((lamp.a, lamp.b) for lamp in electrical.lamps)
        yield from chain.from_iterable((coil.a, coil.b) for coil in electrical.coils)

    def ends(self, name: str) -> tuple[str, str]:
        """The two terminals of a breaker."""
        part = self.trial.board.part(name)
        entry = part.entry
        assert isinstance(entry, Breaker | FusePart)
        return part.terminal(entry.a), part.terminal(entry.b)

    def volts(
        self, terminal: str, moves: Mapping[str, str], out: Collection[str] = (), lifted: Collection[str] = ()
    ) -> float:
        """Volts at a loaded terminal with these breakers open and these wires lifted."""
        key = self.trial.electrical.key({**self.trial.on, **moves, **{name: self._open[name] for name in out}})
        solution = self._solver.vary(key, opened=lifted) if lifted else self._solver.solve(key)
        return abs(solution.volt(terminal, self.trial.minus))

    def live(self, target: _Target, out: Collection[str] = (), lifted: Collection[str] = ()) -> bool:
        """Whether it is fed with these breakers open and these wires lifted."""
        return self.volts(target.terminal, target.moves, out, lifted) > DEAD_V

    def isolators(self, target: _Target) -> frozenset[str]:
        """The breakers that make it dead, each by itself."""
        return frozenset(name for name in self.every if not self.live(target, (name,)))

    def feed(self, target: _Target, out: Collection[str] = (), drawn: Joins = frozenset()) -> _Feed | None:
        """The wire that keeps it live with these breakers open; one that the board's drawing has not comes first."""
        found: list[tuple[bool, float, int, _Feed]] = []
        for wire in self.trial.wiring:
            for source, end in ((wire.a, wire.b), (wire.b, wire.a)):
                if not self._is_source(source) or self._is_source(end):
                    continue
                if not self.live(target, out, (wire.element,)):
                    volts = self.volts(source, target.moves, out)
                    found.append((wire.ends in drawn, -volts, len(found), _Feed(wire, source, end)))
        return min(found)[3] if found else None

    def _is_source(self, terminal: str) -> bool:
        return self.trial.board.part(terminal.partition(":")[0]).kind in _SOURCES

    def targets(self) -> Iterator[_Target]:
        """Supplies of controller, output groups and sensors; points that work; loads that no output drives."""
        electrical, board = self.trial.electrical, self.trial.board
        yield from (_Target(feed.plus, feed.plus, {}) for feed in electrical.supplies)
        groups = {out.group_plus: out.group for out in electrical.outputs}
        yield from (_Target(f"{plus} (output group {name})", plus, {}) for plus, name in groups.items())
        yield from (_Target(s.part, s.plus, {}) for s in electrical.sensors if s.output != "2-wire")
        yield from self._points()
        driven = {point.device for point in board.points.values() if point.direction == "output"}
        everything = self.trial.everything
        loads = [(lamp.part, lamp.a, lamp.b) for lamp in electrical.lamps]
        loads += [(coil.part, coil.a, coil.b) for coil in electrical.coils]
        for part, a, b in loads:
            if part not in driven:  # an output that gets a second feed sends it on to its group: that is told
                yield _Target(part, self._hotter(a, b, everything), everything)

    def _points(self) -> Iterator[_Target]:
        """Inputs that are on with their devices so; as many as can be at once."""
        channels = {c.point: c for c in self.trial.electrical.inputs}
        waiting = [p for p in self.trial.board.points.values() if p.point in channels and p.on_when]
        waiting = [p for p in waiting if set(p.on_when) <= self.trial.electrical.actors.keys()]
        while waiting:
            moves: dict[str, str] = {}
            now = []
            for point in waiting:
                if all(moves.get(actor, state) == state for actor, state in point.on_when.items()):
                    moves |= point.on_when
                    now.append(point)
            solution = self.trial.at(moves)
            for point in now:
                it = channels[point.point]
                if it.grade(solution.volt(it.terminal, it.common), solution.amps(it.element)) == "on":
                    yield _Target(f"{point.point} ({point.tag})", self._hotter(it.terminal, it.common, moves), moves)
            waiting = [p for p in waiting if p not in now]

    def _hotter(self, a: str, b: str, moves: Mapping[str, str]) -> str:
        return a if self.volts(a, moves) >= self.volts(b, moves) else b


@dataclass(frozen=True, slots=True)
class _Astray:
    """A target that a breaker does not isolate as it should."""

    target: _Target
    feed: _Feed | None
    missing: frozenset[str]
    """The breakers of the drawing that do not isolate it."""
    past: bool
    """Whether no breaker does."""
    home: str
    """The bar or breaker that the drawing feeds it from."""

    @property
    def upstream(self) -> bool:
        """Whether it hangs where the drawing has it, so that its bar or breaker is what is fed otherwise."""
        return self.feed is not None and self.feed.source == self.home

    @property
    def at(self) -> str:
        """The terminal to name."""
        if self.feed is None:
            return self.target.terminal
        return self.feed.source if self.upstream else self.feed.end


def isolation(trial: Trial) -> Iterator[Finding]:
    """Breakers that are bypassed, and what is fed past the breaker that isolates it on the board's drawing."""
    now = _Breakers(trial)
    if not now.every:
        return
    drawn = frozenset(wire.ends for wire in trial.board.wiring)
    behind: set[str] = set()
    for finding, net in _bypassed(now, drawn):
        behind |= net
        yield finding
    told: dict[tuple[str, bool, frozenset[str]], list[_Astray]] = {}
    for it in _astray(now, drawn):
        if (it.feed.source if it.feed else it.target.terminal) not in behind:  # else the bypass is the cause
            told.setdefault((it.at, it.past, it.missing), []).append(it)
    yield from (_said(now, rows) for rows in told.values())


def _astray(now: _Breakers, drawn: Joins) -> Iterator[_Astray]:
    drawing, known = _as_drawn(now.trial)
    for target in now.targets():
        if not now.live(target):
            continue
        as_drawn, wanted = known.get(target.name, (None, frozenset[str]()))
        past, missing = now.live(target, now.every), wanted - now.isolators(target) if wanted else frozenset[str]()
        if past or missing:
            feed = now.feed(target, now.every if past else sorted(missing), drawn)
            home = drawing.feed(as_drawn) if drawing and as_drawn else None
            yield _Astray(target, feed, missing, past, home.source if home else "")


def _as_drawn(trial: Trial) -> tuple[_Breakers | None, dict[str, tuple[_Target, frozenset[str]]]]:
    """The board's own wiring, and by name each target there with the breakers that isolate it."""
    own = landed(trial.board, trial.board.wiring)
    if set(own.nets()) == set(trial.wiring.nets()):
        return None, {}  # the same terminals joined: what isolates what is the same
    try:
        drawing = _Breakers(trial.again(own))
        live = [target for target in drawing.targets() if drawing.live(target)]
        return drawing, {target.name: (target, drawing.isolators(target)) for target in live}
    except CircuitError:  # a drawing that gives no voltages names no breaker
        return None, {}


def _bypassed(now: _Breakers, drawn: Joins) -> Iterator[tuple[Finding, frozenset[str]]]:
    """Breakers with voltage on both sides while they are open, and all that hangs on their far side by wire."""
    nets = {terminal: net for net in now.trial.wiring.nets() for terminal in net}
    told: dict[str, list[_Target]] = {}
    for name in now.every:
        a, b = now.ends(name)
        for moves in ({}, now.trial.everything):
            if min(now.volts(a, moves, (name,)), now.volts(b, moves, (name,))) > DEAD_V:
                # fed from below: its other end is live with every breaker open
                far = a if now.volts(b, moves, now.every) > DEAD_V >= now.volts(a, moves, now.every) else b
                target = _Target(name, far, moves)
                told.setdefault(_culprit(now, target, drawn), []).append(target)
                break
    for culprit, fars in told.items():
        first, names, one = fars[0], _listed([far.name for far in fars]), len(fars) == 1
        volts = shown(now.volts(first.terminal, first.moves, (first.name,)))
        what = f"{first.terminal} still has {volts} with {first.name} open, fed past it"
        what += f" by {culprit}. " if culprit else ". "
        if one:
            what += f"{names} no longer protects or isolates what it feeds: with it locked out that stays live."
        else:
            what += f"{names} no longer protect or isolate what they feed: with one locked out that stays live."
        try_this = f"Lift {culprit}." if culprit else f"Follow the wires at {first.terminal}."
        net = frozenset[str]().union(*(nets.get(far.terminal, frozenset((far.terminal,))) for far in fars))
        yield Finding("breaker-bypassed", first.terminal, what, try_this, "advice"), net


def _culprit(now: _Breakers, far: _Target, drawn: Joins) -> str:
    """The wire that feeds a breaker's far side past it, if one alone can be named."""
    cuts = [w for w in now.trial.wiring if not now.live(far, (far.name,), (w.element,))]
    cuts = [w for w in cuts if now.live(far, (), (w.element,))]  # without what feeds the breaker itself
    new = [w for w in cuts if w.ends not in drawn] or cuts
    return f"wire {new[0].no}" if len(new) == 1 else ""


def _said(now: _Breakers, rows: list[_Astray]) -> Finding:
    first = rows[0]
    names = list(dict.fromkeys(it.target.name for it in rows))
    if len(names) > 1 and names[1].endswith(f"({names[0]})"):  # a sensor and its point: the point names both
        names = names[1:]
    one = len(names) == 1
    them, stay = ("it", "it stays") if one else ("them", "they stay")
    what = f"{_listed(names)} {'is' if one else 'are'} fed "
    what += f"from {first.feed.source}" if first.feed else "from elsewhere besides"
    if first.feed and not first.upstream:
        what += f" by wire {first.feed.wire.no}"
    others = [name for name in now.every if name not in first.missing]
    others = [name for name in others if not now.live(first.target, (*first.missing, name))]
    if first.past:
        what += ", ahead of every breaker"
    elif others:
        what += f", behind {_listed(others)}"
    if first.missing:
        lot, several = _listed(sorted(first.missing)), len(first.missing) > 1
        what += (
            f". {lot}, which {'isolate' if several else 'isolates'} {them} on the board's drawing, neither "
            f"{'protect nor isolate' if several else 'protects nor isolates'} {them} here: with {lot} locked out "
            f"{stay} live."
        )
    else:
        what += f". No breaker protects or isolates {them}: with all of them open {stay} live."
    if first.home and not first.upstream:
        try_this = f"Feed {first.at} from {first.home}, as the board's drawing has it."
    else:
        try_this = f"Feed {first.at} from behind a breaker." if first.past else f"Follow the wires at {first.at}."
    if first.past:
        return Finding("past-breaker", first.at, what, try_this, "advice")
    return Finding("other-breaker", first.at, what, try_this, "advice")


def _listed(names: list[str]) -> str:
    if len(names) > _MOST:
        return f"{', '.join(names[:_MOST])} and {len(names) - _MOST} more"
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)

"""What a power gate asks for on this board as it is wired now, and what shows it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from labkit.bench.meter import PROVING
from labkit.board import Board, Contact, SwitchPart, Wiring

if TYPE_CHECKING:
    from labkit.bench.front import Bench

__all__ = ["CHANGES", "DEAD_V", "Evidence", "Need", "needs_of"]

CHANGES = frozenset(
    {"wire", "unwire", "rewire", "lift", "land", "join", "unjoin", "joint"}
    | {"seat", "park", "pull", "remove", "fit", "swap", "repair"}
)
"""Deeds after which the board is another one, and readings taken before say nothing."""

DEAD_V = 0.5
"""Below this the simulated board counts as dead (common practice, no source: "0 V" on the meter's lowest step)."""
SHORT_OHM = 5.0  # a supply's rails must not read less (common practice, no source)
JOINED_OHM = 2.0  # a wire or a closed contact is below (the trade says 1 ohm; long leads and joints come on top)
OPEN_OHM = 100.0
KNOWN_V = 24.0

Judged = tuple[bool, str]


@dataclass(frozen=True, slots=True)
class Evidence:
    """A reading or a note, and its place in the log."""

    place: int
    mode: str
    red: str = ""
    black: str = ""
    value: float | None = None
    live: bool = False
    seen: str = ""

    @classmethod
    def of_reading(cls, what: Mapping[str, Any], place: int) -> Evidence:
        """From a line of the log."""
        return cls(
            place, str(what["mode"]), what.get("red", ""), what.get("black", ""), what["value"], bool(what["live"])
        )

    @classmethod
    def of_note(cls, what: Mapping[str, Any], place: int) -> Evidence:
        """From a line of the log."""
        return cls(place, "note", red=str(what["what"]), seen=str(what["seen"]))

    @property
    def ends(self) -> frozenset[str]:
        """Where the probes were."""
        return frozenset((self.red, self.black))

    @property
    def joined(self) -> bool:
        """Whether it shows that the two places are one."""
        if self.live or self.value is None:
            return False
        return self.value >= 1 if self.mode == "continuity" else self.mode == "ohms" and self.value < JOINED_OHM


@dataclass(frozen=True, slots=True)
class Need:
    """One row: what is to be shown, where the probes go, what is expected, and the judge of it."""

    id: str
    what: str
    mode: str
    red: str
    black: str
    expected: str
    judge: Callable[[Sequence[Evidence]], Judged]

    @property
    def call(self) -> str:
        """The call at the bench that shows it."""
        if self.mode == "note":
            return f'bench.note("{self.red}", "seated"), after a look at it; or "parked" if it hangs beside its header'
        if (self.red, self.black) == PROVING:
            return "bench.meter.prove()"
        return f'bench.meter.{self.mode}("{self.red}", "{self.black}")'


def needs_of(bench: Bench) -> Iterator[Need]:
    """The rows for a bench as it is wired now, in the order of the work."""
    plan = _Plan(bench.board, bench.wiring)
    pairs = list(plan.pairs())
    known = f"{KNOWN_V:g} V"
    before = "the meter on a known source, before the test"
    yield Need("prove before", before, "volts", *PROVING, known, _proved_before)
    for plus, reference, group in pairs:
        judge = partial(_dead, one=plan.near(plus), other=group)
        what = f"no voltage from {plus} to {reference}"
        yield Need(f"dead {plus} {reference}", what, "volts", plus, reference, "0 V", judge)
    dead = [partial(_dead_at, one=plan.near(plus), other=group) for plus, _, group in pairs]
    after = "the meter on the known source again, after the test"
    yield Need("prove after", after, "volts", *PROVING, known, partial(_proved_after, tests=dead))
    bar = plan.zero_bar
    for plus in plan.live:
        no_short = partial(_no_short, one=plan.near(plus), other=plan.zero)
        expected = f"more than {SHORT_OHM:g} ohm"
        yield Need(f"short {plus}", f"no short from {plus} to {bar}", "ohms", plus, bar, expected, no_short)
    for terminal, pole, partner, right, wrong in plan.polarity():
        joined = partial(_joined, terminal, right, wrong)
        yield Need(f"polarity {terminal}", f"{terminal} on {pole}", "continuity", terminal, partner, "beep", joined)
    for a, b, closed in plan.at_rest():
        word = "closed" if closed else "open"
        expected = f"less than {JOINED_OHM:g} ohm" if closed else f"more than {OPEN_OHM:g} ohm"
        what = f"contact {a} - {b} {word} at rest"
        yield Need(f"rest {a} {b}", what, "ohms", a, b, expected, partial(_at_rest, a, b, closed))
    for block in bench.board.plugs:
        looked = partial(_looked, block, bench.block(block))
        yield Need(f"block {block}", f"{block} looked at", "note", block, "", "seated, or parked on purpose", looked)
    what = "0 V bonded to PE" if plan.bonded else "0 V floating, as drawn"
    bond = partial(_bond, zero=plan.zero, earth=plan.earth, bonded=plan.bonded)
    expected = f"less than {JOINED_OHM:g} ohm" if plan.bonded else "open"
    yield Need("bond", what, "ohms", bar, min(plan.earth_bars), expected, bond)


class _Plan:
    """What the board's own drawing says, for the part of it that is wired now."""

    def __init__(self, board: Board, landed: Wiring) -> None:
        self.board, self.landed = board, landed
        self.earth = board.earth_terminals
        drawn = Wiring(tuple(w for w in board.wiring if not w.ends & self.earth))
        now = Wiring(tuple(w for w in landed if not w.ends & self.earth))
        self._drawn, self._now = drawn.nets(), now.nets()
        self.wired = {t for w in landed for t in w.ends}
        self.minus = {part.terminal(supply.minus) for part, supply in board.supplies}
        self.zero = frozenset().union(self.minus, *(net for net in self._drawn if net & self.minus))
        strips = {
            f"{part.designation}:{name}" for part in board.of_kind("terminal_strip") for name in part.entry.terminals
        }
        self.earth_bars = (strips & self.earth) or self.earth
        self.zero_bar = min((strips & self.zero) or self.zero)
        self.live = self._live(strips)
        self.plus = frozenset().union(*(self._net(t) for t in self.live))
        bond = any(len(w.ends & self.earth) == 1 and w.ends & self.zero for w in board.wiring)
        self.bonded = bond

    def _net(self, terminal: str) -> frozenset[str]:
        return next((net for net in self._drawn if terminal in net), frozenset((terminal,)))

    def near(self, terminal: str) -> frozenset[str]:
        """Where a probe reads the same: the terminal's net as it is wired now."""
        return next((net for net in self._now if terminal in net), frozenset((terminal,)))

    def _live(self, strips: set[str]) -> tuple[str, ...]:
        """Where plus will be: the supply's side, behind each breaker, and at the output groups; one of each net."""
        board = self.board
        wanted = [part.terminal(supply.plus) for part, supply in board.supplies]
        for part in board.of_kind("breaker", "fuse"):
            wanted += [part.terminal(part.entry.named()["a"]), part.terminal(part.entry.named()["b"])]
        for part, entry in board.controllers:
            wanted += [part.terminal(group.plus) for group in entry.output_groups]
        found: dict[frozenset[str], str] = {}
        for terminal in wanted:
            net = self._net(terminal)
            wired = net & self.wired
            if net not in found and wired:
                found[net] = min(wired & strips) if wired & strips else terminal if terminal in wired else min(wired)
        return tuple(found.values())

    def pairs(self) -> Iterator[tuple[str, str, frozenset[str]]]:
        """Each live place against 0 V and against earth, and those two against each other."""
        bar = min(self.earth_bars)
        for plus in self.live:
            yield plus, self.zero_bar, self.zero
            yield plus, bar, self.earth
        yield self.zero_bar, bar, self.earth

    def polarity(self) -> Iterator[tuple[str, str, str, frozenset[str], frozenset[str]]]:
        """Each pole of what minds its polarity: terminal, in words, where to probe, where it belongs, and where not."""
        for terminal, positive in self._poles():
            if terminal not in self.wired:
                continue
            right, wrong = (self.plus, self.zero) if positive else (self.zero, self.plus)
            yield terminal, "plus" if positive else "0 V", self._partner(terminal, right), right, wrong

    def _partner(self, terminal: str, right: frozenset[str]) -> str:
        bars = [t for t in sorted(self._net(terminal) & right) if t.startswith("X") and t != terminal]
        return bars[0] if bars else self.zero_bar if right is self.zero else min(right - {terminal})

    def _poles(self) -> Iterator[tuple[str, bool]]:
        for part, entry in self.board.controllers:
            yield part.terminal(entry.plus), True
            yield part.terminal(entry.minus), False
            for inputs in entry.input_groups:
                common = part.terminal(inputs.common)
                yield common, common not in self.zero  # a common on plus is drawn so where sensors switch to minus
            for outputs in entry.output_groups:
                yield part.terminal(outputs.minus), False
        for part in self.board.of_kind("sensor"):
            names = part.entry.named()
            if getattr(part.entry, "output", "") != "2-wire":
                yield part.terminal(names["plus"]), True
                yield part.terminal(names["minus"]), False

    def at_rest(self) -> Iterator[tuple[str, str, bool]]:
        """Contacts of stops, emergency stops, overload relays and keys that are wired: ends, and closed or open."""
        for part in self.board.of_kind("push_button", "emergency_stop", "overload", "key_switch"):
            entry = part.entry
            if isinstance(entry, SwitchPart) and part.kind == "push_button" and entry.function != "stop":
                continue
            rest = getattr(entry, "rest", None) or entry.states()[0]
            for contact in entry.contact_list():
                a, b = part.terminal(contact.a), part.terminal(contact.b)
                if {a, b} <= self.wired and (_closed(contact, rest) or part.kind == "key_switch"):
                    yield a, b, _closed(contact, rest)


def _closed(contact: Contact, rest: str) -> bool:
    return rest in contact.closed_when


# judges --------------------------------------------------------------------------------------------
def _is_proof(e: Evidence) -> bool:
    return e.mode == "volts" and e.ends == frozenset(PROVING) and e.value is not None and abs(e.value - KNOWN_V) < 2


def _proved_before(evidence: Sequence[Evidence]) -> Judged:
    tests = [i for i, e in enumerate(evidence) if e.mode == "volts" and not _is_proof(e)]
    proofs = [i for i, e in enumerate(evidence) if _is_proof(e)]
    if proofs and tests and min(tests) < min(proofs):
        return False, "the first test came before it, with a meter that nobody had proved: take those tests again"
    return bool(proofs), ""


def _between(
    evidence: Sequence[Evidence], one: frozenset[str], other: frozenset[str], modes: tuple[str, ...]
) -> list[int]:
    """Places of readings with one probe here and one there."""
    found = []
    for i, e in enumerate(evidence):
        if e.mode in modes and ((e.red in one and e.black in other) or (e.black in one and e.red in other)):
            found.append(i)
    return found


def _dead_at(evidence: Sequence[Evidence], one: frozenset[str], other: frozenset[str]) -> int | None:
    """Where the last reading of a pair is, if it comes after a proof and shows nothing."""
    proofs = [i for i, e in enumerate(evidence) if _is_proof(e)]
    found = [i for i in _between(evidence, one, other, ("volts",)) if proofs and i > proofs[0]]
    last = evidence[found[-1]] if found else None
    return found[-1] if last is not None and last.value is not None and abs(last.value) < DEAD_V else None


def _dead(evidence: Sequence[Evidence], one: frozenset[str], other: frozenset[str]) -> Judged:
    if _dead_at(evidence, one, other) is not None:
        return True, ""
    found = _between(evidence, one, other, ("volts",))
    if not found:
        return False, ""
    value = evidence[found[-1]].value
    if value is not None and abs(value) < DEAD_V:
        return False, "it was read with a meter that had not been proved"
    return False, "the last reading there shows a voltage: something is still fed"


def _proved_after(evidence: Sequence[Evidence], tests: Sequence[Callable[..., int | None]]) -> Judged:
    places = [test(evidence) for test in tests]
    proofs = [i for i, e in enumerate(evidence) if _is_proof(e)]
    if any(place is None for place in places) or not proofs:
        return False, ""
    last = max(place for place in places if place is not None)
    return proofs[-1] > last, "" if proofs[-1] > last else "the meter could have failed during the test"


def _no_short(evidence: Sequence[Evidence], one: frozenset[str], other: frozenset[str]) -> Judged:
    found = _between(evidence, one, other, ("ohms",))
    if not found:
        return False, ""
    last = evidence[found[-1]]
    if last.live:
        return False, "the reading was taken on a live circuit and means nothing"
    if last.value is not None and last.value <= SHORT_OHM:
        return False, f"the meter showed {last.value:.1f} ohm: a short. Part the groups until it clears"
    return True, ""


def _joined(terminal: str, right: frozenset[str], wrong: frozenset[str], evidence: Sequence[Evidence]) -> Judged:
    here = frozenset((terminal,))
    reads = _between(evidence, here, (right | wrong) - here, ("ohms", "continuity"))
    for i in reversed(reads):
        if evidence[i].joined:
            (partner,) = evidence[i].ends - here
            if partner in right:
                return True, ""
            return False, f"it is joined to {partner}: the wrong pole"
    return False, "the meter shows that it is not joined to there; try the other pole" if reads else ""


def _at_rest(a: str, b: str, closed: bool, evidence: Sequence[Evidence]) -> Judged:
    reads = _between(evidence, frozenset((a,)), frozenset((b,)), ("ohms", "continuity"))
    if not reads:
        return False, ""
    last = evidence[reads[-1]]
    if last.live:
        return False, "the reading was taken on a live circuit and means nothing"
    if closed:
        return last.joined, "" if last.joined else "it is open: the wrong contact, or somebody holds it"
    far = not last.joined and (last.mode == "continuity" or last.value is None or last.value > OPEN_OHM)
    return far, "" if far else "it is closed: turn it off, or the wrong contact is fitted"


def _looked(block: str, state: str, evidence: Sequence[Evidence]) -> Judged:
    notes = [e for e in evidence if e.mode == "note" and e.red in (block, f"block:{block}", "blocks")]
    if not notes:
        return False, ""
    said = notes[-1].seen
    if said != state:
        return False, f"it was noted as {said!r} and it is {state}"
    return state != "off", "" if state != "off" else "it is off: park it or seat it"


def _bond(evidence: Sequence[Evidence], zero: frozenset[str], earth: frozenset[str], bonded: bool) -> Judged:
    reads = _between(evidence, zero, earth, ("ohms", "continuity"))
    if not reads:
        return False, ""
    joined = evidence[reads[-1]].joined
    if joined == bonded:
        return True, ""
    return False, "0 V is not bonded, but it is drawn so" if bonded else "0 V is bonded, but it is drawn floating"

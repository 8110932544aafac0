"""What hands do at a bench: on the front (press, turn, switch) and behind it (wires, blocks, welds)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from labkit.base import Duration, as_us, did_you_mean
from labkit.bench._blocks import BlockHands
from labkit.bench._names import Names, number
from labkit.bench._wiring import Rewiring
from labkit.bench.clock import Rank
from labkit.bench.engine import Engine
from labkit.bench.errors import BenchError
from labkit.bench.machine import METAL_FACTOR
from labkit.bench.trace import Done
from labkit.board import COLOURS, Wire, Wiring

if TYPE_CHECKING:
    from labkit.bench.gate import PowerGate

__all__ = ["Hands"]

LONGEST_M = 1000  # as a wiring document has it


class Hands(BlockHands):
    """The verbs of a bench. Each checks its words, does its deed at the present instant, and is logged.

    Every verb raises :class:`~labkit.bench.BenchError` for a part that is not there or cannot be worked so, and
    then nothing has been done.
    """

    engine: Engine
    log: list[Done]
    on_swap: list[Callable[[str], object]]
    gate: PowerGate | None
    _names: Names
    _wiring: Rewiring

    @property
    def now_us(self) -> int:
        """Bench time in whole microseconds."""
        return self.engine.clock.now_us

    def terminal(self, name: str) -> str:
        """The terminal's id, if there is such a terminal.

        Raises
        ------
        BenchError
            If there is not; the part's own terminals are listed.
        """
        return self._names.terminal(name)

    # hands on the front ---------------------------------------------------------------------------
    def press(self, part: str, hold: Duration | None = None) -> None:
        """Press a button; with `hold` it is let go by itself after that time.

        An emergency stop latches when it is pressed; :meth:`release` turns it free.
        """
        kind = self._names.expect(part, "press", "push_button", "emergency_stop")
        if hold is not None and kind == "emergency_stop":
            raise BenchError(
                f"{part} is an emergency stop: it latches, and nobody holds it",
                try_this=f'press("{part}"), and later release("{part}") to turn it free',
                code="bench-verb",
            )
        words: dict[str, Any] = {"part": part}
        if hold is not None:
            hold_us = as_us(hold, "this hold")
            if hold_us <= 0:
                raise BenchError(
                    "a press lasts longer than nothing",
                    where=part,
                    try_this=f'press("{part}", ms(100))',
                    code="bench-value",
                )
            words["hold_ms"] = hold_us / 1000
        self._do("press", words, partial(self._push, part, None if hold is None else hold_us))

    def _push(self, part: str, hold_us: int | None) -> None:
        engine = self.engine
        engine.place(part, "pressed")
        due = None if hold_us is None else self.now_us + hold_us
        engine.later(f"release {part}", due, Rank.DONE, partial(engine.place, part, "released"))

    def release(self, part: str) -> None:
        """Let a button go, or turn an emergency stop free."""
        self._names.expect(part, "release", "push_button", "emergency_stop")
        self._do("release", {"part": part}, partial(self._let_go, part))

    def _let_go(self, part: str) -> None:
        self.engine.later(f"release {part}", None, Rank.DONE, lambda: None)
        self.engine.place(part, "released")

    def turn(self, part: str, to: str) -> None:
        """Turn a selector or a key switch to a position."""
        self._names.expect(part, "turn", "selector", "key_switch")
        self._put("turn", part, to, {"part": part, "to": to})

    def key(self, part: str, on: bool = True) -> None:
        """Turn a key switch on or off."""
        self._names.expect(part, "key", "key_switch")
        self._put("key", part, "on" if on else "off", {"part": part, "on": bool(on)})

    def power(self, on: bool = True) -> None:
        """Switch the board's supplies on or off; the breakers behind them stay as they are."""
        parts = self._names.of_kind("supply")
        if on and self.gate is not None:
            self.gate.allow_power()
        self._do("power", {"on": bool(on)}, partial(self.engine.move_all, parts, "on" if on else "off"))

    def breaker(self, part: str, on: bool = True) -> None:
        """Switch a breaker on or off; put in a whole fuse, or take it out."""
        kind = self._names.expect(part, "breaker", "breaker", "fuse")
        if on and self.gate is not None:
            self.gate.allow_breaker(part)
        state = ("on" if on else "off") if kind == "breaker" else ("whole" if on else "blown")
        self._do("breaker", {"part": part, "on": bool(on)}, partial(self.engine.switch_breaker, part, state))

    def beam(self, part: str, blocked: bool = True) -> None:
        """Put something into a photo-eye's beam, or take it out."""
        self._names.expect_sensor(part, "beam")
        self._do("beam", {"part": part, "blocked": bool(blocked)}, partial(self.engine.block, part, bool(blocked)))

    def metal(self, part: str, mm: float | None = None, metal: str = "steel") -> None:
        """Hold a piece of metal that far from an inductive sensor; without `mm` take it away."""
        self._names.expect_sensor(part, "metal")
        if metal not in METAL_FACTOR:
            raise BenchError(
                f"no sensing distance is known for {metal!r}",
                where=part,
                try_this=did_you_mean(metal, METAL_FACTOR),
                code="bench-value",
            )
        mm = None if mm is None else number(mm, "a distance is a number of mm", part)
        if mm is not None and not 0 <= mm < float("inf"):
            try_this = f'metal("{part}") without a distance takes the metal away'
            raise BenchError(
                f"a distance is 0 mm or more, not {mm:g}", where=part, try_this=try_this, code="bench-value"
            )
        words: dict[str, Any] = (
            {"part": part, "metal": metal} if mm is None else {"part": part, "mm": mm, "metal": metal}
        )
        self._do("metal", words, partial(self.engine.hold_metal, part, mm, METAL_FACTOR[metal]))

    def trip(self, part: str) -> None:
        """Trip an overload relay by its test lever."""
        self._names.expect(part, "trip", "overload")
        self._put("trip", part, "tripped", {"part": part})

    def reset(self, part: str) -> None:
        """Reset a tripped overload relay by hand."""
        self._names.expect(part, "reset", "overload")
        self._put("reset", part, "healthy", {"part": part})

    def bounce(self, part: str, gaps: Sequence[Duration]) -> None:
        """Let a button's or contactor's contacts bounce each time they move; no gaps: they no longer do.

        After each gap the contacts flip; they end where they were going, so the number of gaps must be even.
        """
        self._names.expect(part, "bounce", "push_button", "contactor", "selector", "key_switch", "emergency_stop")
        gaps_us = tuple(as_us(gap, "a gap") for gap in gaps)
        if len(gaps_us) % 2 or any(gap <= 0 for gap in gaps_us):
            raise BenchError(
                "a bounce is an even number of gaps, each longer than nothing: open, close, open, close ...",
                where=part,
                try_this=f'bounce("{part}", [ms(0.5), ms(0.5)])',
                code="bench-value",
            )
        words = {"part": part, "gaps_ms": [gap / 1000 for gap in gaps_us]}
        self._do("bounce", words, partial(self.engine.set_bounce, part, gaps_us))

    # hands behind the front -----------------------------------------------------------------------
    def weld(self, part: str) -> None:
        """Weld a contactor's main contacts: an armature that is in, or comes in, cannot let go."""
        self._hinder("weld", part, welded=True)

    def unweld(self, part: str) -> None:
        """Break the weld."""
        self._hinder("unweld", part, welded=False)

    def jam(self, part: str) -> None:
        """Jam a contactor: an armature that is out cannot come in."""
        self._hinder("jam", part, jammed=True)

    def free(self, part: str) -> None:
        """Free a jammed contactor."""
        self._hinder("free", part, jammed=False)

    def _hinder(self, verb: str, part: str, **how: bool) -> None:
        self._names.expect(part, verb, "contactor")
        self._do(verb, {"part": part}, partial(self.engine.hinder, part, **how))

    def remove(self, part: str) -> None:
        """Pull off something that is plugged on, such as ``K1.aux`` or the suppressor ``V1``."""
        self._names.expect_block(part, "remove")
        self._rewire("remove", {"part": part}, partial(self._wiring.remove, part))

    def fit(self, part: str) -> None:
        """Plug it on again."""
        self._names.expect_block(part, "fit")
        self._rewire("fit", {"part": part}, partial(self._wiring.fit, part))

    def swap(self, part: str) -> None:
        """Put a good part of the same kind in a part's place: a weld, a jam or a bounce goes with the old one."""
        self._names.known(part)
        self._do("swap", {"part": part}, partial(self._renew, part))

    def _renew(self, part: str) -> None:
        if part in self.engine.contactors:
            self.engine.hinder(part, welded=False, jammed=False)
        self.engine.set_bounce(part, ())
        for mend in tuple(self.on_swap):
            mend(part)

    def note(self, what: str, seen: bool | float | str) -> None:
        """Write down what was seen without the meter: ``note("led:I1", True)``, ``note("K1", "it clacks")``."""
        if not isinstance(what, str) or not what.strip():
            raise BenchError("a note says what was looked at", try_this='note("led:I1", True)', code="bench-value")
        self.log.append(Done(self.now_us, "note", {"what": what, "seen": seen}))

    def lift(self, wire: str | int) -> None:
        """Take a wire off; its ends hang in the air."""
        self._rewire("lift", {"wire": wire}, partial(self._wiring.lift, wire))

    def land(self, wire: str | int) -> None:
        """Put a lifted wire back where it was."""
        self._rewire("land", {"wire": wire}, partial(self._wiring.land, wire))

    def joint(self, wire: str | int, ohm: float) -> None:
        """Give a wire a bad joint of so many ohms; 0 makes it good again."""
        ohm = number(ohm, "a joint is a number of ohms", f"wire {wire}")
        self._rewire("joint", {"wire": wire, "ohm": ohm}, partial(self._wiring.joint, wire, ohm))

    def wire(
        self,
        a: str,
        b: str,
        *,
        no: str | int | None = None,
        colour: str = "BU",
        mm2: float = 0.75,
        m: float = 0.5,
        ferrule: bool = True,
    ) -> str:
        """Land a new wire between two terminals; gives its number, the lowest free one if none is named.

        Parameters
        ----------
        colour
            A letter code of IEC 60757 such as ``"BU"``.
        mm2, m
            Cross-section in mm2 and length in metres.
        ferrule
            Whether both ends carry one.

        Raises
        ------
        LabkitError
            If the number is taken, or no such wire can be.
        """
        a, b = self.terminal(a), self.terminal(b)
        if colour not in COLOURS:
            raise BenchError(
                f"no wire is {colour!r}",
                where=f"{a} - {b}",
                try_this=did_you_mean(str(colour), COLOURS, most=20),
                code="bench-value",
            )
        where = f"{a} - {b}"
        mm2, m = number(mm2, "a cross-section is a number of mm2", where), number(m, "a length is a number of m", where)
        if not 0 < m <= LONGEST_M:
            raise BenchError(
                f"a wire is more than 0 m and at most {LONGEST_M} m long, not {m:g}",
                where=where,
                try_this="give the length in metres, as in m=0.9",
                code="bench-value",
            )
        number_ = self._wiring.free_number() if no is None else str(no).strip()
        if not number_ or not number_.isprintable():
            raise BenchError(
                f"{no!r} is no wire number",
                where=where,
                try_this="write what stands on the ferrule, or leave no= out for the lowest free one",
                code="bench-value",
            )
        wire = Wire(number_, a, b, colour, mm2, m, ferrule)
        words = {"no": wire.no, "a": a, "b": b, "colour": colour, "mm2": wire.mm2, "m": wire.m, "ferrule": ferrule}
        self._rewire("wire", words, partial(self._wiring.wire, wire))
        for mend in tuple(self.on_swap):
            mend(wire.element)
        return wire.no

    def unwire(self, wire: str | int) -> None:
        """Take a wire away for good; :meth:`lift` only takes its ends off."""
        self._rewire("unwire", {"wire": wire}, partial(self._wiring.unwire, wire))

    def rewire(
        self,
        wiring: Wiring | None = None,
        *,
        off: Iterable[str | int] = (),
        on: Iterable[Sequence[Any]] = (),
    ) -> None:
        """Wire the whole board otherwise; lifted wires and bridges are gone.

        Parameters
        ----------
        wiring
            All wires, for example from :func:`labkit.board.load_wiring`; without it the present ones with some changes.
        off, on
            As the log has it: numbers of wires that go, and the fields of those that come.

        Raises
        ------
        LabkitError
            If a wire ends where no terminal is; it is named, and nothing has changed.
        """
        if wiring is None:
            wiring = self._wiring.every().without(*off).with_wire(*(Wire(*fields) for fields in on))
        gone, come = self._wiring.changes(wiring)
        self._rewire("rewire", {"off": gone, "on": come}, partial(self._wiring.replace, wiring))

    def join(self, a: str, b: str, ohm: float = 0.05) -> None:
        """Clip a bridge between two terminals."""
        a, b = self.terminal(a), self.terminal(b)
        ohm = number(ohm, "a bridge is a number of ohms", f"{a} - {b}")
        if not 0 < ohm < float("inf"):
            raise BenchError(
                f"a bridge has more than 0 ohm, not {ohm:g}",
                where=f"{a} - {b}",
                try_this="leave ohm= out for a clip of 0.05 ohm",
                code="bench-value",
            )
        self._rewire("join", {"a": a, "b": b, "ohm": ohm}, partial(self._wiring.join, a, b, ohm))

    def unjoin(self, a: str, b: str) -> None:
        """Take a bridge off again."""
        a, b = self.terminal(a), self.terminal(b)
        self._rewire("unjoin", {"a": a, "b": b}, partial(self._wiring.unjoin, a, b))

    def _rewire(self, verb: str, words: Mapping[str, Any], change: Callable[[], None], *, log: bool = True) -> None:
        self.engine.refuse_if_failed()
        change()
        network = self._wiring.network()
        self._wiring.take()
        removed = self._wiring.removed
        self._do(verb, words, partial(self.engine.rewire, network, removed), log=log)

    # ----------------------------------------------------------------------------------------------
    def _put(self, verb: str, part: str, state: str, words: Mapping[str, Any]) -> None:
        actor = self.engine.net.electrical.actors[part]
        if state not in actor.states:
            raise BenchError(
                f"{part} cannot be {state!r}: it is {' or '.join(actor.states)}",
                where=part,
                try_this=did_you_mean(str(state), actor.states),
                code="bench-position",
            )
        self._do(verb, words, partial(self.engine.place, part, state))

    def _do(self, verb: str, words: Mapping[str, Any], do: Callable[[], object], *, log: bool = True) -> None:
        self.engine.act(do, verb)
        if log:
            self.log.append(Done(self.now_us, verb, dict(words)))

"""The bench as a person meets it: parts to press, turn and wire, a meter, a clock that moves when told."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from typing import Any

from labkit.base import Duration, as_us, did_you_mean
from labkit.bench._names import Names
from labkit.bench._wiring import Rewiring
from labkit.bench.clock import Rank, show_time
from labkit.bench.engine import Engine
from labkit.bench.errors import BenchError
from labkit.bench.machine import METAL_FACTOR
from labkit.bench.meter import Meter
from labkit.bench.recorder import Recorder
from labkit.bench.scanning import ScanLoop
from labkit.bench.stimulus import Stimulus
from labkit.bench.trace import Done, Trace
from labkit.board import Board, Wiring, load_board
from labkit.controller import Controller, Family, Tag, TagTable
from labkit.controller import family as load_family
from labkit.logic import Program, read_program

__all__ = ["Bench"]

_MODE_WORDS = {"off": "it has no supply", "boot": "it starts up", "stop": "it is stopped", "run": "it runs"}


class Bench:
    """A wired board, a controller and a machine on one clock.

    Time stands still until :meth:`wait`. What is done by hand happens at the present instant, before anything
    else that is due at it: ``wait(ms(25))`` stops just before what happens at 25 ms.

    Parameters
    ----------
    board
        A board, or the name of a shipped one such as ``"orchard"``.
    wiring
        Other wiring than the board's own.
    family
        The controller's family, by name or as a record.
    tags
        The tag table; without it the board's I/O list makes it.
    scan, filter
        Other scan period and input filter time than the family's, for experiments.

    Raises
    ------
    LabkitError
        If the board, the family or the wiring cannot be had; it says why.

    Examples
    --------
    >>> from labkit.base import ms
    >>> bench = Bench("orchard")
    >>> bench.power_up()
    >>> bench.load("K1 := S1 AND (S2 OR K1);")
    >>> bench.press("S2", ms(45))
    >>> bench.wait(ms(100))
    >>> bench.state("K1")
    'closed'
    """

    def __init__(
        self,
        board: Board | str,
        wiring: Wiring | None = None,
        *,
        family: Family | str = "alder",
        tags: TagTable | Iterable[Tag] | None = None,
        scan: Duration | None = None,
        filter: Duration | None = None,
    ) -> None:
        self.board = load_board(board) if isinstance(board, str) else board
        controller = Controller(
            load_family(family) if isinstance(family, str) else family,
            _tag_table(self.board, tags),
            scan_us=None if scan is None else as_us(scan, "the scan"),
            filter_us=None if filter is None else as_us(filter, "the filter"),
        )
        landed = self.board.wiring if wiring is None else wiring
        self._assemble(controller, Rewiring(self.board, landed, controller.family))

    def _assemble(self, controller: Controller, wiring: Rewiring) -> None:
        self.family = controller.family  # with the scan and filter that were asked for
        self.tags = controller.tags
        self._names = Names(self.board)
        self._wiring = wiring
        self.engine = Engine(wiring.network(), controller)
        self.meter = Meter(self)
        self.log: list[Done] = []
        """What was done by hand, with bench time; :meth:`Stimulus.from_log` plays it again."""
        self._recorder: Recorder | None = None
        self.engine.act(lambda: None, "the network")

    def __repr__(self) -> str:
        on = [part for part in ("G1",) if self.engine.states.get(part) == "on"]
        power = "power on" if on else "power off"
        return f"<Bench {self.board.name}: {show_time(self.now_us)}, {power}, controller {self.mode}>"

    def again(self) -> Bench:
        """A fresh bench of the same kind: unpowered, no program, wired as this one was when it was made.

        It shares what has been solved, so that a second bench costs little.
        """
        other = object.__new__(type(self))
        other.board = self.board
        other._assemble(Controller(self.family, self.tags), self._wiring.fresh())
        return other

    # time -----------------------------------------------------------------------------------------
    @property
    def now_us(self) -> int:
        """Bench time in whole microseconds."""
        return self.engine.clock.now_us

    def wait(self, how_long: Duration) -> None:
        """Let bench time pass.

        Raises
        ------
        TypeError
            If `how_long` has no unit.
        BenchError
            If something fails on the way; it is named with the time.
        """
        self.wait_until(self.now_us + as_us(how_long, "this wait"))

    def wait_until(self, t_us: int) -> None:
        """Let bench time pass up to a time in microseconds; a time that has passed is an error."""
        if t_us < self.now_us:
            raise BenchError(
                f"it is already {show_time(self.now_us)}",
                where=f"bench time {show_time(t_us)}",
                try_this="time only goes forward",
                code="bench-time",
            )
        self.engine.run_until(t_us)

    @property
    def scan_period_us(self) -> int:
        """From the start of one scan to the start of the next, in microseconds."""
        return self.engine.controller.scan_period_us

    @property
    def next_scan_us(self) -> int:
        """When the next scan begins: the present instant if one is just about to.

        Raises
        ------
        BenchError
            If the controller does not scan.
        """
        return self._scan("tell when the next scan begins").next_start_us()

    def single_scan(self) -> None:
        """Let time pass until one whole scan has passed: from here to the end of the next one that begins."""
        scan = self._scan("make a single scan")
        self.wait_until(scan.next_start_us() + scan.period_us)

    def _scan(self, wish: str) -> ScanLoop:
        scan = self.engine.scan
        if not scan.running:
            raise BenchError(
                f"the controller does not scan ({_MODE_WORDS[self.mode]}), so nobody can {wish}",
                try_this="power the board up and load a program",
                code="bench-no-scan",
            )
        return scan

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
                raise BenchError("a press lasts longer than nothing", where=part, code="bench-value")
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
        self._do("power", {"on": bool(on)}, partial(self.engine.move_all, parts, "on" if on else "off"))

    def breaker(self, part: str, on: bool = True) -> None:
        """Switch a breaker on or off; put in a whole fuse, or take it out."""
        kind = self._names.expect(part, "breaker", "breaker", "fuse")
        state = ("on" if on else "off") if kind == "breaker" else ("whole" if on else "blown")
        self._do("breaker", {"part": part, "on": bool(on)}, partial(self.engine.switch_breaker, part, state))

    def power_up(self) -> None:
        """Everything on: emergency stops free, breakers and fuses in, supply on; waits until the controller is up."""
        for part in self._names.of_kind("emergency_stop"):
            if self.state(part) != "released":
                self.release(part)
        for part in self._names.of_kind("breaker", "fuse"):
            if self.state(part) not in ("on", "whole"):
                self.breaker(part)
        if any(self.state(part) != "on" for part in self._names.of_kind("supply")):
            self.power(True)
        self.wait_until(self.now_us + self.family.supply.boot_us + 3 * self.engine.controller.scan_period_us)

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
                try_this=did_you_mean(metal, METAL_FACTOR),
                code="bench-value",
            )
        if mm is not None and not 0 <= mm < float("inf"):
            raise BenchError(f"a distance is 0 mm or more, not {mm:g}", where=part, code="bench-value")
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

    def lift(self, wire: str | int) -> None:
        """Take a wire off; its ends hang in the air."""
        self._rewire("lift", {"wire": wire}, partial(self._wiring.lift, wire))

    def land(self, wire: str | int) -> None:
        """Put a lifted wire back where it was."""
        self._rewire("land", {"wire": wire}, partial(self._wiring.land, wire))

    def joint(self, wire: str | int, ohm: float) -> None:
        """Give a wire a bad joint of so many ohms; 0 makes it good again."""
        self._rewire("joint", {"wire": wire, "ohm": ohm}, partial(self._wiring.joint, wire, ohm))

    def rewire(self, wiring: Wiring) -> None:
        """Wire the whole board otherwise; lifted wires and bridges are gone."""
        self._rewire("rewire", {}, partial(self._wiring.replace, wiring), log=False)

    def join(self, a: str, b: str, ohm: float = 0.05) -> None:
        """Clip a bridge between two terminals."""
        a, b = self.terminal(a), self.terminal(b)
        if not 0 < ohm < float("inf"):
            raise BenchError(f"a bridge has more than 0 ohm, not {ohm:g}", where=f"{a} - {b}", code="bench-value")
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

    # the controller -------------------------------------------------------------------------------
    @property
    def mode(self) -> str:
        """The controller's mode: ``off``, ``boot``, ``stop`` or ``run``."""
        return self.engine.mode

    def load(self, program: Program | str) -> None:
        """Load a program, or its text; if the controller's switch is on RUN it runs from the next scan on.

        Raises
        ------
        LabkitError
            If the text has a slip, or the program does not fit the tag table. What ran before still runs.
        """
        read = read_program(program) if isinstance(program, str) else program
        self._do("load", {}, partial(self.engine.load, read), log=False)

    def run(self) -> None:
        """Turn the controller's switch to RUN."""
        self._do("run", {}, partial(self.engine.set_switch, True))

    def stop(self) -> None:
        """Turn the controller's switch to STOP."""
        self._do("stop", {}, partial(self.engine.set_switch, False))

    def set_bit(self, tag: str, value: bool | int = True) -> None:
        """Write a memory or output tag, as a panel or a test does.

        Raises
        ------
        LabkitError
            If there is no such tag, it is an input, or the controller is not up.
        """
        self._do("set_bit", {"tag": tag, "value": bool(value)}, partial(self.engine.set_bit, tag, bool(value)))

    def force(self, tag: str, value: bool | int = True) -> None:
        """Force an input's bit or an output's terminal, whatever wire and program say."""
        self._do("force", {"tag": tag, "value": bool(value)}, partial(self.engine.force, tag, bool(value)))

    def unforce(self, tag: str | None = None) -> None:
        """Take a force away, or all of them."""
        words = {} if tag is None else {"tag": tag}
        self._do("unforce", words, partial(self.engine.force, tag, None))

    def bit(self, tag: str) -> bool:
        """A tag's bit in the controller, as the program last saw or wrote it.

        Raises
        ------
        LabkitError
            If there is no such tag.
        """
        return bool(self.engine.controller.bit(tag))

    # what there is to see -------------------------------------------------------------------------
    def state(self, part: str) -> str:
        """The position of anything that has one: ``released``, ``on``, ``closed``, ``left`` ..."""
        states = self.engine.states
        if part not in states:
            self._names.known(part)
            raise BenchError(
                f"{part} has no position", where=part, try_this=did_you_mean(part, states), code="bench-part"
            )
        return states[part]

    def states(self) -> dict[str, str]:
        """Every position, by part."""
        return dict(self.engine.states)

    def lit(self, part: str) -> bool:
        """Whether a lamp shows or a horn sounds."""
        self._names.expect(part, "see lit", "lamp", "horn")
        electrical = self.engine.net.electrical
        number = next(i for i, lamp in enumerate(electrical.lamps) if lamp.part == part)
        return self.engine.now_reading().lit[number]

    def led(self, point: str) -> bool:
        """The indicator of an input (its channel counts as on) or of an output (the program asks for on)."""
        if point in self.engine.raw:
            return self.engine.raw[point] and self.engine.powered
        outputs = self.engine.controller.outputs
        if point in outputs:
            return bool(outputs[point])
        inputs = tuple(self.engine.raw)
        raise BenchError(
            f"there is no point {point}",
            where=str(point),
            try_this=f"it has {inputs[0]} to {inputs[-1]} and {next(iter(outputs))} to {[*outputs][-1]}",
            code="bench-point",
        )

    def speed(self, part: str) -> float:
        """How fast a motor turns: 0 stands, 1 full speed."""
        self._names.expect(part, "ask the speed of", "motor")
        return self.engine.motors[part].speed(self.now_us)

    @property
    def wiring(self) -> Wiring:
        """The wires that are landed now."""
        return self._wiring.landed()

    @property
    def removed(self) -> frozenset[str]:
        """What is pulled off, such as ``K1.aux``."""
        return self._wiring.removed

    def terminal(self, name: str) -> str:
        """The terminal's id, if there is such a terminal.

        Raises
        ------
        BenchError
            If there is not; the part's own terminals are listed.
        """
        return self._names.terminal(name)

    def wire_element(self, wire: str | int) -> str:
        """The circuit's element for a landed wire."""
        return self._wiring.element(wire)

    # recording and playing ------------------------------------------------------------------------
    @contextmanager
    def record(self) -> Iterator[Trace]:
        """Keep what changes while the block runs; the trace is complete when it ends.

        Raises
        ------
        BenchError
            If a recording is under way already.
        """
        if self._recorder is not None:
            raise BenchError(
                "this bench is being recorded already", try_this="end the other recording first", code="bench-record"
            )
        engine = self.engine
        recorder = self._recorder = Recorder(engine)
        engine.watch = recorder.look
        engine.scan.begin_record(recorder.look)
        done = len(self.log)
        try:
            yield recorder.trace
        finally:
            engine.watch, self._recorder = None, None
            recorder.finish(self.log[done:])

    def play(self, stimulus: Stimulus | Iterable[Mapping[str, Any]]) -> None:
        """Do what a stimulus says, from now on; ends with its last step."""
        if not isinstance(stimulus, Stimulus):
            stimulus = Stimulus.of(stimulus)
        stimulus.play(self)

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


def _tag_table(board: Board, tags: TagTable | Iterable[Tag] | None) -> TagTable:
    if isinstance(tags, TagTable):
        return tags
    if tags is not None:
        return TagTable(tags)
    return TagTable(
        Tag(point.tag, point.direction, point.point, comment=point.comment)
        for point in board.points.values()
        if point.tag
    )

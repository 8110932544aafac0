"""The bench as a person meets it: parts to press, turn and wire, a meter, a clock that moves when told."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from labkit.base import Duration, as_us, did_you_mean, need
from labkit.bench._names import Names
from labkit.bench._wiring import Rewiring
from labkit.bench.between import Between, Layered
from labkit.bench.clock import show_time
from labkit.bench.electric import Network
from labkit.bench.engine import Engine
from labkit.bench.errors import BenchError
from labkit.bench.gate import PowerGate
from labkit.bench.hands import Hands
from labkit.bench.meter import Meter
from labkit.bench.recorder import Recorder
from labkit.bench.scanning import ScanLoop
from labkit.bench.stimulus import WATCHED, Stimulus
from labkit.bench.trace import Done, Trace
from labkit.board import Board, Wiring, load_board
from labkit.controller import Controller, Family, Tag, TagTable
from labkit.controller import family as load_family
from labkit.logic import Program, read_program

__all__ = ["Bench"]

_FILE_NAME = re.compile(r"\s*[^\s;:=]+\.(st|ld|txt)\s*", re.IGNORECASE)
_MODE_WORDS = {"off": "it has no supply", "boot": "it starts up", "stop": "it is stopped", "run": "it runs"}


class Bench(Hands):
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
        self.board = load_board(board) if isinstance(board, str | Path) else board
        need(self.board, Board, "a board", "write Bench('orchard'), or load one with load_board(...)")
        controller = Controller(
            load_family(family),
            _tag_table(self.board, tags),
            scan_us=None if scan is None else as_us(scan, "the scan"),
            filter_us=None if filter is None else as_us(filter, "the filter"),
        )
        landed = self.board.wiring if wiring is None else wiring
        need(landed, Wiring, "a wiring", "load it first: load_wiring('wires.csv'); or leave it out")
        self._assemble(controller, Rewiring(self.board, landed, controller.family))

    def _assemble(self, controller: Controller, wiring: Rewiring) -> None:
        self.family = controller.family  # with the scan and filter that were asked for
        self.tags = controller.tags
        self._names = Names(self.board)
        self._wiring: Rewiring = wiring
        self.engine = Engine(wiring.network(), controller)
        self.meter = Meter(self)
        self.log: list[Done] = []
        """What was done, read and noted, with bench time; :meth:`Stimulus.from_log` plays what was done again."""
        self.on_swap: list[Callable[[str], object]] = []
        """Called with the part (or ``"wire 211"``) whenever a good one takes its place."""
        self.gate: PowerGate | None = None
        """Stands between hands and power, if there is one; a bench from :meth:`again` has none."""
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

    def as_wired(self) -> Bench:
        """A fresh bench, unpowered and without a program, wired as this one is now, with what lies between."""
        other = object.__new__(type(self))
        other.board = self.board
        other._assemble(Controller(self.family, self.tags), copy.copy(self._wiring))
        return other

    def network_with(self, *, lifted: Iterable[str | int] = (), removed: Iterable[str] = ()) -> Network:
        """The network that there would be with some more wires off and blocks pulled; nothing is changed.

        Raises
        ------
        BenchError
            If a wire is off already or a block pulled already.
        """
        wiring = copy.copy(self._wiring)
        for change, names in ((wiring.lift, lifted), (wiring.remove, removed)):
            for name in names:
                change(str(name))
                wiring.take()
        return wiring.network()

    @property
    def between(self) -> Between | None:
        """What lies between the wiring and the network that is solved, such as faults."""
        return self._wiring.between if isinstance(self._wiring, Layered) else None

    def put_between(
        self, between: Between | None, *, also: Callable[[], object] | None = None, by_hand: bool = True
    ) -> None:
        """Put something between the wiring and its network, in place of what is there; None takes it away.

        What is under way goes on, and nothing of it shows in the log or the wiring.

        Parameters
        ----------
        also
            Done at the same instant, before the network settles.
        by_hand
            False for one who is called by the bench itself: it settles when he is done.

        Raises
        ------
        LabkitError
            If there is no such network; then nothing has changed.
        """
        self.engine.refuse_if_failed()
        sound = self._wiring.sound() if isinstance(self._wiring, Layered) else self._wiring
        wiring = sound if between is None else Layered(sound, between)
        network = wiring.network()

        def change() -> None:
            self._wiring = wiring
            self.engine.rewire(network, wiring.removed)
            if also is not None:
                also()

        if by_hand:
            self.engine.act(change, "the network")
        else:
            change()

    # time -----------------------------------------------------------------------------------------
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
        if not isinstance(program, str | Program):
            raise BenchError(
                f"{program!r} is no program",
                where="load",
                try_this="give ladder text, Structured Text, or what lk.ladder or lk.st read",
                code="bench-value",
            )
        if isinstance(program, str) and _FILE_NAME.fullmatch(program):
            raise BenchError(
                f"{program.strip()} is the name of a file, not a program",
                where="load",
                try_this=f'load(Path("{program.strip()}").read_text()) loads what is in it',
                code="bench-value",
            )
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
                f"{part} has no position",
                where=part,
                try_this=did_you_mean(part, states) or "lit(...) tells of a lamp, led(...) of a point",
                code="bench-part",
            )
        return states[part]

    def states(self) -> dict[str, str]:
        """Every position, by part."""
        return dict(self.engine.states)

    def lit(self, part: str) -> bool:
        """Whether a lamp shows or a horn sounds; of a sensor whether its own lamp shows that its output is switched."""
        if self._names.expect(part, "lit", "lamp", "horn", "sensor") == "sensor":
            return self.engine.sensor_lit(part)
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
        self._names.expect(part, "speed", "motor")
        return self.engine.motors[part].speed(self.now_us)

    @property
    def wiring(self) -> Wiring:
        """The wires that are landed now."""
        return self._wiring.landed()

    @property
    def lifted(self) -> Wiring:
        """The wires that are lifted: they are there, and their ends hang in the air."""
        every = self._wiring.every()
        return every.without(*(wire.no for wire in self._wiring.landed()))

    @property
    def removed(self) -> frozenset[str]:
        """What is pulled off, such as ``K1.aux``."""
        return self._wiring.removed

    def wire_element(self, wire: str | int) -> str:
        """The circuit's element for a landed wire."""
        return self._wiring.element(wire)

    # recording and playing ------------------------------------------------------------------------
    @contextmanager
    def record(self, only: Iterable[str] | None = None) -> Iterator[Trace]:
        """Keep what changes while the block runs; the trace is complete when it ends.

        Parameters
        ----------
        only
            Keep these alone, and look at nothing else, which is quicker: signals (``"bit:K1"``), whole layers
            (``"volts"``), or names (``"K1"``: every layer of it). What is kept is the same as in a full
            recording. Scans and what was done by hand are always kept.

        Raises
        ------
        BenchError
            If a recording is under way already, or this bench has nothing of such a name.
        """
        if self._recorder is not None:
            raise BenchError(
                "this bench is being recorded already", try_this="end the other recording first", code="bench-record"
            )
        engine = self.engine
        recorder = self._recorder = Recorder(engine, only)
        engine.watch = recorder.look
        engine.scan.begin_record(recorder.look)
        done = len(self.log)
        try:
            yield recorder.trace
        finally:
            engine.watch, self._recorder = None, None
            recorder.finish([entry for entry in self.log[done:] if entry.do not in WATCHED])

    def play(self, stimulus: Stimulus | Iterable[Mapping[str, Any]]) -> None:
        """Do what a stimulus says, from now on; ends with its last step."""
        if not isinstance(stimulus, Stimulus):
            stimulus = Stimulus.of(stimulus)
        stimulus.play(self)


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

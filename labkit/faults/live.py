"""A hunt on a real bench: the student measures where and when they like, and the bench's log is the evidence.

What a log leaves possible is found by doing it all again on each suspect's board: the same hands at the same times,
the same probes on the same terminals. A suspect is out when its board shows a band that the student did not see.
Bands, not figures: what a person cannot tell apart is no evidence.

Two things in a log are evidence. A reading of the meter; and a note of what was looked at (``bench.note("lit:P1",
True)``). A lamp that nobody noted was not seen. Of a note the board decides what was to be seen; the student's words
are held against that by the marking.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from labkit.base import LabkitError, did_you_mean, ms
from labkit.bench import Bench, Stimulus
from labkit.bench.stimulus import Step
from labkit.bench.trace import Done
from labkit.board import Board, load_board
from labkit.faults.catalogue import Fault
from labkit.faults.dictionary import ohm_band, volt_band
from labkit.faults.errors import FaultError
from labkit.faults.inject import Solved, faults_in, mend, put_in
from labkit.faults.situations import PROGRAM

__all__ = ["LiveHunt", "Verdict", "at_rest", "band_of", "strike"]

LOOK_US, BETWEEN_US = 119_000, 17_000  # so long a person looks; a light that changes meanwhile flickers
SAID_ON = frozenset({"lit", "on", "closed", "in", "true", "1", "bright", "yes", "sounds"})
SAID_OFF = frozenset({"dark", "off", "open", "out", "false", "0", "dead", "no", "silent", "tripped"})

# Bands of amperes in a wire: nothing, an input (5 mA), a lamp or horn (20 to 50 mA), a coil (125 mA), more than any
# one load of the board (own choice).
_AMPS = ((1e-3, "none"), (0.012, "an input"), (0.08, "a lamp"), (0.2, "a coil"), (math.inf, "more than a load"))
# Volts that 1 mA needs: a short, a diode either of silicon or two of them, more.
_DIODE = ((0.2, "joined"), (0.9, "a diode"), (math.inf, "more than a diode"))

Log = Sequence[Done]
_Bands = frozenset[str]


def band_of(mode: str, value: float | None, *, live: bool = False) -> str:
    """The band of a reading, as far as a person can tell it from another.

    Parameters
    ----------
    mode
        ``"volts"``, ``"ohms"``, ``"continuity"``, ``"diode"`` or ``"amps"``.
    value
        In volts, ohms or amperes; None for OL; of continuity 1 for a beep.
    live
        The circuit drove the probes: what is shown means nothing.

    Raises
    ------
    FaultError
        If there is no such mode.
    """
    figure = math.inf if value is None else float(value)
    if mode == "volts":
        return f"reversed {volt_band(-figure)}" if figure < -1.0 else volt_band(figure)
    if mode in ("ohms", "continuity", "diode"):
        if live:
            return "live"
        if mode == "ohms":
            return ohm_band(figure)
        if mode == "continuity":
            return "beep" if figure else "silent"
        return "OL" if math.isinf(figure) else next(name for most, name in _DIODE if figure <= most)
    if mode == "amps":
        size = next(name for most, name in _AMPS if abs(figure) <= most)
        return size if size == "none" or figure > 0 else f"{size}, backwards"
    raise FaultError(f"the meter has no {mode!r}", code="fault-mode")


def at_rest(board: Board | str = "orchard", program: str = PROGRAM) -> Callable[[], Bench]:
    """What makes fresh benches for a hunt: powered up, the program running, nobody touching anything.

    All of them share what has been solved, so that the second one costs a thousandth of a second.
    """
    first = Bench(load_board(board) if isinstance(board, str) else board)

    def fresh() -> Bench:
        bench = first.again()
        bench.power_up()
        bench.load(program)
        bench.wait(ms(300))
        return bench

    return fresh


def strike(bench: Bench, suspect: str) -> None:
    """Strike a suspect off the list, with a line in the bench's log."""
    bench.log.append(Done(bench.now_us, "strike", {"suspect": suspect}))


@dataclass(frozen=True, slots=True)
class Verdict:
    """What ruled a suspect out.

    Parameters
    ----------
    suspect
        Its id.
    at
        The number of the log's entry, or None if the suspect is still possible.
    shown, would
        The band that the board showed, and what the suspect's board would have shown.
    """

    suspect: str
    at: int | None = None
    shown: str = ""
    would: str = ""


@dataclass(frozen=True, slots=True)
class Moment:
    """The board with the truth in, at one entry of the log, before the entry's deed is done.

    Parameters
    ----------
    bands
        What the entry's reading or note shows; empty if it is none, or if the log cannot be played again so far.
    powered
        Whether any supply is on.
    present
        Whether the fault, or a part of it, is in.
    states
        Position of every contactor.
    """

    bands: _Bands
    powered: bool
    present: bool
    states: dict[str, str]


@dataclass(frozen=True)
class LiveHunt:
    """A fault to be found on a bench.

    Parameters
    ----------
    fresh
        Makes a sound bench in the state in which the student meets it, always the same; best one that uses
        ``Bench.again``, as :func:`at_rest` does.
    suspects
        What the card leaves open.
    truth
        The id of the one that is in.
    seed
        With a seed the fault comes and goes by itself. A reading then rules out only what shows it neither with
        the fault in nor with it away.
    solved
        Gives what has been solved on a suspect's board, to share with other hunts on benches of the same kind.

    Raises
    ------
    FaultError
        If the truth is not among the suspects, or a suspect stands twice.
    """

    fresh: Callable[[], Bench]
    suspects: Sequence[Fault]
    truth: str
    seed: int | None = None
    solved: Callable[[Fault], Solved] | None = field(default=None, repr=False, compare=False)
    _solved: dict[str, Solved] = field(init=False, repr=False, compare=False, default_factory=dict)
    _known: dict[str, Any] = field(init=False, repr=False, compare=False, default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "suspects", tuple(self.suspects))
        names = [fault.id for fault in self.suspects]
        if self.truth not in names:
            raise FaultError(
                f"{self.truth} is not among the suspects",
                where=self.truth,
                try_this=did_you_mean(self.truth, names),
                code="fault-unknown",
            )
        if len(set(names)) < len(names):
            raise FaultError("a suspect stands twice in this hunt", code="fault-twice")

    @property
    def board(self) -> Board:
        """The board of the hunt."""
        if "board" not in self._known:
            self._known["board"] = self.fresh().board
        board: Board = self._known["board"]
        return board

    @property
    def fault(self) -> Fault:
        """The fault that is in."""
        return self.named(self.truth)

    def named(self, name: str) -> Fault:
        """A suspect by its id.

        Raises
        ------
        FaultError
            If there is none.
        """
        found = next((f for f in self.suspects if f.id == name), None)
        if found is None:
            names = [f.id for f in self.suspects]
            raise FaultError(
                f"there is no suspect {name}", where=name, try_this=did_you_mean(name, names), code="fault-unknown"
            )
        return found

    def bench(self) -> Bench:
        """A bench for the student, with the truth put in."""
        return self._bench(self.fault, seed=self.seed)

    def go_on(self, log: Log) -> Bench:
        """A bench for the student on which a log has been done again, to go on where it ends.

        Raises
        ------
        LabkitError
            If it cannot be done again.
        """
        bench = self.bench()
        before, gate = list(bench.log), bench.gate
        own = list(self.own(log))
        for _ in _walk(bench, own):
            pass
        bench.gate = gate
        bench.log[:] = [*before, *own]
        return bench

    def left(self, log: Log) -> tuple[str, ...]:
        """The suspects whose board shows every reading and every noted indicator of a log in the same band."""
        return tuple(verdict.suspect for verdict in self.verdicts(log) if verdict.at is None)

    def verdicts(self, log: Log) -> tuple[Verdict, ...]:
        """For each suspect the entry that rules it out, or none.

        A suspect whose board cannot be worked so (a network that does not settle) is not ruled out.
        """
        own = list(self.own(log))
        moments = self.moments(own)
        old: list[Done] = self._known.get("log", [])
        earlier: dict[str, Verdict] = {}
        if own[: len(old)] == old:  # how long the last entry was looked at was not known then
            earlier = {
                v.suspect: v for v in self._known.get("verdicts", ()) if v.at is not None and v.at < len(old) - 1
            }
        sound = None if self.seed is None else [bands for _, bands in _walk(self._bench(None), own)]
        found = tuple(earlier.get(f.id) or self._verdict(f, own, moments, sound) for f in self.suspects)
        self._known.update(log=own, verdicts=found)
        return found

    def own(self, log: Log) -> Log:
        """The part of a bench's log that was done in the hunt, without what made the bench."""
        if "before" not in self._known:
            self._known["before"] = list(self.fresh().log)
        before = self._known["before"]
        return log[len(before) :] if list(log[: len(before)]) == before else log

    def moments(self, own: Log) -> tuple[Moment, ...]:
        """The board with the truth in at each entry, and once more a second after the last.

        A reading that does not come out again as logged (somebody changed the board without the log) is none.
        """
        found: list[Moment] = []
        bench = self._bench(self.fault, seed=self.seed)
        wanted = [frozenset({logged(entry)}) if entry.do == "read" else frozenset[str]() for entry in own]
        for number, bands in _walk(bench, own, wanted, lambda: found.append(_moment(bench))):
            seen = bands & wanted[number] if own[number].do == "read" else bands
            found[-1] = replace(found[-1], bands=seen)
        bench.wait(ms(1000))
        return (*found, _moment(bench))

    # ----------------------------------------------------------------------------------------------
    def _bench(self, fault: Fault | None, *, seed: int | None = None) -> Bench:
        bench = self.fresh()
        if fault is not None:
            shared = self._solved.setdefault(fault.id, {}) if self.solved is None else self.solved(fault)
            put_in(bench, fault, seed=seed, solved=shared)
        return bench

    def _verdict(self, fault: Fault, own: Log, moments: Sequence[Moment], sound: Sequence[_Bands] | None) -> Verdict:
        if sound is not None and fault.id == self.truth:
            return Verdict(fault.id)
        shown = [moment.bands for moment in moments]
        try:
            for number, would in _walk(self._bench(fault), own, shown):
                fits = not shown[number] or _fits(own[number], would, shown[number])
                if not fits and (sound is None or not _fits(own[number], sound[number], shown[number])):
                    return Verdict(fault.id, number, _say(shown[number]), _say(would))
        except LabkitError:  # what was done cannot be done on this board: nothing is ruled out by it
            return Verdict(fault.id)
        return Verdict(fault.id)


def _walk(
    bench: Bench, own: Log, wanted: Sequence[_Bands] = (), before: Callable[[], None] | None = None
) -> Iterator[tuple[int, _Bands]]:
    """Do a log again at a bench; for each entry what its reading or note shows there."""
    bench.gate = None  # what let the power on for the student lets it on here
    for number, entry in enumerate(own):
        bench.wait_until(max(entry.t_us, bench.now_us))
        if before is not None:
            before()
        yield number, _look(bench, entry, _window(own, number), wanted[number] if wanted else frozenset())
        _redo(bench, entry)


def _moment(bench: Bench) -> Moment:
    states = {part: bench.state(part) for part in bench.engine.contactors}
    return Moment(frozenset(), _powered(bench), bool(faults_in(bench)), states)


def logged(entry: Done) -> str:
    """The band of a logged reading."""
    what = entry.what
    return band_of(what["mode"], what.get("value"), live=bool(what.get("live")))


def looked_at(bench: Bench, entry: Done) -> tuple[str, str] | None:
    """The kind (``lit``, ``led``, ``state``) and the name of what a note is about; None for other words."""
    layer, colon, name = str(entry.what.get("what", "")).strip().rpartition(":")
    name = name.strip()
    if colon:
        kind = {"lit": "lit", "led": "led", "pos": "state", "state": "state"}.get(layer.strip())
        return (kind, name) if kind and _there(bench, kind, name) else None
    return next(((kind, name) for kind in ("lit", "led", "state") if _there(bench, kind, name)), None)


def agrees(entry: Done, bands: _Bands) -> bool:
    """Whether the words of a note say what was to be seen; words that cannot be read do."""
    seen = entry.what.get("seen")
    said = str(seen).strip().casefold()
    if said in {band.casefold() for band in bands} or len(bands) != 1:
        return True
    band = next(iter(bands)).casefold()
    yes, no = band in SAID_ON, band in SAID_OFF
    if not (yes or no) or said not in SAID_ON | SAID_OFF:
        return True
    return (said in SAID_ON) == yes


def _there(bench: Bench, kind: str, name: str) -> bool:
    electrical = bench.engine.net.electrical
    if kind == "lit":
        return name in {*(lamp.part for lamp in electrical.lamps), *(sensor.part for sensor in electrical.sensors)}
    if kind == "led":
        return name in bench.engine.raw or name in bench.engine.controller.outputs
    return name in bench.engine.states


def _window(own: Log, number: int) -> int:
    """How long the person could look before the next thing was done, in microseconds."""
    if number + 1 >= len(own):
        return LOOK_US
    return max(0, min(LOOK_US, own[number + 1].t_us - own[number].t_us - 1))


def _look(bench: Bench, entry: Done, window_us: int, wanted: _Bands = frozenset()) -> _Bands:
    """What an entry shows at this bench: of a note everything that is to be seen in the time of a look, of a
    reading the band at once and, if it is not the one wanted, those that come while the probes are held on.
    """
    if entry.do not in ("read", "note"):
        return frozenset()
    found = frozenset({band}) if (band := _band(bench, entry)) else frozenset()
    if not found or (entry.do == "read" and (not wanted or found & wanted)):
        return found
    until = bench.now_us + window_us
    while bench.now_us + BETWEEN_US <= until:
        bench.wait_until(bench.now_us + BETWEEN_US)
        found |= {_band(bench, entry)}
    return found


def _band(bench: Bench, entry: Done) -> str:
    if entry.do == "read":
        what = entry.what
        mode = what["mode"]
        a, b = (what["wire"], "") if mode == "amps" else (what["red"], what["black"])
        reading = bench.meter.peek(mode, a, b)
        return band_of(mode, float(reading), live=reading.live)
    about = looked_at(bench, entry)
    return "" if about is None else at_band(bench, *about)


def at_band(bench: Bench, kind: str, name: str) -> str:
    """What is to be seen at this instant: ``on`` or ``off`` of a lamp or an indicator, else a position."""
    if kind == "state":
        return bench.state(name)
    return "on" if (bench.lit(name) if kind == "lit" else bench.led(name)) else "off"


def _fits(entry: Done, would: _Bands, shown: _Bands) -> bool:
    return bool(would & shown) if entry.do == "read" else would == shown


def _redo(bench: Bench, entry: Done) -> None:
    """Do again what a hand did; what only tells of seeing or thinking is nothing."""
    if entry.do == "repair":
        bench.engine.act(lambda: mend(bench, entry.what["location"]), "the network")
    elif entry.do not in ("read", "note", "strike", "unsafe"):
        Stimulus((Step(0, entry.do, entry.what),)).play(bench)


def _powered(bench: Bench) -> bool:
    return any(bench.state(part.designation) == "on" for part, _ in bench.board.supplies)


def _say(bands: _Bands) -> str:
    return " and ".join(sorted(bands))

"""Power as a gated act: the supply stays off until the dead board has been tested, then it comes on in stages.

A row of the gate is ticked by a reading that was really taken on this dead board after its last change, or by a
value on a sheet that agrees with what the board shows. The order is the trade's: prove the meter, test, prove it
again; shorts; polarity; contacts at rest; blocks; bond (common practice, no source; for the three steps of the
dead test NFPA 70E 120.5). A real board is proved dead by someone entitled to do it, with an approved tester.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from labkit.base import need
from labkit.bench._gate_rows import CHANGES, DEAD_V, Evidence, Need, needs_of
from labkit.bench.errors import BenchError
from labkit.bench.meter import MODES

if TYPE_CHECKING:
    from labkit.bench.front import Bench

__all__ = ["GateRow", "PowerGate", "read_gate_sheet"]

LOW_V, HIGH_V = 20.4, 28.8  # IEC 61131-2: 24 VDC -15 % +20 %
COPIED = 4  # so many ohms with one and the same figure were copied, not read
ALIKE_TIMES = 5  # so many entries at one and the same distance were made up
OHM_STEP, OHM_PART = 1.0, 0.1  # how far a value on a sheet may lie from what the board shows


@dataclass(frozen=True, slots=True)
class GateRow:
    """One thing to be shown before power.

    Parameters
    ----------
    id
        A short name, e.g. ``"dead X1:24V X1:0V"``.
    what
        What is to be shown, in words.
    mode, red, black
        What the meter is turned to and where its probes go; ``"note"`` for a look, `red` is then what is looked at.
    expected
        In words.
    call
        The call at the bench that shows it.
    done
        Whether it has been shown.
    why
        Why a reading that was taken does not show it; ``""`` if there was none.
    """

    id: str
    what: str
    mode: str
    red: str
    black: str
    expected: str
    call: str
    done: bool
    why: str = ""


class PowerGate:
    """Stands between a bench and its power: ``bench.gate = PowerGate(bench)``.

    Parameters
    ----------
    bench
        The bench, unpowered.

    Examples
    --------
    >>> from labkit.bench import Bench
    >>> bench = Bench("orchard")
    >>> bench.gate = PowerGate(bench)
    >>> bench.gate.next.call
    'bench.meter.prove()'
    """

    def __init__(self, bench: Bench) -> None:
        if not hasattr(bench, "engine"):
            need(bench, (), "a bench", "make one first: PowerGate(Bench('orchard'))")
        self._bench = bench
        self._entered: list[Evidence] = []
        self._passed_at = -1  # the log's length when power was let on the first time, until something is changed
        self._stage: tuple[str, str, int] | None = None  # what was last energised, terminal to read, log's length

    # rows ------------------------------------------------------------------------------------------
    @property
    def rows(self) -> tuple[GateRow, ...]:
        """Every row, in the order in which they are best done."""
        evidence = self._evidence()
        return tuple(_row(need, need.judge(evidence)) for need in needs_of(self._bench))

    @property
    def next(self) -> GateRow | None:
        """The first row that is open, or None."""
        return next((row for row in self.rows if not row.done), None)

    @property
    def satisfied(self) -> bool:
        """Whether every row is done."""
        return self.next is None

    def _evidence(self) -> list[Evidence]:
        """What was read and noted with the power off since the last change to the board, in order."""
        found: list[Evidence] = []
        live = False
        entered = iter(self._entered)
        waiting = next(entered, None)
        for place, done in enumerate(self._bench.log):
            while waiting is not None and waiting.place <= place:
                found.append(waiting)
                waiting = next(entered, None)
            if done.do in CHANGES:
                found.clear()
            elif done.do == "power":
                live = bool(done.what["on"])
            elif done.do == "read" and not live:
                found.append(Evidence.of_reading(done.what, place))
            elif done.do == "note" and not live:
                found.append(Evidence.of_note(done.what, place))
        while waiting is not None:
            found.append(waiting)
            waiting = next(entered, None)
        return found

    # a sheet ---------------------------------------------------------------------------------------
    def enter(self, sheet: Iterable[Mapping[str, Any]]) -> None:
        """Take values that somebody wrote on a sheet, in the order of their times.

        Each row has ``mode``, ``red`` and ``black``, ``value`` (a number, ``"OL"``, ``"beep"`` ...) and ``at_s``,
        the second at which it was read; of a look the mode is ``"note"`` and `red` what was looked at. Everything
        must agree with what this dead board shows. :func:`read_gate_sheet` reads such rows from the printed
        sheet's table.

        Raises
        ------
        BenchError
            If the board is live, a value is not what the board shows, or the sheet looks copied; nothing of it
            counts then.
        """
        if any(self._bench.state(part.designation) != "off" for part, _ in self._bench.board.supplies):
            raise BenchError("the sheet of a dead test is filled in on a dead board", try_this="bench.power(False)")
        rows = [dict(row) for row in sheet]
        times = [_time(row, number) for number, row in enumerate(rows)]
        _refuse_copies(rows, times)
        place = len(self._bench.log)
        taken = [self._agreed(row, number, place) for number, row in enumerate(rows)]
        self._entered += taken

    def _agreed(self, row: Mapping[str, Any], number: int, place: int) -> Evidence:
        mode, red, black = (str(row.get(key, "")) for key in ("mode", "red", "black"))
        if mode == "note":
            return Evidence.of_note({"what": red, "seen": row.get("value", "")}, place)
        if mode not in MODES:
            raise _slip(number, f"the meter has no {mode!r}", "turn it to " + ", ".join(MODES))
        shown = self._bench.meter.peek(mode, red, black)
        if not _agrees(row.get("value"), shown.text, float(shown), mode):
            raise _slip(
                number,
                f"{mode} from {red} to {black} cannot have read {row.get('value')!r} on this board",
                "take the reading again and write down what the display shows",
            )
        value = None if math.isinf(shown) else float(shown)
        return Evidence(place, mode, red, black, value, shown.live)

    # power and stages ------------------------------------------------------------------------------
    def allow_power(self) -> None:
        """Let the supply come on, or say what is missing.

        Raises
        ------
        BenchError
            Naming the row and the call to try.
        """
        log = self._bench.log
        changed = self._passed_at < 0 or any(done.do in CHANGES for done in log[self._passed_at :])
        if changed:
            self._refuse_open("the power stays off")
        closed = [part for part in self._breakers() if self._bench.state(part) in ("on", "whole")]
        if changed and closed:
            raise BenchError(
                f"the power stays off: {', '.join(closed)} is closed, and everything would come alive at once",
                where=closed[0],
                try_this=f'bench.breaker("{closed[0]}", False), then close one at a time with the supply on',
                code="bench-gate",
            )
        supply, entry = self._bench.board.supplies[0]
        self._passed_at = len(log)
        self._stage = ("the supply", supply.terminal(entry.plus), len(log)) if changed else None

    def allow_breaker(self, part: str) -> None:
        """Let a breaker close, or say what is missing.

        Raises
        ------
        BenchError
            Naming the row, or the reading of the stage before.
        """
        if self._passed_at < 0 or any(done.do in CHANGES for done in self._bench.log[self._passed_at :]):
            self._refuse_open(f"{part} stays open")
        if all(self._bench.state(supply.designation) == "off" for supply, _ in self._bench.board.supplies):
            raise BenchError(
                f"{part} stays open while the supply is off: closed beforehand, it would come alive unseen",
                where=part,
                try_this="bench.power(True) first, read it, then close one breaker at a time",
                code="bench-gate",
            )
        self._refuse_unread(part)
        self._stage = (part, self._behind(part), len(self._bench.log))

    def _refuse_open(self, outcome: str) -> None:
        row = self.next
        if row is not None:
            raise BenchError(
                f"{outcome}; still to be shown: {row.what}" + (f": {row.why}" if row.why else ""),
                where=row.id,
                try_this=row.call,
                code="bench-gate",
            )

    def _refuse_unread(self, part: str) -> None:
        """The stage before must have been read, and must have been right."""
        if self._stage is None:
            return
        what, terminal, since = self._stage
        net = self._net(terminal)
        readings = [
            done.what
            for done in self._bench.log[since:]
            if done.do == "read" and done.what["mode"] == "volts" and net & {done.what["red"], done.what["black"]}
        ]
        call = f'bench.meter.volts("{terminal}", "{self._zero()}")'
        if not readings:
            raise BenchError(
                f"{part} stays open: nobody has read what {what} brought",
                where=terminal,
                try_this=call,
                code="bench-gate-stage",
            )
        volts = [abs(r["value"]) for r in readings if r["value"] is not None]
        if not any(LOW_V <= v <= HIGH_V for v in volts):
            shown = readings[-1]["shown"]
            raise BenchError(
                f"{part} stays open: behind {what} the meter shows {shown}, not {LOW_V:g} to {HIGH_V:g} V",
                where=terminal,
                try_this="switch off and look for what pulls it down, or for what is missing",
                code="bench-gate-stage",
            )

    def _breakers(self) -> list[str]:
        return [part.designation for part in self._bench.board.of_kind("breaker", "fuse")]

    def _behind(self, part: str) -> str:
        """Where to read what a breaker brings: a strip's bar if there is one behind it, else its own clamp."""
        bench = self._bench
        own = {f"{part}:{name}" for name in bench.board.part(part).entry.terminals}
        ahead = self._net(bench.board.supplies[0][0].terminal(bench.board.supplies[0][1].plus))
        behind = next((t for t in sorted(own, reverse=True) if t not in ahead), min(own))
        bars = [t for t in sorted(self._net(behind)) if bench.board.parts[t.partition(":")[0]].kind == "terminal_strip"]
        return bars[0] if bars else behind

    def _zero(self) -> str:
        bench = self._bench
        supply, entry = bench.board.supplies[0]
        minus: str = supply.terminal(entry.minus)
        earth = bench.board.earth_terminals
        bars = [
            t
            for wire in bench.wiring.at(minus)
            for t in sorted(wire.ends - {minus} - earth)
            if bench.board.parts[t.partition(":")[0]].kind == "terminal_strip"
        ]
        return bars[0] if bars else minus

    def _net(self, terminal: str) -> frozenset[str]:
        nets = self._bench.wiring.nets()
        return next((net for net in nets if terminal in net), frozenset((terminal,)))


def read_gate_sheet(text: str) -> list[dict[str, Any]]:
    """The rows of a filled-in table of checks before power (CSV), for :meth:`PowerGate.enter`.

    The table is the one that ``labkit sheets`` writes: ``mode``, ``red``, ``black``, ``reading`` and ``time``
    (``14:05:30`` or seconds). Rows without a reading are left out, and so is what only hands and eyes
    can check. ``24.1 V`` and ``1.2 kohm`` are numbers.

    Raises
    ------
    BenchError
        Naming the line that cannot be read.
    """
    reader = csv.DictReader(io.StringIO(text.removeprefix("\ufeff")))
    missing = [key for key in ("mode", "red", "black", "reading", "time") if key not in (reader.fieldnames or ())]
    if missing:
        raise BenchError(
            f"the sheet has no column {missing[0]}",
            where="line 1",
            try_this="fill in the table pre-power.csv that labkit sheets writes",
            code="bench-gate-sheet",
        )
    rows = []
    for row in reader:
        words = {key: str(row[key] or "").strip() for key in ("mode", "red", "black", "reading", "time")}
        if words["mode"] in (*MODES, "note") and words["reading"]:
            at_s = _seconds(words["time"], f"line {reader.line_num}")
            value = words["reading"] if words["mode"] in ("note", "continuity") else _figure(words["reading"])
            rows.append({**{k: words[k] for k in ("mode", "red", "black")}, "value": value, "at_s": at_s})
    return rows


def _seconds(text: str, where: str) -> float:
    try:
        hours, minutes, seconds = [*(float(part) for part in text.split(":")), 0.0][:3]
    except ValueError:
        raise BenchError(
            f"{text!r} is no time", where=where, try_this="write 14:05:30", code="bench-gate-sheet"
        ) from None
    return 3600 * hours + 60 * minutes + seconds


def _figure(text: str) -> float | str:
    """A reading as written: a number with or without its unit, or a word such as OL."""
    found = re.fullmatch(r"([-+]?[0-9]*[.,]?[0-9]+)\s*([mkM]?)\s*(V|ohm|Ω|A)?", text)
    if not found:
        return text
    return float(found[1].replace(",", ".")) * {"": 1.0, "m": 1e-3, "k": 1e3, "M": 1e6}[found[2]]


def _row(need: Need, judged: tuple[bool, str]) -> GateRow:
    return GateRow(need.id, need.what, need.mode, need.red, need.black, need.expected, need.call, *judged)


def _slip(number: int, what: str, try_this: str = "") -> BenchError:
    return BenchError(what, where=f"row {number + 1} of the sheet", try_this=try_this, code="bench-gate-sheet")


def _time(row: Mapping[str, Any], number: int) -> float:
    at = row.get("at_s")
    if isinstance(at, bool) or not isinstance(at, int | float) or not math.isfinite(at):
        raise _slip(number, "has no time", "write at_s, the second at which it was read")
    return float(at)


def _refuse_copies(rows: list[dict[str, Any]], times: list[float]) -> None:
    """A sheet that nobody can have read so: times that fall or tick like a clock, one figure everywhere."""
    for number, (a, b) in enumerate(pairwise(times), start=1):
        if b < a:
            raise _slip(number, "is earlier than the row above it", "rows stand in the order in which they were read")
    gaps = [round(b - a, 3) for a, b in pairwise(times)]
    if len(times) >= ALIKE_TIMES and len(set(gaps)) == 1:
        raise _slip(
            len(rows) - 1,
            f"every row is {gaps[0]:g} s after the one before: nobody reads like that",
            "write down when each reading was taken",
        )
    ohms = [str(row.get("value")) for row in rows if row.get("mode") == "ohms" and row.get("value") != "OL"]
    if len(ohms) >= COPIED and len(set(ohms)) == 1:
        raise _slip(len(rows) - 1, f"{len(ohms)} ohm readings are all {ohms[0]}: copied, not read")


def _agrees(value: Any, text: str, shown: float, mode: str) -> bool:
    if mode == "continuity":
        return value == text or (isinstance(value, bool) and value == bool(shown))
    if value is None or value == "OL":
        return math.isinf(shown)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return bool(value == text)
    if math.isinf(shown):
        return False
    allowed = DEAD_V if mode in ("volts", "diode") else max(OHM_STEP, OHM_PART * abs(shown))
    return abs(value - shown) <= allowed

"""The hand-held meter at the bench: probes on terminals, a clamp around a wire. Every reading goes into the log."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from labkit.base import did_you_mean
from labkit.bench.errors import BenchError
from labkit.bench.trace import Done
from labkit.circuit import Circuit, Solver, Source
from labkit.circuit import meter as circuit_meter

if TYPE_CHECKING:
    from labkit.bench.front import Bench

__all__ = ["MODES", "PROVING", "Meter"]

MODES = ("volts", "ohms", "continuity", "diode", "amps")
"""What the meter can be turned to."""

PROVING = ("unit+", "unit-")
"""The two ends of the proving unit, a known source of its own beside the board."""

_UNIT = Solver(Circuit((Source("unit", "unit+", "unit-", 24.0, 1.0, 0.05),), ground="unit-"))


class Meter:
    """Reads the bench as it stands; reading changes nothing at the bench.

    Volts are read with the meter's own 10 megohm, ohms with its own test current. A reading is a number that
    also knows its unit and its text as displayed. Each goes into ``bench.log`` with the bench time, and with what
    was expected if that was said before; :meth:`peek` reads without a trace, for views and for machinery.

    Examples
    --------
    ``bench.meter.volts("K1:A1", "X1:0V", expect=24)`` with the red probe on K1:A1.
    """

    __slots__ = ("_bench",)

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def volts(self, a: str, b: str, *, expect: float | str | None = None) -> circuit_meter.Reading:
        """Volts with the red probe on terminal `a` and the black one on `b`.

        Raises
        ------
        BenchError
            If there is no such terminal.
        """
        return self._logged("volts", a, b, expect)

    def ohms(self, a: str, b: str, *, expect: float | str | None = None) -> circuit_meter.Reading:
        """Ohms between two terminals; ``live`` is set, and logged, if the circuit drives the probes.

        Raises
        ------
        BenchError
            If there is no such terminal.
        """
        return self._logged("ohms", a, b, expect)

    def continuity(self, a: str, b: str, *, expect: bool | str | None = None) -> bool:
        """Whether the meter beeps: less than 50 ohm, on a dead circuit.

        Raises
        ------
        BenchError
            If there is no such terminal.
        """
        return bool(self._logged("continuity", a, b, expect))

    def diode(self, a: str, b: str, *, expect: float | str | None = None) -> circuit_meter.Reading:
        """Volts that 1 mA needs from red `a` to black `b`: 0.5 to 0.7 V one way through a diode, OL the other.

        Raises
        ------
        BenchError
            If there is no such terminal.
        """
        return self._logged("diode", a, b, expect)

    def amps(self, wire: str | int, *, expect: float | str | None = None) -> circuit_meter.Reading:
        """Amperes in a wire by clamp, from its first end to its second.

        Raises
        ------
        BenchError
            If there is no such wire, or it is lifted.
        """
        return self._logged("amps", str(wire), "", expect)

    def prove(self, *, expect: float | str | None = None) -> circuit_meter.Reading:
        """Read the proving unit, a known 24 V: a meter that shows it is believed when it shows nothing."""
        return self._logged("volts", *PROVING, expect)

    def peek(self, mode: str, a: str, b: str = "") -> circuit_meter.Reading:
        """Read without a line in the log; of ``amps``, `a` is the wire.

        Continuity reads 1 (``"beep"``) or 0 (``"silent"``).

        Raises
        ------
        BenchError
            If there is no such mode, terminal or wire.
        """
        bench = self._bench
        if mode == "amps":
            element = bench.wire_element(a)
            bench.engine.refuse_if_failed()
            return circuit_meter.amps(bench.engine.net.reading(bench.engine.key).solution, element)
        if mode == "volts" and {a, b} == {*PROVING}:
            return circuit_meter.volts(_UNIT, 0, a, b)
        a, b = bench.terminal(a), bench.terminal(b)
        if mode == "volts":
            return circuit_meter.volts(bench.engine.net.solver, bench.engine.now_reading().key, a, b)
        circuit = bench.engine.net.electrical.circuit
        if mode == "ohms":
            return circuit_meter.ohms(circuit, self._closed(), a, b)
        if mode == "continuity":
            return _beep(circuit_meter.ohms(circuit, self._closed(), a, b))
        if mode == "diode":
            return circuit_meter.diode_test(circuit, self._closed(), a, b)
        raise BenchError(
            f"the meter has no {mode!r}",
            where="the meter's switch",
            try_this=did_you_mean(mode, MODES) or "turn it to " + ", ".join(MODES),
            code="bench-meter",
        )

    def _logged(self, mode: str, a: str, b: str, expect: float | str | None) -> circuit_meter.Reading:
        bench = self._bench
        if not (expect is None or isinstance(expect, str | float | int)) or expect != expect:  # noqa: PLR0124 - NaN
            raise BenchError(
                f"{expect!r} is no prediction",
                where=f"{mode} {a} {b}".strip(),
                try_this='say a number such as expect=24, or a word such as expect="live" or expect="OL"',
                code="bench-value",
            )
        got = self.peek(mode, a, b)
        what: dict[str, Any] = {"mode": mode}
        what |= {"wire": a} if mode == "amps" else {"red": a, "black": b}
        what |= {"shown": got.text, "value": None if math.isinf(got) else float(got), "live": got.live}
        if expect is not None:
            what["expect"] = expect
        bench.log.append(Done(bench.now_us, "read", what))
        return got

    def _closed(self) -> tuple[str, ...]:
        engine = self._bench.engine
        key = engine.now_reading().key
        return tuple(name for i, name in enumerate(engine.net.solver.switches) if key >> i & 1)


def _beep(ohms: circuit_meter.Reading) -> circuit_meter.Reading:
    beeps = ohms < circuit_meter.BEEP_OHM and not ohms.live
    reading = circuit_meter.Reading.of(float(beeps), "", 1.0, live=ohms.live)
    reading.text = "beep" if beeps else "silent"
    return reading

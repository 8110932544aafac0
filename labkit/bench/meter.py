"""The hand-held meter at the bench: probes on terminals, a clamp around a wire."""

from __future__ import annotations

from typing import TYPE_CHECKING

from labkit.circuit import meter as circuit_meter

if TYPE_CHECKING:
    from labkit.bench.front import Bench

__all__ = ["Meter"]


class Meter:
    """Reads the bench as it stands; reading changes nothing at the bench.

    Volts are read with the meter's own 10 megohm, ohms with its own test current. A reading is a number that
    also knows its unit and its text as displayed.

    Examples
    --------
    ``bench.meter.volts("K1:A1", "X1:0V")`` with the red probe on K1:A1.
    """

    __slots__ = ("_bench",)

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def volts(self, a: str, b: str) -> circuit_meter.Reading:
        """Volts with the red probe on terminal `a` and the black one on `b`.

        Raises
        ------
        BenchError
            If there is no such terminal.
        """
        bench = self._bench
        a, b = bench.terminal(a), bench.terminal(b)
        return circuit_meter.volts(bench.engine.net.solver, bench.engine.key, a, b)

    def ohms(self, a: str, b: str) -> circuit_meter.Reading:
        """Ohms between two terminals; ``live`` is set if the circuit drives the probes.

        Raises
        ------
        BenchError
            If there is no such terminal.
        """
        a, b = self._bench.terminal(a), self._bench.terminal(b)
        return circuit_meter.ohms(self._bench.engine.net.electrical.circuit, self._closed(), a, b)

    def continuity(self, a: str, b: str) -> bool:
        """Whether the meter beeps.

        Raises
        ------
        BenchError
            If there is no such terminal.
        """
        a, b = self._bench.terminal(a), self._bench.terminal(b)
        return circuit_meter.continuity(self._bench.engine.net.electrical.circuit, self._closed(), a, b)

    def amps(self, wire: str | int) -> circuit_meter.Reading:
        """Amperes in a wire by clamp, from its first end to its second.

        Raises
        ------
        BenchError
            If there is no such wire, or it is lifted.
        """
        bench = self._bench
        element = bench.wire_element(wire)
        bench.engine.refuse_if_failed()
        return circuit_meter.amps(bench.engine.net.reading(bench.engine.key).solution, element)

    def _closed(self) -> tuple[str, ...]:
        engine = self._bench.engine
        return tuple(name for i, name in enumerate(engine.net.solver.switches) if engine.key >> i & 1)

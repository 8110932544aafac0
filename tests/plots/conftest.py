"""A small record with the attributes of a bench's: the seal-in lesson's press, worked out by hand."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import pytest


@dataclass
class Phase:
    kind: str
    start_us: int
    end_us: int


@dataclass
class Signal:
    name: str
    kind: str
    changes: list[tuple[int, Any]]


@dataclass
class Done:
    t_us: int
    do: str
    what: dict[str, Any]


@dataclass
class Record:
    signals: dict[str, Signal]
    scans: list[Phase] = field(default_factory=list)
    events: list[Any] = field(default_factory=list)
    start_us: int = 0
    end_us: int = 200_000


def scans(count: int, period: int = 10_000, parts: tuple[int, ...] = (100, 100, 100), start: int = 0) -> list[Phase]:
    """`count` scans of read, solve, write, then service if a fourth part is given, then idle."""
    out = []
    for n in range(count):
        t = start + n * period
        for kind, length in zip(("read", "solve", "write", "service"), parts, strict=False):
            out.append(Phase(kind, t, t + length))
            t += length
        out.append(Phase("idle", t, start + (n + 1) * period))
    return out


def signal(name: str, kind: str, *changes: tuple[int, Any]) -> tuple[str, Signal]:
    return name, Signal(name, kind, list(changes))


def seal_in() -> Record:
    """S2 pressed 23 ms after the start for 45 ms; 4 ms filter, 10 ms scan, 25 ms pull-in, 15 ms release.

    The press is filtered at 27 ms and read at 30 ms; the coil is on at 30.4 ms, K1 closes at 55.4 ms,
    the auxiliary is read at 60 ms, so K1 holds when S2 opens at 68 ms; S1 opens at 140 ms.
    """
    return Record(
        dict(
            [
                signal("pos:S2", "state", (0, "released"), (23_000, "pressed"), (68_000, "released")),
                signal("pos:S1", "state", (0, "released"), (140_000, "pressed")),
                signal("volts:I2", "volts", (0, 0.0), (23_000, 23.8), (68_000, 0.0)),
                signal("led:I2", "bool", (0, False), (23_000, True), (68_000, False)),
                signal("in:I2", "bool", (0, False), (27_000, True), (72_000, False)),
                signal("bit:S1", "bool", (0, True), (150_000, False)),
                signal("bit:S2", "bool", (0, False), (30_100, True), (80_100, False)),
                signal("bit:K1", "bool", (0, False), (30_200, True), (150_200, False)),
                signal("bit:K1_A", "bool", (0, False), (60_100, True), (180_100, False)),
                signal("out:Q1", "bool", (0, False), (30_300, True), (150_300, False)),
                signal("coil:K1", "volts", (0, 0.0), (30_400, 23.7), (150_400, 0.0)),
                signal("pole:K1", "bool", (0, False), (55_400, True), (165_400, False)),
                signal("aux:K1", "bool", (0, False), (55_400, True), (165_400, False)),
                signal(
                    "motor:M1",
                    "speed",
                    (0, 0.0),
                    (55_400, 0.0),
                    (120_000, 1.0),
                    (165_400, 1.0),
                    (200_000, 0.55),
                ),
                signal("mode:A1", "state", (0, "run")),
            ]
        ),
        scans(20),
        [Done(23_000, "press", {"part": "S2", "hold_ms": 45}), Done(140_000, "press", {"part": "S1"})],
    )


@pytest.fixture
def make() -> SimpleNamespace:
    """Everything a test builds its own record from."""
    return SimpleNamespace(Phase=Phase, Signal=Signal, Done=Done, Record=Record, scans=scans, signal=signal)


@pytest.fixture
def record() -> Record:
    return seal_in()

"""A trace as a value change dump (IEEE 1364), which wave viewers read."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any

from vcd import VCDWriter

from labkit.base import write_atomic
from labkit.bench.trace import Trace

__all__ = ["save_vcd", "vcd_text"]

_KIND = {"bool": "wire", "volts": "real", "level": "real", "state": "string"}


def _plain(name: str) -> str:
    """A name without the signs that VCD readers stumble over."""
    return re.sub(r"[^A-Za-z0-9_$]", "_", name)


def vcd_text(trace: Trace) -> str:
    """The trace as VCD text, one scope for each layer, times in microseconds.

    The text has no date in it, so that the same trace gives the same text. The format has one value for each
    time, so of what changed at the very start only the last value is there.
    """
    out = io.StringIO()
    with VCDWriter(out, timescale="1 us", date="", comment="labkit", version="") as writer:
        changes: list[tuple[int, int, Any, int | float | str]] = []
        for number, signal in enumerate(trace.signals.values()):
            layer, _, name = signal.name.partition(":")
            extra = {"size": 1} if signal.kind == "bool" else {}
            first = _raw(signal.changes[0][1])
            variable = writer.register_var(_plain(layer), _plain(name), _KIND[signal.kind], init=first, **extra)
            changes += [(t, number, variable, _raw(value)) for t, value in signal.changes[1:]]
        phase = writer.register_var("scan", "phase", "string", init="idle")
        changes += [(p.start_us, -1, phase, p.kind) for p in trace.phases() if p.start_us >= trace.start_us]
        for t_us, _, variable, value in sorted(changes, key=lambda change: change[:2]):
            writer.change(variable, t_us - trace.start_us, value)
        writer.close(trace.end_us - trace.start_us)
    return out.getvalue()


def _raw(value: object) -> int | float | str:
    if isinstance(value, bool):
        return int(value)
    return value if isinstance(value, float | str) else str(value)


def save_vcd(trace: Trace, path: str | Path) -> Path:
    """Write :func:`vcd_text` to a file, whole or not at all."""
    return write_atomic(path, vcd_text(trace))

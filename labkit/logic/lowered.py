"""A program as a flat list of operations over numbered slots: what every fast engine and the state model read.

Its `repr` is the golden text of the tests.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Lowered", "Op", "Timer", "new_bits", "new_memory"]


@dataclass(frozen=True, slots=True)
class Op:
    """One operation. Results are numbered once and never change; slots and cells are the state.

    Parameters
    ----------
    do
        | ``load`` slot -> result; ``const`` number -> result;
        | ``and``, ``or``, ``xor``, ``not`` args -> result;
        | ``rise``, ``fall``: result is true if the argument has risen (fallen) since the cell was last written, and the
          cell takes the argument;
        | ``store``, ``set``, ``reset``: argument into slot;
        | ``TON`` ... ``F_TRIG``: a standard block; `args` are its BOOL inputs in pin order, `slots` its outputs,
          `cells` its memory, `number` its preset (microseconds or count).
    args
        Numbers of results.
    result
        Number of the own result, or -1.
    slots, cells
        Indices into :attr:`Lowered.slots` and :attr:`Lowered.memory`.
    number
        A preset or a constant.
    rung, element
        Where it comes from: rung index from 0, element number (-1 for operations between elements).
    """

    do: str
    args: tuple[int, ...] = ()
    result: int = -1
    slots: tuple[int, ...] = ()
    cells: tuple[int, ...] = ()
    number: int = 0
    rung: int = 0
    element: int = -1


@dataclass(frozen=True, slots=True)
class Timer:
    """Where one timer keeps its state: cell numbers, and the preset in microseconds. It runs while its mode is 1."""

    instance: str
    mode: int
    since: int
    et: int
    preset_us: int


@dataclass(frozen=True, slots=True, repr=False)
class Lowered:
    """The flat form of a program.

    Parameters
    ----------
    name
        The program's name.
    slots
        Every BOOL variable in order of first use, block outputs such as ``T1.Q`` among them; declared ones that no
        rung uses at the end.
    memory
        Hidden state: edge memories and block cells, by name.
    ops
        In order of evaluation.
    initial
        Starting value of each slot, 0 or 1.
    retained_slots, retained_cells
        Indices of what a VAR RETAIN section keeps through a loss of power.
    timers
        Every timer's place.
    readings
        Values for a watcher: ``"T1.ET"`` or ``"C1.CV"`` and the cell it is read from.
    """

    name: str
    slots: tuple[str, ...]
    memory: tuple[str, ...]
    ops: tuple[Op, ...]
    initial: tuple[int, ...]
    retained_slots: tuple[int, ...] = ()
    retained_cells: tuple[int, ...] = ()
    timers: tuple[Timer, ...] = ()
    readings: tuple[tuple[str, int], ...] = ()

    @property
    def has_timers(self) -> bool:
        """True if any result depends on the clock."""
        return bool(self.timers)

    def timing(self, mem: Sequence[int], now_us: int) -> bool:  # noqa: ARG002 - the state knows it already
        """True if a timer runs at `now_us`, so that a later scan may differ although the inputs do not.

        A scan that changed neither bits nor memory, with no timer running, is at rest: the same inputs give the same
        result for ever.
        """
        return any(mem[t.mode] == 1 for t in self.timers)

    def due_us(self, mem: Sequence[int]) -> int | None:
        """When the next running timer reaches its preset, in microseconds; None if none runs."""
        return min((mem[t.since] + t.preset_us for t in self.timers if mem[t.mode] == 1), default=None)

    def values(self, mem: Sequence[int]) -> dict[str, int]:
        """ET of each timer in microseconds and CV of each counter, by ``"T1.ET"`` and ``"C1.CV"``."""
        return {name: mem[cell] for name, cell in self.readings}

    def __repr__(self) -> str:
        lines = [f"(program {self.name}", "  (slots " + " ".join(self.slots) + ")"]
        if self.memory:
            lines.append("  (memory " + " ".join(self.memory) + ")")
        rung = -1
        for op in self.ops:
            if op.rung != rung:
                rung = op.rung
                lines.append(f"  (rung {rung + 1})")
            lines.append("  " + self._line(op))
        return "\n".join(lines) + ")"

    def _line(self, op: Op) -> str:
        words = [op.do]
        words += [self.slots[i] for i in op.slots]
        words += [f"[{self.memory[i]}]" for i in op.cells]
        words += [f"%{i}" for i in op.args]
        if op.do == "const" or op.do in _WITH_PRESET:
            words.append(str(op.number))
        text = "(" + " ".join(words) + ")"
        return text if op.result < 0 else f"%{op.result} = {text}"


_WITH_PRESET = frozenset({"TON", "TOF", "TP", "CTU", "CTD", "CTUD"})


def new_bits(lowered: Lowered) -> list[int]:
    """Starting values of the slots, 0 or 1, indexed like ``lowered.slots``."""
    return list(lowered.initial)


def new_memory(lowered: Lowered) -> list[int]:
    """Starting values of the hidden memory: all zero, as at a cold start."""
    return [0] * len(lowered.memory)

"""What the standard function blocks do, in plain Python: one class each, as slow and as obvious as can be.

The walker runs these; the fast engines are compared with them. Equations and diagrams: IEC 61131-3, standard function
blocks (tables 43 to 46 of the third edition). Where the diagrams leave it open: a PT that is reached counts as elapsed.
"""

# ruff: noqa: ARG002 - every block has the same call, whether it counts, times or neither

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from labkit.logic.blocks import INT_MAX, INT_MIN

__all__ = ["MEANINGS", "BlockState", "Rise"]


class BlockState(Protocol):
    """One instance. `call` takes the BOOL inputs in pin order and gives the BOOL outputs in pin order."""

    value: int

    def call(self, inputs: list[bool], preset: int, now_us: int) -> list[bool]:
        """One evaluation."""


class Rise:
    """A rising edge detector: what it was last time is FALSE before the first time."""

    def __init__(self) -> None:
        self.before = False

    def __call__(self, now: bool) -> bool:
        risen = now and not self.before
        self.before = now
        return risen


class _Ton:
    def __init__(self) -> None:
        self.value = 0  # ET
        self.since: int | None = None

    def call(self, inputs: list[bool], preset: int, now_us: int) -> list[bool]:
        if not inputs[0]:
            self.since, self.value = None, 0
            return [False]
        if self.since is None:
            self.since = now_us
        self.value = min(now_us - self.since, preset)
        return [self.value >= preset]


class _Tof:
    def __init__(self) -> None:
        self.value = 0
        self.on = False
        self.since: int | None = None

    def call(self, inputs: list[bool], preset: int, now_us: int) -> list[bool]:
        if inputs[0]:
            self.on, self.since, self.value = True, None, 0
        elif self.on:
            if self.since is None:
                self.since = now_us
            self.value = min(now_us - self.since, preset)
            self.on = self.value < preset
        return [self.on]


class _Tp:
    def __init__(self) -> None:
        self.value = 0
        self.on = False
        self.done = False  # the pulse is over, the input still there
        self.since = 0

    def call(self, inputs: list[bool], preset: int, now_us: int) -> list[bool]:
        if inputs[0] and not self.on and not self.done:
            self.on, self.since = True, now_us
        if self.on:
            self.value = min(now_us - self.since, preset)
            if self.value >= preset:
                self.on, self.done = False, True
        if self.done and not inputs[0]:
            self.done, self.value = False, 0
        return [self.on]


class _Ctu:
    def __init__(self) -> None:
        self.value = 0  # CV
        self.up = Rise()

    def call(self, inputs: list[bool], preset: int, now_us: int) -> list[bool]:
        up, reset = self.up(inputs[0]), inputs[1]
        if reset:
            self.value = 0
        elif up and self.value < INT_MAX:
            self.value += 1
        return [self.value >= preset]


class _Ctd:
    def __init__(self) -> None:
        self.value = 0
        self.down = Rise()

    def call(self, inputs: list[bool], preset: int, now_us: int) -> list[bool]:
        down, load = self.down(inputs[0]), inputs[1]
        if load:
            self.value = preset
        elif down and self.value > INT_MIN:
            self.value -= 1
        return [self.value <= 0]


class _Ctud:
    def __init__(self) -> None:
        self.value = 0
        self.up = Rise()
        self.down = Rise()

    def call(self, inputs: list[bool], preset: int, now_us: int) -> list[bool]:
        up, down = self.up(inputs[0]), self.down(inputs[1])
        reset, load = inputs[2], inputs[3]
        if reset:
            self.value = 0
        elif load:
            self.value = preset
        elif not (up and down):
            if up and self.value < INT_MAX:
                self.value += 1
            elif down and self.value > INT_MIN:
                self.value -= 1
        return [self.value >= preset, self.value <= 0]


class _Sr:
    def __init__(self) -> None:
        self.value = 0
        self.q1 = False

    def call(self, inputs: list[bool], preset: int, now_us: int) -> list[bool]:
        s1, r = inputs
        self.q1 = s1 or (not r and self.q1)
        return [self.q1]


class _Rs:
    def __init__(self) -> None:
        self.value = 0
        self.q1 = False

    def call(self, inputs: list[bool], preset: int, now_us: int) -> list[bool]:
        s, r1 = inputs
        self.q1 = not r1 and (s or self.q1)
        return [self.q1]


class _RTrig:
    def __init__(self) -> None:
        self.value = 0
        self.m = False

    def call(self, inputs: list[bool], preset: int, now_us: int) -> list[bool]:
        clk = inputs[0]
        q = clk and not self.m
        self.m = clk
        return [q]


class _FTrig:
    """By the equations of the standard: a first call with CLK at FALSE gives one pulse."""

    def __init__(self) -> None:
        self.value = 0
        self.m = False

    def call(self, inputs: list[bool], preset: int, now_us: int) -> list[bool]:
        clk = inputs[0]
        q = not clk and not self.m
        self.m = not clk
        return [q]


MEANINGS: dict[str, Callable[[], BlockState]] = {
    "TON": _Ton,
    "TOF": _Tof,
    "TP": _Tp,
    "CTU": _Ctu,
    "CTD": _Ctd,
    "CTUD": _Ctud,
    "SR": _Sr,
    "RS": _Rs,
    "R_TRIG": _RTrig,
    "F_TRIG": _FTrig,
}

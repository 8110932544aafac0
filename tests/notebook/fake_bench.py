"""A bench of a few lines with the real one's verbs: what the widgets' own tests work.

It holds in by hand-written logic and fixed delays; nothing about electricity is tested with it.
"""

from __future__ import annotations

from labkit.base import Duration, LabkitError, as_us, us

FILTER_US, SCAN_US, PULL_US = 4_000, 10_000, 25_000


class FakeBench:
    def __init__(self) -> None:
        self.now_us = 0
        self.positions = {
            "S0": "released",
            "S1": "released",
            "S2": "released",
            "S6": "released",
            "S3": "left",
            "S4": "centre",
            "S5": "off",
            "K1": "open",
            "G1": "on",
            "B1": "off",
            "B2": "off",
            "F1": "on",
            "F4": "on",
        }
        self.fitted = {"K1.aux"}
        self.done: list[tuple[int, str, object]] = []
        self._timers: list[tuple[int, str, object]] = []
        self.bits = {"K1": False, "S2": False, "K1_A": False}

    # verbs
    def press(self, part: str, hold: Duration | None = None) -> None:
        self._timers = [timer for timer in self._timers if timer[1] != part]
        if self.positions.get(part) != "pressed":
            self._set(part, "pressed")
        if hold is not None:
            self._timers.append((self.now_us + as_us(hold), part, "released"))

    def release(self, part: str) -> None:
        self._set(part, "released")

    def turn(self, part: str, to: str) -> None:
        self._set(part, to)

    def key(self, part: str, on: bool = True) -> None:
        self._set(part, "on" if on else "off")

    def beam(self, part: str, blocked: bool) -> None:
        self._set(part, "on" if blocked else "off")

    def metal(self, part: str, mm: float | None = None, metal: str = "steel") -> None:
        self._set(part, "off" if mm is None or mm > 8 else "on")

    def breaker(self, part: str, on: bool) -> None:
        self._set(part, "on" if on else "off")

    def remove(self, part: str) -> None:
        self.fitted.discard(part)
        self.done.append((self.now_us, part, "missing"))

    def fit(self, part: str) -> None:
        self.fitted.add(part)

    def wait_until(self, t_us: int) -> None:
        self.wait(us(t_us - self.now_us))

    def wait(self, length: Duration) -> None:
        end = self.now_us + as_us(length)
        while True:
            scan = (self.now_us // SCAN_US + 1) * SCAN_US
            due = min([t for t, *_ in self._timers] + [scan, end])
            self.now_us = due
            for timer in [t for t in self._timers if t[0] <= due]:
                self._timers.remove(timer)
                self._set(timer[1], timer[2])
            if due == scan:
                self._scan()
            if due == end:
                return

    # looks
    def state(self, part: str) -> str:
        if part not in self.positions:
            raise LabkitError(f"there is no part {part} on this board", try_this="parts: S1, S2")
        return self.positions[part]

    def lit(self, part: str) -> bool:
        sensors = {part: self.positions[part] == "on" for part in ("B1", "B2")}
        return ({"P1": self.bits["K1_A"], "P4": self.bits["S2"]} | sensors).get(part, False)

    def bit(self, tag: str) -> bool:
        return self.bits[tag]

    def _set(self, part: str, to: object) -> None:
        if part not in self.positions:
            raise LabkitError(f"there is no part {part} on this board", try_this="parts: S1, S2")
        self.positions[part] = str(to)
        self.done.append((self.now_us, part, to))

    def _scan(self) -> None:
        pressed = self.positions["S2"] == "pressed"
        started = [t for t, part, to in self.done if part == "S2" and to == "pressed"]
        self.bits["S2"] = pressed and bool(started) and self.now_us - started[-1] >= FILTER_US
        self.bits["K1_A"] = self.positions["K1"] == "closed" and "K1.aux" in self.fitted
        command = self.positions["S1"] == "released" and (self.bits["S2"] or self.bits["K1_A"])
        if command != self.bits["K1"]:
            self.bits["K1"] = command
            self._timers = [t for t in self._timers if t[1] != "K1"]
            self._timers.append((self.now_us + PULL_US, "K1", "closed" if command else "open"))


__all__ = ["FakeBench"]

"""How the bench's time goes: live, paused, slowed, one scan at a time."""

from __future__ import annotations

from typing import Any, ClassVar

import traitlets

from labkit.notebook._page import script, sheet
from labkit.notebook._stills import words
from labkit.notebook._widget import BenchWidget, Command, Number, Spec

__all__ = ["PaceBar"]


class PaceBar(BenchWidget):
    """Start, pause, slow down and single-scan one bench; tells how late the bench is.

    Parameters
    ----------
    bench
        The bench whose time it shows.
    """

    _esm = script("pace_bar")
    _css = sheet("pace_bar")
    spec: ClassVar[Spec] = {
        "start": {},
        "pause": {},
        "scan": {},
        "speed": {"speed": Number(0.001, 1)},
    }
    pace = traitlets.Enum(("live", "paused", "stopped", "failed"), "stopped").tag(sync=True)
    speed = traitlets.Float(1.0).tag(sync=True)
    now_ms = traitlets.Int(0, help="bench time, to a tenth of a second while live").tag(sync=True)
    late_ms = traitlets.Int(0, help="bench time lost because the kernel was busy").tag(sync=True)

    def __init__(self, bench: Any, **traits: Any) -> None:
        super().__init__(bench, **traits)

    def _obey(self, command: Command) -> str | None:
        hub = self.hub
        if command.do == "start":
            hub.start()
        elif command.do == "pause":
            hub.pause()
        elif command.do == "scan":
            hub.step_scan()
        else:
            hub.set_speed(float(command.get("speed", 1.0)))  # type: ignore[arg-type]
        return None

    def _look(self) -> None:
        hub = self.hub
        self.pace, self.speed = hub.state, hub.speed
        grain = max(1, round(100 * hub.speed)) if hub.state == "live" else 1
        self.now_ms = self.bench.now_us // 1000 // grain * grain
        self.late_ms = round(hub.late_s * 1000)
        if hub.failure:
            self.said = hub.failure

    def in_words(self) -> str:
        """The state in words."""
        slow = "" if self.speed == 1 else f", speed {self.speed:g}"
        return f"bench time {self.now_ms / 1000:.3f} s, {self.pace}{slow}"

    def svg(self) -> str:
        """The still picture."""
        return words(self.in_words())

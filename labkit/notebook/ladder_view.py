"""The program of a live bench with its power flow, and one scan walked step by step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import traitlets

from labkit.base import LabkitError, us
from labkit.logic import BLOCKS, Contact, elements, layout
from labkit.notebook._flow import Solving, standing_flow
from labkit.notebook._page import script, sheet
from labkit.notebook._stills import words
from labkit.notebook._widget import BenchWidget, Command, Number, Spec

__all__ = ["LadderView"]


@dataclass(frozen=True, slots=True)
class _Frame:
    """One moment of a scan: what to say, which rung it is at (0: none), the drawing, the images beside it."""

    say: str
    rung: int
    svg: str
    rows: tuple[tuple[str, str, int, bool], ...]  # kind, tag, bit, whether it changed in this moment


class LadderView(BenchWidget):
    """The ladder that the bench's controller runs: a heavy line carries power, an arrowhead is where it stops.

    Parameters
    ----------
    bench
        The bench; the view follows whatever program is loaded into it.
    """

    _esm = script("ladder_view")
    _css = sheet("ladder_view")
    spec: ClassVar[Spec] = {"scan": {}, "frame": {"to": Number(0, 10_000)}, "live": {}}
    drawing = traitlets.Unicode("", help="the ladder with its flow").tag(sync=True)
    mode = traitlets.Unicode("", help="the controller's mode").tag(sync=True)
    at = traitlets.Int(-1, help="moment of the walked scan, or -1 while live").tag(sync=True)
    moments = traitlets.Int(0).tag(sync=True)
    say = traitlets.Unicode("").tag(sync=True)
    rung = traitlets.Int(0).tag(sync=True)
    rows: Any = traitlets.List(help="the images: kind, tag, bit, changed").tag(sync=True)

    def __init__(self, bench: Any) -> None:
        self._frames: list[_Frame] = []
        self._glance: object = None
        self._layout_of: tuple[Any, Any] = (None, None)
        super().__init__(bench)

    # what is seen ----------------------------------------------------------------------------------
    def _layout(self) -> Any:
        """The loaded program's layout, or None."""
        program = self.bench.engine.controller.program
        if program is None:
            return None
        if self._layout_of[0] is not program:
            self._layout_of = (program, layout(program))
        return self._layout_of[1]

    def _look(self) -> None:
        self.mode = self.bench.mode
        if self.at >= 0:
            if self.hub.state == "live":  # the bench went on: the walked scan is history
                self._leave()
            return
        plan = self._layout()
        if plan is None:
            self.drawing, self._glance = "", None
            return
        flow = standing_flow(plan.program, self.bench.bit)
        if (plan, flow) != self._glance:
            self._glance = (plan, flow)
            self.drawing = _draw(plan, flow)

    def _leave(self) -> None:
        self.at, self.moments, self.say, self.rung, self.rows = -1, 0, "", 0, []
        self._frames, self._glance = [], None

    # what is done ----------------------------------------------------------------------------------
    def _obey(self, command: Command) -> str | None:
        if command.do == "live":
            self._leave()
            self.hub.start()
        elif command.do == "scan":
            self._walk()
        elif self._frames:
            self._show(min(int(command.get("to", 0)), len(self._frames) - 1))  # type: ignore[call-overload]
        return None

    def _walk(self) -> None:
        """Pause, let one scan pass on the bench, and tell it moment by moment."""
        plan, loop = self._layout(), self.bench.engine.scan
        if plan is None or not loop.running:
            raise LabkitError(
                "the controller makes no scans now",
                where=f"mode {self.bench.mode}",
                try_this="load a program and run it",
            )
        if self.hub.state == "live":
            self.hub.pause()
        if not self._frames:
            self._to_next_scan()
            self._earlier = self._bits()
            if _has_edges(plan.program):  # an edge contact may need to know one scan more
                self._pass_scan()
        start = self._to_next_scan()
        before = self._bits()
        self._pass_scan()
        self._frames = list(self._tell(plan, start, before, self._bits()))
        self._earlier = before
        self._show(0)
        self.hub.refresh()

    def _to_next_scan(self) -> int:
        start = int(self.bench.engine.scan.next_start_us())
        self.bench.wait(us(start - self.bench.now_us))
        return start

    def _pass_scan(self) -> None:
        self.bench.wait(us(self.bench.engine.controller.scan_period_us))

    def _bits(self) -> dict[str, bool]:
        plan, bench = self._layout(), self.bench
        names = [*(tag.name for tag in bench.tags), *plan.program.variables()]
        for instance, kind in plan.program.instances().items():
            names += [f"{instance}.{pin}" for pin in BLOCKS[kind].outputs]
        return {name: bool(bench.bit(name)) for name in dict.fromkeys(names)}

    def _tell(self, plan: Any, start: int, before: dict[str, bool], after: dict[str, bool]) -> Iterator[_Frame]:
        inputs = {tag.name for tag in self.bench.tags if tag.kind == "input"}
        outputs = {tag.name for tag in self.bench.tags if tag.kind == "output"}
        read = before | {name: after[name] for name in inputs}
        flow: dict[int, Any] = dict.fromkeys(standing_flow(plan.program, lambda _: False), (False, False, False))
        yield self._frame(f"The scan begins at {start / 1000:g} ms.", plan, flow, before, set())
        say = "Read: the inputs are copied into the input image. What happens at them later waits for the next scan."
        yield self._frame(say, plan, flow, read, {name for name in inputs if before[name] != read[name]})
        solving = Solving(plan.program, read, after, before, self._earlier)
        for step in solving.rungs():
            flow = flow | step.flow
            told = ", ".join(f"{name} = {int(bit)}" for name, bit in step.changed.items())
            say = f"Solve rung {step.number}: {told or 'no bit changes'}."
            yield replace(self._frame(say, plan, flow, solving.bits, set(step.changed)), rung=step.number)
        changed = {name for name in outputs if before[name] != after[name]}
        told = ", ".join(f"{name} = {int(after[name])}" for name in sorted(changed))
        say = f"Write: the output image goes to the terminals. {told or 'No terminal changes'}."
        yield self._frame(say, plan, flow, after, changed)

    def _frame(self, say: str, plan: Any, flow: Any, bits: dict[str, bool], changed: set[str]) -> _Frame:
        kinds = {tag.name: tag.kind for tag in self.bench.tags}
        order = {"input": 0, "memory": 1, "output": 2}
        used = [name for name in plan.program.variables() if name in bits]
        names = sorted(used, key=lambda name: order[kinds.get(name, "memory")])
        rows = tuple((kinds.get(name, "memory"), name, int(bits[name]), name in changed) for name in names)
        return _Frame(say, 0, _draw(plan, flow), rows)

    def _show(self, number: int) -> None:
        frame = self._frames[number]
        with self.hold_sync():  # the page is told of one moment at once
            self.drawing, self.say, self.rung = frame.svg, frame.say, frame.rung
            self.rows = [list(row) for row in frame.rows]
            self.moments, self.at = len(self._frames), number

    # still forms -----------------------------------------------------------------------------------
    def in_words(self) -> str:
        """The state in words."""
        program = self.bench.engine.controller.program
        return f"ladder {program.name}, controller {self.mode}" if program else "no program is loaded"

    def svg(self) -> str:
        """The still picture."""
        return self.drawing or words(self.in_words())


def _has_edges(program: Any) -> bool:
    found = [e for rung in program.rungs for e in elements(rung.network)]
    return any(isinstance(e, Contact) and e.kind in ("P", "N") for e in found)


def _draw(plan: Any, flow: Any) -> str:
    from labkit.plots import ladder_svg

    return ladder_svg(plan, flow)

"""The controller: one family, its channels, its image tables and a program; it scans when it is told to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from labkit.base import did_you_mean, nearest
from labkit.controller._channels import Channels
from labkit.controller._checks import check_program
from labkit.controller._files import family as find_family
from labkit.controller._forces import Forces
from labkit.controller._memory import FIRST_SCAN, Memory
from labkit.controller._phases import Phase, Timetable, timetable
from labkit.controller._set_up import set_up
from labkit.controller.errors import ControllerError, Note
from labkit.controller.family import Family, StartKind
from labkit.controller.tags import TagTable
from labkit.logic import Program

__all__ = ["Controller", "Image", "Mode", "OutputChange"]

Mode = Literal["off", "boot", "stop", "run"]
OutputChange = tuple[str, bool]
"""A point and whether its output is now on; the terminal follows after the family's output delay."""


@dataclass(frozen=True, slots=True)
class Image:
    """A copy of the image tables, by tag."""

    inputs: Mapping[str, int]
    outputs: Mapping[str, int]
    memory: Mapping[str, int]


class Controller:
    """A controller of one family. It has no clock: the bench says what happens and when.

    Parameters
    ----------
    family
        A family or the name of a shipped one.
    tags
        The tag table.
    scan_us, filter_us
        Set-up in place of the family's own scan period and input filter.

    Notes
    -----
    It comes without supply and with its mode switch at run. A scan that starts at `t0` is ``read(t0)``,
    ``solve(t0 + table.solve_us)``, ``write(t0 + table.write_us)`` with ``table = controller.timetable``;
    the next one starts at ``t0 + controller.scan_period_us``. Calls come in the order of their times.

    Raises
    ------
    AddressError
        If a tag lies on a point that the family does not have.
    """

    def __init__(
        self,
        family: str | Family,
        tags: TagTable,
        *,
        scan_us: int | None = None,
        filter_us: int | None = None,
    ) -> None:
        self.family = set_up(find_family(family), scan_us, filter_us)
        self.tags = tags
        for tag in tags:
            if tags.place(tag.name) is not None:
                tags.address(tag.name, self.family)
        self.mode: Mode = "off"
        self.key: Literal["run", "stop"] = "run"
        self.fault = ""
        self.program: Program | None = None
        self.notes: tuple[Note, ...] = ()
        self.boot_due_us: int | None = None
        points = self.family.points
        self._channel: dict[str, int] = {f"I{i + 1}": i for i in range(points.inputs)}
        self._channels = Channels(points.inputs, self.family.inputs.filter_us)
        self._terminals: dict[str, int] = {f"Q{i + 1}": 0 for i in range(points.outputs)}
        self._forces = Forces(tags)
        self._unstarted = True  # no scan since power-up or loading
        self._clock_held_us: int | None = None  # since when the timers' clock stands
        self._clock_lost_us = 0
        self._install()

    def __repr__(self) -> str:
        program = self.program.name if self.program else "no program"
        return f"Controller({self.family.name}, {self.mode}, {program})"

    # -- the program ---------------------------------------------------------------------------------

    def load(self, program: Program) -> None:
        """Check a program and take it in place of the present one; every value gets its initial value.

        A controller with supply and with its switch at run goes on with a first scan. What the family
        accepts but speaks of is in `notes` afterwards.

        Raises
        ------
        LoadError
            If this controller refuses the program; the present one stays.
        """
        notes = check_program(program, self.tags, self.family)
        self.program, self.notes = program, notes
        self._install()
        self.fault = ""
        self._unstarted = True
        self._clock_held_us = None  # no value is left that the lost time could matter to
        if self.mode in ("stop", "run"):
            self.mode = "stop"
            if self.key == "run":
                self._start()

    def _install(self) -> None:
        self._memory = Memory(self.program, self.tags)
        self._table = timetable(self.family.scan, len(self.program.rungs) if self.program else 0)
        slot = self._memory.slot
        placed = [tag for tag in self.tags if tag.point is not None]
        self._in = [(slot[t.name], self._channel[t.point or ""]) for t in placed if t.kind == "input"]
        outputs = [t for t in placed if t.kind == "output"]
        self._out_slots = [slot[t.name] for t in outputs]
        self._out_points = [t.point or "" for t in outputs]
        self._out_names = [t.name for t in outputs]
        self._flag = slot[FIRST_SCAN]
        self._apply_forces()
        self._first = self._prime = False
        self._written = [self._terminals[point] for point in self._out_points]
        self._stale, self._quiet = True, False

    # -- supply and mode switch ----------------------------------------------------------------------

    def power(self, up: bool, t_us: int) -> tuple[OutputChange, ...]:
        """The supply came (True) or went; the outputs that drop with it.

        After it came, call :meth:`wake` at `boot_due_us`.
        """
        if up == (self.mode != "off"):
            return ()
        self._channels.power(up, t_us)
        if up:
            self.mode = "boot"
            self.boot_due_us = t_us + self.family.supply.boot_us
            return ()
        self.mode, self.boot_due_us, self.fault = "off", None, ""
        self._hold_clock(t_us)
        # what the supply does not keep is gone now; nothing can read it before the next power-up
        self._memory.start(self.family.retention.power_up)
        self._memory.clear_inputs()
        self._unstarted = True
        if self._forces and not self.family.forces.survive_power:
            self.unforce()
        return self._drop_outputs()

    def wake(self, t_us: int) -> None:
        """The boot time is over: run or stop, as the switch says."""
        if self.mode != "boot" or self.boot_due_us is None or t_us < self.boot_due_us:
            return
        self.mode, self.boot_due_us = "stop", None
        self._channels.settle_all(t_us)
        if self.family.timers.while_stopped == "run on":
            self._release_clock(t_us)
        if self.key == "run" and self.program is not None:
            self._release_clock(t_us)
            self._start()

    def run(self, t_us: int) -> None:
        """Turn the switch to run.

        Raises
        ------
        ControllerError
            If there is a supply but no program.
        """
        self.key = "run"
        if self.mode == "stop":
            if self.program is None:
                raise ControllerError(
                    "the controller has no program to run",
                    where="the controller's switch",
                    try_this="load one first",
                    code="controller-empty",
                )
            self.fault = ""
            self._release_clock(t_us)
            self._start()

    def stop(self, t_us: int) -> tuple[OutputChange, ...]:
        """Turn the switch to stop, at once; the outputs that change by it."""
        self.key = "stop"
        return self._halt(t_us) if self.mode == "run" else ()

    def _halt(self, t_us: int) -> tuple[OutputChange, ...]:
        self.mode = "stop"
        self._quiet = False
        if self.family.timers.while_stopped == "freeze":
            self._hold_clock(t_us)
        return self._drop_outputs() if self.family.outputs.when_not_running == "off" else ()

    def _start(self) -> None:
        """From stop to the first scan."""
        rules = self.family.start
        kind: StartKind = "power-up" if self._unstarted else "stop-to-run"
        if not self._unstarted:
            self._memory.start(self.family.retention.stop_to_run)
        if rules.edges == "zero":
            self._memory.forget_edges()
        self._prime = rules.edges == "present"
        self._memory.bits[self._flag] = int(kind in rules.first_scan)
        self._first = self._stale = True
        self._unstarted = self._quiet = False
        self.mode = "run"

    def _drop_outputs(self) -> tuple[OutputChange, ...]:
        changed = tuple((point, False) for point, on in self._terminals.items() if on)
        for point, _ in changed:
            self._terminals[point] = 0
        self._written = [0] * len(self._out_points)
        return changed

    def _hold_clock(self, t_us: int) -> None:
        if self._clock_held_us is None:
            self._clock_held_us = t_us

    def _release_clock(self, t_us: int) -> None:
        if self._clock_held_us is not None:
            self._clock_lost_us += t_us - self._clock_held_us
            self._clock_held_us = None

    # -- input channels ------------------------------------------------------------------------------

    def channel(self, point: str, on: bool, t_us: int) -> int | None:
        """The raw channel at `point` is now on or off.

        Returns
        -------
        int or None
            The time when the filtered value will change: call :meth:`settle` then. None where nothing new
            is due.
        """
        index = self._index(point)
        self.settle(point, t_us - 1)  # what was due before now has come through, told or not
        due = self._channels.change(index, 1 if on else 0, t_us)
        if due is not None and due <= t_us:
            self.settle(point, t_us)
            return None
        return due

    def settle(self, point: str, t_us: int) -> bool:
        """Let a due change through the filter of one channel; whether the filtered value changed."""
        if self._channels.settle(self._index(point), t_us):
            self._stale, self._quiet = True, False
            return True
        return False

    def filtered(self, point: str) -> int:
        """The channel's value behind its filter, 0 or 1."""
        return self._channels.filtered[self._index(point)]

    @property
    def next_due_us(self) -> int | None:
        """When the next filtered value will change if the raw channels stay as they are."""
        return self._channels.next_due_us

    def _index(self, point: str) -> int:
        try:
            return self._channel[point]
        except (KeyError, TypeError):
            raise ControllerError(
                f"this controller has no input {point}",
                try_this=f"it has I1 to I{len(self._channel)}",
                where=str(point),
                code="controller-point",
            ) from None

    # -- the scan ------------------------------------------------------------------------------------

    @property
    def timetable(self) -> Timetable:
        """When things happen in a scan of the present program."""
        return self._table

    @property
    def scan_period_us(self) -> int:
        """From the start of one scan to the start of the next."""
        return self._table.period_us

    @property
    def quiet(self) -> bool:
        """The last scan changed nothing and no timer runs.

        The next one would change nothing either, until a filtered input changes, a bit is set from outside
        or the mode changes; each of these ends it.
        """
        return self._quiet

    def plan(self, t0_us: int) -> tuple[Phase, ...]:
        """The phases of a scan that starts at `t0_us`, in their order and without gaps."""
        return tuple(Phase(kind, t0_us + start, t0_us + end) for kind, start, end in self._table.phases)

    def read(self, t_us: int) -> None:
        """Sample the filtered channels into the input image."""
        if self.mode != "run":
            return
        if self._channels.settle_all(t_us):
            self._stale, self._quiet = True, False
        if self._stale:
            bits, filtered = self._memory.bits, self._channels.filtered
            for slot, index in self._in:
                bits[slot] = filtered[index]
            for slot, value in self._forced_in:
                bits[slot] = value
            self._stale = False

    def solve(self, t_us: int) -> None:
        """Solve the program once, at the instant `t_us` for all its timers."""
        if self.mode != "run" or self._table.trips:
            return
        now = t_us - self._clock_lost_us
        now -= now % self.family.timers.resolution_us
        memory = self._memory
        if self._prime:
            memory.prime_edges(now)
            self._prime = False
        bits, cells, engine = memory.bits, memory.cells, memory.engine
        bits_before, cells_before = bits[:], cells[:]
        engine.scan(bits, cells, now)
        self._quiet = (
            bits == bits_before and cells == cells_before and not self._first and not engine.timing(cells, now)
        )

    def write(self, t_us: int) -> tuple[OutputChange, ...]:
        """Hand the output image to the outputs; those that change.

        A scan longer than the watchdog allows ends here with a stop and a `fault`.
        """
        if self.mode != "run":
            return ()
        if self._table.trips:
            self.fault = (
                f"the watchdog stopped the controller: a scan may take {self.family.scan.watchdog_us / 1000:g} ms "
                f"and this program of {len(self.program.rungs) if self.program else 0} rungs takes longer"
            )
            return self._halt(t_us)
        bits = self._memory.bits
        if self._first:
            self._first = False
            bits[self._flag] = 0
        now = [bits[slot] for slot in self._out_slots]
        for number, value in self._forced_out:
            now[number] = value
        if now == self._written:
            return ()
        changed = []
        for point, value, before in zip(self._out_points, now, self._written, strict=True):
            if value != before:
                self._terminals[point] = value
                changed.append((point, value == 1))
        self._written = now
        return tuple(changed)

    # -- looking and touching ------------------------------------------------------------------------

    @property
    def image(self) -> Image:
        """A copy of the image tables, by tag."""
        by_kind: dict[str, dict[str, int]] = {"input": {}, "output": {}, "memory": {}}
        for tag in self.tags:
            by_kind[tag.kind][tag.name] = self._memory.bits[self._memory.slot[tag.name]]
        return Image(by_kind["input"], by_kind["output"], by_kind["memory"])

    @property
    def outputs(self) -> Mapping[str, int]:
        """What each output was last told, by point."""
        return MappingProxyType(self._terminals)

    @property
    def bits(self) -> Sequence[int]:
        """Every bit in the order of `slots`, as it is now: to look at, not to keep and not to write."""
        return self._memory.bits

    @property
    def slots(self) -> tuple[str, ...]:
        """The names of all bits."""
        return tuple(self._memory.slot)

    def slot(self, name: str) -> int:
        """The place of a bit in `bits`; it holds until another program is loaded.

        Raises
        ------
        ControllerError
            If there is no such bit.
        """
        return self._slot(name)

    @property
    def channels(self) -> Sequence[int]:
        """Every input behind its filter, I1 first: to look at, not to keep and not to write."""
        return self._channels.filtered

    def bit(self, name: str) -> int:
        """The bit of a tag, a variable of the program, a block output such as ``T1.Q``, or FIRST_SCAN.

        Raises
        ------
        ControllerError
            If there is no such bit.
        """
        return self._memory.bits[self._slot(name)]

    def watch(self, name: str) -> int:
        """A number inside a block: ``T1.ET`` in microseconds, ``C1.CV`` in counts.

        Raises
        ------
        ControllerError
            If the program has no such value.
        """
        engine = self._memory.engine
        if name not in engine.values:
            raise ControllerError(
                f"there is no value {name} to watch",
                try_this=did_you_mean(name, engine.values) or "T1.ET and C1.CV have this form",
                where=name,
                code="controller-watch",
            )
        return self._memory.cells[engine.values[name]]

    def set_bit(self, name: str, value: bool) -> None:
        """Write a bit from outside, as a panel does; the program may write over it in its next scan.

        Raises
        ------
        ControllerError
            If there is no such bit, it is an input, or the controller is not up.
        """
        slot = self._slot(name)
        if name == FIRST_SCAN or "." in name:
            raise ControllerError(
                f"{name} belongs to {'the controller' if name == FIRST_SCAN else 'a block of the program'} "
                "and cannot be written from outside",
                where=name,
                try_this="write a memory bit or an output in its place",
                code="controller-set-own",
            )
        if name in self.tags and self.tags.by_name[name].kind == "input":
            raise ControllerError(
                f"{name} is an input: its bit comes from its terminal",
                try_this="work the device, or force the input",
                where=name,
                code="controller-set-input",
            )
        if self.mode in ("off", "boot"):
            raise ControllerError(
                f"{name} cannot be written: the controller is {'off' if self.mode == 'off' else 'starting up'}",
                try_this="give it its supply and wait for the boot time",
                where=name,
                code="controller-not-up",
            )
        self._memory.bits[slot] = 1 if value else 0
        self._quiet = False

    def _slot(self, name: str) -> int:
        try:
            return self._memory.slot[name]
        except (KeyError, TypeError):
            raise ControllerError(
                f"there is no bit {name} in this controller",
                try_this=nearest(name, self._memory.slot),
                where=str(name),
                code="controller-bit",
            ) from None

    # -- forces --------------------------------------------------------------------------------------

    @property
    def forces(self) -> Mapping[str, bool]:
        """The forced tags and their values. It should be empty at handover."""
        return self._forces.listed()

    def force(self, name: str, value: bool) -> None:
        """Hold an input's bit in the image, or an output at its terminal, whatever wire and program say.

        It acts from the next scan on. An output's bit in the image stays as the program wrote it.

        Raises
        ------
        TagError
            If there is no such tag.
        ControllerError
            If it is not an input or output with a point.
        """
        self._forces.put(name, value)
        self._apply_forces()

    def unforce(self, name: str | None = None) -> None:
        """Take one force away, or all of them.

        Raises
        ------
        ControllerError
            If `name` is not forced.
        """
        self._forces.remove(name)
        self._apply_forces()

    def _apply_forces(self) -> None:
        slot = self._memory.slot
        self._forced_in = [(slot[name], value) for name, value in self._forces.inputs]
        self._forced_out = [(self._out_names.index(name), value) for name, value in self._forces.outputs]
        self._stale, self._quiet = True, False

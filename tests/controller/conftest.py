"""A rig for one controller alone, and the tags that the room's tests share."""

from __future__ import annotations

import pytest

from labkit.controller import Controller, Tag, TagTable
from labkit.logic import read_st

TAGS = TagTable(
    [
        Tag("S1", "input", "I1"),
        Tag("S2", "input", "I2"),
        Tag("S3", "input", "I3"),
        Tag("K1_A", "input", "I10"),
        Tag("K1", "output", "Q1"),
        Tag("P1", "output", "Q2"),
        Tag("P2", "output", "Q3"),
        Tag("P3", "output", "Q4"),
        Tag("M1", "memory"),
        Tag("M2", "memory", retain=True),
    ]
)


class Rig:
    """A clock around one controller: scans when it runs, and notes what the terminals do and when."""

    def __init__(self, family, program="", *, tags=TAGS, **set_up):
        self.controller = Controller(family, tags, **set_up)
        if program:
            self.controller.load(read_st(program))
        self.now = 0
        self.next = None  # (time, which phase) of the scan
        self.t0 = 0
        self.terminal = []  # (time, point, on)
        self.scans = 0

    def up(self):
        """Supply on, boot time over."""
        self.power(True)
        self.wait(self.controller.family.supply.boot_us)
        return self

    def power(self, up):
        self.next = None
        self._note(self.controller.power(up, self.now))

    def stop(self):
        self.next = None  # a scan that has begun is given up
        self._note(self.controller.stop(self.now))

    def run(self):
        self.controller.run(self.now)

    def put(self, point, on):
        self.controller.channel(point, on, self.now)

    def pulse(self, point, width_us):
        self.put(point, True)
        self.wait(width_us)
        self.put(point, False)

    def wait(self, for_us):
        """Let time pass; what is due at the end itself is done too."""
        end = self.now + for_us
        while True:
            due = self._due()
            if due is None or due > end:
                break
            self.now = due
            self._step()
        self.now = end

    def scan(self, count=1):
        """Go on to the end of the write phase of so many scans."""
        for _ in range(count):
            before = self.scans
            while self.scans == before:
                due = self._due()
                assert due is not None, "nothing is going to happen"
                self.now = due
                self._step()

    def _due(self):
        c = self.controller
        if c.mode == "boot":
            return c.boot_due_us
        if c.mode != "run":
            self.next = None
            return None
        if self.next is None:
            self.next = (self.now, "read")
        return self.next[0]

    def _step(self):
        c = self.controller
        if c.mode == "boot":
            c.wake(self.now)
            return
        kind = self.next[1]
        if kind == "read":
            self.t0 = self.now
            c.read(self.now)
            self.next = (self.t0 + c.timetable.solve_us, "solve")
        elif kind == "solve":
            c.solve(self.now)
            self.next = (self.t0 + c.timetable.write_us, "write")
        else:
            self._note(c.write(self.now))
            self.scans += 1
            self.next = (self.t0 + c.scan_period_us, "read")

    def _note(self, changed):
        delay = self.controller.family.outputs.delay_us
        self.terminal += [(self.now + delay, point, on) for point, on in changed]

    def bit(self, name):
        return self.controller.bit(name)


@pytest.fixture(scope="session")
def rig():
    """``rig(family, program, **set_up)`` makes a :class:`Rig`."""
    return Rig


@pytest.fixture(scope="session")
def tags():
    return TAGS

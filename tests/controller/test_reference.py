"""The controller beside a slow and obvious one, over random inputs, power cycles and mode changes.

The slow one shares no code with the room but the family's record and the timetable: plain dictionaries, a filter that
looks back over the whole history, and one program whose meaning is written out by hand.
"""

from __future__ import annotations

import copy

from hypothesis import event, given, settings
from hypothesis import strategies as st

from labkit.controller import Controller, Tag, TagTable, family
from labkit.logic import read_st

TAGS = TagTable(
    [
        Tag("S1", "input", "I1"),
        Tag("S2", "input", "I2"),
        Tag("S3", "input", "I3"),
        Tag("K1", "output", "Q1"),
        Tag("P1", "output", "Q2"),
        Tag("P2", "output", "Q3", retain=True),
        Tag("P3", "output", "Q4"),
        Tag("M1", "memory"),
        Tag("M2", "memory", retain=True),
        Tag("M3", "memory"),
    ]
)

TEXT = """
VAR A : BOOL := TRUE; E : R_TRIG; T : TON; C : CTU; END_VAR
VAR RETAIN B : BOOL; R : TON; END_VAR
E(CLK := S2);
K1 := NOT S1 AND (E.Q OR K1);
T(IN := K1, PT := T#35ms);
P1 := T.Q OR M3;
A := A AND NOT S3;
B := (S3 AND K1) OR B;
M1 := S3 OR M1;
M2 := (S3 AND NOT S1) OR M2;
P2 := FIRST_SCAN OR (P2 AND NOT S1);
C(CU := S2, R := S1, PV := 2);
R(IN := B, PT := T#120ms);
P3 := C.Q OR R.Q;
"""

INITIAL = dict.fromkeys(("K1", "P1", "P2", "P3", "M1", "M2", "M3", "B", "E.Q", "T.Q", "C.Q", "R.Q"), False)
INITIAL |= {"A": True, "S1": False, "S2": False, "S3": False, "FIRST_SCAN": False}
RETAINED = {"P2", "M2", "B", "R.Q"}
BLOCKS = {"E.Q", "T.Q", "C.Q"}
INPUTS = {"S1": "I1", "S2": "I2", "S3": "I3"}
OUTPUTS = {"K1": "Q1", "P1": "Q2", "P2": "Q3", "P3": "Q4"}


def fresh_inside():
    """What the blocks remember: edges, a count, and since when a timer runs."""
    return {"E edge": False, "C edge": False, "C count": 0, "T since": None, "R since": None}


def meaning(v, inside, now):
    """The program, by hand."""
    v["E.Q"] = v["S2"] and not inside["E edge"]
    inside["E edge"] = v["S2"]
    v["K1"] = not v["S1"] and (v["E.Q"] or v["K1"])
    v["T.Q"] = on_delay(v["K1"], inside, "T since", now, 35_000)
    v["P1"] = v["T.Q"] or v["M3"]
    v["A"] = v["A"] and not v["S3"]
    v["B"] = (v["S3"] and v["K1"]) or v["B"]
    v["M1"] = v["S3"] or v["M1"]
    v["M2"] = (v["S3"] and not v["S1"]) or v["M2"]
    v["P2"] = v["FIRST_SCAN"] or (v["P2"] and not v["S1"])
    if v["S1"]:
        inside["C count"] = 0
    elif v["S2"] and not inside["C edge"]:
        inside["C count"] += 1
    inside["C edge"] = v["S2"]
    v["C.Q"] = inside["C count"] >= 2
    v["R.Q"] = on_delay(v["B"], inside, "R since", now, 120_000)
    v["P3"] = v["C.Q"] or v["R.Q"]


def on_delay(on, inside, since, now, preset):
    if not on:
        inside[since] = None
        return False
    if inside[since] is None:
        inside[since] = now
    if inside[since] != "done" and now - inside[since] >= preset:
        inside[since] = "done"
    return inside[since] == "done"


class Slow:
    """A controller with nothing clever in it."""

    def __init__(self, profile):
        self.family = profile
        self.mode, self.key = "off", "run"
        self.v, self.inside = dict(INITIAL), fresh_inside()
        self.terminal = dict.fromkeys(OUTPUTS.values(), False)
        self.history = {point: [(0, False)] for point in INPUTS.values()}
        self.powered_us = None
        self.never_run = True
        self.scans_since_start = 0
        self.clock_stops = []  # [from, to] with to None while it stands

    def power(self, up, t):
        if up:
            self.mode, self.powered_us = "boot", t
            return set()
        self.mode, self.powered_us = "off", None
        self.hold_clock(t)
        self.apply("power_up")
        for name in INPUTS:
            self.v[name] = False
        self.never_run = True
        return self.all_off()

    def wake(self, t):
        self.mode = "stop"
        if self.family.timers.while_stopped == "run on":
            self.release_clock(t)
        if self.key == "run":
            self.start(t)

    def run(self, t):
        self.key = "run"
        if self.mode == "stop":
            self.start(t)

    def stop(self, t):
        self.key = "stop"
        if self.mode != "run":
            return set()
        self.mode = "stop"
        if self.family.timers.while_stopped == "freeze":
            self.hold_clock(t)
        return self.all_off() if self.family.outputs.when_not_running == "off" else set()

    def start(self, t):
        self.release_clock(t)
        self.mode = "run"
        self.scans_since_start = 0
        kind = "power-up" if self.never_run else "stop-to-run"
        if not self.never_run:
            self.apply("stop_to_run")
        self.v["FIRST_SCAN"] = kind in self.family.start.first_scan
        if self.family.start.edges == "zero":
            self.inside["E edge"] = self.inside["C edge"] = False
        self.never_run = False

    def apply(self, start):
        rule = getattr(self.family.retention, start)
        initial = fresh_inside()
        for name in self.v:
            if name in INPUTS or name == "FIRST_SCAN":
                continue
            keep = rule.retained if name in RETAINED else rule.blocks if name in BLOCKS else rule.plain
            if keep == "clear":
                self.v[name] = INITIAL[name]
        if rule.blocks == "clear":
            self.inside["C count"], self.inside["T since"] = initial["C count"], initial["T since"]
        if rule.retained == "clear":
            self.inside["R since"] = initial["R since"]

    def all_off(self):
        dropped = {(point, False) for point, on in self.terminal.items() if on}
        self.terminal = dict.fromkeys(self.terminal, False)
        return dropped

    def hold_clock(self, t):
        if not self.clock_stops or self.clock_stops[-1][1] is not None:
            self.clock_stops.append([t, None])

    def release_clock(self, t):
        if self.clock_stops and self.clock_stops[-1][1] is None:
            self.clock_stops[-1][1] = t

    def channel(self, point, on, t):
        self.history[point].append((t, on))

    def filtered(self, point, t):
        """Of all stretches that lasted long enough with supply on, the value of the last."""
        if self.powered_us is None:
            return False
        value = False
        changes = self.history[point]
        for number, (start, on) in enumerate(changes):
            start = max(start, self.powered_us)
            if number + 1 < len(changes):
                # the next change comes before what is due at its own instant
                enough = changes[number + 1][0] - start > self.family.inputs.filter_us
            else:
                enough = t - start >= self.family.inputs.filter_us
            if enough:
                value = on
        return value

    def read(self, t):
        for name, point in INPUTS.items():
            self.v[name] = self.filtered(point, t)

    def solve(self, t):
        now = t - sum(stop - start for start, stop in self.clock_stops)
        step = self.family.timers.resolution_us
        now = now // step * step
        if self.scans_since_start == 0 and self.family.start.edges == "present":
            trial_v, trial = copy.deepcopy(self.v), copy.deepcopy(self.inside)
            meaning(trial_v, trial, now)
            self.inside["E edge"], self.inside["C edge"] = trial["E edge"], trial["C edge"]
        meaning(self.v, self.inside, now)

    def write(self):
        self.scans_since_start += 1
        self.v["FIRST_SCAN"] = False
        changed = {(point, self.v[name]) for name, point in OUTPUTS.items() if self.terminal[point] != self.v[name]}
        self.terminal |= dict(changed)
        return changed


class Pair:
    """Both controllers on one clock; every look at one is compared with the other."""

    def __init__(self, profile):
        self.fast, self.slow = Controller(profile, TAGS), Slow(profile)
        self.fast.load(read_st(TEXT))
        self.now = 0
        self.next_read = 0
        self.quiet_seen = self.scans = 0

    def same(self):
        assert self.fast.mode == self.slow.mode
        assert {name: bool(self.fast.bit(name)) for name in INITIAL} == self.slow.v
        assert {p: bool(on) for p, on in self.fast.outputs.items() if p in self.slow.terminal} == self.slow.terminal
        # what is due now must wait: a change that is still to come at this instant goes first
        look = self.now - 1 if self.slow.family.inputs.filter_us else self.now
        for point in INPUTS.values():
            self.fast.settle(point, look)
            assert bool(self.fast.filtered(point)) == self.slow.filtered(point, look)

    def act(self, what):
        fast, slow, now = self.fast, self.slow, self.now
        if what in INPUTS.values():
            on = not slow.history[what][-1][1]
            fast.channel(what, on, now)
            slow.channel(what, on, now)
        elif what == "cycle":  # off and on at once
            for _ in range(2):
                self.act("power")
        elif what == "restart":
            self.act("stop")
            self.act("run")
        elif what == "power":
            up = slow.mode == "off"
            assert set(fast.power(up, now)) == slow.power(up, now)
        elif what == "stop":
            assert set(fast.stop(now)) == slow.stop(now)
        elif what == "run":
            before = slow.mode
            fast.run(now)
            slow.run(now)
            if before == "stop":
                self.next_read = now
        elif what == "panel" and slow.mode in ("stop", "run"):
            value = not slow.v["M3"]
            fast.set_bit("M3", value)
            slow.v["M3"] = value

    def until(self, end):
        """Whole scans only: an action waits for the end of a write phase, as none of these is about mid-scan."""
        while True:
            if self.slow.mode == "boot":
                due = self.slow.powered_us + self.slow.family.supply.boot_us
                assert self.fast.boot_due_us == due
                if due > end:
                    break
                self.now = self.next_read = due
                self.fast.wake(due)
                self.slow.wake(due)
            elif self.slow.mode == "run" and self.next_read <= end:
                self.scan()
            else:
                break
            self.same()
        self.now = max(self.now, end)

    def scan(self):
        t0, table = self.next_read, self.fast.timetable
        claimed, before = self.fast.quiet, copy.deepcopy((self.slow.v, self.slow.inside))
        self.fast.read(t0)
        self.slow.read(t0)
        claimed = claimed and self.fast.quiet  # a filter may have let something through at the read
        self.fast.solve(t0 + table.solve_us)
        self.slow.solve(t0 + table.solve_us)
        self.now = t0 + table.write_us
        assert set(self.fast.write(self.now)) == self.slow.write()
        if claimed:
            self.quiet_seen += 1
            assert (self.slow.v, self.slow.inside) == before, "quiet, and yet the scan changed something"
        self.scans += 1
        self.next_read = t0 + self.fast.scan_period_us


keep = st.sampled_from(["keep", "clear"])


@st.composite
def profiles(draw):
    """A shipped family, or one with every switch that this test can see set at random."""
    profile = family(draw(st.sampled_from(["alder", "birch"])))
    scan = profile.scan.model_copy(update={"period_us": draw(st.sampled_from([5_000, 10_000, 50_000]))})
    update = {"scan": scan, "supply": profile.supply.model_copy(update={"boot_us": 80_000})}
    if draw(st.booleans()):
        rules = {
            start: getattr(profile.retention, start).model_copy(
                update={"plain": draw(keep), "retained": draw(keep), "blocks": draw(keep)}
            )
            for start in ("power_up", "stop_to_run")
        }
        update |= {
            "retention": profile.retention.model_copy(update=rules),
            "inputs": profile.inputs.model_copy(update={"filter_us": draw(st.sampled_from([0, 1_000, 4_000, 12_000]))}),
            "outputs": profile.outputs.model_copy(update={"when_not_running": draw(st.sampled_from(["off", "hold"]))}),
            "start": profile.start.model_copy(
                update={
                    "first_scan": draw(st.sampled_from([("power-up",), ("stop-to-run",), ("power-up", "stop-to-run")])),
                    "edges": draw(st.sampled_from(["zero", "present", "kept"])),
                }
            ),
            "timers": profile.timers.model_copy(
                update={
                    "resolution_us": draw(st.sampled_from([1_000, 10_000, 100_000])),
                    "while_stopped": draw(st.sampled_from(["freeze", "run on"])),
                }
            ),
        }
    return profile.model_copy(update=update)


actions = st.lists(
    st.tuples(
        st.sampled_from([100, 1_000, 3_000, 4_000, 7_000, 20_000, 60_000, 150_000]),
        st.sampled_from(["I1", "I2", "I3", "I1", "I2", "I3", "power", "cycle", "stop", "run", "restart", "panel"]),
    ),
    max_size=40,
)


@settings(max_examples=150, deadline=None)
@given(profiles(), actions)
def test_the_controller_does_what_the_slow_one_does(profile, steps):
    pair = Pair(profile)
    pair.act("power")
    pair.until(100_000)
    for wait_us, what in steps:
        pair.until(pair.now + wait_us)
        pair.act(what)
        pair.same()
    pair.until(pair.now + 200_000)
    event(f"some quiet scans: {pair.quiet_seen > 0}")


def test_the_comparison_sees_what_it_should():
    """The pair itself is tried: it scans, turns quiet, and a slow one that is wrong is found out."""
    pair = Pair(family("alder"))
    pair.act("power")
    pair.until(1_100_000)
    assert pair.scans == 11
    assert pair.quiet_seen > 0
    pair.act("I2")
    pair.until(1_150_000)
    assert pair.slow.terminal["Q1"]
    pair.slow.v["M1"] = True
    try:
        pair.same()
    except AssertionError:
        return
    raise AssertionError("a difference was not seen")

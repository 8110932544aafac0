"""The engine behind a bench: electricity, machine and controller on one clock.

No names are checked here and nothing is said to people; :class:`labkit.bench.Bench` is the front. One instant
goes like this: everything due of the lowest rank is done, then the network settles in rounds (solve, let
supplies and sensors act on it, solve again) until nothing changes; what has settled is told to coils, input
channels and breakers, which put what follows into the queue; then the next rank has its turn. Only when
nothing is left at this instant does time move.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial

from labkit.base import LabkitError
from labkit.bench.clock import Clock, Rank, show_time
from labkit.bench.electric import KEEP, Network, Reading
from labkit.bench.errors import BenchError
from labkit.bench.machine import Breaker, Contactor, Motor, PhotoEye, Proximity, Zone
from labkit.bench.scanning import ScanLoop
from labkit.controller import Controller
from labkit.logic import Program

__all__ = ["MOST_ROUNDS", "Engine"]

MOST_ROUNDS = 40
"""Rounds in which one instant must settle. A healthy board needs three: supply, sensors, outputs."""

_OUTPUT = ("off", "on")


class Engine:
    """Everything that moves, on one clock.

    Parameters
    ----------
    network
        The board as it is wired at the start.
    controller
        Fresh, unpowered.
    """

    def __init__(self, network: Network, controller: Controller, *, removed: frozenset[str] = frozenset()) -> None:
        self.clock = Clock()
        self.net = network
        self.controller = controller
        self.removed = removed
        self.scan = ScanLoop(controller, self.clock, self._outputs_written)
        self.states: dict[str, str] = network.electrical.rest()
        self.key = network.electrical.key(self.states)
        self.moves = 0
        """How many changes of position there have been: a watcher's cheap way to see that one came."""
        self.dirty = True
        self.failed: BenchError | None = None
        self.watch: Callable[[], None] | None = None
        self.powered = False
        self.reading: Reading | None = None
        self._sensors_told: tuple[bool, ...] = ()
        self._round_moves: list[str] = []
        self._tickets: dict[str, int | None] = {}
        self._bounces: dict[str, tuple[int, ...]] = {}
        self.raw: dict[str, bool] = {channel.point: False for channel in network.electrical.inputs}
        self._output_actor = {output.point: output.actor for output in network.electrical.outputs}
        self._make_machine()

    def _make_machine(self) -> None:
        electrical = self.net.electrical
        self.contactors = {
            c.part: Contactor(c.part, c.pick_up_v, c.drop_out_v, c.operate_us, c.release_us) for c in electrical.coils
        }
        self.breakers = [Breaker(f.actor, f.rated_a, f.i2t) for f in electrical.fuses]
        self.motors = {m.part: Motor(m.part) for m in electrical.motors}
        self.eyes: dict[str, PhotoEye] = {}
        self.proximities: dict[str, Proximity] = {}
        for sensor in electrical.sensors:
            if sensor.senses == "beam":
                self.eyes[sensor.part] = PhotoEye(sensor.part, sensor.on_when == "dark")
            else:
                self.proximities[sensor.part] = Proximity(
                    sensor.part, sensor.range_mm, sensor.hysteresis, on_when_near=sensor.on_when != "far"
                )
        self._alive_since: dict[str, int | None] = {s.part: None for s in electrical.sensors}

    # time -----------------------------------------------------------------------------------------
    def run_until(self, end_us: int) -> None:
        """Let time move: everything due before `end_us` is done, then it is `end_us`.

        Raises
        ------
        BenchError
            If something fails on the way: it is named, with the time, and the bench stands still for good.
        """
        self.refuse_if_failed()
        clock, scan = self.clock, self.scan
        head, take, step = clock.head, clock.take, scan.step
        doing = "the network"
        try:
            if self.dirty:
                self.settle()
            while True:
                t_us, rank = head()
                due = scan.due_us
                if due < t_us or (due == t_us and rank > Rank.SCAN):
                    if due >= end_us:
                        break
                    doing = "the controller's scan"
                    step(end_us)
                else:
                    if t_us >= end_us:
                        break
                    for name, do in take():
                        doing = name
                        do()
                if self.dirty:
                    doing = "the network"
                    self.settle()
                if self.watch is not None:
                    self.watch()
            clock.now_us = end_us
            if self.watch is not None:
                self.watch()  # a motor that runs up changes though nothing is due
        except Exception as exc:
            raise self._fail(doing, exc) from exc

    def act(self, do: Callable[[], object], name: str) -> None:
        """Something is done to the bench at this instant, by hand.

        What `do` itself raises is the person's mistake and stops nothing.
        """
        self.refuse_if_failed()
        do()
        try:
            if self.dirty:
                self.settle()
            if self.watch is not None:
                self.watch()
        except Exception as exc:
            raise self._fail(name, exc) from exc

    def refuse_if_failed(self) -> None:
        """Raise what stopped the bench, if anything did.

        Raises
        ------
        BenchError
            What stopped it, with its time.
        """
        if self.failed is not None:
            raise BenchError(
                f"this bench has stopped: {self.failed.what}",
                where=self.failed.where,
                try_this="make a new bench; what was done is in the old one's log",
                code="bench-stopped",
            )

    def _fail(self, doing: str, exc: Exception) -> BenchError:
        reason = exc.what if isinstance(exc, LabkitError) else f"{type(exc).__name__}: {exc}"
        self.failed = BenchError(
            f"{doing} failed: {reason}",
            where=f"bench time {show_time(self.clock.now_us)}",
            try_this=exc.try_this if isinstance(exc, LabkitError) else "",
            code=exc.code if isinstance(exc, LabkitError) else "bench-failed",
        )
        return self.failed

    # positions ------------------------------------------------------------------------------------
    def move(self, actor: str, state: str) -> None:
        """Put an actor into a position; nothing is solved yet."""
        old = self.states[actor]
        if old == state:
            return
        self.states[actor] = state
        flips = self.net.flips
        self.key ^= flips[actor, old] ^ flips[actor, state]
        self.moves += 1
        self.dirty = True
        self._round_moves.append(actor)

    def move_all(self, actors: Iterable[str], state: str) -> None:
        """Move several actors at one instant."""
        for actor in actors:
            self.move(actor, state)

    def place(self, actor: str, state: str) -> None:
        """Move an actor, with its bounce if it has one: it flips back and forth before it stays."""
        old = self.states[actor]
        self.cancel(f"bounce {actor}")
        self.move(actor, state)
        gaps = self._bounces.get(actor)
        if gaps and old != state:
            self._bounce(actor, (old, state), gaps, 0)

    def set_bounce(self, actor: str, gaps_us: tuple[int, ...]) -> None:
        """Let an actor's contacts bounce: after each gap they flip, and they end where they went."""
        self._bounces[actor] = gaps_us

    def _bounce(self, actor: str, between: tuple[str, str], gaps: tuple[int, ...], number: int) -> None:
        last = number == len(gaps) - 1

        def flip() -> None:
            self.move(actor, between[1] if last or number % 2 else between[0])
            if not last:
                self._bounce(actor, between, gaps, number + 1)

        self.later(f"bounce {actor}", self.clock.now_us + gaps[number], Rank.MACHINE, flip)

    # the network ----------------------------------------------------------------------------------
    def settle(self) -> None:
        """Solve in rounds until nothing that acts at once changes any more, then tell the rest.

        Raises
        ------
        BenchError
            If it has not settled after :data:`MOST_ROUNDS`; what keeps changing is named.
        """
        before = self.reading
        self._round_moves.clear()
        for _ in range(MOST_ROUNDS):
            self.dirty = False
            self.reading = reading = self.net.reading(self.key)
            self._at_once(reading)
            if not self.dirty:
                break
        else:
            restless = sorted(set(self._round_moves[-MOST_ROUNDS:]))
            raise BenchError(
                f"the board does not settle: {' and '.join(restless)} keep changing at one instant",
                where=f"bench time {show_time(self.clock.now_us)}",
                try_this="look for a part that cuts its own supply",
                code="bench-unsettled",
            )
        self._tell(reading, before)

    def _at_once(self, reading: Reading) -> None:
        """What follows from the volts with no delay: the controller's supply, the sensors' supply."""
        if reading.feed != KEEP and bool(reading.feed) != self.powered:
            self._controller_power(bool(reading.feed))
        if reading.sensors == self._sensors_told:
            return
        self._sensors_told = reading.sensors
        for sensor, alive in zip(self.net.electrical.sensors, reading.sensors, strict=True):
            if (self._alive_since[sensor.part] is not None) != alive:
                self._alive_since[sensor.part] = self.clock.now_us if alive else None
                self.sense(sensor.part)

    def _tell(self, reading: Reading, before: Reading | None) -> None:
        """What starts from the settled volts and takes time."""
        now = self.clock.now_us
        if before is None or reading.coils != before.coils:
            for coil, zone in zip(self.net.electrical.coils, reading.coils, strict=True):
                self._feel(self.contactors[coil.part], zone)
        if before is None or reading.channels != before.channels:
            for channel, on in zip(self.net.electrical.inputs, reading.channels, strict=True):
                if on != KEEP and bool(on) != self.raw[channel.point]:
                    self.raw[channel.point] = bool(on)
                    self._tell_channel(channel.point)
        if reading.hot or (before is not None and before.hot):
            amps = dict(reading.hot)
            for number, breaker in enumerate(self.breakers):
                self._carry(number, breaker, amps.get(number, 0.0), now)

    def now_reading(self) -> Reading:
        """The reading of the present positions."""
        return self.net.reading(self.key)

    def rewire(self, network: Network, removed: frozenset[str]) -> None:
        """The same board, wired otherwise: positions and what is under way stay as they are."""
        self.net, self.removed = network, removed
        self.key = network.electrical.key(self.states)
        self.reading, self.dirty = None, True
        self.moves += 1
        for coil in network.electrical.coils:
            self.contactors[coil.part].refit(coil.pick_up_v, coil.drop_out_v, coil.operate_us, coil.release_us)

    # machine --------------------------------------------------------------------------------------
    def _feel(self, armature: Contactor, zone: Zone) -> None:
        was_due = armature.due_us
        due = armature.feel(zone, self.clock.now_us)
        if due != was_due:
            self.later(armature.part, due, Rank.MACHINE, partial(self._arrive, armature))

    def _arrive(self, armature: Contactor) -> None:
        armature.arrive()
        self.place(armature.part, "closed" if armature.closed else "open")
        for motor in self.net.electrical.motors:
            if motor.contactor == armature.part:
                self.motors[motor.part].feed(armature.closed, self.clock.now_us)

    def switch_breaker(self, actor: str, state: str) -> None:
        """Switch a breaker by hand; one that is switched on starts cool."""
        for breaker in self.breakers:
            if breaker.part == actor:
                breaker.reset(self.clock.now_us)
        self.cancel(f"trip {actor}")
        self.move(actor, state)
        self.reading = None  # so that what it carries is told anew

    def block(self, part: str, blocked: bool) -> None:
        """Put something into a photo-eye's beam, or take it out."""
        self.eyes[part].blocked = blocked
        self.sense(part)

    def hold_metal(self, part: str, mm: float | None, factor: float) -> None:
        """Put metal near an inductive sensor, or take it away."""
        self.proximities[part].place(mm, factor)
        self.sense(part)

    def hinder(self, part: str, *, welded: bool | None = None, jammed: bool | None = None) -> None:
        """Weld or jam an armature, or free it again."""
        armature = self.contactors[part]
        armature.welded = armature.welded if welded is None else welded
        armature.jammed = armature.jammed if jammed is None else jammed
        self._feel(armature, armature.zone)

    def _carry(self, number: int, breaker: Breaker, amps: float, now: int) -> None:
        fuse = self.net.electrical.fuses[number]
        self.later(
            f"trip {fuse.actor}",
            breaker.carry(amps, now),
            Rank.ELECTRIC,
            partial(self.move, fuse.actor, fuse.open_state),
        )

    def sense(self, part: str) -> None:
        """Look again at what a sensor's output should be; it follows after its response time."""
        sensor = next(s for s in self.net.electrical.sensors if s.part == part)
        since = self._alive_since[part]
        eye = self.eyes.get(part) or self.proximities[part]
        if since is None:
            self.cancel(f"sensor {part}")
            self.move(part, "off")
            return
        want = _OUTPUT[eye.wants_on()]
        if want == self.states[part]:
            self.cancel(f"sensor {part}")
            return
        delay = sensor.on_us if want == "on" else sensor.off_us
        due = max(self.clock.now_us + delay, since + sensor.ready_us)
        self.later(f"sensor {part}", due, Rank.ELECTRIC, partial(self.move, part, want))

    def sensor_lit(self, part: str) -> bool:
        """Whether a sensor's own lamp is lit: it has its supply, and its output is switched.

        The position of the part is what a sound sensor would do with what is before it. One that is set the wrong way
        round, or looks past its target, has another output, and its lamp goes with that. It knows nothing of the wire
        behind it, nor of which kind the input wants.
        """
        stage = next(rule for rule in self.net.electrical.contacts if rule.switch == f"{part} output")
        return self._alive_since[part] is not None and self.states[part] in stage.closed_when

    # controller -----------------------------------------------------------------------------------
    @property
    def mode(self) -> str:
        """The controller's mode."""
        return self.controller.mode

    def load(self, program: Program) -> None:
        """Hand the controller a program; if it runs, its first scan begins now."""
        self.controller.load(program)
        self._follow_mode()

    def set_switch(self, run: bool) -> None:
        """Turn the controller's switch."""
        if run:
            self.controller.run(self.clock.now_us)
        else:
            self._outputs_written(self.controller.stop(self.clock.now_us))
        self._follow_mode(restart=False)

    def _follow_mode(self, *, restart: bool = True) -> None:
        """Scan if the controller runs, from now on; do not if it does not."""
        runs = self.controller.mode == "run"
        if self.scan.running and (restart or not runs):
            self.scan.halt()
        if runs and not self.scan.running:
            self.scan.start()

    def set_bit(self, tag: str, value: bool) -> None:
        """Write a bit from outside."""
        self.controller.set_bit(tag, value)
        self.scan.stir(Rank.DONE)

    def force(self, tag: str | None, value: bool | None) -> None:
        """Force a tag, or take forces away (`value` None)."""
        if value is None:
            self.controller.unforce(tag)
        else:
            self.controller.force(str(tag), value)
        self.scan.stir(Rank.DONE)

    def _controller_power(self, up: bool) -> None:
        controller, now = self.controller, self.clock.now_us
        self.powered = up
        controller.power(up, now)
        if up:
            self.later("boot", controller.boot_due_us, Rank.ELECTRIC, self._boot)
            for point, on in self.raw.items():
                if on:
                    due = now + controller.family.inputs.filter_us
                    self.later(f"filter {point}", due, Rank.CHANNEL, partial(self._settle_channel, point))
            return
        self.cancel("boot")
        self.scan.halt()
        for output in self.net.electrical.outputs:
            self.cancel(f"output {output.point}")
            self.move(output.actor, "off")

    def _boot(self) -> None:
        self.controller.wake(self.clock.now_us)
        self._follow_mode()

    def _tell_channel(self, point: str) -> None:
        controller, now = self.controller, self.clock.now_us
        before = controller.filtered(point)
        due = controller.channel(point, self.raw[point], now)
        self.later(f"filter {point}", due, Rank.CHANNEL, partial(self._settle_channel, point))
        if controller.filtered(point) != before:
            self.scan.stir(Rank.CHANNEL)

    def _settle_channel(self, point: str) -> None:
        if self.controller.settle(point, self.clock.now_us):
            self.scan.stir(Rank.CHANNEL)

    def _outputs_written(self, changed: tuple[tuple[str, bool], ...]) -> None:
        due = self.clock.now_us + self.controller.family.outputs.delay_us
        for point, on in changed:
            actor = self._output_actor.get(point)
            if actor is not None:  # a family may have more points than the board has terminals
                self.later(f"output {point}", due, Rank.ELECTRIC, partial(self.move, actor, _OUTPUT[on]))

    # tickets --------------------------------------------------------------------------------------
    def later(self, name: str, due_us: int | None, rank: int, do: Callable[[], None]) -> None:
        """Put the one thing of this name into the queue, instead of what was there under it."""
        tickets = self._tickets
        ticket = tickets.get(name)
        if ticket is not None:
            self.clock.cancel(ticket)
        if due_us is not None:
            tickets[name] = self.clock.at(due_us, rank, name, do)
        elif ticket is not None:
            tickets[name] = None

    def cancel(self, name: str) -> None:
        """Take the one thing of this name out of the queue."""
        self.clock.cancel(self._tickets.get(name))
        self._tickets[name] = None

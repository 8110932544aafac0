"""What made a bit what it is: the hand, the wire or the armature behind it, read off the recording."""

from __future__ import annotations

from labkit.bench import Done, Trace
from labkit.board import Point
from labkit.lessons._lab import Lab, Played
from labkit.lessons._replay import Decision, writers

__all__ = ["Causes", "follows"]

_HANDS = {
    "lift": "wire {what} was lifted",
    "land": "wire {what} was landed",
    "remove": "{what} was pulled off",
    "fit": "{what} was plugged on",
    "join": "{what} was bridged",
    "unjoin": "the bridge at {what} was taken off",
    "breaker": "{what} was switched {state}",
    "power": "the supply was switched {state}",
    "weld": "{what} was welded",
    "unweld": "the weld of {what} was broken",
}


class Causes:
    """Reasons from one recording.

    Parameters
    ----------
    lab, played
        The variant, and the scenario that was played on it.
    """

    def __init__(self, lab: Lab, played: Played) -> None:
        self.lab = lab
        self.played = played
        self.trace: Trace = played.trace
        self.zero = played.script.marks["start"]
        self.since = played.script.marks.get("setup", self.zero)
        """What was done by hand from here on counts; a story counts its power-up too, but as one with the rest."""
        self.points = {point.tag: point for point in lab.board.points.values()}
        self.contactors = {part.designation for part in lab.board.of_kind("contactor")}

    def arrival(self, name: str, seen: Decision) -> str:
        """The race: a feedback that is on its way when the rung lets go."""
        point = self.points.get(name)
        actor, position = follows(point)
        if point is None or actor not in self.contactors or position != "closed" or seen.values.get(name, False):
            return ""
        variant = self.lab.variant
        parts = f"{_ms(variant.pull_in_us)} pull-in + {_ms(variant.filter_us)} filter"
        later = [t for t, v in self.trace.signals[f"bit:{name}"].changes if v and 0 < t - seen.read_us < 200_000]
        if later:
            return f"{name} arrived only {self.at(later[0])} ({parts}), so the seal was not there yet"
        coil = self.trace.signals.get(f"coil:{actor}")
        on = (
            max((t for t, v in coil.changes if abs(float(v)) > 1.0 and t <= seen.solved_us), default=None)
            if coil
            else None
        )
        if (
            on is None
            or self.hand(seen.read_us)
            or not 0 <= seen.solved_us - on < variant.pull_in_us + variant.filter_us
        ):
            return ""
        due = on + variant.pull_in_us + variant.filter_us
        return f"{name} could be there only from {self.t(due)} on ({parts}), so there was no seal yet"

    def because(self, name: str, value: bool, read_us: int, solved_us: int = 0) -> str:
        """What made a bit what it is in a scan that read its inputs then."""
        point = self.points.get(name)
        if point is None or point.direction == "output":
            return self._because_inside(name, value, read_us, solved_us)
        signal = self.trace.signals.get(f"bit:{name}")
        changed = max((t for t, _ in signal.changes if t <= read_us), default=0) if signal else 0
        actor, _ = follows(point)
        position = self.trace.signals.get(f"pos:{actor}") if actor else None
        moves = [c for c in position.changes[1:] if c[0] <= read_us] if position else []
        hand, hand_us = self.hand(changed), self._hand_us(changed)
        if hand and (not moves or hand_us > moves[-1][0]):
            return hand
        if actor in self.contactors:
            if not moves:
                return f"{actor} never came in"
            return f"{actor} {'came in' if moves[-1][1] == 'closed' else 'fell out'} {self.at(moves[-1][0])}"
        if not moves:
            return f"nobody touches {actor}" if actor else f"{int(value)} all along"
        t_us, state = moves[-1]
        if state in ("released", "off") and len(moves) > 1:
            return f"{actor} was let go {self.at(t_us)}, after {_ms(t_us - moves[-2][0])}"
        return f"{actor} was {'let go' if state == 'released' else state} {self.at(t_us)}"

    def _because_inside(self, name: str, value: bool, read_us: int, solved_us: int) -> str:
        written = [
            e for e in self.trace.events if e.do == "set_bit" and e.what.get("tag") == name and e.t_us <= read_us
        ]
        if written:
            return f"written to {int(bool(written[-1].what['value']))} {self.at(written[-1].t_us)}"
        instance, dot, _ = name.partition(".")
        if dot:
            return f"the output of {instance}, a {self.played.program.instances().get(instance, 'block')}"
        rungs = writers(self.played.program, name)
        if not rungs:
            return f"it rests at {int(value)}, nothing writes it"
        signal = self.trace.signals.get(f"bit:{name}")
        took = [t for t, v in signal.changes if bool(v) is value and t <= solved_us] if signal else []
        state = "on" if value else "off"
        since = self.t(took[-1]) if took and took[-1] >= self.zero else "before"
        return f"{state} since {since}, by rung {rungs[-1][0]}"

    def _hand_us(self, until_us: int) -> int:
        return max((done.t_us for done in self._hands(until_us)), default=-1)

    def _hands(self, until_us: int) -> list[Done]:
        """What was done behind the front before a time; setting up does not count, nor does the power-up of a story."""
        return [
            done
            for done in self.trace.events
            if done.do in _HANDS
            and self.since <= done.t_us <= until_us
            and (done.t_us >= self.zero or done.do not in ("power", "breaker"))
        ]

    def hand(self, until_us: int) -> str:
        """The last thing done behind the front before a time, in words; setting up does not count."""
        done = self._hands(until_us)
        if not done:
            return ""
        last = done[-1]
        what = next((str(last.what[k]) for k in ("part", "wire", "a") if k in last.what), "")
        told = _HANDS[last.do].format(what=what, state="on" if last.what.get("on") else "off")
        return f"{told} {self.at(last.t_us)}"

    # words ----------------------------------------------------------------------------------------
    def t(self, t_us: int) -> str:
        """A moment, counted from the start of the scenario as in the drawing."""
        return _ms(t_us - self.zero)

    def at(self, t_us: int) -> str:
        """The same with its preposition; what was done while setting up came before."""
        if t_us < self.zero and self.since < self.zero:
            return "before the first scan"
        return f"at {self.t(t_us)}" if t_us >= self.zero else f"{_ms(self.zero - t_us)} before"


def follows(point: Point | None) -> tuple[str, str]:
    """The actor that an input follows, and the position that makes it 1."""
    return next(iter(point.on_when.items()), ("", "")) if point is not None else ("", "")


def _ms(us: int) -> str:
    return f"{us / 1000:.1f}".removesuffix(".0") + " ms"

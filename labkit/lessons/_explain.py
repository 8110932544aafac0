"""From a broken expectation to one sentence of physical reason: rung, time, tag, and what happened before.

Nothing here judges. Every number in a sentence is read off the recording or off the variant.
"""

from __future__ import annotations

from dataclasses import dataclass

from labkit.bench import Trace
from labkit.board import Point
from labkit.lessons._judge import Break
from labkit.lessons._lab import Lab, Played
from labkit.lessons._replay import Decision, blocked, carriers, decision, writers
from labkit.logic import Block, Coil, Constant, Contact, Not, Rung, elements

__all__ = ["Story", "explain"]

_MOST = 3  # contacts named in one sentence


@dataclass(frozen=True, slots=True)
class Story:
    """A reason and what to draw beside it."""

    sentence: str
    signals: tuple[str, ...]
    start_us: int
    end_us: int
    marks: tuple[tuple[int, str], ...]


def explain(lab: Lab, played: Played, broken: Break) -> Story:
    """Why the expectation broke."""
    return _Teller(lab, played, broken).tell()


class _Teller:
    def __init__(self, lab: Lab, played: Played, broken: Break) -> None:
        self.lab = lab
        self.played = played
        self.broken = broken
        self.trace: Trace = played.trace
        self.zero = played.script.marks["start"]
        self.points = {point.tag: point for point in lab.board.points.values()}

    # the whole ------------------------------------------------------------------------------------
    def tell(self) -> Story:
        broken = self.broken
        tag = self._tag_behind(broken.signal)
        if tag is None:
            sentence, involved = self._plain(), []
        else:
            sentence, involved = self._by_layers(tag)
        signals = self._signals(tag, involved)
        lead = min(broken.from_us, broken.t_us - 60_000)
        start = max(self.trace.start_us, lead - 20_000)
        end = min(self.trace.end_us, max(broken.t_us + 60_000, start + 150_000))
        word = "not yet" if broken.wanted and broken.how == "late" else "still on" if broken.how == "late" else "here"
        return Story(sentence, signals, start, end, ((broken.t_us, word),))

    def _by_layers(self, tag: str) -> tuple[str, list[str]]:
        """The device follows the bit, the bit follows a rung; the first layer that disagrees is the reason."""
        broken = self.broken
        signal = self.trace.signals.get(f"bit:{tag}")
        if signal is None or not broken.signal.startswith("bit:") and self._bit_disagrees(tag):
            return self._device(tag), []
        return self._rung(tag)

    def _bit_disagrees(self, tag: str) -> bool:
        """The bit was as wanted long enough for the device to follow, and the device is not."""
        changes = self.trace.signals[f"bit:{tag}"].changes
        since, value = max((c for c in changes if c[0] <= self.broken.t_us), default=changes[0])
        follows = self.lab.variant.pull_in_us + 20_000 if self.broken.wanted else 40_000
        return bool(value) is self.broken.wanted and self.broken.t_us - since >= follows

    # the device -----------------------------------------------------------------------------------
    def _device(self, tag: str) -> str:
        broken, at = self.broken, self.broken.t_us
        layer, _, part = broken.signal.partition(":")
        noun = {"pole": f"the main contacts of {part} are", "lit": f"{part} is", "aux": f"the auxiliary of {part} is"}.get(
            layer, f"{broken.signal} is"
        )
        state = ("not closed" if broken.wanted else "closed") if layer in ("pole", "aux") else (
            "dark" if broken.wanted else "lit"
        )
        bit = "on" if broken.wanted else "off"
        volts = self.trace.signals.get(f"coil:{part}")
        reason = f", its coil has {float(volts.at(at)):.1f} V" if volts is not None else ""
        cause = self._last_wiring_event(at)
        return f"At {self._t(at)} {tag} is {bit} but {noun} {state}{reason}{f' ({cause})' if cause else ''}."

    # the rung -------------------------------------------------------------------------------------
    def _rung(self, tag: str) -> tuple[str, list[str]]:
        broken = self.broken
        program = self.played.program
        writing = writers(program, tag)
        if not writing:
            return f"No rung writes {tag}, so it stays off.", []
        moment = self._moment(tag)
        seen = decision(program, self.trace, moment)
        if seen is None:
            return f"The controller never solved the program before {self._t(moment)}.", []
        number, rung, coil = self._deciding(writing, seen, tag)
        if broken.wanted:
            return self._why_off(tag, number, rung, coil, seen)
        return self._why_on(tag, number, rung, coil, seen)

    def _moment(self, tag: str) -> int:
        """When the bit took the value that was not wanted, if that was after the event; else the moment itself."""
        changes = self.trace.signals[f"bit:{tag}"].changes
        mine = [t for t, value in changes if t <= self.broken.t_us and bool(value) is not self.broken.wanted]
        return max((t for t in mine if t > self.broken.from_us), default=self.broken.t_us)

    @staticmethod
    def _deciding(
        writing: list[tuple[int, Rung, Coil | Block]], seen: Decision, tag: str
    ) -> tuple[int, Rung, Coil | Block]:
        """The rung whose word counted: the last plain one, or the last set or reset that acted."""
        chosen = writing[0]
        for number, rung, coil in writing:
            keeps = isinstance(coil, Coil) and coil.kind in ("S", "R") and not seen.flow[coil.element].power_in
            if not keeps:
                chosen = (number, rung, coil)
        return chosen

    def _why_off(
        self, tag: str, number: int, rung: Rung, coil: Coil | Block, seen: Decision
    ) -> tuple[str, list[str]]:
        fell = seen.solved_us if self._was_on(tag, seen) else None
        head = f"Rung {number} drops {tag} at {self._t(fell)}" if fell is not None else f"Rung {number} never switches {tag} on"
        if isinstance(coil, Coil) and coil.kind == "R":
            path = carriers(rung.network, seen.flow)
            return f"{head}: it resets {tag} through {self._listed(path, seen)}.", _names(path)
        stops = blocked(rung, seen.flow)
        if isinstance(coil, Coil) and coil.kind == "P" and not stops:
            return f"{head}: its coil ( P ) is on for one scan only.", []
        told = [self._stop(element, seen) for element in stops[:_MOST]]
        names = _names(stops)
        if not told:
            return f"{head}.", names
        return f"{head}: {_and(told)}.", names

    def _was_on(self, tag: str, seen: Decision) -> bool:
        return seen.before.get(tag, False) and not seen.values.get(tag, False)

    def _why_on(self, tag: str, number: int, rung: Rung, coil: Coil | Block, seen: Decision) -> tuple[str, list[str]]:
        rose = seen.values.get(tag, False) and not seen.before.get(tag, False)
        verb = "switches" if rose else "holds"
        head = f"Rung {number} {verb} {tag} on at {self._t(seen.solved_us if rose else self.broken.t_us)}"
        here = seen.flow[coil.element]
        if isinstance(coil, Coil) and coil.kind == "S" and not here.power_in:
            since = max((t for t, v in self.trace.signals[f"bit:{tag}"].changes if v and t <= self.broken.t_us), default=None)
            when = f" at {self._t(since)}" if since is not None else ""
            return f"{tag} was set{when} and no rung has reset it since.", []
        if isinstance(coil, Coil) and coil.kind == "/":
            told = [self._stop(element, seen) for element in blocked(rung, seen.flow)[:_MOST]]
            return f"{head} through a negated coil: {_and(told)}.", _names(blocked(rung, seen.flow))
        path = [e for e in carriers(rung.network, seen.flow) if not isinstance(e, Coil)]
        sentence = f"{head}: power gets through {self._listed(path, seen)}"
        stop = self.lab.variant.names.get("stop", "")
        if stop and not seen.values.get(stop, True) and stop not in _names(path):
            sentence += f", a path that {stop} does not interrupt"
        return sentence + ".", _names(path)

    # elements -------------------------------------------------------------------------------------
    def _stop(self, element: object, seen: Decision) -> str:
        """One place where power stops, and why it does."""
        if isinstance(element, Block):
            return f"the output of {element.instance} ({element.type}) is off"
        if not isinstance(element, Contact):
            return "FALSE lets nothing through"
        if element.kind in ("P", "N"):
            edge = "rise" if element.kind == "P" else "fall"
            return f"the {edge} of {element.name} lasts one scan only, and that is over"
        return self._bit(element.name, seen)

    def _listed(self, path: list[Contact | Block | Coil | Constant | Not], seen: Decision) -> str:
        told: list[str] = []
        for element in path[:4]:
            if isinstance(element, Contact):
                told.append(f"{element.name} ({self._because(element.name, seen)})")
            elif isinstance(element, Block):
                told.append(f"{element.instance} ({element.type})")
            elif isinstance(element, Not):
                told.append(f"NOT ({', '.join(_names(list(elements(element))))})")
        return _and(told) or "the rung"

    def _bit(self, name: str, seen: Decision) -> str:
        value = seen.values.get(name, False)
        arrives = self._arrival(name, seen)
        if arrives:
            return arrives
        return f"{name} is {int(value)} ({self._because(name, seen)})"

    def _arrival(self, name: str, seen: Decision) -> str:
        """The race: a feedback that is on its way when the rung lets go."""
        point = self.points.get(name)
        actor, position = _follows(point)
        if point is None or actor not in self._contactors() or position != "closed" or seen.values.get(name, False):
            return ""
        variant = self.lab.variant
        parts = f"{self._span(variant.pull_in_us)} pull-in + {self._span(variant.filter_us)} filter"
        later = [t for t, v in self.trace.signals[f"bit:{name}"].changes if v and 0 < t - seen.read_us < 200_000]
        if later:
            return f"{name} arrived only at {self._t(later[0])} ({parts}), so the seal was not there yet"
        coil = self.trace.signals.get(f"coil:{actor}")
        on = max((t for t, v in coil.changes if abs(float(v)) > 1.0 and t <= seen.solved_us), default=None) if coil else None
        removed = self._last_wiring_event(seen.read_us)
        if on is None or removed or not 0 <= seen.solved_us - on < variant.pull_in_us + variant.filter_us:
            return ""
        due = on + variant.pull_in_us + variant.filter_us
        return f"{name} could be there only from {self._t(due)} on ({parts}), so there is no seal yet"

    def _contactors(self) -> set[str]:
        return {part.designation for part in self.lab.board.of_kind("contactor")}

    def _because(self, name: str, seen: Decision) -> str:
        """What made a bit what it is in this scan."""
        point = self.points.get(name)
        signal = self.trace.signals.get(f"bit:{name}")
        value = seen.values.get(name, False)
        if point is None or point.direction == "output":
            return self._because_inside(name, seen)
        changed = max((t for t, _ in signal.changes if t <= seen.read_us), default=0) if signal else 0
        actor, _ = _follows(point)
        hand = self._last_wiring_event(changed, actor)
        position = self.trace.signals.get(f"pos:{actor}") if actor else None
        moves = [c for c in position.changes if self.trace.start_us < c[0] <= seen.read_us] if position else []
        if hand and (not moves or self._last_wiring_us(changed) > moves[-1][0]):
            return hand
        if not moves:
            return f"nobody touches {actor}" if actor and actor not in self._contactors() else f"{int(value)} all along"
        t_us, state = moves[-1]
        if state in ("released", "off") and len(moves) > 1:
            return f"{actor} was let go at {self._t(t_us)} after {self._span(t_us - moves[-2][0])}"
        words = {"released": "let go", "closed": "in", "open": "out"}
        verb = "has been" if actor in self._contactors() else "was"
        since = "since" if verb == "has been" else "at"
        return f"{actor} {verb} {words.get(str(state), str(state))} {since} {self._t(t_us)}"

    def _because_inside(self, name: str, seen: Decision) -> str:
        written = [e for e in self.trace.events if e.do == "set_bit" and e.what.get("tag") == name and e.t_us <= seen.read_us]
        value = int(seen.values.get(name, False))
        if written:
            return f"written to {int(bool(written[-1].what['value']))} at {self._t(written[-1].t_us)}"
        if not writers(self.played.program, name):
            return f"it rests at {value}: nothing writes it"
        rises = [t for t, v in self.trace.signals[f"bit:{name}"].changes if bool(v) is bool(value) and t < seen.solved_us] if (
            f"bit:{name}" in self.trace.signals
        ) else []
        return f"{value} since {self._t(rises[-1])}" if rises and rises[-1] > self.trace.start_us else f"{value}"

    def _last_wiring_us(self, until_us: int) -> int:
        return max((e.t_us for e in self.trace.events if e.do in _HANDS and e.t_us <= until_us), default=-1)

    def _last_wiring_event(self, until_us: int, actor: str = "") -> str:
        """The last thing done behind the front before a time, in words; setting up does not count."""
        done = [e for e in self.trace.events if e.do in _HANDS and self.zero <= e.t_us <= until_us]
        if not done:
            return ""
        last = done[-1]
        what = next((str(last.what[k]) for k in ("part", "wire", "a") if k in last.what), "")
        told = _HANDS[last.do].format(what=what, state="on" if last.what.get("on") else "off")
        return f"{told} at {self._t(last.t_us)}"

    # drawing --------------------------------------------------------------------------------------
    def _signals(self, tag: str | None, involved: list[str]) -> tuple[str, ...]:
        rows: list[str] = []
        for name in dict.fromkeys([*involved, *(self._rung_names(tag) if tag else [])]):
            point = self.points.get(name)
            actor, _ = _follows(point)
            if point is not None and point.direction == "input" and actor:
                rows += [f"pos:{actor}" if actor not in self._contactors() else f"aux:{actor}", f"bit:{name}"]
            elif f"bit:{name}" in self.trace.signals:
                rows.append(f"bit:{name}")
        if tag:
            rows.append(f"bit:{tag}")
        part = self.broken.signal.partition(":")[2]
        rows += [name for name in (f"coil:{part}", f"pole:{part}", self.broken.signal) if name in self.trace.signals]
        known = [name for name in dict.fromkeys(rows) if name in self.trace.signals]
        return tuple(known if len(known) <= 10 else [*known[:7], *known[-3:]])

    def _rung_names(self, tag: str) -> list[str]:
        return [name for _, rung, _ in writers(self.played.program, tag) for name in _names(list(elements(rung.network)))]

    def _tag_behind(self, signal: str) -> str | None:
        """The output tag that a signal follows."""
        layer, _, name = signal.partition(":")
        if layer == "bit":
            return name
        if layer in ("out",):
            return next((p.tag for p in self.lab.board.points.values() if p.point == name), None)
        found = [p.tag for p in self.lab.board.points.values() if p.direction == "output" and name in (p.device, p.point)]
        return found[0] if found else None

    # words ----------------------------------------------------------------------------------------
    def _plain(self) -> str:
        state = "on" if self.broken.wanted else "off"
        return f"{self.broken.signal} should be {state} at {self._t(self.broken.t_us)} and is not."

    def _t(self, t_us: int) -> str:
        """A moment, counted from the start of the scenario as in the drawing."""
        return _ms(t_us - self.zero)

    @staticmethod
    def _span(us: int) -> str:
        return _ms(us)


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


def _follows(point: Point | None) -> tuple[str, str]:
    """The actor that an input follows, and the position that makes it 1."""
    return next(iter(point.on_when.items()), ("", "")) if point is not None else ("", "")


def _names(path: list[Contact | Block | Coil | Constant | Not] | list[Contact | Block | Constant]) -> list[str]:
    names: list[str] = []
    for element in path:
        if isinstance(element, Contact):
            names.append(element.name)
        elif isinstance(element, Not):
            names += [e.name for e in elements(element) if isinstance(e, Contact)]
    return list(dict.fromkeys(names))


def _and(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1] if parts else ""


def _ms(us: int) -> str:
    return f"{us / 1000:.1f}".removesuffix(".0") + " ms"

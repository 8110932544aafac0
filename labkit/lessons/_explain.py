"""From a broken expectation to one sentence of physical reason: rung, time, tag, and what happened before.

Nothing here judges. Every number in a sentence is read off the recording or off the variant.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labkit.bench import Trace
from labkit.lessons._causes import Causes, follows
from labkit.lessons._judge import Break
from labkit.lessons._lab import Lab, Played
from labkit.lessons._replay import Decision, Element, blocked, carriers, decision, writers
from labkit.logic import Block, Coil, Contact, Not, Rung, Xor, elements

__all__ = ["Story", "explain"]

_MOST = 3  # contacts named in one sentence
_NEAR_US = 3_000  # two marks closer than this are one on paper
_LONG_US = 400_000  # a drawing longer than this shows no scan any more


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
        self.causes = Causes(lab, played)
        self.points = self.causes.points
        self.decided_us: int | None = None

    # the whole ------------------------------------------------------------------------------------
    def tell(self) -> Story:
        broken = self.broken
        tag = self._tag_behind(broken.signal)
        point = self.points.get(tag or "")
        if isinstance(broken.wanted, str):
            name = broken.signal.partition(":")[2]
            is_now = self.trace.signals[broken.signal].at(broken.t_us)
            involved: list[str] = []
            sentence = f"{name} is {is_now}, not {broken.wanted}, {self.causes.at(broken.t_us)}."
        elif tag is None:
            state = "on" if broken.wanted else "off"
            sentence, involved = f"{broken.signal} should be {state} {self.causes.at(broken.t_us)} and is not.", []
        elif point is not None and point.direction == "input":
            value = not broken.wanted
            because = self.causes.because(tag, value, broken.t_us)
            sentence, involved = f"{tag} is {int(value)} {self.causes.at(broken.t_us)}: {because}.", [tag]
        else:
            sentence, involved = self._by_layers(tag)
        word = "not on" if broken.wanted and broken.how == "late" else "still on" if broken.how == "late" else "here"
        marks = [(broken.t_us, word)]
        if self.decided_us is not None and abs(self.decided_us - broken.t_us) > _NEAR_US:
            marks.insert(0, (self.decided_us, "decided here"))
        first = min(broken.from_us, *(t for t, _ in marks))
        if broken.due_us == broken.from_us:  # one only looks then: what led to it began with the scenario
            first = min(first, self.zero) if first - self.zero < _LONG_US else min(t for t, _ in marks) - 60_000
        start = max(self.trace.start_us, first - 20_000)
        end = min(self.trace.end_us, max(broken.t_us + 40_000, start + 150_000))
        return Story(sentence, self._signals(tag, involved), start, end, tuple(marks))

    def _by_layers(self, tag: str) -> tuple[str, list[str]]:
        """The device follows the bit, the bit follows a rung; the first layer that disagrees is the reason."""
        broken = self.broken
        signal = self.trace.signals.get(f"bit:{tag}")
        if signal is None or (not broken.signal.startswith("bit:") and self._bit_disagrees(tag)):
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
        noun = {
            "pole": f"the main contacts of {part} are",
            "lit": f"{part} is",
            "aux": f"the auxiliary of {part} is",
        }.get(layer, f"{broken.signal} is")
        state = (
            ("not closed" if broken.wanted else "closed")
            if layer in ("pole", "aux")
            else ("dark" if broken.wanted else "lit")
        )
        bit = "on" if broken.wanted else "off"
        volts = self.trace.signals.get(f"coil:{part}")
        reason = f", its coil has {float(volts.at(at)):.1f} V" if volts is not None else ""
        cause = self.causes.hand(at)
        return f"At {self.causes.t(at)} {tag} is {bit} but {noun} {state}{reason}{f' ({cause})' if cause else ''}."

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
            return f"The controller never solved the program before {self.causes.t(moment)}.", []
        if moment != broken.t_us:
            self.decided_us = seen.solved_us
        number, rung, coil = self._deciding(writing, seen)
        if broken.wanted:
            return self._why_off(tag, number, rung, coil, seen)
        return self._why_on(tag, number, rung, coil, seen)

    def _moment(self, tag: str) -> int:
        """When the bit took the value that was not wanted, if that was after the event; else the moment itself."""
        broken = self.broken
        changes = self.trace.signals[f"bit:{tag}"].changes
        mine = [t for t, value in changes if t <= broken.t_us and bool(value) is not broken.wanted]
        # where one only looks at a moment, all that happened since the start led to what is seen
        event = self.zero if broken.due_us == broken.from_us else broken.from_us
        return max((t for t in mine if t > event), default=broken.t_us)

    @staticmethod
    def _deciding(writing: list[tuple[int, Rung, Coil | Block]], seen: Decision) -> tuple[int, Rung, Coil | Block]:
        """The rung whose word counted: the last plain one, or the last set or reset that acted; else the first set."""
        sets = [w for w in writing if isinstance(w[2], Coil) and w[2].kind == "S"]
        chosen = sets[0] if sets else writing[0]
        for number, rung, coil in writing:
            if not _idle(coil, seen):
                chosen = (number, rung, coil)
        return chosen

    def _why_off(self, tag: str, number: int, rung: Rung, coil: Coil | Block, seen: Decision) -> tuple[str, list[str]]:
        dropped = seen.before.get(tag, False) and not seen.values.get(tag, False)
        head = (
            f"Rung {number} drops {tag} {self.causes.at(seen.solved_us)}"
            if dropped
            else f"Rung {number} never switches {tag} on"
        )
        if isinstance(coil, Coil) and coil.kind == "R" and not _idle(coil, seen):
            path = carriers(rung.network, seen.flow)
            return f"{head}: it resets {tag} through {self._listed(path, seen)}.", _names(path)
        stops = blocked(rung, seen.flow)
        if isinstance(coil, Coil) and coil.kind == "P" and not stops:
            return f"{head}: its coil ( P ) is on for one scan only.", []
        late = {e.name: told for e in stops if isinstance(e, Contact) and (told := self.causes.arrival(e.name, seen))}
        places = [self._stop(e, seen) for e in stops if not (isinstance(e, Contact) and e.name in late)]
        parts = [f"power stops at {_and(places[:_MOST])}"] if places else []
        parts += list(late.values())
        return f"{head}: {'; '.join(parts)}." if parts else f"{head}.", _names(stops)

    def _why_on(self, tag: str, number: int, rung: Rung, coil: Coil | Block, seen: Decision) -> tuple[str, list[str]]:
        if _idle(coil, seen):
            since = max(
                (t for t, v in self.trace.signals[f"bit:{tag}"].changes if v and t <= self.broken.t_us), default=None
            )
            when = f" {self.causes.at(since)}" if since is not None else ""
            return f"{tag} was set{when}, and no rung has reset it since.", []
        rose = seen.values.get(tag, False) and not seen.before.get(tag, False)
        verb = "switches" if rose else "holds"
        head = f"Rung {number} {verb} {tag} on {self.causes.at(seen.solved_us if rose else self.broken.t_us)}"
        if isinstance(coil, Coil) and coil.kind == "/":
            stops = blocked(rung, seen.flow)
            told = [self._stop(element, seen) for element in stops[:_MOST]]
            return f"{head} through a negated coil: power stops at {_and(told)}.", _names(stops)
        path = [e for e in carriers(rung.network, seen.flow) if not isinstance(e, Coil)]
        sentence = f"{head}: power gets through {self._listed(path, seen)}"
        names = self.lab.variant.names
        for role in self.lab.lesson.file.roles:
            name = names[role.id]
            if role.stops_at is not None and seen.values.get(name) is role.stops_at and name not in _names(path):
                sentence += f", a path that {name} does not interrupt"
                break
        return sentence + ".", _names(path)

    # elements -------------------------------------------------------------------------------------
    def _stop(self, element: Element, seen: Decision) -> str:
        """One place where power stops, and why it does."""
        if isinstance(element, Block):
            return f"the output of {element.instance} ({element.type})"
        if isinstance(element, Not | Xor):
            return _unit(element)
        if not isinstance(element, Contact):
            return "FALSE"
        if element.kind in ("P", "N"):
            edge = "rise" if element.kind == "P" else "fall"
            return f"the {edge} of {element.name} (it lasts one scan only, and that is over)"
        value = seen.values.get(element.name, False)
        because = self.causes.because(element.name, value, seen.read_us, seen.solved_us)
        return f"{'the negated ' if element.kind == '/' else ''}{element.name} ({int(value)}: {because})"

    def _listed(self, path: Sequence[Element], seen: Decision) -> str:
        told: list[str] = []
        for element in path[:4]:
            if isinstance(element, Contact):
                because = self.causes.because(
                    element.name, seen.values.get(element.name, False), seen.read_us, seen.solved_us
                )
                told.append(f"{'the negated ' if element.kind == '/' else ''}{element.name} ({because})")
            elif isinstance(element, Block):
                told.append(f"{element.instance} ({element.type})")
            elif isinstance(element, Not | Xor):
                told.append(_unit(element))
        return _and(told) or "the rung"

    # drawing --------------------------------------------------------------------------------------
    def _signals(self, tag: str | None, involved: list[str]) -> tuple[str, ...]:
        rows: list[str] = []
        for name in dict.fromkeys([*involved, *(self._rung_names(tag) if tag else [])]):
            point = self.points.get(name)
            actor, _ = follows(point)
            if point is not None and point.direction == "input" and actor:
                rows += [f"pos:{actor}" if actor not in self.causes.contactors else f"aux:{actor}", f"bit:{name}"]
            elif f"bit:{name}" in self.trace.signals:
                rows.append(f"bit:{name}")
        if tag:
            rows.append(f"bit:{tag}")
        part = self.broken.signal.partition(":")[2]
        rows += [name for name in (f"coil:{part}", f"pole:{part}", self.broken.signal) if name in self.trace.signals]
        known = [name for name in dict.fromkeys(rows) if name in self.trace.signals]
        return tuple(known if len(known) <= 10 else [*known[:7], *known[-3:]])

    def _rung_names(self, tag: str) -> list[str]:
        return [
            name for _, rung, _ in writers(self.played.program, tag) for name in _names(list(elements(rung.network)))
        ]

    def _tag_behind(self, signal: str) -> str | None:
        """The output tag that a signal follows."""
        layer, _, name = signal.partition(":")
        if layer == "bit":
            return name
        if layer in ("out",):
            return next((p.tag for p in self.lab.board.points.values() if p.point == name), None)
        found = [
            p.tag for p in self.lab.board.points.values() if p.direction == "output" and name in (p.device, p.point)
        ]
        return found[0] if found else None


def _idle(coil: Coil | Block, seen: Decision) -> bool:
    """A set or reset coil without power leaves its bit as it is."""
    return isinstance(coil, Coil) and coil.kind in ("S", "R") and not seen.flow[coil.element].power_in


def _unit(element: Not | Xor) -> str:
    """NOT and XOR with what they look at."""
    return f"{'NOT' if isinstance(element, Not) else 'XOR'} ({', '.join(_names(list(elements(element))))})"


def _names(path: Sequence[Element]) -> list[str]:
    names: list[str] = []
    for element in path:
        if isinstance(element, Contact):
            names.append(element.name)
        elif isinstance(element, Not | Xor):
            names += [e.name for e in elements(element) if isinstance(e, Contact)]
    return list(dict.fromkeys(names))


def _and(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1] if parts else ""

"""Two cards for a hunt: what the operator says, for the student; what is wrong and what decides, for the instructor.

Both are computed: the operator says what differs on the faulty board from a sound one for somebody who works the
buttons and looks at lamps; the measurements have the figures that the meter shows with the fault in and without it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from labkit.bench import Bench
from labkit.board import Board
from labkit.faults.catalogue import Fault
from labkit.faults.dictionary import HEALTHY, FaultDictionary
from labkit.faults.inject import Solved, put_in
from labkit.faults.notes import Notes
from labkit.faults.situations import Test
from labkit.faults.visits import bring_about
from labkit.faults.words import when_in_words

__all__ = ["FRONT", "FaultCard", "Measured", "SymptomCard", "complaints", "fault_card", "symptom_card"]

FRONT = (
    "rest",
    "start held",
    "running",
    "stop held",
    "after stop",
    "S6 held",
    "B1 actuated",
    "F3 tripped",
    "S0 pressed",
)
"""What an operator does in the course of a day."""

FRONT_LOOKS = frozenset((when, kind) for when in FRONT for kind in ("lit", "state"))

# What somebody wired, set or fitted wrongly; everything else is a part that has failed (own judgement by kind of
# fault).
WIRED_WRONGLY = frozenset({"F05", "F06", "F15", "F22", "F23", "F26", "F27", "F36", "F45"})
MOST_MEASURED = 3


@dataclass(frozen=True, slots=True)
class SymptomCard:
    """What the student is told.

    Parameters
    ----------
    sentences
        In the operator's words; none if nothing is to be noticed from the front.
    history
        Whether it ever worked.
    """

    sentences: tuple[str, ...]
    history: str

    def text(self) -> str:
        """The card as Markdown."""
        said = " ".join(self.sentences) or "Nobody has noticed anything; it is a routine check."
        return f"**Operator:** \u201c{said}\u201d\n\n**History:** {self.history}\n"


@dataclass(frozen=True, slots=True)
class Measured:
    """A measurement that decides.

    Parameters
    ----------
    test
        Its id.
    faulty, sound
        What the meter shows with the fault in, and on a sound board.
    rules_out
        How many of the other suspects it rules out.
    """

    test: str
    faulty: str
    sound: str
    rules_out: int


@dataclass(frozen=True, slots=True)
class FaultCard:
    """What the instructor has in hand."""

    student: str
    fault: Fault
    symptom: SymptomCard
    guess: str
    measured: tuple[Measured, ...]
    suspects: tuple[str, ...]
    minutes: float

    def text(self) -> str:
        """The card as Markdown."""
        rows = [
            f"# Fault card: {self.student}",
            "",
            f"- Location: {self.fault.location}",
            f"- Cause: {self.fault.cause} ({self.fault.code})",
            f"- Likely wrong first guess: {self.guess}",
            f"- Suspects: {len(self.suspects)}; the best search takes {self.minutes:.1f} minutes",
            "",
            self.symptom.text(),
            "| measurement | with the fault | sound board | rules out |",
            "|---|---|---|---|",
        ]
        rows += [f"| {m.test} | {m.faulty} | {m.sound} | {m.rules_out} |" for m in self.measured]
        return "\n".join(rows) + "\n"


def symptom_card(board: Board, dictionary: FaultDictionary, fault: Fault) -> SymptomCard:
    """The operator's card for a fault that the dictionary has."""
    wrong = fault.code in WIRED_WRONGLY
    history = "It has never worked since the board was wired." if wrong else "It worked yesterday."
    return SymptomCard(complaints(board, dictionary, fault.id), history)


def complaints(board: Board, dictionary: FaultDictionary, fault: str) -> tuple[str, ...]:
    """What an operator says of a board with this fault in; nothing if there is nothing to be noticed.

    Only where the machine and its lamps do what they should, the controller's indicators are looked at, point by
    point.
    """
    front = _Front(board, dictionary, fault)
    said = (*_drive(front), *_breakers(front), *_lights(front))
    return said or tuple(_indicators(front, board))


class _Front:
    """What is to be seen from the front in each situation, with the fault in and on a sound board."""

    def __init__(self, board: Board, dictionary: FaultDictionary, fault: str) -> None:
        self.board = board
        self.seen: dict[tuple[str, str], tuple[str, str]] = {}
        for test in dictionary.tests:
            if (test.situation, test.kind) in FRONT_LOOKS or test.kind == "led":
                bands = dictionary.outcome(fault, test.id), dictionary.outcome(HEALTHY, test.id)
                self.seen[test.a, test.situation] = bands

    def differs(self, part: str) -> list[tuple[str, str, str]]:
        """Situation, band with the fault in, band on a sound board, where these differ."""
        return [(when, *bands) for (name, when), bands in self.seen.items() if name == part and bands[0] != bands[1]]

    def sound(self, part: str, band: str) -> list[str]:
        """The situations in which the sound board shows a band."""
        return [when for (name, when), bands in self.seen.items() if name == part and bands[1] == band]

    def name(self, part: str) -> str:
        """The part with its legend."""
        label = self.board.part(part).label
        return f"{part} ({label[0].lower() + label[1:]})" if label else part


_STILL_IN = {
    "rest": "starts by itself",
    "stop held": "does not stop when stop is pressed",
    "after stop": "starts again when stop is let go",
    "S0 pressed": "does not stop when the emergency stop is pressed",
    "F3 tripped": "does not stop when the overload trips",
}
_OUT = {"start held": "does not start", "running": "stops as soon as start is let go"}


def _drive(front: _Front) -> Iterator[str]:
    """Contactors: heard to pull in and let go. The first thing that is wrong is said, and every stop that fails."""
    for part in (p.designation for p in front.board.of_kind("contactor")):
        label = front.board.part(part).label
        what = f"The {label[0].lower()}{label[1:]}" if label else f"Contactor {part}"
        wrong = {when: band for when, band, _ in front.differs(part)}
        restless = next((when for when in FRONT if wrong.get(when) == "flickers"), None)
        if restless is not None:
            yield f"{what} chatters {when_in_words(restless)}."
        elif out := next((words for when, words in _OUT.items() if wrong.get(when) == "open"), None):
            yield f"{what} {out}."
        for when, words in _STILL_IN.items():
            if wrong.get(when) == "closed" and not (when != "rest" and wrong.get("rest") == "closed"):
                yield f"{what} {words}."


def _breakers(front: _Front) -> Iterator[str]:
    for kind in ("breaker", "fuse"):
        for part in (p.designation for p in front.board.of_kind(kind)):
            tripped = [when for when, band, _ in front.differs(part) if band == "off"]
            if tripped:
                when = "at once" if tripped[0] == "rest" else when_in_words(tripped[0])
                yield f"Breaker {front.name(part)} trips {when}."


def _lights(front: _Front) -> Iterator[str]:
    """Lamps and horns; those that do the same in one sentence."""
    groups: dict[tuple[str, str], list[str]] = {}
    for kind, on, off in (("lamp", "lit", "dark"), ("horn", "sounding", "silent")):
        for part in (p.designation for p in front.board.of_kind(kind)):
            if words := _light(front, part, on, off):
                groups.setdefault((kind, words), []).append(front.name(part))
    for (kind, words), parts in groups.items():
        yield _sentence(kind, parts, words)


def _indicators(front: _Front, board: Board) -> Iterator[str]:
    """The controller's own indicators, for somebody who goes through the list of points."""
    groups: dict[str, list[str]] = {}
    for point in board.points:
        if words := _light(front, point, "on", "off"):
            groups.setdefault(words, []).append(point)
    for words, points in groups.items():
        yield _sentence("indicator", points, words)


def _sentence(kind: str, names: Sequence[str], words: str) -> str:
    if len(names) == 1:
        return f"{kind.capitalize()} {names[0]}: {words}."
    return f"{kind.capitalize()}s {', '.join(names[:-1])} and {names[-1]}: {words}."


def _light(front: _Front, part: str, on: str, off: str) -> str:
    wrong = front.differs(part)
    if not wrong:
        return ""
    if restless := [when for when, band, _ in wrong if band == "flickers"]:
        return f"comes and goes {when_in_words(restless[0])}"
    dark = [when for when, band, _ in wrong if band == "off"]
    bright = [when for when, band, _ in wrong if band == "on"]
    if dark and dark == front.sound(part, "on"):
        return f"{off} all the time"
    if bright and bright == front.sound(part, "off"):
        return f"{on} all the time"
    said = [f"{word} {when_in_words(times[0])}" for word, times in ((off, dark), (on, bright)) if times]
    return " and ".join(said)


def fault_card(
    student: str,
    fault: Fault,
    symptom: SymptomCard,
    *,
    dictionary: FaultDictionary,
    notes: Notes,
    fresh: Callable[[], Bench],
    minutes: float,
) -> FaultCard:
    """The instructor's card: the measurements that rule out most suspects, each with its figures."""
    note = notes.codes.get(fault.code)
    ranked = _deciding(dictionary, fault)
    solved: Solved = {}
    measured = tuple(
        Measured(test.id, _shown(fresh, test, (fault,), solved), _shown(fresh, test, (), solved), out)
        for test, out in ranked[:MOST_MEASURED]
    )
    guess = note.guess if note is not None else ""
    return FaultCard(student, fault, symptom, guess, measured, tuple(f.id for f in dictionary.faults), minutes)


def _deciding(dictionary: FaultDictionary, fault: Fault) -> list[tuple[Test, int]]:
    """Readings of the meter with how many other suspects each rules out, the best first, each pair of points once.

    Of equals those come first that a sound board does not show, then the quicker, then the simpler situation.
    """
    ranked = []
    for place, test in enumerate(dictionary.tests):
        if test.kind in ("volts", "ohms"):
            shown = dictionary.outcome(fault.id, test.id)
            out = sum(dictionary.outcome(f.id, test.id) != shown for f in dictionary.faults)
            if out:
                as_sound = shown == dictionary.outcome(HEALTHY, test.id)
                ranked.append(((-out, as_sound, test.minutes, place), test, out))
    found: dict[tuple[str, str, str], tuple[Test, int]] = {}
    for _, test, out in sorted(ranked, key=lambda row: row[0]):
        found.setdefault((test.kind, test.a, test.b), (test, out))
    return list(found.values())


def _shown(fresh: Callable[[], Bench], test: Test, faults: Sequence[Fault], solved: Solved) -> str:
    """What the meter shows with these faults in."""
    bench = fresh()
    if faults:
        put_in(bench, *faults, solved=solved)
    bring_about(bench, test.situation)
    return bench.meter.peek(test.kind, test.a, test.b).text

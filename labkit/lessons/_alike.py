"""What one variant's bench shows, known from another's that differs in names and landings only.

Two students whose benches have the same times, with a wire here on I2 and there on I5, and a tag here called
START_PB and there S2, have the same bench: written with role ids for tags and each input's place in the board's file,
the two are one and the same. What a program does on it, in words without names, is then worked out once in a process.
Whatever goes into a mark sheet with names, times or volts is still taken from the student's own bench.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any, TypeVar

from labkit.board import electrify
from labkit.circuit import Curve
from labkit.controller import family
from labkit.lessons._benches import drawn_board, setup_of
from labkit.lessons._document import Check, LessonFile, RubricLine, Run
from labkit.lessons._files import LessonSource
from labkit.lessons._shared import forget_shared
from labkit.logic import Program, lower

if TYPE_CHECKING:
    from labkit.lessons._lab import Lab

__all__ = ["Alike", "forget"]

T = TypeVar("T")

_MOST_LESSONS = 8
_MOST_KNOWN = 50_000  # a class of thirty leaves some thousands

_PLACE = re.compile(r"\bI\d+\b")
_TAGGED = re.compile(r"\b(?:bit|panel):([A-Za-z_]\w*)|\b(?:set|force|unforce) ([A-Za-z_]\w*)")
_BARE = re.compile(r"(?<![\w.:{])[A-Za-z_]\w*(?![\w:])")

_KNOWN: dict[str, tuple[LessonSource, dict[Hashable, Any]]] = {}


def forget() -> None:
    """Forget all of it, and what equal benches share, as in a new process."""
    _KNOWN.clear()
    forget_shared()


def _known_of(lesson: LessonSource) -> dict[Hashable, Any] | None:
    """What is known of a lesson; None if nothing says that another of the same digest is the same."""
    if not lesson.digest or lesson.file.board.endswith(".toml"):
        return None
    held = _KNOWN.get(lesson.digest)
    if held is None or (held[0] is not lesson and held[0] != lesson):
        if len(_KNOWN) >= _MOST_LESSONS:
            _KNOWN.pop(next(iter(_KNOWN)))
        held = _KNOWN[lesson.digest] = (lesson, {})
    if len(held[1]) >= _MOST_KNOWN:
        held[1].clear()
    return held[1]


@lru_cache(maxsize=8)
def _kinds(board: str, family_name: str) -> Mapping[str, Hashable]:
    """Each input's electrical kind: two of one kind can change places."""
    drawn = drawn_board(board)
    electrical = electrify(drawn, input_type=family(family_name).inputs.type_no)
    curves = {e.name: e.points for e in electrical.circuit.elements if isinstance(e, Curve)}
    kinds: dict[str, Hashable] = {}
    for channel in electrical.inputs:
        kind = replace(channel, point="", terminal="", element="")
        kinds[channel.point] = repr((kind, curves[channel.element]))
    return kinds


class Alike:
    """One lab's share in what is known of its lesson.

    Parameters
    ----------
    lab
        The variant's bench.
    """

    def __init__(self, lab: Lab) -> None:
        self.lab = lab
        self._setups: dict[str, Hashable] = {}
        self._programs: dict[Program, Hashable] = {}

    @cached_property
    def known(self) -> dict[Hashable, Any] | None:
        """What is known by key; None where this lab shares nothing."""
        file, moved = self.lab.lesson.file, self.lab.variant.moved
        known = _known_of(self.lab.lesson)
        if known is None:
            return None
        kinds = _kinds(file.board, file.family)
        if any(old not in kinds or kinds[old] != kinds.get(new) for old, new in moved.items()):
            return None
        return known

    @cached_property
    def _back(self) -> dict[str, str]:
        """Place on this bench to place in the board's file."""
        return {new: old for old, new in self.lab.variant.moved.items()}

    @cached_property
    def _roles(self) -> dict[str, tuple[str, str]]:
        return {name: ("role", role) for role, name in self.lab.variant.names.items()}

    @cached_property
    def _words(self) -> Hashable:
        """The times, and the words that are neither names nor places."""
        variant = self.lab.variant
        other = {*variant.names, *(f"{role}.point" for role in variant.points)}
        words = tuple(sorted((k, w) for k, w in variant.words.items() if k not in other))
        return (variant.scan_us, variant.filter_us, variant.pull_in_us, words)

    def key(
        self, what: str, texts: Iterable[str], setup: str, program: Program | str, *more: Hashable
    ) -> Hashable | None:
        """What a question is known by, if its `texts` name tags and places by their roles only.

        Parameters
        ----------
        what, more
            Which question of the lesson it is.
        texts
            The lesson's texts in it, not filled.
        setup
            Whose bench.
        program
            What runs on it: a program, or the key of the lesson's.
        """
        if self.known is None:
            return None
        names = _changing(self.lab.lesson.file)
        if any(_PLACE.search(text) or any((a or b) in names for a, b in _TAGGED.findall(text)) for text in texts):
            return None
        bench = self._setup(setup or "start")
        return None if bench is None else (what, bench, self._program(program), *more)

    def once(self, key: Hashable | None, work: Callable[[], T]) -> T:
        """What is known by a key, or is from now on; without a key it is worked out."""
        known = self.known
        if key is None or known is None:
            return work()
        if key not in known:
            known[key] = work()
        found: T = known[key]
        return found

    def holds(self, key: Hashable | None) -> bool:
        """Whether a requirement is known to hold; one that fails is told with the student's own names and places."""
        return key is not None and self.known is not None and key in self.known

    def run_key(self, what: str, run: Run, program: Program | str, more: Mapping[str, str]) -> Hashable | None:
        """The key of a run or a check with `more` words, whatever is varied in it."""
        file = self.lab.lesson.file
        expects = [e for o in (file.outcomes[run.outcomes] if run.outcomes else ()) for e in o.expect]
        expects += run.expect if isinstance(run, Check) else ()
        varied = [text for values in run.vary.values() for text in values]
        given = file.states.get(run.given, ())
        texts = [*given, *run.steps, *varied, *more.values(), *(e.signal for e in expects)]
        return self.key(what, texts, run.setup, program, run.id, tuple(sorted(more.items())))

    def proof_key(self, text: str, line: RubricLine, program: Program | str) -> Hashable | None:
        """The key of a requirement."""
        if set(_BARE.findall(text)) & _changing(self.lab.lesson.file):
            return None
        return self.key("proof", (text, *line.may), "start", program, text, line.may, line.most_states)

    def _setup(self, setup: str) -> Hashable:
        """The bench of a setup with role ids and the file's places; None if it is not for sharing."""
        if setup not in self._setups:
            self._setups[setup] = self._written(setup)
        return self._setups[setup]

    def _written(self, setup: str) -> Hashable:
        lab = self.lab
        entry = setup_of(lab.lesson.file, setup)
        if entry.removed or entry.parked or entry.pulled or lab.benches.hidden(setup):
            return None
        ends = {f"A1:{new}": f"A1:{old}" for new, old in self._back.items()}
        wires = tuple(
            (w.no, ends.get(w.a, w.a), ends.get(w.b, w.b), w.mm2, w.m, w.ferrule, w.conductor_class)
            for w in lab.benches.wiring(setup)
        )
        tags = frozenset(
            (self._roles.get(t.name, t.name), t.kind, self._back.get(t.point or "", t.point), t.retain)
            for t in lab.tags
        )
        return (setup, wires, tags, self._words)

    def _program(self, program: Program | str) -> Hashable:
        """What a program does, whatever it looks like; of the lesson's, which one it is."""
        if isinstance(program, str):
            text = self.lab.lesson.programs.get(program, "")
            if text and not set(_BARE.findall(text)) & _changing(self.lab.lesson.file):
                return ("of the lesson", program)
            program = self.lab.program(program)
        if program not in self._programs:
            flat = lower(program)
            self._programs[program] = (
                tuple(self._roles.get(name, name) for name in flat.slots),
                tuple((op.do, op.args, op.result, op.slots, op.cells, op.number) for op in flat.ops),
                (len(flat.memory), flat.initial, flat.retained_slots, flat.retained_cells),
                tuple((t.mode, t.since, t.et, t.preset_us) for t in flat.timers),
                len(program.rungs),  # a scan takes its time from them
            )
        return self._programs[program]


def _changing(file: LessonFile) -> frozenset[str]:
    """Tag names that not every variant has."""
    return frozenset(name for role in file.roles if len(role.names) > 1 for name in role.names)

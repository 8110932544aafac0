"""The bench of a variant: board and tags with the student's points and names, and scenarios played on it.

Everything that judges goes through a :class:`Lab`. It keeps what it has computed, for one variant and one
marking; two labs of one variant give the same answers.
"""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, partial
from itertools import product
from types import MappingProxyType
from typing import Any, TypeVar

from labkit.base import LabkitError, us
from labkit.bench import Bench, Trace
from labkit.bench.meter import PROVING
from labkit.board import Board, Wiring, electrify
from labkit.controller import Controller, Tag, TagTable
from labkit.faults import PROGRAM, Fault
from labkit.lessons._benches import Benches, drawn_board, setup_of
from labkit.lessons._document import Look, Run
from labkit.lessons._files import LessonSource
from labkit.lessons._links import WORKING
from labkit.lessons._looks import Seen, look_at
from labkit.lessons._shared import shared_by
from labkit.lessons._stand import Stand
from labkit.lessons._steps import Script, compile_steps
from labkit.lessons._text import fill, relabel, span_us
from labkit.lessons.errors import LessonError
from labkit.lessons.variants import Variant
from labkit.logic import Program, read_program

__all__ = ["Lab", "Played"]

LookT = TypeVar("LookT", bound=Look)

_RANGE = re.compile(r"(.+) to (.+) by (.+)")


@dataclass(frozen=True, slots=True)
class Played:
    """A scenario that was played: what was done, and what was recorded, both counted from its beginning."""

    script: Script
    trace: Trace
    program: Program


class Lab:
    """Board, tags and scenarios of one variant of a lesson.

    Parameters
    ----------
    lesson, variant
        The lesson and the student's variant of it.

    Raises
    ------
    LessonError
        If the lesson asks for something that its board does not have.
    """

    def __init__(self, lesson: LessonSource, variant: Variant) -> None:
        self.lesson = lesson
        self.variant = variant
        self._programs: dict[str, Program] = {}
        self._stands: dict[str, Stand] = {}
        self._shared = shared_by(lesson, variant)

    @cached_property
    def board(self) -> Board:
        """The lesson's board with this variant's pull-in time, and its input wires where the variant lands them."""
        board = drawn_board(self.lesson.file.board)
        variant = self.variant
        wiring = board.wiring
        moves = []
        for old, new in variant.moved.items():
            for wire in board.wiring.at(f"A1:{old}"):
                moves.append((wire.no, f"A1:{old}", f"A1:{new}"))
        for number, end, to in moves:
            wiring = wiring.moved(number, end=end, to=to)
        names = {variant.points[role]: name for role, name in variant.names.items() if role in variant.points}
        points = {}
        for old, point in board.points.items():
            place = variant.moved.get(old, old)
            points[place] = replace(point, point=place, tag=names.get(place, point.tag))
        in_order = {place: points[place] for place in board.points}
        for part in board.of_kind("contactor"):
            entry: Any = part.entry  # a contactor's record, by its kind
            coil = entry.coil.model_copy(update={"operate_us": variant.pull_in_us})
            board = board.with_part(replace(part, entry=entry.model_copy(update={"coil": coil})))
        return replace(board, wiring=wiring, points=MappingProxyType(in_order))

    @cached_property
    def tags(self) -> TagTable:
        """The board's points under this variant's names, its memory roles, and the spare bits."""
        roles = {self.variant.names[role.id]: role for role in self.lesson.file.roles}
        tags = [
            Tag(p.tag, p.direction, p.point, comment=roles[p.tag].what if p.tag in roles else p.comment)
            for p in self.board.points.values()
            if p.tag
        ]
        for role in self.lesson.file.roles:
            if not role.point:
                tags.append(Tag(self.variant.names[role.id], "memory", retain=role.retain, comment=role.what))
        tags += [Tag(name, "memory", comment="spare bit") for name in self.lesson.file.spare_bits]
        return TagTable(tags)

    @cached_property
    def benches(self) -> Benches:
        """The benches of this variant, wired as each setup has them, with the faults that are drawn."""
        return Benches(self.lesson.file, self.variant, self.board, self._new_bench, self._shared)

    @cached_property
    def states(self) -> dict[str, tuple[str, ...]]:
        """The positions that each part of the board can have."""
        return {actor.id: actor.states for actor in electrify(self.board).actors.values()}

    def bench(self, setup: str = "start", faults: Iterable[Fault] | None = None, *, gate: bool = False) -> Bench:
        """A fresh bench of this variant, everything off; see :meth:`Benches.make`."""
        return self.benches.make(setup, faults, gate=gate)

    def _new_bench(self, wiring: Wiring) -> Bench:
        return Bench(
            self.board,
            wiring,
            family=self.lesson.file.family,
            tags=self.tags,
            scan=us(self.variant.scan_us),
            filter=us(self.variant.filter_us),
        )

    @cached_property
    def _controller(self) -> Controller:
        """The variant's controller alone, which says what it refuses."""
        return Controller(
            self.lesson.file.family, self.tags, scan_us=self.variant.scan_us, filter_us=self.variant.filter_us
        )

    def _stand(self, setup: str = "") -> Stand:
        setup = setup or "start"
        if setup not in self._stands:
            entry = setup_of(self.lesson.file, setup)
            plain = not (entry.removed or entry.parked or entry.pulled or self.benches.hidden(setup))
            self._stands[setup] = Stand(partial(self.bench, setup), plain=plain)
        return self._stands[setup]

    # programs -------------------------------------------------------------------------------------
    def program_text(self, key: str) -> str:
        """A program of the lesson with this variant's names."""
        names = {role.upper(): name for role, name in self.variant.names.items()}
        return relabel(self.lesson.programs[key], names)

    def program(self, key: str) -> Program:
        """A program of the lesson, read.

        Without a key it is one that moves nothing, so that inputs are read; ``working`` is that of the faults
        room, which makes every device show.
        """
        if not key:
            return self._idle
        if key == WORKING and key not in self.lesson.programs:
            return self._working
        if key not in self._programs:
            try:
                self._programs[key] = read_program(self.program_text(key), name=key)
            except LabkitError as exc:
                raise LessonError(
                    exc.what, where=f"programs.{key}: {exc.where}", try_this=exc.try_this, code="lesson-program"
                ) from None
        return self._programs[key]

    @cached_property
    def _idle(self) -> Program:
        outputs = [point for point in self.board.points.values() if point.direction == "output" and point.tag]
        outputs.sort(key=lambda point: bool(point.device))
        return read_program(f"{outputs[0].tag} := FALSE;", name="idle")

    @cached_property
    def _working(self) -> Program:
        drawn = drawn_board(self.lesson.file.board).points
        moved = {point.tag: self.board.points[self.variant.moved.get(old, old)].tag for old, point in drawn.items()}
        return read_program(relabel(PROGRAM, moved), name=WORKING)

    def state(self, name: str) -> tuple[str, ...]:
        """The lines of a state; ``powered`` closes every breaker and waits until the controller is up."""
        states = self.lesson.file.states
        if not name or name in states:
            return states[name] if name else ()
        breakers = [f"breaker {part.designation} on" for part in self.board.of_kind("breaker", "fuse")]
        return (*breakers, "power on", "wait 1500 ms")

    # scenarios ------------------------------------------------------------------------------------
    def variations(self, run: Run) -> Iterator[dict[str, str]]:
        """Every combination of a run's varied values, in the document's order."""
        names = list(run.vary)
        for values in product(*(self._spread(values) for values in run.vary.values())):
            yield dict(zip(names, values, strict=True))

    def _spread(self, values: tuple[str, ...]) -> list[str]:
        """The values, with each ``"0 ms to 1 scan by 0.8 ms"`` (the end left out) written out."""
        spread: list[str] = []
        for value in values:
            found = _RANGE.fullmatch(value)
            if found is None:
                spread.append(value)
                continue
            start, end, step = (span_us(text, self.variant.symbols) for text in found.groups())
            if step <= 0:
                raise LessonError(f"the step of {value!r} is not above 0", where="vary", code="lesson-span")
            spread += [f"{at / 1000:g} ms" for at in range(start, end, step)]
        return spread

    def words(self, more: Mapping[str, str]) -> dict[str, str]:
        """The variant's words with `more`, which may use the variant's words themselves."""
        return {**self.variant.words, **{key: fill(value, self.variant.words) for key, value in more.items()}}

    def symbols(self, more: Mapping[str, str]) -> dict[str, int]:
        """The variant's spans with those of `more` that are spans."""
        symbols = dict(self.variant.symbols)
        for key, value in more.items():
            try:
                symbols[key] = span_us(value, self.variant.symbols)
            except LessonError:
                continue  # a word, not a span
        return symbols

    def script(self, run: Run, more: Mapping[str, str]) -> Script:
        """A run with every name and time known."""
        given = self.state(run.given)
        return compile_steps(
            (*given, *run.steps),
            words=self.words(more),
            symbols=self.symbols(more),
            wire_at=self.wire_at,
            start_after=len(given),
        )

    def play(self, program: Program, run: Run, more: Mapping[str, str], *, only: Iterable[str] | None = None) -> Played:
        """Load a program on a bench that is all off and at rest, do what the run says, record it.

        All of it is recorded, or `only` these signals, which is quicker and gives the same changes of them.

        Raises
        ------
        LabkitError
            If the controller refuses the program, or the bench fails with it.
        """
        script = self.script(run, more)
        return Played(script, self._stand(run.setup).play(program, script, only), program)

    def try_load(self, program: Program) -> None:
        """Load a program on the variant's controller and do nothing with it.

        Raises
        ------
        LabkitError
            If the controller refuses it.
        """
        self._controller.load(program)

    def after(
        self,
        run_id: str,
        program: str = "",
        *,
        setup: str = "",
        faults: Iterable[Fault] | None = None,
        keep: bool = True,
    ) -> Bench:
        """A bench as a run leaves it; one that is kept is for looking only.

        Parameters
        ----------
        setup
            In place of the run's own.
        faults
            In place of those that the lesson hides there.
        keep
            False gives a bench of one's own, to work on.

        Raises
        ------
        LabkitError
            If the bench fails on the way.
        """
        key, setup, some = self._left_key(run_id, program, setup, faults)

        def left() -> Bench:
            bench = self.bench(setup, some)
            script = self.script(self.lesson.run(run_id), {})
            bench.load(self.program(program))
            bench.play(script.stimulus)
            bench.wait_until(script.end_us)
            return bench

        if keep:
            return self._shared.left.once(key, left)
        bench = left()
        bench.log.clear()
        return bench

    def _left_key(
        self, run_id: str, program: str, setup: str, faults: Iterable[Fault] | None
    ) -> tuple[Hashable, str, tuple[Fault, ...]]:
        """What a bench as a run leaves it follows from, in which setup, and with which faults."""
        setup = setup or self.lesson.run(run_id).setup or "start"
        some = self.benches.hidden(setup) if faults is None else tuple(faults)
        # a setup's wiring may be drawn: with the supply floating or not
        key = (run_id, program, setup, self.benches.wiring(setup), *(fault.id for fault in some))
        return key, setup, some

    def given(self, state: str, program: str = "", setup: str = "") -> Bench:
        """A bench without faults, brought to a state of the lesson, with an empty log."""
        bench = self.bench(setup or "start", ())
        script = compile_steps(self.state(state), words=self.words({}), symbols=self.symbols({}), wire_at=self.wire_at)
        bench.load(self.program(program))
        bench.play(script.stimulus)
        bench.wait_until(script.end_us)
        bench.log.clear()
        return bench

    def look(self, look: Look, *, program: str = "", faults: Iterable[Fault] | None = None) -> Seen:
        """What a look shows on this variant's bench."""
        filled, program = self.filled(look), look.program or program
        some = None if faults is None else tuple(faults)
        key, setup, _ = self._left_key(look.run, program, look.setup, some)

        def seen() -> Seen:
            return look_at(self.after(look.run, program, setup=setup, faults=some), filled)

        asked = (filled.mode, filled.red, filled.black, filled.wire, filled.at)
        return self._shared.seen.once((key, asked), seen)

    def filled(self, look: LookT) -> LookT:
        """A look with this variant's words, and its terminals as the board names them."""
        fill = self.variant.fill
        said = {key: fill(getattr(look, key)) for key in ("red", "black")}
        ends = {key: self.board.terminal(name).id for key, name in said.items() if name and name not in PROVING}
        return look.model_copy(update={"wire": fill(look.wire), "at": fill(look.at), **ends})

    def wire_at(self, terminal: str) -> str:
        """The number of the one wire at a terminal.

        Raises
        ------
        LessonError
            If there is none, or more than one.
        """
        wires = self.board.wiring.at(self.board.terminal(terminal).id)
        if len(wires) != 1:
            numbers = ", ".join(wire.no for wire in wires) or "no wire"
            raise LessonError(
                f"a step lifts the wire at {terminal}, but {numbers} ends there",
                try_this="name a terminal with one wire",
                code="lesson-step",
            )
        return wires[0].no

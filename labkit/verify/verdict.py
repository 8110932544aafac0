"""What a proof answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from labkit.verify.errors import ProofError
from labkit.verify.requirements import Requirement

if TYPE_CHECKING:  # a program alone has no bench
    from labkit.bench import Bench, Stimulus, Trace
    from labkit.verify.told import Shown

__all__ = ["Moment", "Story", "Verdict"]


@dataclass(frozen=True, slots=True)
class Moment:
    """One scan of a story.

    Parameters
    ----------
    scan
        Its number, from 1; a loss of supply counts as one.
    done
        What was done before it, in words.
    view
        The requirement's signals after it.
    """

    scan: int
    done: tuple[str, ...]
    view: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Story:
    """A shortest counterexample.

    Parameters
    ----------
    moments
        One per scan.
    stimulus
        The same as something to play at an unpowered bench with the program loaded; None for a program alone.
    replayed
        Whether the bench came to the same violation at the same scan; None if there is no bench, or none with
        those contactor times.
    broken_us
        Bench time of the violation in that stimulus.
    ending
        What is said of the end, where the last view does not say it.
    make
        Gives an unpowered bench, wired and loaded as the one that was asked about; None for a program alone.
    inputs, scan_us
        For a program alone: its inputs scan by scan, and the scan period.
    """

    moments: tuple[Moment, ...]
    stimulus: Stimulus | None = None
    replayed: bool | None = None
    broken_us: int | None = None
    ending: str = ""
    make: Callable[[], Bench] | None = field(default=None, repr=False, compare=False)
    inputs: tuple[Mapping[str, int], ...] = ()
    scan_us: int = 0

    @property
    def scans(self) -> int:
        """How many scans it takes."""
        return len(self.moments)

    @property
    def text(self) -> str:
        """The story in plain steps."""
        lines = []
        before: Mapping[str, int] = {}
        for moment in self.moments:
            changed = [f"{n} = {v}" for n, v in moment.view.items() if before.get(n) != v]
            if moment.done or changed or moment is self.moments[-1]:
                done = ", ".join(moment.done) or "nothing new"
                tail = f"; then {', '.join(changed)}" if changed else ""
                lines.append(f"scan {moment.scan}: {done}{tail}")
            before = moment.view
        return "\n".join([*lines, self.ending] if self.ending else lines)

    @property
    def steps(self) -> tuple[str, ...]:
        """The same in sentences."""
        from labkit.verify.told import steps

        return steps(self)

    def bench(self) -> Bench:
        """A fresh bench to try it on: ``bench.play(story.stimulus)`` does what the story tells.

        Raises
        ------
        ProofError
            If the program was proved alone.
        """
        if self.make is None:
            raise ProofError(
                "this program was proved alone: there is no bench",
                try_this='prove it on a board: prove(..., board="orchard")',
                code="proof-story",
            )
        return self.make()

    def trace(self) -> Trace:
        """The record of the story, done again on a fresh bench."""
        return self.shown().trace

    def shown(self, title: str = "") -> Shown:
        """The record with the rows that tell it and the broken moment marked: ``labkit.plots.draw_story`` draws it."""
        from labkit.verify.told import shown

        return shown(self, title)

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True, repr=False)
class Verdict:
    """``holds``, ``fails`` with a story, or ``undecided`` with the bound that was hit.

    Parameters
    ----------
    outcome
        One of the three words.
    requirement
        What was asked.
    states
        Distinct states met, the requirement's monitor included.
    depth
        Scans to the deepest of them, or to the violation.
    story
        For ``fails``.
    bound
        For ``undecided``: what stopped the search.
    empty
        The requirement's cause never came true, so it holds without saying anything.
    assumptions
        What was explored and what was taken for granted, in sentences.
    ms
        How long it took.
    """

    outcome: Literal["holds", "fails", "undecided"]
    requirement: Requirement
    states: int
    depth: int
    story: Story | None = None
    bound: str = ""
    empty: bool = False
    assumptions: tuple[str, ...] = ()
    ms: float = field(default=0.0, compare=False)

    def __bool__(self) -> bool:
        return self.outcome == "holds"

    def __repr__(self) -> str:
        if self.outcome == "holds":
            tail = "; but its cause never comes true" if self.empty else ""
            return f"holds: {self.states} states, all visited{tail}"
        if self.outcome == "undecided":
            return f"undecided: stopped at {self.bound}, {self.states} states met, {self.depth} scans deep"
        word = "" if self.story is None or self.story.replayed is not False else ", not seen on the bench"
        return f"fails: in {self.depth} scans{word}"

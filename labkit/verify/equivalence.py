"""Whether two programs behave alike in every state that they can reach together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product
from time import perf_counter

from labkit.base import Duration, as_us, did_you_mean
from labkit.logic import Program, read_program
from labkit.verify._bare import Bare, Choice
from labkit.verify._program import Bits
from labkit.verify._search import search
from labkit.verify._told import bare_story
from labkit.verify.errors import ProofError
from labkit.verify.expressions import Sign
from labkit.verify.prove import MOST_STATES
from labkit.verify.requirements import Never
from labkit.verify.verdict import Verdict

__all__ = ["same_behaviour"]


class _Pair:
    """Two programs side by side with the same inputs; the view is whether their outputs differ."""

    def __init__(self, first: Program, second: Program, outputs: tuple[str, ...], scan_us: int) -> None:
        self.both = (Bare(first, outputs, scan_us), Bare(second, outputs, scan_us))
        self.scan_us = scan_us
        self.inputs = tuple(dict.fromkeys((*self.both[0].inputs, *self.both[1].inputs)))
        self._in = [[(b.steps.place[n], self.inputs.index(n)) for n in b.inputs] for b in self.both]
        self._out = [[b.steps.place[n] for n in outputs] for b in self.both]

    @property
    def combinations(self) -> int:
        return 1 << len(self.inputs)

    @property
    def effort(self) -> int:
        return self.combinations

    def first(self) -> tuple[Bits, Bits]:
        return self.both[0].first(), self.both[1].first()

    def after(self, state: tuple[Bits, Bits]) -> Iterator[tuple[tuple[Bits, Bits], tuple[int, ...], Choice]]:
        met = set()
        for choice in product((0, 1), repeat=len(self.inputs)):
            new, seen = [], []
            for bare, old, wires, places in zip(self.both, state, self._in, self._out, strict=True):
                then, bits = bare.steps.step(old, [(slot, choice[i]) for slot, i in wires])
                new.append(then)
                seen.append([bits[i] for i in places])
            found = ((new[0], new[1]), (int(seen[0] != seen[1]),))
            if found not in met:
                met.add(found)
                yield *found, choice

    def assumptions(self) -> tuple[str, ...]:
        return (
            "both start at their initial values, and every input may take any value in every scan: "
            + (", ".join(self.inputs) or "there is none"),
        )


def same_behaviour(
    first: Program | str,
    second: Program | str,
    outputs: Iterable[str] | None = None,
    *,
    scan: Duration | None = None,
    most_states: int = MOST_STATES,
) -> Verdict:
    """Whether two programs give the same outputs in every scan, whatever their inputs do.

    Parameters
    ----------
    first, second
        Programs or their texts. A name that a program reads and never writes is an input.
    outputs
        The names to compare; without them, all that both write.
    scan
        The scan period in which timers are counted; 10 ms without it.

    Raises
    ------
    ProofError
        If they have no output in common, or one does not write a named output.

    Examples
    --------
    >>> same_behaviour("K := A AND (B OR C);", "K := (A AND B) OR (A AND C);")
    holds: 1 states, all visited
    >>> print(same_behaviour("K := S AND (T OR K);", "K := T OR (S AND K);").story)
    scan 1: T = 1; then differ = 1
    """
    began = perf_counter()
    programs = [read_program(p) if isinstance(p, str) else p for p in (first, second)]
    written = [set(p.writes()) for p in programs]
    names = tuple(sorted(written[0] & written[1])) if outputs is None else tuple(outputs)
    if not names:
        raise ProofError("the two programs write no name in common", code="proof-outputs")
    for name in names:
        for program, own in zip(programs, written, strict=True):
            if name not in own:
                raise ProofError(
                    f"{program.name} does not write {name}", where=name, try_this=did_you_mean(name, own),
                    code="proof-outputs",
                )  # fmt: skip
    pair = _Pair(programs[0], programs[1], names, 10_000 if scan is None else as_us(scan, "the scan"))
    asked, order = Never(Sign("differ")), {"differ": 0}
    found = search(pair, asked, order, most_states=most_states, most_scans=None)
    story = bare_story(pair, found.path, order) if found.outcome == "fails" else None
    spent = (perf_counter() - began) * 1000
    return Verdict(
        found.outcome, asked, found.states, found.depth, story, found.bound, False, pair.assumptions(), spent
    )

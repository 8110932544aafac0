"""Bounded model checking with simple-path induction in z3: equations written by hand, none of ours in it.

Method: M. Sheeran, S. Singh, G. Stalmarck, "Checking safety properties using induction and a SAT-solver" (2000).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

State = Mapping[str, Any]


class Circuit:
    """``start`` values, and ``step(state, inputs) -> (state, bad)`` over z3 terms; integers count scans."""

    def __init__(self, start: Mapping[str, bool | int], inputs: tuple[str, ...], step: Callable) -> None:
        self.start, self.inputs, self.step = dict(start), inputs, step


def check(circuit: Circuit, most: int = 40) -> tuple[str, int]:
    """``("fails", scans)`` with the shortest counterexample, or ``("holds", k)`` by k-induction."""
    import z3

    def fresh(at: int, way: str) -> dict[str, Any]:
        return {
            n: z3.Bool(f"{way}{n}@{at}") if isinstance(v, bool) else z3.Int(f"{way}{n}@{at}")
            for n, v in circuit.start.items()
        }

    base, induct = z3.Solver(), z3.Solver()
    b, i = [fresh(0, "b")], [fresh(0, "i")]
    base.add(*(b[0][n] == v for n, v in circuit.start.items()))
    for depth in range(1, most + 1):
        for solver, states, way in ((base, b, "b"), (induct, i, "i")):
            inputs = {n: z3.Bool(f"{way}{n}?{depth}") for n in circuit.inputs}
            new, bad = circuit.step(states[-1], inputs)
            states.append(fresh(depth, way))
            solver.add(*(states[-1][n] == new[n] for n in circuit.start))
            solver.push()
            solver.add(bad)
            found = solver.check() == z3.sat
            solver.pop()
            if solver is base and found:
                return "fails", depth
            if solver is induct and not found:
                return "holds", depth
            solver.add(z3.Not(bad))
        for old in i[:-1]:  # a shortest way to a bad state meets no state twice
            induct.add(z3.Or(*(i[-1][n] != old[n] for n in circuit.start)))
        for n, v in circuit.start.items():
            if not isinstance(v, bool):
                induct.add(i[0][n] >= 0, i[0][n] <= most)
    return "undecided", most

"""The slow, obvious engine: the meaning that the fast one is held against.

Every figure is a fraction, so nothing is rounded. Each combination of pieces is written down from Kirchhoff's
laws and eliminated by hand, and an answer is taken only if every curve lies on the piece assumed for it.
Where no curve falls there is only one such answer. For networks of some ten nodes; a board would take
minutes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from labkit.circuit.elements import Curve, Resistor, Source, Switch, corners, terminals
from labkit.circuit.errors import CircuitError
from labkit.circuit.network import Circuit

__all__ = ["ExactSolution", "solve_exact"]

Pieces = tuple[int, ...]
Row = dict[str, Fraction]
# the name of the column on the right of the equals sign; no node or element is called so
RIGHT = "= "


@dataclass(frozen=True, slots=True)
class ExactSolution:
    """Volts of each node to ground, and amps of each element as :meth:`Solution.amps` counts them."""

    volts: dict[str, Fraction]
    amps: dict[str, Fraction]


def solve_exact(circuit: Circuit, closed: Iterable[str], *, most: int = 20_000) -> ExactSolution:
    """The operating point without rounding.

    Parameters
    ----------
    closed
        Names of the closed switches.
    most
        Combinations of pieces to try before giving up.

    Raises
    ------
    CircuitError
        If no combination fits, or none within `most`.
    """
    circuit.check()
    shut = set(closed)
    curves = [e for e in circuit.elements if isinstance(e, Curve | Source)]
    for count, pieces in enumerate(_combinations(circuit, shut, curves)):
        answer = _assume(circuit, shut, curves, pieces)
        if answer is not None and _moves(curves, pieces, answer) == pieces:
            return answer
        if count > most:
            break
    raise CircuitError(
        "no combination of straight pieces fits this network",
        where=", ".join(c.name for c in curves),
        try_this="look for ideal voltages that stand across one another",
        code="circuit-exact",
    )


def _combinations(circuit: Circuit, shut: set[str], curves: list[Curve | Source]) -> Iterator[Pieces]:
    """First a few that follow from one another, which mostly end at the answer; then all."""
    pieces = tuple(len(corners(c)) // 2 - 1 if isinstance(c, Curve) else 1 for c in curves)
    seen = set()
    while pieces not in seen:
        seen.add(pieces)
        yield pieces
        answer = _assume(circuit, shut, curves, pieces)
        if answer is None:
            break
        pieces = _moves(curves, pieces, answer)
    yield from product(*(range(len(corners(c)) - 1) for c in curves))


def _moves(curves: list[Curve | Source], pieces: Pieces, answer: ExactSolution) -> Pieces:
    """The same pieces where the answer lies on them, one further where it lies beyond."""
    moved = []
    for curve, piece in zip(curves, pieces, strict=True):
        points = corners(curve)
        a, b = terminals(curve)
        at = _along(answer.volts[a] - answer.volts[b], answer.amps[curve.name], curve)
        low = _along(Fraction(points[piece][0]), Fraction(points[piece][1]))
        high = _along(Fraction(points[piece + 1][0]), Fraction(points[piece + 1][1]))
        down, up = at < low and piece > 0, at > high and piece < len(points) - 2
        moved.append(piece - down + up)
    return tuple(moved)


def _along(volts: Fraction, amps: Fraction, curve: Curve | Source | None = None) -> Fraction:
    """A figure that rises all the way along a curve that never falls."""
    return volts - amps if isinstance(curve, Source) else volts + amps


def _assume(circuit: Circuit, shut: set[str], curves: list[Curve | Source], pieces: Pieces) -> ExactSolution | None:
    """The answer if every curve were the straight line of its piece; None if there is none or more than one."""
    piece_of = {curve.name: piece for curve, piece in zip(curves, pieces, strict=True)}
    nodes = [n for n in circuit.nodes if n != circuit.ground]
    sums: dict[str, Row] = {n: {"v " + n: Fraction(circuit.stray_per_ohm)} for n in nodes}
    rows: list[Row] = []
    for element in circuit.elements:
        if isinstance(element, Switch) and element.name not in shut:
            continue
        a, b = terminals(element)
        amps = "i " + element.name
        # g (v_a - v_b) - r i = right: Ohm's law with g = 1, or the line through two corners of a curve
        if isinstance(element, Resistor | Switch):
            g, r, right = Fraction(1), Fraction(element.ohm), Fraction(0)
        else:
            start, end = corners(element)[piece_of[element.name] :][:2]
            (v0, i0), (v1, i1) = map(Fraction, start), map(Fraction, end)
            g, r, right = i1 - i0, v1 - v0, v0 * (i1 - i0) - i0 * (v1 - v0)
        row: Row = {}
        for name, value in (("v " + a, g), ("v " + b, -g), (amps, -r), (RIGHT, right)):
            _add(row, name, value)
        row.pop("v " + circuit.ground, None)
        rows.append(row)
        for node, out in ((a, 1), (b, -1)):
            if node != circuit.ground:
                _add(sums[node], amps, out)
    found = _eliminate(rows + list(sums.values()))
    if found is None:
        return None
    sign = {e.name: -1 if isinstance(e, Source) else 1 for e in circuit.elements}
    return ExactSolution(
        {n: found.get("v " + n, Fraction(0)) for n in circuit.nodes},
        {e.name: sign[e.name] * found.get("i " + e.name, Fraction(0)) for e in circuit.elements},
    )


def _add(row: Row, name: str, value: Fraction | int) -> None:
    total = row.get(name, Fraction(0)) + value
    if total:
        row[name] = total
    else:
        row.pop(name, None)


def _eliminate(rows: list[Row]) -> dict[str, Fraction] | None:
    """Each unknown's value by elimination; None if the rows do not fix every unknown."""
    unknowns = {name for row in rows for name in row} - {RIGHT}
    todo = [dict(row) for row in rows]
    done: list[tuple[str, Row]] = []
    while todo:
        row = min(todo, key=len)  # short rows first keeps the others short
        todo.remove(row)
        name = next((n for n in row if n != RIGHT), None)
        if name is None:
            return None
        scale = row.pop(name)
        row = {n: value / scale for n, value in row.items()}
        for other in todo:
            factor = other.pop(name, None)
            if factor is not None:
                for n, value in row.items():
                    _add(other, n, -factor * value)
        done.append((name, row))
    if len(done) < len(unknowns):
        return None
    values: dict[str, Fraction] = {}
    for name, row in reversed(done):
        values[name] = row.get(RIGHT, Fraction(0)) - sum(
            (value * values[n] for n, value in row.items() if n != RIGHT), Fraction(0)
        )
    return values

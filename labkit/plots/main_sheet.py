"""The main circuit and the protective conductor of a board, as far as the board's data hold them.

Lines run up from each motor through overload relay and contactor, symbols after IEC 60617; every bond of the
protective conductor stands beside them. Nothing is added that the board file does not have: what is missing is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from labkit.plots._circuit_symbols import STEP, Symbol, symbol_shapes
from labkit.plots._given import board_to_draw
from labkit.plots._measure import text_width, wrap
from labkit.plots._power_paths import Bonding, Branch, Mains, Step, bonding
from labkit.plots.shapes import Arc, Group, Line, Polyline, Rect, Shape, Sheet, Text

if TYPE_CHECKING:
    from labkit.board import Board, Wiring

__all__ = ["main_circuit_sheet"]

_LEFT = 118.0
_APART = 66.0  # between two lines of one motor
_BONDS = 88.0  # between two bonds
_WIRE = 30.0
_TOP = 96.0
_MOTOR = 104.0  # what a motor's symbol takes, with the way to the rail of the protective conductor below
_LINE = 13.0

CAUTION = (
    "Isolate, lock off and prove dead before you touch a conductor. Local codes, the college's rules and a licensed "
    "practitioner decide about everything on this sheet: supply, isolation, protection, sizes and bonding."
)


def main_circuit_sheet(board: Board, wiring: Wiring | None = None) -> Sheet:
    """Motors with overload relay and contactor, and the protective conductor. Needs no supply on the board."""
    board, wires = board_to_draw(board, wiring)
    branches, bonds = Mains(board, wires).branches(), bonding(board, wires)
    motor_earths = {b.part.terminal(e) for b in branches if (e := getattr(b.part.entry, "earth", ""))}
    others = [bond for bond in bonds if bond.terminal not in motor_earths]
    high = [_long(line) + (_MOTOR if b.part.kind == "motor" else 60) for b in branches for line in b.lines]
    rail = _TOP + max(*high, *(len(bond.wires) * _WIRE + 60 for bond in others), 2 * STEP)
    x = _LEFT
    shapes: list[Shape] = []
    for branch in branches:
        earth = next((bond for bond in bonds if bond.terminal in motor_earths and _of(branch, bond)), None)
        shapes += _branch(board, branch, earth, x, rail)
        x += _APART * (len(branch.roots) + 1) + 78
    for bond in others:
        shapes.append(Group(tuple(_bond(board, bond, x, rail)), f"bond:{bond.terminal}", str(bond)))
        x += _BONDS
    title = "Main circuit and protective earth" if branches else "Protective earth"
    wide = max(x + 10, text_width(title, 14, bold=True) + 40, 420.0)
    shapes += _rail(board, rail, wide, any(bond.bar for bond in bonds))
    said = _notes(board, wires, branches, bonds)
    notes = [line for words in said for line in wrap(words, wide - 40, 9)]
    below = rail + 92 if branches else rail + 66
    written: list[Shape] = [Text(16, below + _LINE * n, line, "label", 9) for n, line in enumerate(notes)]
    height = below + _LINE * len(notes) + 6
    heading = Text(16, 28, title, "title", 14, bold=True)
    alt = " ".join([*(_story(b) for b in branches), *(f"{bond}." for bond in bonds), *said])
    return Sheet(wide, height, (Rect(0, 0, wide, height, "paper"), heading, *shapes, *written), title, alt)


def _of(branch: Branch, bond: Bonding) -> bool:
    return bond.terminal.partition(":")[0] == branch.part.designation


def _long(line: Sequence[Step]) -> float:
    return sum(STEP if step.part else _WIRE for step in line)


# --- one motor ------------------------------------------------------------------------------------


def _branch(board: Board, branch: Branch, earth: Bonding | None, x: float, rail: float) -> list[Shape]:
    """The lines of one motor side by side; parts that all of them lead through are linked and named once."""
    motor = branch.part.kind == "motor"
    foot = rail - (_MOTOR if motor else 60)
    out: list[Shape] = []
    stands: dict[tuple[str, str, float], list[float]] = {}
    for n, (root, line) in enumerate(zip(branch.roots, branch.lines, strict=True)):
        at = x + _APART * n
        drawn, stages = _line(line, at, foot)
        for part, kind, y in stages:
            stands.setdefault((part, kind, y), []).append(at)
        words = ", ".join([root, *map(str, line)])
        out.append(Group((*drawn, Arc(at, foot, 2.8, "terminal")), f"line:{root}", words))
        if not motor:
            out.append(Text(at + 7, foot + 4, "no motor", "tick", 8))
    for (part, kind, y), xs in stands.items():
        left = min(xs) - (16.0 if kind in {"pole", "breaker"} else 14.0)
        out.append(Text(left, y + STEP / 2 + 4, part, "name", 11, "end", bold=True))
        if len(xs) > 1:
            blade = -4.5 if kind in {"pole", "breaker"} else 0.0
            half = 9.0 if kind == "heater" else 0.0
            for a, b in pairwise(xs):
                out.append(Line(a + blade + half, y + STEP / 2, b + blade - half, y + STEP / 2, "drive"))
    if motor:
        out += _motor(branch, earth, x, foot, rail)
    out += _mains_side(branch, x, foot)
    return [*out, *_under(board, branch, x, rail)]


def _line(line: Sequence[Step], x: float, foot: float) -> tuple[list[Shape], list[tuple[str, str, float]]]:
    """One line from its foot upwards, and where the parts on it stand."""
    out: list[Shape] = []
    rings: list[Shape] = []
    stages = []
    y = foot
    for i, step in enumerate(line):
        if step.part:
            y -= STEP
            upper, lower = (t.partition(":")[2] for t in (step.above, step.below))
            out += symbol_shapes(Symbol(step.kind, "", upper, lower), x, y)
            stages.append((step.part, step.kind, y))
            continue
        if step.missing:
            rings += [Arc(x, y, 2.8, "terminal"), Arc(x, y - _WIRE, 2.8, "terminal")]
        else:
            out.append(Line(x, y, x, y - _WIRE, "link"))
            out.append(Text(x + 5, y - _WIRE / 2 + 3, step.wire, "tick", 8))
        y -= _WIRE
        last = i + 1 == len(line)
        if not step.missing and (last or not line[i + 1].part):
            rings.append(Arc(x, y, 2.8, "terminal"))
            out.append(Text(x - 6, y + 3, step.above, "tick", 8, "end"))
    if line and line[-1].part:
        rings.append(Arc(x, y, 2.8, "terminal"))
    return [*out, *rings], stages


def _motor(branch: Branch, earth: Bonding | None, x: float, foot: float, rail: float) -> list[Shape]:
    """The motor: a circle with its terminals above and that of the protective conductor on the right."""
    mid, y, r = x + _APART * (len(branch.roots) - 1) / 2, foot + 46, 24.0
    out: list[Shape] = []
    for n, root in enumerate(branch.roots):
        at = x + _APART * n
        end = Arc(mid, y, r, "").at(270 + 42 * (n - (len(branch.roots) - 1) / 2))
        out += [Polyline(((at, foot), (at, foot + 10), end), "link")]
        out.append(Text(at + 7, foot + 3, root.partition(":")[2], "tick", 8))
    out.append(Arc(mid, y, r, "symbol"))
    out += [Text(mid, y + 1, "M", "label", 13, "middle", bold=True), Text(mid, y + 14, "3 ~", "label", 10, "middle")]
    out.append(Text(mid - r - 8, y + 4, branch.part.designation, "name", 11, "end", bold=True))
    if earth is None:
        return out
    at = x + _APART * len(branch.roots)
    out.append(Line(mid + r, y, at, y, "link"))
    out.append(Text(at + 6, y - 5, earth.terminal, "tick", 8))
    drawn = _down(earth, at, y, rail)
    return [*out, Group(tuple(drawn), f"bond:{earth.terminal}", str(earth))]


def _mains_side(branch: Branch, x: float, foot: float) -> list[Shape]:
    """Over the lines, what the board's data say of the side they are fed from."""
    top = foot - max(map(_long, branch.lines), default=0)
    mid = x + _APART * (len(branch.roots) - 1) / 2
    fed = any(line and line[-1].wire for line in branch.lines)
    words = "what feeds this is not in the board's data" if fed else "mains side: not in this board's data"
    return [Text(mid, top - 14, words, "label", 8.5, "middle")]


def _under(board: Board, branch: Branch, x: float, rail: float) -> list[Shape]:
    """What stands over the rail, in words."""
    parts = [branch.part, *(board.part(name) for name in branch.parts if name != branch.part.designation)]
    mid = x + _APART * (len(branch.roots) - 1) / 2
    lines = [_words(part) for part in parts]
    wide = _APART * (len(branch.roots) + 1)
    broken = [words for line in lines for words in wrap(line, wide, 8.5)][:5]
    return [Text(mid, rail + 20 + _LINE * n, words, "label", 8.5, "middle") for n, words in enumerate(broken)]


def _words(part: Any) -> str:
    entry = part.entry
    words = [part.label] if part.label and part.kind == "motor" else []
    if part.kind == "overload":
        low, high = entry.setting_a
        words.append(f"class {entry.trip_class}, dial {low:g} to {high:g} A")
    elif part.kind == "contactor":
        words.append(f"coil {entry.coil.a}-{entry.coil.b} on its control circuit")
    else:
        words.append(entry.text)
    return f"{part.designation}: {', '.join(words)}"


# --- the protective conductor ---------------------------------------------------------------------


def _bond(board: Board, bond: Bonding, x: float, rail: float) -> list[Shape]:
    """A part's terminal and its way down to the rail."""
    part, _, name = bond.terminal.partition(":")
    y = rail - len(bond.wires) * _WIRE - 44
    out: list[Shape] = [Rect(x - 24, y - 26, 48, 26, "box"), Text(x, y - 9, part, "name", 11, "middle", bold=True)]
    out += [Line(x, y, x, y + 10, "link"), Text(x + 5, y + 10, name, "tick", 8)]
    minus = {p.terminal(s.minus) for p, s in board.supplies}
    if not bond.earth:
        words = "0 V bond" if bond.terminal in minus else "joined to PE"
        out.append(Text(x, y - 32, words, "label", 8.5, "middle"))
    return [*out, *_down(bond, x, y + 10, rail)]


def _down(bond: Bonding, x: float, y: float, rail: float) -> list[Shape]:
    """From a terminal down to the rail, or as far as nothing leads on."""
    ring = Arc(x, y, 2.8, "terminal")
    if not bond.bar:
        return [ring, Text(x, y + 18, "not bonded", "label", 8.5, "middle", bold=True)]
    out: list[Shape] = [Line(x, y, x, rail, "link")]
    each = (rail - y) / len(bond.wires)
    rings: list[Shape] = [ring, Arc(x, rail, 2.6, "joint")]
    for n, (no, terminal) in enumerate(bond.wires):
        out.append(Text(x + 5, y + each * (n + 0.5) + 3, no, "tick", 8))
        if n + 1 < len(bond.wires):
            rings.append(Arc(x, y + each * (n + 1), 2.8, "terminal"))
            out.append(Text(x + 6, y + each * (n + 1) + 3, terminal, "tick", 8))
    return [*out, *rings]


def _rail(board: Board, y: float, wide: float, there: bool) -> list[Shape]:
    """The bar of the protective conductor, on the metalwork; none if nothing leads to one."""
    bars = [p.terminal(b.name) for p in board.of_kind("terminal_strip") for b in p.entry.bars if b.earth]  # type: ignore[attr-defined]
    if not there or not bars:
        return [Text(16, y + 4, "no bar of the protective conductor is wired", "label", 8.5)]
    x, low = 46.0, y + 10
    sign: list[Shape] = [Line(x, y, x, low + 5, "link"), Arc(x, low + 9, 15, "symbol")]
    sign += [Line(x - w, low + d, x + w, low + d, "symbol") for w, d in ((9, 5), (6, 10), (3, 15))]
    return [
        Line(x, y, wide - 24, y, "rail"),
        Text(16, y - 8, ", ".join(bars), "name", 10.5, bold=True),
        *sign,
        Text(16, low + 38, "metalwork", "label", 8.5),
    ]


# --- what is said ---------------------------------------------------------------------------------


def _notes(board: Board, wiring: Wiring, branches: Sequence[Branch], bonds: Sequence[Bonding]) -> list[str]:
    """What is not wired, the sizes, what the data do not hold, and the caution."""
    steps = [step for b in branches for line in b.lines for step in line]
    notes = []
    missing = [f"{step.below} to {step.above}" for step in steps if step.missing]
    if missing:
        notes.append(f"Not wired: {'; '.join(missing)}.")
    minus = [part.terminal(supply.minus) for part, supply in board.supplies]
    floating = [terminal for terminal in minus if terminal not in {bond.terminal for bond in bonds if not bond.earth}]
    if floating:
        notes.append(f"No wire joins {' or '.join(floating)} to the protective conductor by itself.")
    drawn = {step.wire for step in steps} | {no for bond in bonds for no, _ in bond.wires}
    sizes: dict[str, list[str]] = {}
    for wire in wiring:
        if wire.no in drawn:
            sizes.setdefault(f"{wire.colour} {wire.mm2:g} mm2", []).append(wire.no)
    if sizes:
        notes.append("Conductors: " + "; ".join(f"{', '.join(nos)} {size}" for size, nos in sizes.items()) + ".")
    if branches:
        protected = any(step.kind in {"breaker", "fuse"} for step in steps)
        lacking = "the mains supply, its isolating switch" + ("" if protected else ", short-circuit protection")
        tops = ", ".join(top for b in branches for top in b.tops)
        notes.append(f"Not in this board's data: {lacking} and all that lies before {tops}.")
    if board.supplies:
        names = ", ".join(part.designation for part, _ in board.supplies)
        lead = "Nor are" if branches else "Not in this board's data are"
        notes.append(f"{lead} the mains side of {names} and the protective conductor that comes with the mains.")
    return [*notes, CAUTION]


def _story(branch: Branch) -> str:
    lines = (", ".join([root, *map(str, line)]) for root, line in zip(branch.roots, branch.lines, strict=True))
    return " ".join(f"{line}." for line in lines)

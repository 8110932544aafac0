"""AIGER (ASCII and binary, with symbols) and SMV-like text of a finite system; binary AIGER is also read.

Format: A. Biere, "The AIGER And-Inverter Graph (AIG) Format Version 20071012", FMV report, JKU Linz, 2007. The output
``bad`` is true where the property is broken; latches start at 0. Nothing here imports anything but the node list.
"""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:
    from labkit.verify._nodes import Flat

__all__ = ["header", "read_aig", "to_aag", "to_aig", "to_smv"]


def header(flat: Flat, kind: str) -> str:
    """The first line: largest variable, inputs, latches, outputs, ANDs. Only ``bad`` is an output."""
    inputs, latches, ands = len(flat.inputs), len(flat.latches), len(flat.ands)
    return f"{kind} {inputs + latches + ands} {inputs} {latches} 1 {ands}\n"


def _symbols(flat: Flat, comment: str) -> str:
    lines = [f"i{n} {name}" for n, name in enumerate(flat.inputs)]
    lines += [f"l{n} {name}" for n, name in enumerate(flat.latches)]
    lines.append(f"o0 {flat.names[0]}")
    return "".join(f"{line}\n" for line in [*lines, "c", *comment.splitlines()])


def to_aag(flat: Flat, comment: str = "") -> str:
    """The ASCII form."""
    first = len(flat.inputs) + 1
    lines = [str(2 * n) for n in range(1, first)]
    lines += [f"{2 * (first + n)} {new}" for n, new in enumerate(flat.nexts)]
    lines.append(str(flat.outputs[0]))
    first += len(flat.latches)
    lines += [f"{2 * (first + n)} {max(a, b)} {min(a, b)}" for n, (a, b) in enumerate(flat.ands)]
    return header(flat, "aag") + "".join(f"{line}\n" for line in lines) + _symbols(flat, comment)


def to_aig(flat: Flat, comment: str = "") -> bytes:
    """The binary form: the same, with the ANDs as differences of seven bits to the byte."""
    text = header(flat, "aig") + "".join(f"{new}\n" for new in flat.nexts) + f"{flat.outputs[0]}\n"
    packed = bytearray(text.encode())
    for n, (a, b) in enumerate(flat.ands, 1 + len(flat.inputs) + len(flat.latches)):
        high, low = max(a, b), min(a, b)
        for delta in (2 * n - high, high - low):
            rest = delta
            while rest > 0x7F:
                packed.append(rest & 0x7F | 0x80)
                rest >>= 7
            packed.append(rest)
    return bytes(packed) + _symbols(flat, comment).encode()


def to_smv(flat: Flat, comment: str = "") -> str:
    """One module in the language of SMV (K. McMillan, 1993): variables, definitions, next values, an invariant."""
    names = [f"v{n}" for n in range(1 + len(flat.inputs) + len(flat.latches) + len(flat.ands))]

    def said(lit: int) -> str:
        if lit <= 1:
            return "TRUE" if lit else "FALSE"
        return f"!{names[lit >> 1]}" if lit & 1 else names[lit >> 1]

    lines = [f"-- {line}" for line in comment.splitlines()]
    lines += ["MODULE main", "VAR"]
    free = [*flat.inputs, *flat.latches]
    lines += [f"  {names[n]} : boolean; -- {name}" for n, name in enumerate(free, 1)]
    lines += ["DEFINE"]
    lines += [f"  {names[n]} := {said(a)} & {said(b)};" for n, (a, b) in enumerate(flat.ands, 1 + len(free))]
    lines += [f"  bad := {said(flat.outputs[0])};"]
    if flat.latches:
        lines += ["ASSIGN"]
        for n, new in enumerate(flat.nexts, 1 + len(flat.inputs)):
            lines += [f"  init({names[n]}) := FALSE;", f"  next({names[n]}) := {said(new)};"]
    return "".join(f"{line}\n" for line in [*lines, "INVARSPEC !bad"])


def read_aig(data: bytes, make: type[Flat]) -> Flat:
    """A binary AIGER file with one output; latches start at 0. Names are not kept. `make` is the class.

    Raises
    ------
    ValueError
        If it is none.
    """
    end = data.index(b"\n")
    kind, *numbers = data[:end].split()
    most, inputs, latches, outputs, ands = map(int, numbers[:5])
    if kind != b"aig" or outputs != 1 or most != inputs + latches + ands:
        raise ValueError("not a binary AIGER file with one output")
    at, rows = end + 1, []
    for _ in range(latches + 1):
        end = data.index(b"\n", at)
        rows.append(int(data[at:end].split()[0]))
        at = end + 1
    gates = []
    for n in range(inputs + latches + 1, most + 1):
        pair, last = [], 2 * n
        for _ in (0, 1):
            delta = shift = 0
            while data[at] & 0x80:
                delta |= (data[at] & 0x7F) << shift
                shift += 7
                at += 1
            last -= delta | data[at] << shift
            at += 1
            pair.append(last)
        gates.append((pair[0], pair[1]))
    return make([""] * inputs, [""] * latches, rows[:latches], gates, (rows[latches], 0))

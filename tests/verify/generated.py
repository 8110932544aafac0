"""Random programs and requirements for the comparisons, from a seed."""

from __future__ import annotations

import random

INPUTS = ("A", "B", "C")
BITS = ("M", "N", "K")
KINDS = ("TON", "TOF", "TP", "R_TRIG", "F_TRIG", "CTU", "CTD", "CTUD", "SR", "RS")


def expression(rng: random.Random, names, depth: int = 0) -> str:
    """A random expression."""
    if depth > 2 or rng.random() < 0.35:
        return rng.choice(["", "", "NOT "]) + rng.choice(names)
    return (
        f"({expression(rng, names, depth + 1)} {rng.choice(['AND', 'OR', 'XOR'])} {expression(rng, names, depth + 1)})"
    )


def call(rng: random.Random, name: str, kind: str, names) -> str:
    """A call of a standard block."""

    def e() -> str:
        return expression(rng, names)

    if kind in ("TON", "TOF", "TP"):
        return f"{name}(IN := {e()}, PT := T#{rng.choice([10, 15, 20, 40, 70])}ms);"
    if kind in ("R_TRIG", "F_TRIG"):
        return f"{name}(CLK := {e()});"
    if kind == "SR":
        return f"{name}(S1 := {e()}, R := {e()});"
    if kind == "RS":
        return f"{name}(S := {e()}, R1 := {e()});"
    if kind == "CTU":
        return f"{name}(CU := {e()}, R := {e()}, PV := {rng.randint(1, 4)});"
    if kind == "CTD":
        return f"{name}(CD := {e()}, LD := {e()}, PV := {rng.randint(1, 4)});"
    return f"{name}(CU := {e()}, CD := {e()}, R := {e()}, LD := C, PV := {rng.randint(0, 2)});"


_OUT = {"SR": "Q1", "RS": "Q1", "CTUD": "QU"}


def program(rng: random.Random, blocks: int = 2, but: str = "") -> str:
    """A random program over A, B, C, with memories M, N and an output K; `but` is a kind of block that is left out."""
    kinds = {f"X{i}": rng.choice([k for k in KINDS if k != but]) for i in range(rng.randint(0, blocks))}
    names = (*INPUTS, *BITS, *(f"{n}.{_OUT.get(k, 'Q')}" for n, k in kinds.items()))
    lines = [f"{target} := {expression(rng, names)};" for target in rng.sample(BITS, 3)]
    for name, kind in kinds.items():
        lines.insert(rng.randint(0, len(lines)), call(rng, name, kind, names))
    head = "VAR " + " ".join(f"{n} : {k};" for n, k in kinds.items()) + " A, B, C : BOOL; M : BOOL := TRUE; END_VAR\n"
    return head + "\n".join(lines)


def requirement(rng: random.Random) -> str:
    """A random requirement over its bits."""
    one = ["K", "M", "N", "not K", "K and not M", "M or N", "not N", "A and K"]
    p, q = rng.sample(one, 2)
    n = rng.randint(0, 6)
    return rng.choice(
        [
            f"never {p}",
            f"never {p} and not A and not ({q})",
            f"whenever {p} then {q} within {n} scans",
            f"whenever {p} and B then {q} within {n * 10} ms",
            f"whenever {p} then {q} for {n} scans",
            f"{p} only after {q}",
            f"{p} only after A since {q}",
            f"{p} stays until {q}",
        ]
    )

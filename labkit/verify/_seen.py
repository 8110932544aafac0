"""What a person at the board would notice of a fault: lights, lamps, contactors and bits through a round of work."""

from __future__ import annotations

from dataclasses import dataclass

from labkit.base import LabkitError, ms
from labkit.bench import Bench
from labkit.verify.surroundings import Thing

__all__ = ["Look", "Seen", "looks", "told_apart"]

PRESS = ms(200)  # a press of a person; longer than any relay, filter and scan of a shipped family together
SETTLE = ms(200)
BOOT = ms(3000)  # the slowest family takes 2.5 s

Look = tuple[str, dict[str, bool | str]]
"""A situation, and what every light shows in it."""


@dataclass(frozen=True, slots=True)
class Seen:
    """The first thing that differs from the healthy board.

    Parameters
    ----------
    situation
        In which it is seen: ``"at rest"``, ``"S1 pressed"``, ``"after S2"``.
    what
        The light, lamp, contactor or bit.
    healthy, faulty
        What it shows on either board.
    """

    situation: str
    what: str
    healthy: bool | str
    faulty: bool | str

    def __str__(self) -> str:
        shows = {True: "on", False: "off"}
        value = shows.get(self.faulty, self.faulty) if isinstance(self.faulty, bool) else self.faulty
        return f"{self.situation}: {self.what} {value}"


def _look(bench: Bench) -> dict[str, bool | str]:
    electrical = bench.engine.net.electrical
    shown: dict[str, bool | str] = {"controller": "runs" if bench.mode == "run" else "dark"}
    shown |= {f"light of {channel.point}": bench.led(channel.point) for channel in electrical.inputs}
    shown |= {lamp.part: bench.lit(lamp.part) for lamp in electrical.lamps}
    shown |= {coil.part: bench.state(coil.part) for coil in electrical.coils}
    shown |= {fuse.actor: bench.state(fuse.actor) for fuse in electrical.fuses}
    shown |= {f"light of {output.point}": bench.led(output.point) for output in electrical.outputs}
    return shown


def looks(bench: Bench, things: tuple[Thing, ...]) -> list[Look]:
    """Power the bench up and work everything twice, one at a time, with a look at every stage.

    A board that cannot be solved in some position is looked at as far as it can.
    """
    found: list[Look] = []
    try:
        for part in bench.board.parts.values():
            if part.kind == "breaker":
                bench.breaker(part.designation)
        bench.power(True)
        bench.wait(BOOT)
        found.append(("at rest", _look(bench)))
        hands = [t for t in things if t.kind in ("part", "beam", "metal") and t.positions[0] != "on"]
        for again in ("", " again"):
            for thing in hands:
                for position in thing.positions[1:]:
                    _do(bench, thing, position)
                    bench.wait(PRESS)
                    found.append((f"{thing.part} {position}{again}", _look(bench)))
                    _do(bench, thing, thing.positions[0])
                    bench.wait(SETTLE)
                    found.append((f"after {thing.part}{again}", _look(bench)))
    except LabkitError as wrong:
        found.append((f"not solved ({wrong.code})", {}))
    return found


def _do(bench: Bench, thing: Thing, position: str) -> None:
    from labkit.verify._replay import _do as do

    do(bench, thing, position)


def told_apart(healthy: list[Look], faulty: list[Look]) -> Seen | None:
    """The first difference of two rounds of looks; None if everything shows alike."""
    for (situation, shown), (other, differs) in zip(healthy, faulty, strict=False):
        if situation != other:
            return Seen(situation, "the board", "solved", other)
        for what, value in shown.items():
            if differs[what] != value:
                return Seen(situation, what, value, differs[what])
    return None

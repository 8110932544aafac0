"""Bringing a situation about on a bench, and putting everything back, with the pauses that a person makes."""

from __future__ import annotations

from labkit.base import ms
from labkit.bench import Bench
from labkit.faults.situations import Situation, perform, situations

__all__ = ["bring_about", "put_back"]

STEP, SETTLE, BOOT = ms(150), ms(600), ms(2000)
DEAD, NO_SUPPRESSORS = "dead", "suppressors out, dead"


def bring_about(bench: Bench, name: str) -> None:
    """Bring a situation of the dictionary about, from rest."""
    for situation in _chain(bench, name):
        for step in situation.do:
            perform(bench, step)
            bench.wait(STEP)
    bench.wait(SETTLE)


def put_back(bench: Bench, name: str) -> None:
    """Back to rest: what was pulled off is on again, every breaker in, the power on."""
    chain = _chain(bench, name)
    if name in ("breakers off", DEAD, NO_SUPPRESSORS):
        for part in sorted(bench.removed):
            bench.fit(part)
        bench.power_up()
        bench.wait(BOOT)
    for situation in reversed(chain):
        for step in situation.undo:
            perform(bench, step)
            bench.wait(STEP)
    bench.wait(SETTLE)


def _chain(bench: Bench, name: str) -> list[Situation]:
    every = {situation.name: situation for situation in situations(bench.board)}
    return [every[DEAD], every[name]] if name == NO_SUPPRESSORS else [every[name]]

"""The machine side of the bench: what moves, turns, senses and trips, as small automata with times.

Must not know: boards, circuits, controllers, the clock. Each automaton is told what it feels and at what
time, and says when it will move next; the bench's engine brings it and the clock together. Start reading
at :class:`Contactor`.
"""

from labkit.bench.machine.contactor import Contactor, Zone
from labkit.bench.machine.motor import Motor
from labkit.bench.machine.protection import Breaker
from labkit.bench.machine.sensors import METAL_FACTOR, PhotoEye, Proximity

__all__ = [
    # contactor
    "Contactor",
    "Zone",
    # motor
    "Motor",
    # protection
    "Breaker",
    # sensors
    "METAL_FACTOR",
    "PhotoEye",
    "Proximity",
]

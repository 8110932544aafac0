"""What a test shows, as a person at the board would say it."""

from __future__ import annotations

from labkit.board import Board
from labkit.faults.situations import Test

__all__ = ["in_words", "when_in_words"]

_WHEN = {
    "rest": "with nobody touching anything",
    "start held": "while start is held",
    "running": "after a start",
    "stop held": "after a start, while stop is held",
    "after stop": "after a start and a stop",
    "signal wires off": "with every signal wire off its input",
    "breakers off": "with every breaker off",
    "dead": "with the power off",
    "suppressors out, dead": "with the power off and the suppressor out",
    "letting go": "when stop is pressed",
}

_KINDS = {"lamp": "lamp", "horn": "horn", "contactor": "contactor", "breaker": "breaker", "fuse": "fuse"}


def when_in_words(situation: str) -> str:
    """A situation of the dictionary as a clause: ``"while start is held"``."""
    if situation in _WHEN:
        return _WHEN[situation]
    part, _, state = situation.partition(" ")
    return {
        "held": f"while {part} is held",
        "pressed": f"after a start, with {part} pressed",
        "tripped": f"after a start, with {part} tripped",
        "actuated": f"with {part} actuated",
    }.get(state, f"with {part} turned {state}")


def in_words(board: Board, test: Test, band: str) -> str:
    """What a test shows: ``"while start is held lamp P2 (Pump stopped) is lit"``."""
    return f"{when_in_words(test.situation)} {_subject(board, test)} {_shows(board, test, band)}"


def _subject(board: Board, test: Test) -> str:
    if test.kind == "led":
        return f"the controller's indicator {test.a}"
    if test.kind in ("volts", "ohms"):
        return f"the meter from {test.a} to {test.b}"
    part = board.part(test.a)
    label = f" ({part.label})" if part.label else ""
    return f"{_KINDS.get(part.kind, part.kind)} {test.a}{label}"


def _shows(board: Board, test: Test, band: str) -> str:
    if test.kind == "volts":
        return f"reads {band} volts" if band not in ("live", "dead") else f"reads {band}"
    if test.kind == "ohms":
        return {"OL": "reads OL", "live": "reads nonsense: the board is live"}.get(band, f"reads the ohms of {band}")
    if test.kind == "release":
        return {"quick": "lets go at once", "usual": "lets go as usual", "slow": "lets go late"}.get(band, band)
    if band == "flickers":
        return "comes and goes"
    if test.kind == "led":
        return "is on" if band == "on" else "is off"
    if test.kind == "lit":
        horn = board.part(test.a).kind == "horn"
        return ("sounds" if horn else "is lit") if band == "on" else ("is silent" if horn else "is dark")
    return f"is {band}"

"""A thing moved to a position: in words, and as a step of a stimulus."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from labkit.verify.surroundings import Thing

__all__ = ["row", "say"]


def say(thing: Thing, position: str) -> str:
    """What is done, in words."""
    from labkit.verify._replay import _tell

    return _tell(thing, position)


_VERBS: Mapping[str, tuple[str, Mapping[str, Any]]] = {
    "pressed": ("press", {}),
    "released": ("release", {}),
    "tripped": ("trip", {}),
    "healthy": ("reset", {}),
    "blocked": ("beam", {"blocked": True}),
    "clear": ("beam", {"blocked": False}),
    "near": ("metal", {"mm": 1.0}),
    "away": ("metal", {}),
    "missing": ("remove", {}),
    "fitted": ("fit", {}),
    "welded": ("weld", {}),
    "free": ("unweld", {}),
}


def row(thing: Thing, position: str) -> dict[str, Any]:
    """What is done, as a step of a stimulus without its time."""
    if thing.kind == "wire":
        return {"do": "lift" if position == "lifted" else "land", "wire": thing.part}
    if thing.kind == "panel":
        return {"do": "set_bit", "tag": thing.part, "value": position == "1"}
    if position in _VERBS:
        verb, words = _VERBS[position]
        return {"do": verb, "part": thing.part, **words}
    if thing.positions == ("on", "off"):
        return {"do": "breaker", "part": thing.part, "on": position == "on"}
    if thing.positions == ("off", "on"):
        return {"do": "key", "part": thing.part, "on": position == "on"}
    return {"do": "turn", "part": thing.part, "to": position}

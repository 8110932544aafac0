"""What a person did at the bench, in a few words for a label."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

__all__ = ["words_of"]

_SAY: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "press": lambda w: f"{w['part']} pressed",
    "release": lambda w: f"{w['part']} released",
    "turn": lambda w: f"{w['part']} to {w['to']}",
    "key": lambda w: f"{w['part']} key {_on(w)}",
    "power": lambda w: f"supply {_on(w)}",
    "breaker": lambda w: f"{w['part']} {_on(w)}",
    "beam": lambda w: f"{w['part']} beam {'blocked' if w['blocked'] else 'free'}",
    "metal": lambda w: (
        f"metal {w['mm']:g} mm from {w['part']}" if w.get("mm") is not None else f"no metal at {w['part']}"
    ),
    "trip": lambda w: f"{w['part']} trips",
    "reset": lambda w: f"{w['part']} reset",
    "remove": lambda w: f"{w['part']} pulled off",
    "fit": lambda w: f"{w['part']} put back",
    "weld": lambda w: f"{w['part']} welded",
    "unweld": lambda w: f"{w['part']} weld broken",
    "jam": lambda w: f"{w['part']} jammed",
    "free": lambda w: f"{w['part']} freed",
    "bounce": lambda w: f"{w['part']} bounces",
    "lift": lambda w: f"wire {w['wire']} lifted",
    "land": lambda w: f"wire {w['wire']} landed",
    "swap": lambda w: f"{w['part']} replaced",
    "wire": lambda w: f"wire {w['no']} landed, {w['a']} to {w['b']}",
    "unwire": lambda w: f"wire {w['wire']} taken away",
    "park": lambda w: f"{w['block']} parked",
    "pull": lambda w: f"{w['block']} pulled off",
    "seat": lambda w: f"{w['block']} on {w['on']}",
    "uncode": lambda w: f"coding pins of {w['header']} out",
    "rewire": lambda w: f"{len(w['off'])} wires off, {len(w['on'])} on",
    "join": lambda w: f"{w['a']} joined to {w['b']}",
    "unjoin": lambda w: f"{w['a']} parted from {w['b']}",
    "set_bit": lambda w: f"{w['tag']} set to {int(w['value'])}",
    "run": lambda _: "controller to run",
    "stop": lambda _: "controller to stop",
}


def _on(words: Mapping[str, Any]) -> str:
    return "on" if words.get("on") else "off"


def words_of(event: Any) -> tuple[int, str]:
    """Moment and words of an event: a record with t_us, do and what, or a plain (t_us, words) pair."""
    if isinstance(event, tuple):
        return int(event[0]), str(event[1])
    try:
        return event.t_us, _SAY[event.do](event.what)
    except (KeyError, TypeError):  # a verb newer than this table still gets a label
        return event.t_us, " ".join([event.do, *(str(v) for v in event.what.values())])

"""The board drawn to scale, alive: parts are worked in their places."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, ClassVar

import traitlets

from labkit.base import LabkitError
from labkit.board import COLOURS, Wiring, conductors
from labkit.faults import faults_in
from labkit.notebook._board_picture import BoardPicture, Look, look_at, places
from labkit.notebook._page import script, sheet
from labkit.notebook._widget import BenchWidget, Choice, Command, Flag, Number, Spec, Word

__all__ = ["BenchView"]

_NAME = Word(20)
_FLEXIBLE = 5  # class of the conductors that are laid here (IEC 60228)
_NEAR = 0.4  # of its sensing distance: where a click holds the metal


class BenchView(BenchWidget):
    """The whole board of a bench: press, turn, switch, pull off, and see what lights and moves.

    The picture is the one that ``labkit.plots`` draws; the page is sent only the pieces that changed.

    Parameters
    ----------
    bench
        The bench to work.
    live
        Whether conductors and terminals that carry voltage are drawn heavy. A real board does not show it: left
        out, they are drawn so only on a board without a fault, or a picture would find what a meter is to find.
    """

    _esm = script("bench_view", "wire_desk")
    _css = sheet("bench_view")
    spec: ClassVar[Spec] = {
        "press": {
            "part": _NAME,
            "via": Choice(("pointer", "key")),
            "held_ms": Number(0, 0),
            "latched": Flag(),
        },
        "release": {"part": _NAME, "via": _NAME, "held_ms": Number(0, 3_600_000), "latched": Flag()},
        "beat": {"part": _NAME},
        "move": {"part": _NAME, "to": _NAME},
        "near": {"part": _NAME, "mm": Number(0, 1000)},
        "follow": {"what": _NAME},
        "lead": {"lead": Choice(("red", "black")), "on": _NAME},
        "wire": {"a": _NAME, "b": _NAME},
        "new": {"a": _NAME, "b": _NAME, "wire": _NAME, "colour": _NAME, "mm2": Number(0, 100), "m": Number(0, 1000)},
        "bridge": {"a": _NAME, "b": _NAME},
        "lift": {"wire": _NAME},
        "land": {"wire": _NAME},
        "unwire": {"wire": _NAME},
        "block": {"block": _NAME, "to": Choice(("off", "parked", "seated")), "on": _NAME},
        "undo": {},
    }
    parts = traitlets.Dict(help="what each part is and how it can be worked").tag(sync=True)
    terminals = traitlets.Dict(help="terminal -> x, y in the drawing, and its wires in words").tag(sync=True)
    picture_svg = traitlets.Unicode("", help="the drawing as it was when a page last came up").tag(sync=True)
    states = traitlets.Dict(help="part -> its position in a word").tag(sync=True)
    leads = traitlets.Dict(help="the meter's leads: red and black -> terminal or nothing").tag(sync=True)
    bridges: Any = traitlets.List(help="bridges clipped on here, as pairs of terminals").tag(sync=True)
    wires: Any = traitlets.List(help="no, from, to, colour, mm2, m, landed or lifted").tag(sync=True)
    free_no = traitlets.Unicode("", help="a wire number that is free").tag(sync=True)
    colours: Any = traitlets.List(help="colour codes and their words").tag(sync=True)
    sizes: Any = traitlets.List(help="cross-sections of flexible conductors, mm2").tag(sync=True)
    blocks = traitlets.Dict(help="plug-on terminal block -> where it is").tag(sync=True)
    plugs = traitlets.Dict(help="plug-on terminal block -> its terminals").tag(sync=True)
    mm_per_unit = traitlets.Float(1.0, help="millimetres of the board for one unit of the drawing").tag(sync=True)
    did = traitlets.Unicode("", help="the last change of the wiring, in words").tag(sync=True)
    follow = traitlets.Unicode("none", help="all, none, or the part whose wires are drawn whole").tag(sync=True)

    def __init__(self, bench: Any, *, live: bool | None = None) -> None:
        self._live = not faults_in(bench) if live is None else live
        self._painter = BoardPicture(bench)
        self._look_shown: Look | None = None
        self._style: dict[str, None] = {}
        self._shown: dict[str, str] = {}
        self._glance: object = None
        self._wired: object = None
        board = bench.board
        spots = places(board)
        super().__init__(
            bench,
            parts=_parts(board),
            terminals={t: [*xy] for t, xy in spots.items()},
            colours=[[code, text] for code, text in COLOURS.items()],
            sizes=[*conductors().sizes(_FLEXIBLE)],
            plugs={name: [*plug.poles] for name, plug in board.plugs.items()},
            mm_per_unit=_mm_per_unit(board, spots),
        )
        self.picture_svg = self._painter.draw(self._see()).svg

    # what is seen ----------------------------------------------------------------------------------
    def _see(self) -> Look:
        seen = look_at(self.bench, self._followed())
        return seen if self._live else Look(*(getattr(seen, f) if f != "live" else frozenset() for f in Look.__slots__))

    def _followed(self) -> tuple[str, ...]:
        if self.follow == "none":
            return ()
        wires = self.bench.wiring
        if self.follow == "all":
            return tuple(wire.no for wire in wires)
        part = self.follow + ":"
        return tuple(wire.no for wire in wires if wire.a.startswith(part) or wire.b.startswith(part))

    def _look(self) -> None:
        engine = self.bench.engine
        self.leads, self.did = self.hub.leads, self.hub.wiring.did
        self.bridges = [[*pair] for pair in self.hub.wiring.bridges]
        if self._wired != (wired := (self.bench.wiring, self.bench.lifted, _seats(self.bench))):
            self._wired = wired
            landed, lifted, self.blocks = wired
            self.wires = [_row(w, "landed") for w in landed] + [_row(w, "lifted") for w in lifted]
            self.free_no = Wiring((*landed, *lifted)).free_number()
        glance = (
            engine.moves,
            id(engine.now_reading()),
            self.bench.mode,
            tuple(engine.raw.values()),
            tuple(engine.controller.outputs.values()),
            self.bench.removed,
            self.follow,
            tuple(self.bench.speed(part) > 0 for part in engine.motors),
        )
        if glance == self._glance:
            return
        self._glance = glance
        seen = self._see()
        before, self._look_shown = self._look_shown, seen
        if seen == before:
            return
        if before is not None and seen.wires != before.wires:
            self._tell_whole()  # the numbers at the terminals change too
            return
        picture = self._painter.draw(seen)
        new = {name: text for name, text in picture.pieces.items() if self._shown.get(name) != text}
        gone = [name for name in self._shown if name not in picture.pieces]
        fresh = [rule for rule in picture.style if rule not in self._style]
        self._style |= dict.fromkeys(fresh)
        self._shown = picture.pieces
        self.states = _positions(seen)
        self.send({"kind": "pieces", "new": new, "gone": gone, "style": fresh})

    def _hello(self) -> None:
        super()._hello()
        self._glance = None
        self.refresh()
        self._tell_whole()

    def _tell_whole(self) -> None:
        if self._look_shown is None:
            return
        picture = self._painter.draw(self._look_shown)
        self._shown, self.picture_svg = picture.pieces, picture.svg
        self._style |= dict.fromkeys(picture.style)
        self.states = _positions(self._look_shown)
        self.send({"kind": "whole", "svg": self.picture_svg, "style": list(self._style)})

    # what is done ----------------------------------------------------------------------------------
    def _obey(self, command: Command) -> str | None:
        part = str(command.get("part", ""))
        hub = self.hub
        match command.do:
            case "press":
                return hub.hold(part, command.view)
            case "release":
                return hub.let_go(part, command.view, float(command.get("held_ms", 0)))  # type: ignore[arg-type]
            case "beat":
                hub.beat(part, command.view)
                return None
            case "near":
                mm = float(command.get("mm", 0))  # type: ignore[arg-type]
                return hub.work(lambda: self.bench.metal(part, mm))
            case "follow":
                self.follow = str(command.get("what", "none"))
                self.refresh()
                return None
            case "lead":
                hub.place(str(command.get("lead")), str(command.get("on", "")))
                return None
            case "wire":
                return hub.work(lambda: hub.wiring.between(str(command.get("a", "")), str(command.get("b", ""))))
            case "new" | "bridge" | "lift" | "land" | "unwire" | "block" | "undo":
                return hub.work(partial(self._rewire, command))
        return hub.work(self._move(part, str(command.get("to", ""))))

    def _rewire(self, command: Command) -> None:
        """Change wires or blocks, remembered so that it can be taken back."""
        hand, words = self.hub.wiring, {name: str(value) for name, value in command.fields.items()}
        a, b, no = words.get("a", ""), words.get("b", ""), words.get("wire", "")
        match command.do:
            case "new":
                mm2, m = float(words.get("mm2", 0)), float(words.get("m", 0))
                if not words.get("colour") or not mm2:
                    raise LabkitError(
                        "a wire has a colour and a cross-section", try_this="choose both", code="view-wire"
                    )
                hand.lay(a, b, no, colour=words["colour"], mm2=mm2, m=m)
            case "bridge":
                hand.bridge(a, b)
            case "lift":
                hand.lift(no)
            case "land":
                hand.land(no)
            case "unwire":
                hand.take_away(no)
            case "block":
                hand.block(words.get("block", ""), words.get("to", ""), words.get("on", ""))
            case _:
                hand.take_back()

    def _move(self, part: str, to: str) -> Callable[[], object]:
        """What brings a part into a position, as the bench's verb for it."""
        bench = self.bench
        blocks = {block.id for p in bench.board.parts.values() for block in p.blocks}
        if part in blocks:
            return lambda: bench.remove(part) if to == "off" else bench.fit(part)
        kind = bench.board.part(part).kind
        on = to == "on"
        verbs: dict[str, Callable[[], object]] = {
            "emergency_stop": lambda: bench.press(part) if to == "pressed" else bench.release(part),
            "selector": lambda: bench.turn(part, to),
            "key_switch": lambda: bench.key(part, on),
            "supply": lambda: bench.power(on),
            "breaker": lambda: bench.breaker(part, on),
            "fuse": lambda: bench.breaker(part, to == "whole"),
            "overload": lambda: bench.trip(part) if to == "tripped" else bench.reset(part),
            "controller": lambda: bench.run() if to == "run" else bench.stop(),
            "sensor": lambda: self._before(part, to),
        }
        if kind not in verbs:
            raise LabkitError(f"{part} cannot be moved by hand", where=part, code="view-part")
        return verbs[kind]

    def _before(self, part: str, to: str) -> None:
        """Put something before a sensor, or take it away."""
        entry = self.bench.board.part(part).entry
        if entry.senses == "beam":
            self.bench.beam(part, to == "there")
        else:
            self.bench.metal(part, entry.range_mm * _NEAR if to == "there" else None)

    # still forms -----------------------------------------------------------------------------------
    def in_words(self) -> str:
        """The state in words."""
        board = self.bench.board
        moved = [f"{name} {state}" for name, state in self.states.items() if board.parts.get(name) is not None]
        return f"{board.title}: " + ", ".join(moved)

    def svg(self) -> str:
        """The still picture."""
        return self._painter.draw(self._see()).svg

    def __repr__(self) -> str:
        return f"BenchView({self.bench.board.name})"


def _seats(bench: Any) -> dict[str, str]:
    """Where each plug-on block is; one on another's header says on which."""
    return {
        block: at if bench.seated_on(block) in ("", block) else f"{at} on {bench.seated_on(block)}"
        for block, at in bench.blocks.items()
    }


def _row(wire: Any, state: str) -> list[Any]:
    return [wire.no, wire.a, wire.b, wire.colour, wire.mm2, wire.m, state]


def _mm_per_unit(board: Any, spots: Any) -> float:
    """From the two terminals that lie farthest apart sideways."""
    one, other = (pick(board.terminals.values(), key=lambda t: t.x_mm) for pick in (min, max))
    apart = spots[other.id][0] - spots[one.id][0]
    return float(abs((other.x_mm - one.x_mm) / apart)) if apart else 1.0


def _positions(look: Look) -> dict[str, str]:
    return dict(look.states) | dict.fromkeys(look.removed, "pulled off")


def _parts(board: Any) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for part in board.parts.values():
        entry = part.entry
        found[part.designation] = {
            "kind": part.kind,
            "label": part.label,
            "text": entry.text,
            "positions": list(entry.states()),
            "senses": getattr(entry, "senses", ""),
            "terminals": [part.terminal(name) for name in entry.terminals],
        }
        for block in part.blocks:
            found[block.id] = {
                "kind": "aux_block",
                "label": part.label,
                "text": block.entry.text,
                "positions": ["on", "off"],
                "senses": "",
                "terminals": [part.terminal(name) for name in block.entry.terminals],
            }
    return found

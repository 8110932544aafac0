"""Function blocks of a ladder: what is written or wired on their pins."""

from __future__ import annotations

from collections.abc import Hashable

from labkit.base import did_you_mean
from labkit.logic._names import Names
from labkit.logic._parts import BoxPins, Part
from labkit.logic._scan_ladder import Box, Scan, Word
from labkit.logic._wires import LEFT, Edge, Nets
from labkit.logic.nodes import Constant, Contact, Power

__all__ = ["Operands", "read_box", "take_operands"]

Operands = dict[tuple[int, int], Word]  # by row and by the column of the frame


def take_operands(scan: Scan) -> tuple[Operands, list[Word]]:
    """Words on block pins, their leads taken off the wires; and all other words."""
    ends = {(w.row, w.end): w for w in scan.words}
    starts = {(w.row, w.col): w for w in scan.words}
    operands: Operands = {}
    taken: set[int] = set()
    for box in scan.boxes:
        pins = [(w.row, box.col, -1, ends) for w in box.left] + [(w.row, box.end, 1, starts) for w in box.right]
        for row, frame, step, table in pins:
            col, lead = frame + step, []
            while scan.wires.get((row, col)) == "-":
                lead.append((row, col))
                col += step
            word = table.get((row, col))
            if word is None and not lead:  # a constant may stand beside the pin without a lead
                near = (table.get((row, frame + step * k)) for k in (2, 3))
                word = next((w for w in near if w and ("#" in w.text or not w.text[0].isalpha())), None)
            if word is None:
                continue
            taken.add(id(word))
            sign = (row, word.col - 1)
            alone = sign in scan.wires and (row, word.col - 2) not in scan.wires
            if step < 0 and word.text.isdigit() and alone:
                lead.append(sign)  # the dash before a number is its sign
                word = Word("-" + word.text, row, word.col - 1)
            operands[(row, frame)] = word
            for place in lead:
                del scan.wires[place]
    return operands, [w for w in scan.words if id(w) not in taken]


def read_box(names: Names, nets: Nets, operands: Operands, box: Box, word: Word) -> list[Part]:
    """The block as a part, preceded by a contact if a tag is written on the pin that takes the power.

    Raises
    ------
    SlipError
        If the type or a pin is unknown, or something wrong is on a pin.
    """
    return _BoxReader(names, nets, operands, box, word).parts()


class _BoxReader:
    """One box; its pins are read from top to bottom, left side first."""

    def __init__(self, names: Names, nets: Nets, operands: Operands, box: Box, word: Word) -> None:
        self.source = names.source
        self.names = names
        self.nets = nets
        self.operands = operands
        self.box = box
        title = box.type_word
        self.kind = names.block_type(title.text, title.span)
        called = names.contact(word.text, "", word.span)
        if not isinstance(called, Contact) or "." in called.name:
            raise names.source.slip("name-sign", word.span, name=word.text)
        self.span = word.span
        self.pins = BoxPins(self.kind, called.name)
        self.given: set[str] = set()
        self.row = box.row
        self.start: Hashable | None = None
        self.end: Hashable = ("loose", box.row, box.end)
        self.before: list[Part] = []

    def parts(self) -> list[Part]:
        for pin in self.box.left:
            self.left(pin)
        for pin in self.box.right:
            self.right(pin)
        if self.start is None:
            raise self.source.slip("pin-unfed", self.box.span, pin=self.kind.inputs[0], name=self.pins.instance)
        box = self.box
        node = Constant(True)  # takes the block's place until its pin networks are read
        part = Part(node, self.start, self.end, self.row, box.col, box.end, self.span, box=self.pins)
        part.top, part.bottom = box.row, box.bottom
        return [*self.before, part]

    def left(self, pin: Word) -> None:
        kind = self.kind
        name = self.known(pin, (*kind.inputs, kind.preset), "input ")
        operand = self.operands.get((pin.row, self.box.col))
        net = None if operand else self.nets.net(Edge(pin.row, self.box.col, -1))
        if name == kind.inputs[0]:
            self.row = pin.row
            self.start = self.contact_on(pin, operand) if operand else net
        elif name == kind.preset and net is not None:
            takes = "a time" if kind.is_timer else "a whole number"
            raise self.wrong(pin, f"{takes}, not a wire", "write T#200ms--| or 5--| before the pin")
        elif name == kind.preset and operand:
            self.pins.presets.append((name, self.names.preset(kind, operand.text, operand.span)))
        elif operand:
            self.pins.inputs.append((name, self.tag(name, operand)))
        elif net is not None:
            self.pins.wired.append((name, net, pin.span))

    def right(self, pin: Word) -> None:
        kind, instance = self.kind, self.pins.instance
        name = self.known(pin, (*kind.outputs, kind.value), "output ")
        operand = self.operands.get((pin.row, self.box.end))
        net = None if operand else self.nets.net(Edge(pin.row, self.box.end, 1))
        if name == kind.value and (operand or net is not None):
            gives = "a time" if kind.is_timer else "a number"
            raise self.wrong(pin, f"nothing: it gives {gives}", f"leave it open; a watcher reads {instance}.{name}")
        if operand:
            self.pins.outputs.append((name, self.names.target(operand.text, operand.span)))
        elif name == kind.outputs[0]:
            self.end = self.end if net is None else net
        elif net is not None:
            raise self.wrong(pin, "a tag name, not a wire", f"read it with a contact called {instance}.{name}")

    def known(self, pin: Word, known: tuple[str, ...], side: str) -> str:
        """The pin's name in capitals, if the block has it on this side and it is not there twice."""
        kind, text = self.kind, pin.text.upper()
        if text not in known:
            hint = "It stands on the other side." if text in kind.pins else did_you_mean(text, kind.pins, most=0)
            raise self.source.slip(
                "pin-unknown", pin.span, type=kind.name, side=side, pin=pin.text, hint=hint, pins=", ".join(kind.pins)
            )
        if text in self.given:
            raise self.source.slip("pin-twice", pin.span, pin=text, name=self.pins.instance)
        self.given.add(text)
        return text

    def wrong(self, pin: Word, takes: str, cure: str) -> Exception:
        return self.source.slip("pin-wrong", pin.span, pin=pin.text.upper(), kind=takes, cure=cure)

    def contact_on(self, pin: Word, operand: Word) -> Hashable:
        """A tag written on the pin that takes the power stands for a contact from the left rail."""
        own = ("pin", pin.row, self.box.col)
        part = Part(self.tag(pin.text.upper(), operand), LEFT, own, pin.row, operand.col, operand.end, operand.span)
        part.top = part.bottom = pin.row
        self.before.append(part)
        return own

    def tag(self, pin: str, operand: Word) -> Power:
        if not (operand.text[0].isalpha() or operand.text[0] == "_") or "#" in operand.text:
            raise self.source.slip("pin-wrong", operand.span, pin=pin, kind="a BOOL tag", cure="write a tag name there")
        return self.names.contact(operand.text, "", operand.span)
